//! Writing a line as a tidy file: [`parse`](super::parse::parse) reads back the same line.

use super::chord::ChordCell;
use super::layout::{self, Entry, Remarks, Sheet, TableSheet, Value};
use super::mistake::document::Table;
use super::tuning::{StringNumber, Tuning};
use super::{Bar, Gate, Line, Marks, Note, Place, Section, Stop, Stroke, Swung};
use std::fmt::{Display, Write};

/// The text of a line file for a valid line, in the layout of [`format`](super::format): what goes without
/// saying is left out.
pub fn print(line: &Line) -> String {
    let head = Table::Line.keys().iter().filter_map(|key| {
        let value = head_value(line, key).filter(|_| !head_is_usual(line, key))?;
        Some(entry(key, Value::Plain(value)))
    });
    let mut tables = vec![TableSheet {
        header: None,
        entries: head.collect(),
    }];
    for (index, section) in line.sections.iter().enumerate() {
        tables.push(TableSheet {
            header: Some(Remarks::default()),
            entries: section_entries(line, section, line.pickup && index == 0),
        });
    }
    layout::write(&Sheet {
        tables,
        ..Sheet::default()
    })
}

fn section_entries(line: &Line, section: &Section, pickup: bool) -> Vec<Entry> {
    let entries = Table::Section.keys().iter().filter_map(|key| {
        if *key == "passes" && section.passes == [0] {
            return None;
        }
        let value = match cells(line, section, key) {
            Some(cells) => Value::Bars(layout::grouped(&cells, pickup)),
            None => Value::Plain(section_value(section, key)?),
        };
        Some(entry(key, value))
    });
    entries.collect()
}

fn entry(key: &'static str, value: Value) -> Entry {
    Entry {
        key,
        value,
        remarks: Remarks::default(),
    }
}

/// What a key of the head says, in TOML; `None` where the line says nothing there.
pub(super) fn head_value(line: &Line, key: &str) -> Option<String> {
    let open: Vec<String> = line.tuning.open.iter().map(ToString::to_string).collect();
    match key {
        "title" => Some(text(&line.title)),
        "meter" => Some(text(line.meter)),
        "tempo" => Some(line.tempo.to_string()),
        "swing" => line.swing.map(text),
        "swung" => Some(text(line.swung)),
        "tuning" => Some(text(open.join(" "))),
        "gate" => Some(line.gate.to_string()),
        "key" => line.key.map(text),
        "pickup" => Some(line.pickup.to_string()),
        _ => None,
    }
}

/// Whether a key of the head would say what goes without saying.
fn head_is_usual(line: &Line, key: &str) -> bool {
    match key {
        "swung" => line.swung == Swung::default(),
        "tuning" => line.tuning == Tuning::default(),
        "gate" => line.gate == Gate::DEFAULT,
        "pickup" => !line.pickup,
        _ => false,
    }
}

/// What a key of a section says, in TOML, bars apart; `None` where the section says nothing there.
pub(super) fn section_value(section: &Section, key: &str) -> Option<String> {
    match key {
        "name" => Some(text(&section.name)),
        "meter" => section.meter.map(text),
        "tempo" => section.tempo.map(|tempo| tempo.to_string()),
        "swing" => section.swing.map(text),
        "swung" => section.swung.map(text),
        "gate" => section.gate.map(|gate| gate.to_string()),
        "key" => section.key.map(text),
        "passes" => {
            let passes: Vec<String> = section.passes.iter().map(i8::to_string).collect();
            Some(format!("[{}]", passes.join(", ")))
        }
        _ => None,
    }
}

/// The cells of a layer of bars; `None` for other keys, and where the section does not have the layer.
pub(super) fn cells(line: &Line, section: &Section, key: &str) -> Option<Vec<String>> {
    let notes = |bar: &Bar| joined(bar.notes.iter().map(|n| note(n, &line.tuning)));
    let strokes = |bar: &Vec<Stroke>| joined(bar.iter().map(|s| stroke(*s).to_owned()));
    let fingers = |bar: &Vec<u8>| joined(bar.iter().map(u8::to_string));
    match key {
        "chords" => Some(section.chords.as_ref()?.iter().map(cell).collect()),
        "notes" => Some(section.bars.iter().map(notes).collect()),
        "strokes" => Some(section.strokes.as_ref()?.iter().map(strokes).collect()),
        "fingers" => Some(section.fingers.as_ref()?.iter().map(fingers).collect()),
        _ => None,
    }
}

/// A text with whatever quotes and escapes TOML needs.
pub(super) fn text(text: impl Display) -> String {
    toml::Value::String(text.to_string()).to_string()
}

fn joined(words: impl Iterator<Item = String>) -> String {
    words.collect::<Vec<_>>().join(" ")
}

fn cell(cell: &ChordCell) -> String {
    if cell.chords.is_empty() {
        return "-".to_owned();
    }
    joined(cell.chords.iter().map(|chord| match chord.beat {
        Some(beat) => format!("{}@{}", chord.symbol, super::thousandths::write(beat)),
        None => chord.symbol.to_string(),
    }))
}

fn stroke(stroke: Stroke) -> &'static str {
    match stroke {
        Stroke::Down => "d",
        Stroke::Up => "u",
    }
}

/// A note as a line file writes it.
fn note(note: &Note, tuning: &Tuning) -> String {
    let tie = if note.tie { "~" } else { "" };
    format!(
        "{}/{}{}{tie}",
        place(&note.place, tuning),
        note.length,
        note.marks
    )
}

/// A place as a line file writes it.
pub fn place(place: &Place, tuning: &Tuning) -> String {
    match place {
        Place::Rest => "r".to_owned(),
        Place::Dead(None) => "x".to_owned(),
        Place::Dead(Some(string)) => format!("x@{}", tuning.label(*string)),
        Place::Struck(stops) => {
            let stops: Vec<String> = stops.iter().map(|s| stop(*s, tuning)).collect();
            stops.join("+")
        }
    }
}

/// A stop as a line file writes it.
pub fn stop(stop: Stop, tuning: &Tuning) -> String {
    let label = |string: StringNumber| tuning.label(string);
    match stop {
        Stop::Pitch(pitch) => pitch.to_string(),
        Stop::Fret { string, fret } => format!("{}:{fret}", label(string)),
        Stop::PitchOn { pitch, string } => format!("{pitch}@{}", label(string)),
    }
}

impl Display for Marks {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let marks = [
            (self.short, '\''),
            (self.full, '_'),
            (self.muted, 'm'),
            (self.accent, '>'),
            (self.optional, '?'),
        ];
        for (_, mark) in marks.iter().filter(|(set, _)| *set) {
            f.write_char(*mark)?;
        }
        Ok(())
    }
}
