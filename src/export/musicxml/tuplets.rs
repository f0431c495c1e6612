//! Brackets over triplets: where one begins and ends.

use super::measures::Figure;

/// What the bracket of a triplet does at a note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Bracket {
    pub(super) starts: bool,
    pub(super) stops: bool,
}

/// The shortest plain length that triplets can fill, in ticks: a sixty-fourth.
const SMALLEST: i64 = 60;

/// The brackets of a bar. A bracket closes as soon as its notes, two at least, fill a plain length: three eighths in a
/// quarter, an eighth and a sixteenth in an eighth. What is left over is bracketed as it stands.
pub(super) fn brackets(figures: &[Figure]) -> Vec<Bracket> {
    let mut brackets = vec![Bracket::default(); figures.len()];
    let mut open: Option<(usize, i64)> = None;
    for (index, figure) in figures.iter().enumerate() {
        if !figure.length.triplet {
            continue;
        }
        let (start, before) = open.unwrap_or((index, 0));
        let filled = before + figure.length.ticks().0;
        let is_plain = filled % SMALLEST == 0 && (filled / SMALLEST).count_ones() == 1;
        let next = figures.get(index + 1);
        let run_ends = next.is_none_or(|next| !next.length.triplet);
        if (is_plain && index > start) || run_ends {
            brackets[start].starts = true;
            brackets[index].stops = true;
            open = None;
        } else {
            open = Some((start, filled));
        }
    }
    brackets
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::Marks;
    use crate::line::note_grammar::length;
    use crate::units::Ticks;
    use winnow::Parser;

    fn drawn(lengths: &str) -> String {
        let figure = |text: &str| Figure {
            at: Ticks(0),
            length: length.parse(text).expect(text),
            heads: Vec::new(),
            tied_in: false,
            tied_out: false,
            dead: false,
            marks: Marks::default(),
            stroke: None,
            finger: None,
        };
        let figures: Vec<Figure> = lengths.split(' ').map(figure).collect();
        let sign = |bracket: &Bracket| match (bracket.starts, bracket.stops) {
            (true, true) => 'o',
            (true, false) => '[',
            (false, true) => ']',
            (false, false) => '.',
        };
        brackets(&figures).iter().map(sign).collect()
    }

    #[test]
    fn a_bracket_holds_the_notes_that_fill_a_plain_length() {
        assert_eq!(drawn("8t 8t 8t 8t 8t 8t 4"), "[.][.].");
        assert_eq!(drawn("4t 8t 8t 4t"), "[][]");
        assert_eq!(drawn("4t 4t 4t"), "[.]");
        assert_eq!(drawn("8t 16t 16t 8t"), "[][]");
        assert_eq!(drawn("8.t 16t 8t"), "[.]");
    }

    #[test]
    fn triplets_that_fill_nothing_have_a_bracket_all_the_same() {
        assert_eq!(drawn("8t 4 8t 8t"), "o.[]");
    }
}
