//! The grammar of a note.
//!
//! ```ebnf
//! notes    = [ "|" ] bar { "|" bar } [ "|" ] ;
//! bar      = note { space note } ;                     (* fills the meter *)
//! note     = place "/" length marks [ "~" ] ;
//! place    = "r" | "x" [ "@" string ] | stop { "+" stop } ;
//! stop     = pitch [ "@" string [ ":" fret ] ] | string ":" fret ;
//! pitch    = class octave ;                            (* sounding, C4 = key 60 *)
//! class    = letter [ "b" | "bb" | "#" | "##" ] ;
//! letter   = "A" | "B" | "C" | "D" | "E" | "F" | "G" ;
//! octave   = [ "-" ] digit [ digit ] ;
//! string   = class | digit ;                           (* by name, or by number with 1 the highest *)
//! fret     = digit [ digit ] ;                         (* 0 to 24 *)
//! length   = value [ "." | ".." ] [ "t" ] ;            (* dots, then a triplet *)
//! value    = "1" | "2" | "4" | "8" | "16" | "32" ;
//! marks    = { "'" | "_" | "m" | ">" | "?" } ;         (* any order, none twice *)
//! space    = ( " " | tab | newline ) { " " | tab | newline } ;
//! ```
//!
//! The parsers below read the shapes; what a shape means on a given tuning is checked when the line is parsed.

use super::length::NoteLength;
use super::pitch::{Pitch, PitchClass};
use winnow::Result;
use winnow::ascii::digit1;
use winnow::combinator::{alt, opt, preceded, separated};
use winnow::prelude::*;
use winnow::token::{one_of, take_while};

/// A string as it is written, before the tuning says which one it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StringName {
    /// By the note name of the open string.
    Letter(PitchClass),
    /// By its number, 1 = highest.
    Number(u8),
}

/// A stop as it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WrittenStop {
    /// `Eb3`, `A2@D` or `A2@D:7`.
    Pitch {
        /// The sounding pitch.
        pitch: Pitch,
        /// The string after `@`.
        string: Option<StringName>,
        /// The fret after the string.
        fret: Option<u8>,
    },
    /// `G:5`.
    Fret {
        /// The string.
        string: StringName,
        /// The fret.
        fret: u8,
    },
}

/// A place as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WrittenPlace {
    /// `r`.
    Rest,
    /// `x` or `x@A`.
    Dead(Option<StringName>),
    /// One stop or several.
    Struck(Vec<WrittenStop>),
}

/// A note name: `Eb`, `F#`, `Bbb`.
pub fn pitch_class(input: &mut &str) -> Result<PitchClass> {
    let letter = one_of('A'..='G').parse_next(input)?;
    let accidental = alt((
        take_while(1..=2, '#').map(|sharps: &str| sharps.len() as i8),
        take_while(1..=2, 'b').map(|flats: &str| -(flats.len() as i8)),
        "".value(0),
    ))
    .parse_next(input)?;
    // C is letter 0, and A and B end the octave.
    let letter = (letter as u8 - b'A' + 5) % 7;
    Ok(PitchClass { letter, accidental })
}

/// A pitch: `Eb3`, `C-1`.
pub fn pitch(input: &mut &str) -> Result<Pitch> {
    let octave = (opt('-'), take_while(1..=2, '0'..='9'))
        .take()
        .parse_to::<i8>();
    (pitch_class, octave)
        .map(|(class, octave)| Pitch { class, octave })
        .parse_next(input)
}

/// A string by name or number.
pub fn string_name(input: &mut &str) -> Result<StringName> {
    alt((
        pitch_class.map(StringName::Letter),
        take_while(1..=2, '0'..='9')
            .parse_to()
            .map(StringName::Number),
    ))
    .parse_next(input)
}

/// A stop: a pitch, a pitch on a string, or a string and a fret.
pub fn stop(input: &mut &str) -> Result<WrittenStop> {
    let on_string = (preceded('@', string_name), opt(preceded(':', fret)));
    alt((
        (pitch, opt(on_string)).map(|(pitch, on)| WrittenStop::Pitch {
            pitch,
            string: on.map(|(string, _)| string),
            fret: on.and_then(|(_, fret)| fret),
        }),
        (string_name, preceded(':', fret)).map(|(string, fret)| WrittenStop::Fret { string, fret }),
    ))
    .parse_next(input)
}

/// A place.
pub fn place(input: &mut &str) -> Result<WrittenPlace> {
    alt((
        'r'.value(WrittenPlace::Rest),
        preceded('x', opt(preceded('@', string_name))).map(WrittenPlace::Dead),
        separated(1.., stop, '+').map(WrittenPlace::Struck),
    ))
    .parse_next(input)
}

/// A length.
pub fn length(input: &mut &str) -> Result<NoteLength> {
    let value = digit1
        .parse_to::<u8>()
        .verify(|value| matches!(value, 1 | 2 | 4 | 8 | 16 | 32));
    let dots = take_while(0..=2, '.').map(|dots: &str| dots.len() as u8);
    (value, dots, opt('t'))
        .map(|(value, dots, triplet)| NoteLength {
            value,
            dots,
            triplet: triplet.is_some(),
        })
        .parse_next(input)
}

/// Up to three digits, so that a fret far off the neck is read and then named as such.
fn fret(input: &mut &str) -> Result<u8> {
    take_while(1..=3, '0'..='9').parse_to().parse_next(input)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d() -> PitchClass {
        "D".parse().unwrap()
    }

    #[test]
    fn each_way_to_write_a_place_is_read() {
        assert_eq!(place.parse("r"), Ok(WrittenPlace::Rest));
        assert_eq!(place.parse("x"), Ok(WrittenPlace::Dead(None)));
        assert_eq!(
            place.parse("x@3"),
            Ok(WrittenPlace::Dead(Some(StringName::Number(3))))
        );
        let stop = WrittenStop::Fret {
            string: StringName::Letter(d()),
            fret: 7,
        };
        assert_eq!(place.parse("D:7"), Ok(WrittenPlace::Struck(vec![stop])));
        let both = WrittenStop::Pitch {
            pitch: "A2".parse().unwrap(),
            string: Some(StringName::Letter(d())),
            fret: Some(7),
        };
        assert_eq!(
            place.parse("A2@D:7+D:7"),
            Ok(WrittenPlace::Struck(vec![both, stop]))
        );
    }

    #[test]
    fn what_is_no_place_is_refused() {
        for text in [
            "", "R", "x@", "r@D", "D:", "A2@", "A2@D:", "A2+", "A2++D2", "A2:5", "h:5",
        ] {
            assert!(place.parse(text).is_err(), "{text}");
        }
    }

    #[test]
    fn lengths_are_read_with_dots_before_the_triplet() {
        let text = |text| length.parse(text).map(|length| length.to_string());
        assert_eq!(text("8.t").as_deref(), Ok("8.t"));
        assert!(text("8t.").is_err());
        assert!(text("8...").is_err());
        assert!(text("3").is_err());
        assert!(text("").is_err());
    }
}
