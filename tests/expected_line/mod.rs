//! Lines for the tests of unrolling, built without the file reader so that a fault there cannot hide one here.
#![allow(dead_code)] // each test crate uses its own part

use leadsman::line::key_signature::{KeySignature, Mode};
use leadsman::line::length::NoteLength;
use leadsman::line::meter::Meter;
use leadsman::line::pitch::{Pitch, PitchClass};
use leadsman::line::tuning::{StringNumber, Tuning};
use leadsman::line::{
    Bar, Gate, Line, Marks, Note, Place, Section, Stop, SwingRatio, Swung, Tempo,
};

/// One section in 4/4 at 120, straight, gate 0.9.
pub fn line(notes: &str) -> Line {
    Line {
        title: "Test".into(),
        meter: Meter { upper: 4, lower: 4 },
        tempo: Tempo(120_000),
        swing: None,
        swung: Swung::Eighth,
        tuning: Tuning::default(),
        gate: Gate::DEFAULT,
        key: None,
        pickup: false,
        first_bar: 1,
        sections: vec![section("A", notes)],
    }
}

/// The same in another meter.
pub fn line_in(upper: u8, lower: u8, notes: &str) -> Line {
    Line {
        meter: Meter { upper, lower },
        ..line(notes)
    }
}

/// The same with swing, the ratio in whole numbers.
pub fn swung(long: u32, short: u32, notes: &str) -> Line {
    Line {
        swing: Some(SwingRatio {
            long: long * 1000,
            short: short * 1000,
        }),
        ..line(notes)
    }
}

pub fn section(name: &str, notes: &str) -> Section {
    Section {
        name: name.into(),
        tempo: None,
        meter: None,
        swing: None,
        swung: None,
        key: None,
        gate: None,
        passes: vec![0],
        bars: bars(notes),
        chords: None,
        strokes: None,
        fingers: None,
    }
}

pub fn key(tonic: &str, mode: Mode) -> Option<KeySignature> {
    let tonic = pitch(&format!("{tonic}0")).class;
    Some(KeySignature { tonic, mode })
}

pub fn tuning(open: &str) -> Tuning {
    Tuning {
        open: open.split(' ').map(pitch).collect(),
    }
}

/// Bars in the notation of line files, strings by number: `A2/8' 1:5/8 D2+A2/4 x/8 r/8 | A2@2/1`.
pub fn bars(notes: &str) -> Vec<Bar> {
    let bar = |bar: &str| Bar {
        notes: bar.split_whitespace().map(note).collect(),
    };
    notes.split('|').map(bar).collect()
}

fn note(text: &str) -> Note {
    let (place, rest) = text.split_once('/').expect("PLACE/LENGTH");
    let digits = rest.chars().take_while(char::is_ascii_digit).count();
    let (value, marks) = rest.split_at(digits);
    let has = |mark| marks.contains(mark);
    Note {
        place: self::place(place),
        length: NoteLength {
            value: value.parse().expect("a length"),
            dots: marks.matches('.').count() as u8,
            triplet: has('t'),
        },
        tie: has('~'),
        marks: Marks {
            short: has('\''),
            full: has('_'),
            muted: has('m'),
            accent: has('>'),
            optional: has('?'),
        },
    }
}

fn place(text: &str) -> Place {
    match text {
        "r" => Place::Rest,
        "x" => Place::Dead(None),
        _ => match text.strip_prefix("x@") {
            Some(string) => Place::Dead(Some(number(string))),
            None => Place::Struck(text.split('+').map(stop).collect()),
        },
    }
}

fn stop(text: &str) -> Stop {
    if let Some((string, fret)) = text.split_once(':') {
        let (string, fret) = (number(string), fret.parse().expect("a fret"));
        return Stop::Fret { string, fret };
    }
    match text.split_once('@') {
        Some((at, string)) => Stop::PitchOn {
            pitch: pitch(at),
            string: number(string),
        },
        None => Stop::Pitch(pitch(text)),
    }
}

fn number(text: &str) -> StringNumber {
    StringNumber(text.parse().expect("a string number"))
}

fn pitch(text: &str) -> Pitch {
    let letter = "CDEFGAB".find(&text[..1]).expect("a letter") as u8;
    let accidental = text.matches('#').count() as i8 - text.matches('b').count() as i8;
    let octave = text.trim_start_matches(|c: char| !c.is_ascii_digit() && c != '-');
    Pitch {
        class: PitchClass { letter, accidental },
        octave: octave.parse().expect("an octave"),
    }
}
