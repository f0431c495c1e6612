//! Mistakes in where a note is on the fingerboard.

use super::{Explanation, either};

/// A mistake in a place.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlaceMistake {
    /// What stands before the `/` is no place.
    #[error("`{found}` is not a place")]
    BadPlace {
        /// The text.
        found: String,
        /// What would be right.
        help: String,
    },
    /// A string that the tuning does not have.
    #[error("there is no string `{found}` on this tuning")]
    UnknownString {
        /// The name as written.
        found: String,
        /// What the strings are called, highest first.
        strings: Vec<String>,
    },
    /// A letter that two strings share.
    #[error("more than one string is called `{letter}` on this tuning")]
    AmbiguousString {
        /// The letter.
        letter: String,
        /// The numbers of those strings.
        numbers: Vec<String>,
    },
    /// A fret beyond the last one.
    #[error("there is no fret {fret}")]
    FretOutOfRange {
        /// The fret as written.
        fret: u8,
        /// Where the pitch that it would sound can be played.
        places: Vec<String>,
    },
    /// The pitch cannot be played on the string named with it.
    #[error("{pitch} is not on the {string} string")]
    NotOnString {
        /// The pitch.
        pitch: String,
        /// The string.
        string: String,
        /// Its lowest and highest pitch.
        range: (String, String),
        /// Where the pitch can be played, the nearest string first.
        places: Vec<String>,
    },
    /// Pitch, string and fret do not agree.
    #[error("fret {fret} of the {string} string is {sounds}, not {pitch}")]
    FretIsNotPitch {
        /// The pitch as written.
        pitch: String,
        /// The string.
        string: String,
        /// The fret as written.
        fret: u8,
        /// What the fret sounds.
        sounds: String,
        /// The fret of the pitch on that string, if it has one.
        right_fret: Option<u8>,
    },
    /// Below the lowest open string.
    #[error("{pitch} is below the lowest string, {open}")]
    BelowLowestString {
        /// The pitch.
        pitch: String,
        /// The lowest open string.
        open: String,
        /// The same note name in the lowest octave that can be played.
        playable: Option<String>,
    },
    /// Above the last fret of the highest string.
    #[error("{pitch} is above the last fret of the highest string, {highest}")]
    AboveHighestString {
        /// The pitch.
        pitch: String,
        /// The highest pitch.
        highest: String,
        /// The same note name in the highest octave that can be played.
        playable: Option<String>,
    },
    /// Outside the 128 MIDI keys.
    #[error("{pitch} is outside the MIDI keys (C-1 to G9)")]
    OutsideMidi {
        /// The pitch.
        pitch: String,
    },
    /// Two stops of a double stop that need one string.
    #[error("{first} and {second} cannot sound together: both need the {string} string")]
    StringUsedTwice {
        /// The lower stop as written.
        first: String,
        /// The other one.
        second: String,
        /// The string.
        string: String,
    },
    /// More stops than strings.
    #[error("{stops} notes cannot sound together on {strings} strings")]
    TooManyStops {
        /// How many notes.
        stops: usize,
        /// How many strings.
        strings: usize,
    },
    /// The strings do not suffice for all stops of a chord.
    #[error("no way to give each note of `{found}` a string of its own")]
    NoStringLeft {
        /// The place as written.
        found: String,
    },
}

impl PlaceMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use PlaceMistake as M;
        match self {
            M::BadPlace { help, .. } => Explanation::new("bad-place", "not a place", help.clone()),
            M::UnknownString { strings, .. } => Explanation::new(
                "unknown-string",
                "no such string",
                format!(
                    "the strings are {}, or 1 (the highest) to {}",
                    strings.join(", "),
                    strings.len()
                ),
            ),
            M::AmbiguousString { numbers, letter } => Explanation::new(
                "ambiguous-string",
                "which one?",
                format!(
                    "say its number: the {letter} strings are {}",
                    either(numbers)
                ),
            ),
            M::FretOutOfRange { places, .. } => Explanation::new(
                "fret-out-of-range",
                "frets run from 0 (open) to 24",
                if places.is_empty() {
                    "no other string reaches that pitch".to_owned()
                } else {
                    format!("the same pitch is at {}", either(places))
                },
            ),
            M::NotOnString { range, places, .. } => Explanation::new(
                "not-on-string",
                format!("this string has {} to {}", range.0, range.1),
                format!("play it at {}", either(places)),
            ),
            M::FretIsNotPitch {
                pitch,
                string,
                fret,
                sounds,
                right_fret,
            } => Explanation::new(
                "fret-is-not-pitch",
                format!("this fret is {sounds}"),
                match right_fret {
                    Some(right) => format!(
                        "write {pitch}@{string}:{right} for the pitch, or {sounds}@{string}:{fret} for the fret"
                    ),
                    None => format!(
                        "write {sounds}@{string}:{fret} for the fret; {pitch} is not on this string"
                    ),
                },
            ),
            M::BelowLowestString { playable, .. } => Explanation::new(
                "below-lowest-string",
                "too low for this tuning",
                octave_help(playable.as_deref(), "a lower string goes into `tuning`"),
            ),
            M::AboveHighestString { playable, .. } => Explanation::new(
                "above-highest-string",
                "too high for this tuning",
                octave_help(
                    playable.as_deref(),
                    "line files use sounding pitch, an octave below what bass parts are written in",
                ),
            ),
            M::OutsideMidi { .. } => Explanation::new(
                "outside-midi",
                "no such key",
                "pitches are written as they sound, with C4 as middle C; the open E string is E1",
            ),
            M::StringUsedTwice { string, .. } => Explanation::new(
                "string-used-twice",
                format!("two notes on the {string} string"),
                "move one of them to another string",
            ),
            M::TooManyStops { strings, .. } => Explanation::new(
                "too-many-stops",
                "more notes than strings",
                format!("join at most {strings} notes with `+`"),
            ),
            M::NoStringLeft { .. } => Explanation::new(
                "no-string-left",
                "not enough strings reach these notes",
                "leave one of them out, or move it by an octave",
            ),
        }
    }
}

fn octave_help(playable: Option<&str>, hint: &str) -> String {
    match playable {
        Some(pitch) => format!("the nearest octave that can be played is {pitch}; {hint}"),
        None => format!("no octave of this note can be played; {hint}"),
    }
}
