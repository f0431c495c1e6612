//! Writing a line as a tidy file: [`parse`](super::parse::parse) reads back the same line.

use super::chord::ChordCell;
use super::tuning::{StringNumber, Tuning};
use super::{Gate, Line, Marks, Note, Place, Section, Stop, Stroke, Swung};
use std::fmt::{Display, Write};

/// The widest line of a file before its bars are wrapped.
const WIDEST: usize = 100;

/// The text of a line file for a valid line.
pub fn print(line: &Line) -> String {
    let mut out = String::new();
    let default_tuning = line.tuning == Tuning::default();
    let open: Vec<String> = line.tuning.open.iter().map(ToString::to_string).collect();
    text(&mut out, "title", Some(&line.title));
    text(&mut out, "meter", Some(line.meter));
    value(&mut out, "tempo", Some(line.tempo));
    text(&mut out, "swing", line.swing);
    text(&mut out, "swung", some_unless(line.swung, Swung::Eighth));
    text(
        &mut out,
        "tuning",
        (!default_tuning).then(|| open.join(" ")),
    );
    value(&mut out, "gate", some_unless(line.gate, Gate::DEFAULT));
    text(&mut out, "key", line.key);
    value(&mut out, "pickup", line.pickup.then_some(true));
    for section in &line.sections {
        print_section(&mut out, section, &line.tuning);
    }
    out
}

fn print_section(out: &mut String, section: &Section, tuning: &Tuning) {
    out.push_str("\n[[section]]\n");
    text(out, "name", Some(&section.name));
    text(out, "meter", section.meter);
    value(out, "tempo", section.tempo);
    text(out, "swing", section.swing);
    text(out, "swung", section.swung);
    value(out, "gate", section.gate);
    text(out, "key", section.key);
    let passes: Vec<String> = section.passes.iter().map(i8::to_string).collect();
    value(
        out,
        "passes",
        (section.passes != [0]).then(|| format!("[{}]", passes.join(", "))),
    );
    if let Some(chords) = &section.chords {
        bars(out, "chords", chords.iter().map(cell));
    }
    let notes = |bar: &super::Bar| joined(bar.notes.iter().map(|n| note(n, tuning)));
    bars(out, "notes", section.bars.iter().map(notes));
    if let Some(strokes) = &section.strokes {
        let marks = |bar: &Vec<Stroke>| joined(bar.iter().map(|s| stroke(*s).to_owned()));
        bars(out, "strokes", strokes.iter().map(marks));
    }
    if let Some(fingers) = &section.fingers {
        let marks = |bar: &Vec<u8>| joined(bar.iter().map(u8::to_string));
        bars(out, "fingers", fingers.iter().map(marks));
    }
}

/// `key = value`, keys padded to the longest of them.
fn value(out: &mut String, key: &str, value: Option<impl Display>) {
    if let Some(value) = value {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{key:<7} = {value}");
    }
}

/// `key = "text"`, with whatever quotes and escapes TOML needs.
fn text(out: &mut String, key: &str, text: Option<impl Display>) {
    value(
        out,
        key,
        text.map(|text| toml::Value::String(text.to_string())),
    );
}

/// Bars on one line where they fit, otherwise in a multi-line text.
fn bars(out: &mut String, key: &str, bars: impl Iterator<Item = String>) {
    let bars: Vec<String> = bars.collect();
    let one_line = bars.join(" | ");
    if key.len() + one_line.len() <= WIDEST - 8 {
        value(out, key, Some(format!("\"{one_line}\"")));
        return;
    }
    let mut wrapped = String::new();
    let mut width = 0;
    for (index, bar) in bars.iter().enumerate() {
        if index > 0 {
            wrapped.push_str(" |");
            let wrap = width + bar.len() > WIDEST - 4;
            wrapped.push(if wrap { '\n' } else { ' ' });
            width = if wrap { 0 } else { width + 3 };
        }
        wrapped.push_str(bar);
        width += bar.len();
    }
    value(out, key, Some(format!("\"\"\"\n{wrapped}\n\"\"\"")));
}

fn some_unless<T: PartialEq>(value: T, default: T) -> Option<T> {
    (value != default).then_some(value)
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
