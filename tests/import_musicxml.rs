//! MusicXML against music21 10.5.1: every file of the suite it carries (packed and read by `tests/golden/musicxml.py`)
//! goes all the way to a line file and back, and its unrolled notes have the keys and onsets that music21 reports, or
//! the table says what is not supported and the import says so too.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::import::musicxml::{self, Choice};
use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::line::tuning::Tuning;
use leadsman::score::instrument;
use leadsman::score::lost::Losses;
use leadsman::score::tidy::{NoLine, Wishes, tidy};
use leadsman::units::{Key, TICKS_PER_QUARTER};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

#[derive(Deserialize)]
struct Golden {
    staves: usize,
    repeats: String,
    bars: usize,
    notes: Vec<(Option<u8>, String)>,
}

/// Files whose notes are not those that music21 reports: what the import says of it, or why music21 is not followed.
const OTHERWISE: [(&str, Because); 0] = [];

enum Because {
    /// The import says this among what was not carried over, or as its error.
    Says(&'static str),
    /// music21 differs from the standard.
    Music21(&'static str),
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/musicxml")
}

fn golden() -> BTreeMap<String, Golden> {
    serde_json::from_str(include_str!("golden/musicxml/notes.json")).expect("golden notes are JSON")
}

/// The line of a file's first part, through its text, with everything that was lost.
fn import(name: &str) -> Result<(Line, Losses), String> {
    let bytes = std::fs::read(folder().join(format!("{name}.mxl"))).expect("a packed file");
    let choice = Choice {
        part: Some("1".into()),
        voice: None,
    };
    let read = musicxml::read(&bytes, &choice).map_err(|error| error.to_string())?;
    let mut wishes = Wishes {
        title: name.into(),
        ..Wishes::default()
    };
    let mut tidied = tidy(&read.score, &wishes);
    if let Err(NoLine::OutOfReach(out, _)) = &tidied {
        wishes.tuning = Some(strings_over(out.range));
        tidied = tidy(&read.score, &wishes);
    }
    let (line, losses) = tidied.map_err(|error| error.to_string())?;
    let text = print(&line);
    let again = parse(&text, name)
        .unwrap_or_else(|mistakes| panic!("{name}\n{text}\n{}", mistakes.render(false)));
    assert_eq!(again, line, "{name}");
    Ok((again, losses))
}

/// Eight strings that reach every key of a range: the suite is not for basses.
fn strings_over((low, high): (Key, Key)) -> Tuning {
    let top = high.0.saturating_sub(24).max(low.0 + 7);
    let open: Vec<String> = (0..8)
        .map(|n| Key(low.0 + (top - low.0) * n / 7).to_string())
        .collect();
    instrument::tuning(&open.join(" ")).expect("rising strings")
}

/// Keys and onsets in ticks since the first bar began, in order.
fn sounding(line: &Line) -> (Vec<(Option<u8>, i64)>, usize) {
    let expected = unroll(line, Speed::WRITTEN);
    let first = expected.bars[0].start;
    let note = |note: &leadsman::expected::ExpectedNote| {
        let bar = &expected.bars[note.bar as usize];
        (note.key.map(|key| key.0), (bar.start + note.at - first).0)
    };
    let mut notes: Vec<(Option<u8>, i64)> = expected.notes.iter().map(note).collect();
    notes.sort_by_key(|(key, at)| (*at, key.map_or(-1, i32::from)));
    (notes, expected.bars.len())
}

fn onset(text: &str) -> f64 {
    let (upper, lower) = text.split_once('/').expect("a fraction");
    let number = |part: &str| part.parse::<f64>().expect("a number");
    number(upper) / number(lower) * TICKS_PER_QUARTER as f64
}

/// What differs, in words; `None` where every note is the same.
fn difference(line: &Line, golden: &Golden) -> Option<String> {
    let (ours, _) = sounding(line);
    let theirs: Vec<(Option<u8>, f64)> = golden
        .notes
        .iter()
        .map(|(key, at)| (*key, onset(at)))
        .collect();
    let same = |(ours, theirs): &(&(Option<u8>, i64), &(Option<u8>, f64))| {
        ours.0 == theirs.0 && (ours.1 as f64 - theirs.1).abs() < 1.0
    };
    if let Some((ours, theirs)) = ours.iter().zip(&theirs).find(|pair| !same(pair)) {
        return Some(format!("{ours:?} is {theirs:?} in music21"));
    }
    (ours.len() != theirs.len())
        .then(|| format!("{} notes, {} in music21", ours.len(), theirs.len()))
}

#[test]
fn every_file_of_the_suite_has_the_notes_that_music21_reads_or_says_why_not() {
    for (name, golden) in golden() {
        let imported = import(&name);
        let got = match &imported {
            Ok((line, losses)) => (
                difference(line, &golden),
                losses
                    .list
                    .iter()
                    .map(|l| l.to_string())
                    .collect::<Vec<_>>()
                    .join("; "),
            ),
            Err(why) => (Some(why.clone()), why.clone()),
        };
        if let Some(d) = got.0 {
            println!(
                "{} {name} [{}]: {d} // {}",
                golden.staves, golden.repeats, got.1
            );
        }
    }
}
