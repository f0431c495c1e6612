//! The line: the written bass part, one TOML file.
//!
//! [`Line`] is the file's meaning without its layout: what [`parse`](parse::parse) reads and [`print`](print::print)
//! writes, so that `parse(print(line)) == line`. Nothing here is unrolled: passes, swing and tempo are applied by
//! [`crate::expected`].

mod amount;
pub mod bar_range;
mod bars;
pub mod blank;
pub mod chord;
pub mod chord_tones;
mod chords;
pub mod degree;
pub(crate) mod document;
pub mod excerpt;
mod fingerboard;
pub mod format;
pub mod grouping;
pub mod head_comment;
pub mod key_signature;
mod layers;
mod layout;
pub mod length;
pub mod meter;
pub mod mistake;
pub mod mistakes;
pub(crate) mod nearest;
mod note;
pub mod note_grammar;
pub mod parse;
mod passes;
mod piece;
pub mod pitch;
mod place;
pub mod print;
pub mod read;
mod settings;
pub mod source;
mod thousandths;
pub mod tuning;

use chord::ChordCell;
use key_signature::KeySignature;
use length::NoteLength;
use meter::Meter;
use pitch::Pitch;
use tuning::{StringNumber, Tuning};

/// A written bass part: one TOML file under `lines/`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What the player calls it.
    pub title: String,
    /// The meter of every section that names none.
    pub meter: Meter,
    /// The tempo of every section that names none.
    pub tempo: Tempo,
    /// How swung pairs are divided; `None` is straight.
    pub swing: Option<SwingRatio>,
    /// Which notes swing.
    pub swung: Swung,
    /// The open strings.
    pub tuning: Tuning,
    /// The share of a written length that sounds, where a note has no mark that says otherwise.
    pub gate: Gate,
    /// The key of every section that names none.
    pub key: Option<KeySignature>,
    /// Whether the first bar of the first section is a pickup (an incomplete bar, counted as bar 0, played once
    /// before the first pass).
    pub pickup: bool,
    /// The number of the first full bar: 1, except in an [`excerpt`]. A file does not have it.
    pub first_bar: u32,
    /// The sections in playing order; never empty.
    pub sections: Vec<Section>,
}

/// A named stretch of a line. `None` means "as the line says".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// The rehearsal mark or name.
    pub name: String,
    /// Its own tempo.
    pub tempo: Option<Tempo>,
    /// Its own meter.
    pub meter: Option<Meter>,
    /// Its own swing; straight inside a swung line is `1:1`.
    pub swing: Option<SwingRatio>,
    /// Its own swung value.
    pub swung: Option<Swung>,
    /// Its own key.
    pub key: Option<KeySignature>,
    /// Its own gate.
    pub gate: Option<Gate>,
    /// One pass an entry, each shifted by that many semitones; never empty.
    pub passes: Vec<i8>,
    /// The bars as written, in order; never empty.
    pub bars: Vec<Bar>,
    /// One cell a bar, or no chords at all.
    pub chords: Option<Vec<ChordCell>>,
    /// For each bar one mark a struck note (a tied-to note is not struck again), or no such layer.
    pub strokes: Option<Vec<Vec<Stroke>>>,
    /// For each bar one fretting finger (0 = open string) a struck note, or no such layer.
    pub fingers: Option<Vec<Vec<u8>>>,
}

/// One measure; its notes and rests fill the meter exactly.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bar {
    /// Notes and rests in order; never empty.
    pub notes: Vec<Note>,
}

/// One written note or rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// What sounds.
    pub place: Place,
    /// For how long, as written.
    pub length: NoteLength,
    /// Whether it ties into the next note (of the same pitch), which is then not struck again.
    pub tie: bool,
    /// How it is played.
    pub marks: Marks,
}

/// Where a note is on the instrument, or that there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// Silence.
    Rest,
    /// A dead note: struck, its pitch not judged. The string is a hint to the player.
    Dead(Option<StringNumber>),
    /// One sounding note, or several struck together (a double stop, written with `+`), lowest first, each on a
    /// string of its own where strings are named.
    Struck(Vec<Stop>),
}

/// One stopped or open string of a struck note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// A sounding pitch; the player chooses where (`Eb3`).
    Pitch(Pitch),
    /// A string and a fret (`G:5`).
    Fret {
        /// The string.
        string: StringNumber,
        /// 0 is open.
        fret: u8,
    },
    /// A sounding pitch on a named string (`A2@D`), checked against the tuning.
    PitchOn {
        /// The pitch.
        pitch: Pitch,
        /// The string.
        string: StringNumber,
    },
}

/// The marks on a note. `short` and `full` exclude each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// `'`: gate 0.5.
    pub short: bool,
    /// `_`: gate 1.0.
    pub full: bool,
    /// `m`: muted with the hand: short, and must not ring over.
    pub muted: bool,
    /// `>`.
    pub accent: bool,
    /// `?`: a ghost note, no penalty when absent.
    pub optional: bool,
}

/// The way the plucking hand or pick moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// `d`.
    Down,
    /// `u`.
    Up,
}

/// Quarter notes a minute, in thousandths; 20 to 400 in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Tempo(pub u32);

/// The share of a written length that sounds, in thousandths, 1 to 1000.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Gate(pub u16);

impl Gate {
    /// What a line has that names none: 0.9.
    pub const DEFAULT: Gate = Gate(900);
    /// The gate of `'`, of `m` and of a dead note: by convention half the written value.
    pub const SHORT: Gate = Gate(500);
    /// The gate of `_`.
    pub const FULL: Gate = Gate(1000);
}

/// Long half to short half of a swung pair, both in thousandths as written; 1:1 to 4:1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SwingRatio {
    /// The first half of the pair.
    pub long: u32,
    /// The second.
    pub short: u32,
}

/// Which written value swings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Swung {
    /// Pairs of eighths, a quarter long.
    #[default]
    Eighth,
    /// Pairs of sixteenths, an eighth long.
    Sixteenth,
}
