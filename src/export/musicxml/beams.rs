//! Beams: which short notes hang together.
//!
//! Common practice: notes of one beat share a beam, rests break it. In meters of eighths the beats are dotted quarters (6/8,
//! 9/8, 12/8), else quarters with a last one of three eighths where the number is odd (7/8 is 2 + 2 + 3).

use super::measures::Figure;
use crate::line::grouping::beam_beat;
use crate::line::meter::Meter;
use crate::units::Ticks;

/// What a beam does at a note (MusicXML 4.0, `beam-value`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beam {
    Begin,
    Continue,
    End,
    ForwardHook,
    BackwardHook,
}

impl Beam {
    pub(super) fn name(self) -> &'static str {
        match self {
            Beam::Begin => "begin",
            Beam::Continue => "continue",
            Beam::End => "end",
            Beam::ForwardHook => "forward hook",
            Beam::BackwardHook => "backward hook",
        }
    }
}

/// The beams of each figure of a bar, the outermost first. `offset` is where the bar begins in a full one.
pub(super) fn beams(figures: &[Figure], meter: Meter, offset: Ticks) -> Vec<Vec<Beam>> {
    let counts: Vec<usize> = figures.iter().map(count).collect();
    let group = |index: usize| beam_beat(figures[index].at + offset, meter);
    let mut beams = vec![Vec::new(); figures.len()];
    let mut start = 0;
    while start < figures.len() {
        let joined = |end: &usize| counts[*end] > 0 && group(*end) == group(start);
        let end = (start..figures.len()).find(|end| !joined(end));
        let end = end.unwrap_or(figures.len());
        if end > start + 1 {
            for (index, beams) in beams[start..end].iter_mut().enumerate() {
                *beams = of_note(&counts[start..end], index);
            }
        }
        start = end.max(start + 1);
    }
    beams
}

/// Flags of a note, none for a rest.
fn count(figure: &Figure) -> usize {
    match figure.length.value {
        _ if figure.heads.is_empty() => 0,
        8 => 1,
        16 => 2,
        32 => 3,
        _ => 0,
    }
}

fn of_note(counts: &[usize], index: usize) -> Vec<Beam> {
    let level = |level: usize| {
        let before = index > 0 && counts[index - 1] >= level;
        let after = counts.get(index + 1).is_some_and(|count| *count >= level);
        match (before, after) {
            (true, true) => Beam::Continue,
            (false, true) => Beam::Begin,
            (true, false) => Beam::End,
            (false, false) if index == 0 => Beam::ForwardHook,
            (false, false) => Beam::BackwardHook,
        }
    };
    (1..=counts[index]).map(level).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::export::musicxml::measures::measures;
    use crate::line::parse::parse;

    /// The outermost beam and the number of beams: `(2 =1 )2` begins, goes on, ends; hooks are `>` and `<`.
    fn drawn(meter: &str, notes: &str) -> String {
        let text = format!(
            "title = \"a\"\nmeter = \"{meter}\"\ntempo = 90\n[[section]]\nname = \"A\"\nnotes = \"{notes}\""
        );
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = unroll(&line, Speed::WRITTEN);
        let measure = &measures(&line, &expected)[0];
        let sign = |beam: &Beam| match beam {
            Beam::Begin => '(',
            Beam::Continue => '=',
            Beam::End => ')',
            Beam::ForwardHook => '>',
            Beam::BackwardHook => '<',
        };
        let note = |beams: &Vec<Beam>| match beams.is_empty() {
            true => "-".to_string(),
            false => beams.iter().map(sign).collect::<String>(),
        };
        let beams = beams(&measure.figures, meter.parse().unwrap(), Ticks(0));
        beams.iter().map(note).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn notes_of_a_beat_share_a_beam_and_rests_break_it() {
        assert_eq!(drawn("2/4", "A1/8 A1/8 A1/4"), "( ) -");
        assert_eq!(drawn("2/4", "r/8 A1/8 A1/8 A1/8"), "- - ( )");
        assert_eq!(drawn("1/4", "A1/16 r/16 A1/8"), "- - -");
    }

    #[test]
    fn shorter_notes_have_more_beams_and_lone_ones_hooks() {
        assert_eq!(drawn("1/4", "A1/8. A1/16"), "( )<");
        assert_eq!(drawn("1/4", "A1/16 A1/8."), "(> )");
        assert_eq!(drawn("1/4", "A1/16 A1/8 A1/16"), "(> = )<");
        assert_eq!(drawn("1/4", "A1/8 A1/16 A1/32 A1/32"), "( =( ==( )))");
    }

    #[test]
    fn eighths_hang_together_in_threes_or_twos_as_the_meter_is_counted() {
        let six = "A1/8 A1/8 A1/8 A1/8 A1/8 A1/8";
        assert_eq!(drawn("6/8", six), "( = ) ( = )");
        assert_eq!(drawn("3/4", six), "( ) ( ) ( )");
        assert_eq!(drawn("7/8", &format!("{six} A1/8")), "( ) ( ) ( = )");
        assert_eq!(drawn("3/8", "A1/8 A1/8 A1/8"), "( = )");
    }
}
