//! The neutral picture between other formats and the line: one part, one voice or one track, as it was read.
//!
//! A reader of a format ([`crate::import`]) makes a [`Score`]; [`tidy`](tidy::tidy) makes a line of it. The reader
//! decides what sounds and when; `tidy` decides how it is written down. What either of them cannot carry over goes
//! into [`Losses`].
//!
//! What a reader has to keep to:
//! - pitches **sound** (transposition is applied), and every sounding pitch has a MIDI key;
//! - a measure's events are in order, do not overlap, last longer than nothing and lie inside the measure. What no
//!   event covers is a rest: rests are not events;
//! - a note that goes on beyond the bar line is one event a measure, tied;
//! - settings (meter, tempo, swing, key) are those in force in the measure: every measure carries them all;
//! - a tempo, a meter and a swing ratio are within what a line file can say (20 to 400 quarters a minute; 1 to 32
//!   over a power of two up to 32; 1:1 to 4:1). What lies outside is brought inside by the reader, and told as a loss.

mod alike;
pub mod instrument;
mod lengths;
pub mod lost;
mod performed;
mod sections;
pub mod tidy;
mod written;

use crate::line::chord::ChordSymbol;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::line::pitch::Pitch;
use crate::line::tuning::{StringNumber, Tuning};
use crate::line::{Gate, Marks, Stroke, SwingRatio, Swung, Tempo};
use crate::units::Ticks;
use lost::Losses;

/// A part as it was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// What the source calls the piece.
    pub title: Option<String>,
    /// The open strings where the source names them; `None` lets `tidy` take the smallest bass that has all notes.
    pub tuning: Option<Tuning>,
    /// The share of written lengths that sounds, where the source tells.
    pub gate: Option<Gate>,
    /// The measures as written, each once.
    pub measures: Vec<Measure>,
    /// The measures in the order in which they are played: indices into `measures`, repeats, endings and jumps
    /// unrolled. Without any of those it is `0, 1, 2 …`.
    pub playing: Vec<usize>,
    /// What the reader could not carry over.
    pub losses: Losses,
}

/// One measure as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// What the source calls it: a number, mostly. Only for messages.
    pub name: String,
    /// The meter in force.
    pub meter: Meter,
    /// How long it really lasts. Shorter than the meter: a pickup, or a part of a bar (two of them in a row that add
    /// up to the meter become one bar). Longer: it is given a meter of its own. A measure that only lacks its rests at
    /// the end has the meter's length: that is for the reader to say.
    pub length: Ticks,
    /// The tempo in force at its start; `None` where the source has named none yet.
    pub tempo: Option<Tempo>,
    /// The swing in force; `None` is straight.
    pub swing: Option<SwingRatio>,
    /// What swings.
    pub swung: Swung,
    /// The key in force; `None` where the source has named none.
    pub key: Option<KeySignature>,
    /// The rehearsal mark or name of the section that begins here.
    pub mark: Option<String>,
    /// Whether a section begins here without a name: a repeat opens, or one has closed just before.
    pub begins: bool,
    /// What sounds.
    pub events: Vec<Event>,
    /// Chord symbols that begin here: when, from the start of the measure, and which; rising.
    pub chords: Vec<(Ticks, ChordSymbol)>,
}

/// One or several notes struck together, or the continuation of them after a tie.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// From the start of the measure.
    pub at: Ticks,
    /// As written.
    pub length: Ticks,
    /// What is struck.
    pub sound: Sound,
    /// Whether it is held on into the next event, which begins where this one ends and has the same pitches.
    pub tie: bool,
    /// Staccato, tenuto, accent, ghost note and so on. Those of a note that is tied to count for nothing.
    pub marks: Marks,
    /// Up or down bow, up or down pick.
    pub stroke: Option<Stroke>,
    /// The fretting finger, 0 (open) to 4.
    pub finger: Option<u8>,
}

/// What is struck.
#[derive(Clone, Debug, PartialEq)]
pub enum Sound {
    /// One pitch or several at once, each key once; never empty.
    Pitches(Vec<PitchAt>),
    /// A dead note, and its string where the source names one.
    Dead(Option<StringNumber>),
}

/// A sounding pitch, and the string where the source names one. The fret follows from the two and the tuning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PitchAt {
    /// As it sounds, spelled.
    pub pitch: Pitch,
    /// Player's numbering: 1 is the highest.
    pub string: Option<StringNumber>,
}

impl Sound {
    /// Whether a tie may lead from one to the other: both have the same pitches.
    pub fn ties_to(&self, other: &Sound) -> bool {
        let keys = |sound: &Sound| {
            let Sound::Pitches(pitches) = sound else {
                return None;
            };
            let mut keys: Vec<_> = pitches.iter().map(|at| at.pitch.key()).collect();
            keys.sort_unstable();
            Some(keys)
        };
        keys(self).is_some_and(|own| keys(other) == Some(own))
    }
}

impl Event {
    /// When it ends, from the start of the measure.
    pub fn end(&self) -> Ticks {
        self.at + self.length
    }
}

/// The meter of a bar that is as long as that, in the coarsest beats that are no longer than a quarter; `None` where a
/// line has none.
pub fn meter_of(length: Ticks) -> Option<Meter> {
    use crate::units::TICKS_PER_WHOLE;
    [4, 8, 16, 32, 2, 1].into_iter().find_map(|lower: u8| {
        let beat = TICKS_PER_WHOLE / i64::from(lower);
        let upper = u8::try_from(length.0 / beat).ok()?;
        let exact = length.0 % beat == 0 && (1..=crate::line::meter::MOST_BEATS).contains(&upper);
        exact.then_some(Meter { upper, lower })
    })
}
