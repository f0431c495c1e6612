//! What stands above a section's first system.

use super::Source;
use crate::expected::ExpectedBar;
use crate::line::{Line, Swung};
use crate::report::words::shortest;

/// `Up the gangway · pass 2 of 2 (by 0, +1 semitones) · Eb minor`: name, passes and their shifts, key, and what the section has of its own.
pub(super) fn heading(source: Source<'_>, bar: &ExpectedBar) -> String {
    let section = &source.line.sections[usize::from(bar.section)];
    let shift = section.passes[bar.pass as usize - 1];
    let mut parts = vec![section.name.clone()];
    if section.passes.len() > 1 {
        parts.push(passes(&section.passes, bar.pass));
    }
    if let Some(key) = section.key.or(source.line.key) {
        parts.push(key.shifted(shift).to_string());
    }
    if section.meter.is_some() {
        parts.push(bar.meter().to_string());
    }
    if section.tempo.is_some() {
        let changes = source.expected.tempo_map.changes();
        let rate = changes
            .take_while(|(start, _, _)| *start <= bar.start)
            .last();
        parts.extend(
            rate.map(|(_, _, rate)| format!("quarter = {}", shortest(rate.quarters_per_minute()))),
        );
    }
    if section.swing.is_some() || section.swung.is_some() {
        let swing = section.swing.or(source.line.swing);
        let swung = section.swung.unwrap_or(source.line.swung);
        parts.extend(swing.map(|swing| in_words(swing.long, swing.short, swung)));
    }
    parts.join(" · ")
}

/// Meter and swing of the whole line: `4/4 · eighths swing 2:1`.
pub fn of_line(line: &Line) -> String {
    let swing = line
        .swing
        .map(|swing| in_words(swing.long, swing.short, line.swung));
    let parts = [Some(line.meter.to_string()), swing];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// `pass 2 of 3 (by 0, +1, +2 semitones)`; the shifts where there are any.
pub(crate) fn passes(shifts: &[i8], pass: u32) -> String {
    let of = format!("pass {pass} of {}", shifts.len());
    let signed = |shift: &i8| match shift {
        0 => "0".to_string(),
        shift => format!("{shift:+}"),
    };
    let all: Vec<String> = shifts.iter().map(signed).collect();
    if shifts.iter().all(|shift| *shift == 0) {
        of
    } else {
        format!("{of} (by {} semitones)", all.join(", "))
    }
}

pub(crate) fn in_words(long: u32, short: u32, swung: Swung) -> String {
    let what = match swung {
        Swung::Eighth => "eighths",
        Swung::Sixteenth => "sixteenths",
    };
    match long == short {
        true => "straight".into(),
        false => format!("{what} swing {}", crate::line::SwingRatio { long, short }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::fingering::Fingering;
    use crate::line::parse::parse;

    #[test]
    fn a_heading_says_what_a_section_has_of_its_own() {
        let text = "title = \"a\"\nmeter = \"4/4\"\ntempo = 120\nswing = \"2:1\"\nkey = \"D minor\"\n\
             [[section]]\nname = \"A\"\npasses = [0, -2]\nnotes = \"E1/1\"\n\
             [[section]]\nname = \"B\"\nmeter = \"3/4\"\ntempo = 90\nswing = \"1:1\"\nnotes = \"E1/2.\"";
        let line = parse(&text.replace("E1", "G1"), "line.toml")
            .unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = unroll(&line, Speed(50_000));
        let source = Source {
            line: &line,
            expected: &expected,
            fingering: &Fingering::of(&expected),
            judgement: None,
        };
        let headings: Vec<String> = expected
            .bars
            .iter()
            .map(|bar| heading(source, bar))
            .collect();
        let all = [
            "A · pass 1 of 2 (by 0, -2 semitones) · D minor",
            "A · pass 2 of 2 (by 0, -2 semitones) · C minor",
            "B · D minor · 3/4 · quarter = 45 · straight",
        ];
        assert_eq!(headings, all);
        assert_eq!(of_line(&line), "4/4 · eighths swing 2:1");
    }
}
