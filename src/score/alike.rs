//! Which bars are the same, and which are the same in another key.

use super::performed::Settings;
use super::written::WrittenBar;
use crate::line::chord::ChordCell;
use crate::line::key_signature::KeySignature;
use crate::line::pitch::PitchClass;
use crate::line::tuning::Tuning;
use crate::line::{Place, Stop};
use std::collections::HashMap;
use std::fmt::Write;

/// The furthest that a pass may be shifted in a line file, in semitones.
const FURTHEST: i32 = 60;

/// The bars of a part, ready to be compared.
pub struct Bars<'b> {
    written: &'b [WrittenBar],
    tuning: &'b Tuning,
    /// Bars of one number differ in key at the most.
    shapes: Vec<u32>,
    /// The key that the rest of the bar is counted from; `None` where nothing has a pitch.
    bases: Vec<Option<i32>>,
}

impl<'b> Bars<'b> {
    /// Looks at every bar once.
    pub fn new(written: &'b [WrittenBar], tuning: &'b Tuning) -> Bars<'b> {
        let mut known: HashMap<String, u32> = HashMap::new();
        let mut shapes = Vec::new();
        let mut bases = Vec::new();
        for bar in written {
            let base = base(bar, tuning);
            let next = known.len() as u32;
            shapes.push(*known.entry(shape(bar, base, tuning)).or_insert(next));
            bases.push(base);
        }
        Bars {
            written,
            tuning,
            shapes,
            bases,
        }
    }

    /// By how many semitones the bars from `second` on are those from `first` on; `None` when they are others.
    /// Bars without a pitch fit any shift.
    pub fn shift(&self, first: usize, second: usize, count: usize) -> Option<i32> {
        let mut shift: Option<i32> = None;
        for index in 0..count {
            let (one, other) = (first + index, second + index);
            if self.shapes.get(one)? != self.shapes.get(other)? {
                return None;
            }
            if let (Some(one), Some(other)) = (self.bases[one], self.bases[other])
                && *shift.get_or_insert(other - one) != other - one
            {
                return None;
            }
        }
        let shift = shift.unwrap_or(0);
        let pairs = (first..first + count).zip(second..second + count);
        let mut pairs = pairs.map(|(one, other)| (&self.written[one], &self.written[other]));
        let alike = pairs.all(|(one, other)| {
            same_settings(&one.settings, &other.settings, shift) && self.stays(one, shift)
        });
        (alike && shift.abs() <= FURTHEST).then_some(shift)
    }

    /// Whether the bar can be played that far away, on the strings it names.
    fn stays(&self, bar: &WrittenBar, shift: i32) -> bool {
        bar.bar.notes.iter().all(|note| match &note.place {
            Place::Struck(stops) => self.tuning.reaches(stops, shift),
            _ => true,
        })
    }
}

fn same_settings(one: &Settings, other: &Settings, shift: i32) -> bool {
    let moved = |one: KeySignature, other: KeySignature| {
        let apart = i32::from(other.tonic.semitones()) - i32::from(one.tonic.semitones());
        one == other
            || (one.mode == other.mode && (apart - shift).rem_euclid(12) == 0 && shift != 0)
    };
    let same_key = match (one.key, other.key) {
        (Some(one), Some(other)) => moved(one, other),
        (None, None) => true,
        _ => false,
    };
    same_key
        && Settings { key: None, ..*one }
            == Settings {
                key: None,
                ..*other
            }
}

fn base(bar: &WrittenBar, tuning: &Tuning) -> Option<i32> {
    let mut stops = bar.bar.notes.iter().filter_map(|note| match &note.place {
        Place::Struck(stops) => stops.first(),
        _ => None,
    });
    stops.find_map(|stop| key(*stop, tuning))
}

fn key(stop: Stop, tuning: &Tuning) -> Option<i32> {
    tuning.key_of(stop).map(|key| i32::from(key.0))
}

/// Everything about a bar but its key, as text. Without a base the chords are told as they are.
fn shape(bar: &WrittenBar, base: Option<i32>, tuning: &Tuning) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    for note in &bar.bar.notes {
        match &note.place {
            Place::Rest => out.push('r'),
            Place::Dead(string) => {
                let _ = write!(out, "x{string:?}");
            }
            Place::Struck(stops) => {
                for stop in stops {
                    let above = key(*stop, tuning).zip(base).map(|(key, base)| key - base);
                    let _ = write!(out, "{above:?}@{:?}+", stop.string());
                }
            }
        }
        let _ = write!(out, "/{}{}{} ", note.length, note.marks, note.tie);
    }
    let _ = write!(out, "|{:?}{:?}|", bar.strokes, bar.fingers);
    chord_shape(&mut out, &bar.chords, base);
    out
}

fn chord_shape(out: &mut String, cell: &ChordCell, base: Option<i32>) {
    let name =
        |class: PitchClass| (i32::from(class.semitones()) - base.unwrap_or(0)).rem_euclid(12);
    for chord in &cell.chords {
        let bass = chord.symbol.bass.map(name);
        let root = name(chord.symbol.root);
        let _ = write!(
            out,
            "{root}{}{bass:?}{:?} ",
            chord.symbol.quality, chord.beat
        );
    }
}
