//! Chord symbols: the layer that says what a line is played over.

use super::pitch::PitchClass;

/// The chords of one bar; empty where the bar keeps the chord before it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChordCell {
    /// In order. Without positions they share the bar evenly.
    pub chords: Vec<PlacedChord>,
}

/// A chord and, where the file says so, the beat it starts on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedChord {
    /// The chord.
    pub symbol: ChordSymbol,
    /// The beat as written after `@`, in thousandths of a beat from 1000 (beat one); all chords of a cell have one or none has.
    pub beat: Option<u32>,
}

/// A chord symbol: `Dm7`, `G7/B`, `Ebmaj7`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordSymbol {
    /// The root, spelled.
    pub root: PitchClass,
    /// What follows the root, as written (`m7`, `maj7`, empty for a major triad).
    pub quality: String,
    /// The note after the slash.
    pub bass: Option<PitchClass>,
}
