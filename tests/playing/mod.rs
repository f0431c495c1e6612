//! Small lines for the stand-in, and what it made of them.
#![allow(dead_code)] // each test crate uses its own part

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use leadsman::stand_in::perform;

pub use leadsman::stand_in::Performance as Played;

/// A section's text: its settings, then its notes.
pub fn section(settings: &str, notes: &str) -> String {
    format!("[[section]]\nname = \"NAME\"\n{settings}\nnotes = \"{notes}\"\n")
}

/// A line in 4/4 at 120 with the sections A, B, …
pub fn unrolled(head: &str, sections: &[String]) -> Expected {
    let names = sections.iter().zip('A'..);
    let sections: String = names
        .map(|(section, name)| section.replace("NAME", &name.to_string()))
        .collect();
    let text = format!("title = \"Test\"\nmeter = \"4/4\"\ntempo = 120\n{head}\n{sections}");
    let line = parse(&text, "test.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    unroll(&line, Speed::WRITTEN)
}

pub fn play(expected: &Expected, habits: &str) -> Played {
    perform(expected, &habits.parse().expect("habits"), 1)
}

/// By expected note; `None` where it was not played.
pub fn offsets_ms(expected: &Expected, habits: &str) -> Vec<Option<f64>> {
    by_note(expected, habits, |truth| truth.offset.ms())
}

/// By expected note.
pub fn lengths_ms(expected: &Expected, habits: &str) -> Vec<Option<f64>> {
    by_note(expected, habits, |truth| truth.length.ms())
}

/// By expected note.
pub fn keys(expected: &Expected, habits: &str) -> Vec<u8> {
    let keys = by_note(expected, habits, |truth| truth.key.0);
    keys.into_iter().map(|key| key.expect("a note")).collect()
}

fn by_note<T>(
    expected: &Expected,
    habits: &str,
    tell: impl Fn(&leadsman::stand_in::Truth) -> T,
) -> Vec<Option<T>> {
    let truth = play(expected, habits).truth;
    let of = |note| truth.iter().find(|truth| truth.expected == Some(note));
    (0..expected.notes.len())
        .map(|note| of(note).map(&tell))
        .collect()
}
