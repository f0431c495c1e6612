//! Brackets over triplets: where one begins and ends.

use super::measures::Figure;
use crate::line::grouping::triplets;

/// What the bracket of a triplet does at a note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Bracket {
    pub(super) starts: bool,
    pub(super) stops: bool,
}

/// The brackets of a bar, one over each triplet.
pub(super) fn brackets(figures: &[Figure]) -> Vec<Bracket> {
    let mut brackets = vec![Bracket::default(); figures.len()];
    for triplet in triplets(figures.iter().map(|figure| figure.length)) {
        brackets[triplet.start].starts = true;
        brackets[triplet.end - 1].stops = true;
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
