//! Expected notes: the line unrolled. Repeats, key shifts, swing, tempo and speed are all applied.
//!
//! Every time here is exact to the nanosecond: it is computed in integers from written ticks and rounded once.

use crate::line::key_signature::KeySignature;
use crate::line::meter::{Meter, beat_is_dotted};
use crate::line::pitch::PitchClass;
use crate::units::{Key, Nanos, TICKS_PER_WHOLE, Ticks};

pub mod chord_names;
mod chords_of_bar;
mod contrast;
mod degree_words;
mod harmony;
pub mod silent_bars;
mod strike;
mod swing;
pub mod tempo_map;
mod transposition;
mod unroll;

pub use crate::line::degree::Degree;
pub use contrast::{Contrast, CountedFrom};
pub use harmony::ChordTone;
pub use unroll::unroll;

use tempo_map::TempoMap;

/// A line unrolled at one speed: what the player is expected to do, and when.
#[derive(Clone, Debug)]
pub struct Expected {
    /// The notes by onset; the notes of a double stop lowest first.
    pub notes: Vec<ExpectedNote>,
    /// The bars in playing order, pickup included.
    pub bars: Vec<ExpectedBar>,
    /// Section names by [`ExpectedNote::section`].
    pub sections: Vec<String>,
    /// String labels, highest string first: `strings[n − 1]` names string n.
    pub strings: Vec<String>,
    /// What the open strings sound, in the order of [`Expected::strings`].
    pub open: Vec<Key>,
    /// Written position to time.
    pub tempo_map: TempoMap,
    /// When the last bar ends.
    pub end: Nanos,
}

/// One note of the line, unrolled.
#[derive(Clone, Debug, PartialEq)]
pub struct ExpectedNote {
    /// Index into [`Expected::sections`].
    pub section: u16,
    /// Which time through the section, from 1.
    pub pass: u32,
    /// Index into [`Expected::bars`].
    pub bar: u32,
    /// Written position in the bar (before swing).
    pub at: Ticks,
    /// Its written length, tied notes added up.
    pub length: Ticks,
    /// Notes with the same number are struck together; numbers rise by one.
    pub group: u32,
    /// What sounds; `None` for a dead note.
    pub key: Option<Key>,
    /// String number, 1 = highest, where the line names one.
    pub string: Option<u8>,
    /// Fret, where the line names the string.
    pub fret: Option<u8>,
    /// The key of its section, moved with the pass.
    pub signature: Option<KeySignature>,
    /// The degree of the key, where the section has one.
    pub degree: Option<Degree>,
    /// What it is in the chord that sounds there, where the line names one; `None` for a dead note.
    pub chord: Option<ChordTone>,
    /// The note name: as the line spells it, moved with the pass; for a note named by its fret as the chord, else the
    /// key spells it. `None` where nothing tells.
    pub spelled: Option<PitchClass>,
    /// When it should start, since bar 1 beat 1.
    pub onset: Nanos,
    /// Its written length in time (tied notes added up, swing and tempo applied).
    pub written: Nanos,
    /// How long it should sound: written length × gate.
    pub sounding: Nanos,
    /// When the rest that follows directly begins, if one does (the end of the line counts as one).
    pub rest_at: Option<Nanos>,
    /// The beat at this place.
    pub beat: Nanos,
    /// What the line says about it.
    pub is: NoteTraits,
    /// The stroke, where the line has that layer.
    pub stroke: Option<crate::line::Stroke>,
    /// The fretting finger, where the line has that layer.
    pub finger: Option<u8>,
}

/// The yes-or-no facts of an expected note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NoteTraits {
    /// The first note of the take, or one after rests that add up to an eighth or more.
    pub entry: bool,
    /// Starts between beats; in swing: in the short half of a swung pair.
    pub upbeat: bool,
    /// A short upbeat that leads straight into the next beat.
    pub skip: bool,
    /// A dead note: its pitch is not judged.
    pub dead: bool,
    /// Marked `'`.
    pub short: bool,
    /// Marked `m`.
    pub muted: bool,
    /// Marked `>`.
    pub accent: bool,
    /// Marked `?`: no penalty when absent.
    pub optional: bool,
}

/// One bar in playing order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExpectedBar {
    /// Index into [`Expected::sections`].
    pub section: u16,
    /// Which time through the section, from 1.
    pub pass: u32,
    /// The bar's number in the line as written, from 1 through all sections, the same in every pass; a pickup is 0.
    pub number: u32,
    /// When it starts, since bar 1 beat 1.
    pub onset: Nanos,
    /// When it ends.
    pub end: Nanos,
    /// The length of its beat.
    pub beat: Ticks,
    /// The written position of its start since bar 1 beat 1, for [`TempoMap::time_at`].
    pub start: Ticks,
    /// Its written length; a pickup's is shorter than its meter.
    pub length: Ticks,
    /// Written position in a full bar of its first tick: 0, except in a pickup.
    pub offset: Ticks,
    /// How far after its beat an upbeat is heard, swing applied: this many ticks over this divisor.
    pub upbeat: (Ticks, i64),
    /// Whether it goes without the click: see [`Expected::silence`].
    pub silent: bool,
}

impl ExpectedNote {
    /// When it should stop sounding.
    pub fn end(&self) -> Nanos {
        self.onset + self.sounding
    }

    /// What a reader calls it: its spelled name, or the plain name of its key.
    pub fn name(&self) -> String {
        match (self.key, self.spelled) {
            (None, _) => "dead note".into(),
            (Some(key), None) => key.to_string(),
            (Some(key), Some(class)) => {
                // B# and Cb are named after the octave of their letter.
                let octave = (i16::from(key.0) - i16::from(class.semitones())) / 12 - 1;
                format!("{class}{octave}")
            }
        }
    }
}

impl ExpectedBar {
    /// The meter that it is written in (its full one, in a pickup).
    pub fn meter(&self) -> Meter {
        let full = self.length + self.offset;
        let lower = if beat_is_dotted(self.beat) {
            8
        } else {
            TICKS_PER_WHOLE / self.beat.0
        };
        let upper = full.0 * lower / TICKS_PER_WHOLE;
        Meter {
            upper: upper as u8,
            lower: lower as u8,
        }
    }

    /// Where a written position in the bar falls as a musician counts: 1 is beat one, the and of one is 1.5.
    pub fn beat_number(&self, at: Ticks) -> f64 {
        1.0 + (at + self.offset).0 as f64 / self.beat.0 as f64
    }
}
