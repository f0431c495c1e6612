//! A line to fill in: valid as it stands, and each key explained in a comment.

use super::format::format;
use super::key_signature::KeySignature;
use super::length::NoteLength;
use super::meter::Meter;
use super::pitch::{Pitch, PitchClass};
use super::print::text;
use super::tuning::Tuning;

/// What is known of a line that is to be written.
pub struct Blank {
    /// Its title, not blank.
    pub title: String,
    /// Its meter.
    pub meter: Meter,
    /// Quarter notes a minute, 20 to 400.
    pub tempo: u32,
    /// Its key.
    pub key: KeySignature,
}

/// The degrees whose roots the four bars are on, from 0.
const ROOTS: [usize; 4] = [0, 3, 4, 0];

/// The text of a line of four bars in the one layout; `None` in a key that needs more than double accidentals.
pub fn blank(of: &Blank) -> Option<String> {
    let chords: Option<Vec<String>> = ROOTS.iter().map(|root| chord(of.key, *root)).collect();
    let bars: Option<Vec<String>> = ROOTS.iter().map(|root| bar(of, *root)).collect();
    let written = template(of, &chords?.join(" | "), &bars?.join(" | "));
    format(&written, "a new line").ok()
}

fn template(of: &Blank, chords: &str, notes: &str) -> String {
    let (title, meter, tempo, key) = (text(&of.title), text(of.meter), of.tempo, text(of.key));
    format!(
        r#"# What is this line, and who plays it?
#
# Trains: what it is for. Whoever opens the file reads this first.

title = {title}
meter = {meter}
tempo = {tempo}  # quarter notes a minute
key = {key}  # a tonic and major, minor, harmonic minor, melodic minor or a church mode
# More that may stand here, or in a section:
# swing   = "2:1"             # long to short in a pair of eighths; straight without it
# swung   = "1/16"            # sixteenths swing in place of eighths
# gate    = 0.9               # the share of a note's length that sounds
# and here only:
# tuning  = "B0 E1 A1 D2 G2"  # open strings, lowest first; E1 A1 D2 G2 without it
# pickup  = true              # the first bar is an incomplete one

[[section]]
name = "A"
# passes  = [0, 0, 2]         # three times through, the last two frets higher
# One cell a bar: - goes on with the chord before, "Em7@1 A7@3" changes on beat 3.
chords = "{chords}"
# A note is PLACE/LENGTH and marks; a bar ends at |.
#   place    E2 as it sounds (C4 is middle C), A:7 string and fret, E2@A both, D2+A2 together, r rest, x dead note
#   length   1 2 4 8 16 32; 4. dotted; 8t triplet; ~ at the end ties it to the next
#   marks    ' short   _ full length   m muted   > accent   ? may stay away
notes = "{notes}"
# One mark a struck note:
# strokes = "d u d u | ..."   # down and up
# fingers = "0 1 2 4 | ..."   # 0 is an open string
"#
    )
}

/// The triad that the key has on a degree.
fn chord(key: KeySignature, degree: usize) -> Option<String> {
    let scale = key.mode.scale();
    let above = |steps: usize| (scale[(degree + steps) % 7] - scale[degree]).rem_euclid(12);
    let quality = match (above(2), above(4)) {
        (3, 6) => "dim",
        (3, _) => "m",
        (_, 8) => "aug",
        _ => "",
    };
    Some(format!("{}{quality}", root(key, degree)?))
}

fn root(key: KeySignature, degree: usize) -> Option<PitchClass> {
    key.tonic.moved(degree as u8, key.mode.scale()[degree])
}

/// One note a beat, as low as the instrument goes.
fn bar(of: &Blank, degree: usize) -> Option<String> {
    let class = root(of.key, degree)?;
    let lowest = Tuning::default().lowest()?.key()?;
    let pitches = (0..4).map(|octave| Pitch { class, octave });
    let pitch = pitches
        .into_iter()
        .find(|pitch| pitch.key().is_some_and(|key| key >= lowest))?;
    let beats = of.meter.bar().0 / of.meter.beat().0;
    let length = NoteLength {
        value: if of.meter.is_compound() {
            4
        } else {
            of.meter.lower
        },
        dots: u8::from(of.meter.is_compound()),
        triplet: false,
    };
    Some(vec![format!("{pitch}/{length}"); beats as usize].join(" "))
}
