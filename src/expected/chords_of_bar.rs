//! Which chord sounds where in a bar.

use super::harmony::Chord;
use crate::line::chord::{ChordCell, PlacedChord};
use crate::units::Ticks;

/// The chords of a bar by the place where they begin.
pub(super) struct ChordsOfBar {
    /// What sounds until the first of them.
    before: Option<Chord>,
    starts: Vec<Start>,
}

/// A place, `parts` of a tick over `divisor` after the bar's first tick, and what begins there.
struct Start {
    parts: i64,
    divisor: i64,
    chord: Chord,
}

/// What a cell is laid over.
#[derive(Clone, Copy)]
pub(super) struct CellGround {
    /// The bar's written length.
    pub(super) length: Ticks,
    /// Position in a full bar of its first tick.
    pub(super) offset: Ticks,
    /// The meter's beat.
    pub(super) beat: Ticks,
}

impl CellGround {
    /// Where the chord of this index among `count` begins: parts of a tick after the bar's first one, and their divisor.
    pub(super) fn start(self, placed: &PlacedChord, index: i64, count: i64) -> (i64, i64) {
        match placed.beat {
            Some(beat) => {
                let beats = i64::from(beat) - 1000;
                (beats * self.beat.0 - 1000 * self.offset.0, 1000)
            }
            None => (index * self.length.0, count),
        }
    }
}

impl ChordsOfBar {
    /// The chords of a cell: at their beats, or sharing the bar evenly. `before` goes on until the first of them.
    pub(super) fn new(
        cell: Option<&ChordCell>,
        before: Option<Chord>,
        on: CellGround,
    ) -> ChordsOfBar {
        let placed = cell.map_or(&[][..], |cell| &cell.chords);
        let count = placed.len() as i64;
        let starts = (0..).zip(placed).map(|(index, placed)| {
            let (parts, divisor) = on.start(placed, index, count);
            Start {
                parts,
                divisor,
                chord: Chord::of(&placed.symbol),
            }
        });
        ChordsOfBar {
            before,
            starts: starts.collect(),
        }
    }

    /// What sounds at a written position in the bar.
    pub(super) fn at(&self, at: Ticks) -> Option<Chord> {
        let begun = |start: &&Start| start.parts <= at.0 * start.divisor;
        let last = self.starts.iter().take_while(begun).last();
        last.map(|start| start.chord).or(self.before)
    }

    /// What goes on after the bar.
    pub(super) fn last(&self) -> Option<Chord> {
        self.starts.last().map(|start| start.chord).or(self.before)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str) -> ChordCell {
        let chords = text.split_whitespace().map(|word| {
            let (symbol, beat) = word
                .split_once('@')
                .map_or((word, None), |(s, b)| (s, Some(b)));
            PlacedChord {
                symbol: symbol.parse().expect(symbol),
                beat: beat.map(|beat| beat.parse::<u32>().expect(beat) * 1000),
            }
        });
        ChordCell {
            chords: chords.collect(),
        }
    }

    fn roots(text: &str, length: i64, offset: i64) -> String {
        let before = Some(Chord::of(&"E7".parse().expect("a chord")));
        let on = CellGround {
            length: Ticks(length),
            offset: Ticks(offset),
            beat: Ticks(960),
        };
        let chords = ChordsOfBar::new(Some(&cell(text)), before, on);
        let at = (0..length / 480).map(|eighth| chords.at(Ticks(480 * eighth)));
        at.map(|chord| chord.map_or("-".into(), |chord| chord.root.to_string()))
            .collect()
    }

    #[test]
    fn chords_share_a_bar_evenly_or_start_at_their_beats() {
        assert_eq!(roots("A", 3840, 0), "AAAAAAAA");
        assert_eq!(roots("A D", 3840, 0), "AAAADDDD");
        assert_eq!(roots("A D G", 3840, 0), "AAADDDGG");
        assert_eq!(roots("A@1 D@4", 3840, 0), "AAAAAADD");
        assert_eq!(roots("D@3", 3840, 0), "EEEEDDDD");
        assert_eq!(roots("", 3840, 0), "EEEEEEEE");
    }

    #[test]
    fn beats_of_a_pickup_count_in_the_full_bar() {
        assert_eq!(roots("A@3 D@4", 1920, 1920), "AADD");
        assert_eq!(roots("A@1 D@4", 1920, 1920), "AADD");
        assert_eq!(roots("A D", 960, 2880), "AD");
    }
}
