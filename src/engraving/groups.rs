//! Which figures of a bar hang together: by beams, and in triplets.

use super::figures::Figure;
use crate::line::grouping::{self, beam_beat};
use crate::line::meter::Meter;
use crate::units::Ticks;
use std::ops::Range;

/// The beamed groups of a bar, each of two figures or more; `offset` is where the bar begins in a full one.
///
/// Common practice (from memory): notes of one beat share a beam, rests break it. Beats of beams are dotted quarters in 6/8, 9/8 and
/// 12/8, else quarters, with a last one of three eighths where their number is odd (7/8 is 2 + 2 + 3).
pub(super) fn beamed(figures: &[Figure], meter: Meter, offset: Ticks) -> Vec<Range<usize>> {
    let beat = |figure: &Figure| beam_beat(figure.at + offset, meter);
    let has_beam = |figure: &Figure| !figure.is_rest() && figure.flags() > 0;
    runs(figures, |one, next| {
        has_beam(one) && has_beam(next) && beat(one) == beat(next)
    })
}

/// Runs of two or more in which each figure hangs together with the next.
fn runs(figures: &[Figure], joined: impl Fn(&Figure, &Figure) -> bool) -> Vec<Range<usize>> {
    let mut start = 0;
    let chunks = figures.chunk_by(joined).map(|chunk| {
        let run = start..start + chunk.len();
        start = run.end;
        run
    });
    chunks.filter(|run| run.len() > 1).collect()
}

/// The triplets of a bar.
pub(super) fn triplets(figures: &[Figure]) -> Vec<Range<usize>> {
    grouping::triplets(figures.iter().map(|figure| figure.length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engraving::figures::{FigureMarks, Head};
    use crate::line::note_grammar::length;
    use winnow::Parser;

    fn figures(text: &str) -> Vec<Figure> {
        let mut at = Ticks(0);
        let figure = |word: &str| {
            let is_rest = word.starts_with('r');
            let length = length.parse(word.trim_start_matches('r')).expect(word);
            let head = Head {
                note: 0,
                position: 0,
                accidental: None,
                dead: false,
                optional: false,
                string: 1,
                fret: None,
            };
            let figure = Figure {
                at,
                length,
                heads: if is_rest { vec![] } else { vec![head] },
                tied_in: false,
                tied_out: false,
                marks: FigureMarks::default(),
            };
            at += length.ticks();
            figure
        };
        text.split(' ').map(figure).collect()
    }

    fn beams(meter: &str, text: &str) -> Vec<Range<usize>> {
        beamed(&figures(text), meter.parse().expect(meter), Ticks(0))
    }

    #[test]
    fn beams_hold_a_beat_together() {
        assert_eq!(beams("4/4", "8 8 8 8 4 8. 16"), [0..2, 2..4, 5..7]);
        assert_eq!(beams("4/4", "8 r8 4 r8 8 8 8").len(), 1);
        assert_eq!(beams("12/8", "8 8 8 8 8 8 4 8 4."), [0..3, 3..6]);
        assert_eq!(beams("7/8", "8 8 8 8 8 8 8"), [0..2, 2..4, 4..7]);
    }

    #[test]
    fn triplets_end_where_they_fill_a_plain_length() {
        assert_eq!(triplets(&figures("8t 8t 8t 8t 8t 8t 4")), [0..3, 3..6]);
        assert_eq!(triplets(&figures("4t 8t 8t 4t")), [0..2, 2..4]);
        assert_eq!(triplets(&figures("4t 4t 4t 8t 4")), [0..3, 3..4]);
    }
}
