//! Mistakes in the layers: chords, strokes and fingers.

use super::{Explanation, counted};

/// A layer that has one mark a struck note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkLayer {
    /// Down and up.
    Strokes,
    /// The fretting hand.
    Fingers,
}

impl MarkLayer {
    /// Its key in the file.
    pub fn key(self) -> &'static str {
        match self {
            MarkLayer::Strokes => "strokes",
            MarkLayer::Fingers => "fingers",
        }
    }
}

/// A mistake in a layer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LayerMistake {
    /// A bar whose marks are not as many as its notes.
    #[error("{}: bar {bar} has {} for {}", layer.key(), counted(*marks, "mark"), counted(*notes, "note"))]
    MarkCount {
        /// The layer.
        layer: MarkLayer,
        /// The bar.
        bar: usize,
        /// Its marks.
        marks: usize,
        /// Its struck notes.
        notes: usize,
    },
    /// A layer whose bars are not as many as those of the notes.
    #[error("{layer}: {} for {} of notes", counted(*cells, "bar"), counted(*bars, "bar"))]
    BarCount {
        /// The layer's key.
        layer: &'static str,
        /// Its bars.
        cells: usize,
        /// The section's bars.
        bars: usize,
    },
    /// Neither `d` nor `u`.
    #[error("`{found}` is not a stroke")]
    BadStroke {
        /// The text.
        found: String,
    },
    /// Not 0 to 4.
    #[error("`{found}` is not a fretting finger")]
    BadFinger {
        /// The text.
        found: String,
    },
    /// The text is not a chord symbol.
    #[error("`{found}` is not a chord symbol")]
    BadChord {
        /// The text.
        found: String,
        /// What would be right.
        help: String,
    },
    /// What follows `@` is not a beat.
    #[error("`{found}` is not a beat")]
    BadChordBeat {
        /// The text.
        found: String,
    },
    /// A beat that the bar does not have.
    #[error("a bar of {meter} has no beat {found}")]
    ChordBeatOutOfRange {
        /// The beat as written.
        found: String,
        /// The meter.
        meter: String,
        /// How many beats a bar has, in thousandths.
        beats: u32,
    },
    /// A chord that does not come after the one before it.
    #[error("the chords are not in order: beat {found} does not come after beat {before}")]
    ChordBeatsNotRising {
        /// The beat as written.
        found: String,
        /// The beat before.
        before: String,
    },
    /// Some chords of a cell have a beat and some have none.
    #[error("{found} has no beat, but another chord of this bar has one")]
    ChordWithoutBeat {
        /// The chord.
        found: String,
    },
}

impl LayerMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use LayerMistake as M;
        match self {
            M::MarkCount { marks, notes, .. } => Explanation::new(
                "layer-mark-count",
                counted(*marks, "mark"),
                format!(
                    "write {notes} here: one mark a struck note; rests and tied notes have none, a double stop has one"
                ),
            ),
            M::BarCount { layer, cells, bars } => Explanation::new(
                "layer-bar-count",
                counted(*cells, "bar"),
                if *layer == "chords" {
                    format!(
                        "write {bars} bars; `-` keeps the chord of the bar before, a pickup counts as a bar"
                    )
                } else {
                    format!(
                        "write {bars} bars with `|` between them; a bar without struck notes stays empty, a pickup counts as a bar"
                    )
                },
            ),
            M::BadStroke { .. } => Explanation::new(
                "bad-stroke",
                "not a stroke",
                "write `d` for down or `u` for up",
            ),
            M::BadFinger { .. } => Explanation::new(
                "bad-finger",
                "not a finger",
                "write 1 (index) to 4 (little finger), or 0 for an open string",
            ),
            M::BadChord { help, .. } => Explanation::new("bad-chord", "not a chord", help.clone()),
            M::BadChordBeat { .. } => Explanation::new(
                "bad-chord-beat",
                "not a beat",
                "write the beat that the chord starts on, from 1, such as `Dm7@1 G7@3` or `G7@2.5`",
            ),
            M::ChordBeatOutOfRange { beats, .. } => Explanation::new(
                "chord-beat-out-of-range",
                "no such beat",
                format!("the last beat is {}", (beats / 1000).max(1)),
            ),
            M::ChordBeatsNotRising { .. } => Explanation::new(
                "chord-beats-not-rising",
                "out of order",
                "write the chords of a bar in playing order, each on a beat of its own",
            ),
            M::ChordWithoutBeat { found } => Explanation::new(
                "chord-without-beat",
                "no beat",
                format!("give every chord of the bar a beat, such as `{found}@1`, or none"),
            ),
        }
    }
}
