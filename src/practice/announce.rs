//! What changes in the line, told a bar ahead.

use crate::expected::{Expected, ExpectedBar};
use crate::line::Line;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::report::words::shortest;
use crate::units::Nanos;

/// Something to be shown from one time to another, both in line time: through the bar before the change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Announcement {
    /// From here...
    pub from: Nanos,
    /// ...until here, where the change is.
    pub until: Nanos,
    /// `B · 3/4 · Eb minor · quarter = 92 · from the next bar`.
    pub text: String,
}

/// What holds in a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Holds {
    section: u16,
    pass: u32,
    key: Option<KeySignature>,
    meter: Meter,
    /// Quarter notes a minute, at the speed that is played.
    tempo: f64,
    /// Semitones that the pass is moved by.
    shift: i8,
}

/// The changes of section, pass, meter, key and tempo in playing order. `line` is what `expected` was unrolled from (the
/// excerpt, where one is played). The beginning is announced by nobody: the count-in leads into it.
pub fn announcements(line: &Line, expected: &Expected) -> Vec<Announcement> {
    let bars = expected.bars.windows(2);
    let announce = |pair: &[ExpectedBar]| {
        let [before, bar] = [&pair[0], &pair[1]];
        let [was, will] = [before, bar].map(|bar| holds(line, expected, bar));
        let text = text(line, was?, will?)?;
        Some(Announcement {
            from: before.onset,
            until: bar.onset,
            text,
        })
    };
    bars.filter_map(announce).collect()
}

/// What is to be shown at this line time.
pub fn at(announcements: &[Announcement], time: Nanos) -> Option<&Announcement> {
    let after = announcements.partition_point(|one| one.from <= time);
    let latest = announcements.get(after.checked_sub(1)?)?;
    (time < latest.until).then_some(latest)
}

fn holds(line: &Line, expected: &Expected, bar: &ExpectedBar) -> Option<Holds> {
    let section = line.sections.get(usize::from(bar.section))?;
    let shift = *section.passes.get(bar.pass.checked_sub(1)? as usize)?;
    let changes = expected.tempo_map.changes();
    let rate = changes.take_while(|(start, ..)| *start <= bar.start).last();
    // A pickup lies before the first change: it has its tempo.
    let rate = rate.or_else(|| expected.tempo_map.changes().next());
    Some(Holds {
        section: bar.section,
        pass: bar.pass,
        key: section.key.or(line.key).map(|key| key.shifted(shift)),
        meter: bar.meter(),
        tempo: rate?.2.quarters_per_minute(),
        shift,
    })
}

/// `None` where nothing changes.
fn text(line: &Line, was: Holds, will: Holds) -> Option<String> {
    let section = &line.sections[usize::from(will.section)];
    let mut parts = Vec::new();
    if will.section != was.section {
        parts.push(section.name.clone());
    } else if will.pass != was.pass {
        let (pass, of) = (will.pass, section.passes.len());
        parts.push(format!("{} again, pass {pass} of {of}", section.name));
    }
    if will.meter != was.meter {
        parts.push(will.meter.to_string());
    }
    match will.key {
        Some(key) if will.key != was.key => parts.push(key.to_string()),
        // Without a key to name, how far it moves.
        None if will.section == was.section && will.shift != was.shift => {
            parts.push(moved(i16::from(will.shift) - i16::from(was.shift)));
        }
        _ => {}
    }
    if will.tempo != was.tempo {
        parts.push(format!("quarter = {}", shortest(will.tempo)));
    }
    if parts.is_empty() {
        return None;
    }
    parts.push("from the next bar".into());
    Some(parts.join(" · "))
}

/// `a semitone up`, `2 semitones down`.
fn moved(by: i16) -> String {
    let way = if by < 0 { "down" } else { "up" };
    match by.abs() {
        1 => format!("a semitone {way}"),
        many => format!("{many} semitones {way}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;

    fn told(head: &str, sections: &str, speed: Speed) -> Vec<(i64, i64, String)> {
        let text = format!("title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n{head}\n{sections}");
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let all = announcements(&line, &unroll(&line, speed));
        let ms = |time: Nanos| time.0 / 1_000_000;
        let told = |one: Announcement| (ms(one.from), ms(one.until), one.text);
        all.into_iter().map(told).collect()
    }

    #[test]
    fn what_changes_is_told_through_the_bar_before_it() {
        let sections = "[[section]]\nname = \"A\"\nnotes = \"G1/1 | G1/1\"\n\
             [[section]]\nname = \"B\"\ntempo = 60\nmeter = \"3/4\"\nkey = \"Eb major\"\nnotes = \"G1/2.\"\n\
             [[section]]\nname = \"C\"\ntempo = 60\nmeter = \"3/4\"\nkey = \"Eb major\"\nnotes = \"G1/2.\"";
        let b = "B · 3/4 · Eb major · quarter = 60 · from the next bar".to_string();
        let c = "C · from the next bar".to_string();
        let expected = [(2000, 4000, b), (4000, 7000, c)];
        assert_eq!(
            told("key = \"D minor\"", sections, Speed::WRITTEN),
            expected
        );
        let half = told("", sections, Speed(50_000));
        assert!(half[0].2.contains("quarter = 30"), "{half:?}");
        assert_eq!((half[0].0, half[0].1), (4000, 8000));
    }

    #[test]
    fn a_pass_is_told_with_its_key_or_by_how_far_it_moves() {
        let section = "[[section]]\nname = \"A\"\npasses = [0, 0, 2, 1]\nnotes = \"G1/1\"";
        let texts = |head: &str| -> Vec<String> {
            let told = told(head, section, Speed::WRITTEN).into_iter();
            told.map(|(.., text)| text.replace(" · from the next bar", ""))
                .collect()
        };
        let plain = [
            "A again, pass 2 of 4",
            "A again, pass 3 of 4 · 2 semitones up",
            "A again, pass 4 of 4 · a semitone down",
        ];
        assert_eq!(texts(""), plain);
        assert_eq!(
            texts("key = \"D minor\"")[1],
            "A again, pass 3 of 4 · E minor"
        );
    }

    #[test]
    fn nothing_is_told_where_nothing_changes_and_a_pickup_is_no_change() {
        let section = "[[section]]\nname = \"A\"\nnotes = \"G1/4 | G1/1 | G1/1\"";
        assert_eq!(told("pickup = true", section, Speed::WRITTEN), []);
    }

    #[test]
    fn one_is_shown_from_its_beginning_up_to_the_change() {
        let one = |from: i64, until: i64| Announcement {
            from: Nanos(from),
            until: Nanos(until),
            text: String::new(),
        };
        let all = [one(-5, 0), one(10, 20), one(20, 30)];
        let shown = |time: i64| at(&all, Nanos(time)).map(|one| one.from.0);
        let times = [-6, -5, -1, 0, 9, 10, 19, 20, 29, 30].map(shown);
        let (a, b, c) = (Some(-5), Some(10), Some(20));
        assert_eq!(times, [None, a, a, None, None, b, b, c, c, None]);
    }
}
