//! Takes laid out by hand at 120 quarter notes a minute: a quarter note lasts 500 ms, and sounds for 450. Bar 1 beat 1
//! falls 2 s into each take.

use super::{Bench, Note, note};
use serde_json::Value;

pub const START_MS: f64 = 2000.0;
pub const E1: u8 = 28;
pub const A1: u8 = 33;
pub const D2: u8 = 38;
pub const G2: u8 = 43;

/// A line at 120 of one section, with more settings for its head.
pub fn line(head: &str, notes: &str) -> Bench {
    Bench::new(&format!(
        "title = \"By hand\"\nmeter = \"4/4\"\ntempo = 120\n{head}\n[[section]]\nname = \"A\"\nnotes = \"{notes}\"\n"
    ))
}

pub fn open_strings() -> Bench {
    line("", "E1/4 A1/4 D2/4 G2/4 | E1/4 A1/4 D2/4 G2/4")
}

pub const OPEN: [u8; 8] = [E1, A1, D2, G2, E1, A1, D2, G2];

/// Quarter notes in their place from bar 1 beat 1 on.
pub fn quarters(keys: &[u8]) -> Vec<Note> {
    every(500.0, keys)
}

pub fn every(ms: f64, keys: &[u8]) -> Vec<Note> {
    let at = |index: usize| index as f64 * ms;
    let keys = keys.iter().enumerate();
    keys.map(|(index, key)| note(at(index), *key, 0.9 * ms))
        .collect()
}

/// The JSON of a check of notes whose times are since bar 1 beat 1.
pub fn check(bench: &Bench, notes: &[Note], options: &[&str]) -> Value {
    let notes = super::moved(notes, START_MS);
    bench.check(&notes, &[&["--start", "2"], options].concat())
}

pub fn field<'a>(json: &'a Value, index: usize, name: &str) -> &'a Value {
    &json["notes"][index][name]
}

pub fn number(json: &Value, index: usize, name: &str) -> f64 {
    field(json, index, name).as_f64().unwrap_or(f64::NAN)
}

/// One verdict on every note; `-` for null.
pub fn all<'a>(json: &'a Value, name: &str) -> Vec<&'a str> {
    let notes = json["notes"].as_array().expect("notes");
    notes
        .iter()
        .map(|note| note[name].as_str().unwrap_or("-"))
        .collect()
}

pub fn numbers(json: &Value, name: &str) -> Vec<f64> {
    let notes = json["notes"].as_array().expect("notes");
    notes
        .iter()
        .map(|note| note[name].as_f64().unwrap_or(f64::NAN))
        .collect()
}

/// The verdicts on one note: pitch, timing, length.
pub fn verdicts(json: &Value, index: usize) -> [String; 3] {
    ["pitch", "timing", "length"]
        .map(|name| field(json, index, name).as_str().unwrap_or("-").to_string())
}
