//! MusicXML against music21 10.5.1: every file of the suite it carries (packed and read by `tests/golden/musicxml.py`)
//! goes all the way to a line file and back, and its unrolled notes have the keys and onsets that music21 reports, or
//! the table says what is not supported and the import says so too.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{ExpectedNote, unroll};
use leadsman::import::musicxml::{self, Choice};
use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::line::tuning::Tuning;
use leadsman::score::tidy::{NoLine, Wishes, tidy};
use leadsman::score::{Sound, instrument};
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

/// Files whose notes are not those that music21 reports: what the import says of it, or where music21 leaves the standard.
const OTHERWISE: [(&str, Because); 14] = [
    ("01d-Pitches-Microtones", Because::Says("quarter tones")),
    (
        "01f-Pitches-EditorialMicrotoneAccidentals",
        Because::Says("quarter tones"),
    ),
    (
        "03aa-Rhythm-Durations",
        Because::Says("figures that a line cannot write exactly"),
    ),
    (
        "03ab-Rhythm-Durations",
        Because::Says("figures that a line cannot write exactly"),
    ),
    (
        "23a-Tuplets",
        Because::Says("figures that a line cannot write exactly"),
    ),
    (
        "23b-Tuplets-Styles",
        Because::Says("figures that a line cannot write exactly"),
    ),
    (
        "23d-Tuplets-Nested",
        Because::Says("figures that a line cannot write exactly"),
    ),
    (
        "21f-Chord-ElementInBetween",
        Because::Music21("a direction between the notes of a chord ends the chord"),
    ),
    (
        "32c-MultipleNotationChildren",
        Because::Music21("a sign that is drawn without `alter` sounds"),
    ),
    (
        "43d-MultiStaff-StaffChange",
        Because::Music21("a voice that changes its staff is cut in two"),
    ),
    (
        "45c-RepeatMultipleTimes",
        Because::Music21("a repeat without an opening goes back through the repeat before it"),
    ),
    (
        "45e-Repeats-Nested-Alternatives",
        Because::Music21("a repeat with a first ending alone is not repeated"),
    ),
    (
        "45d-Repeats-Nested-Alternatives",
        Because::Music21("refuses to expand these endings"),
    ),
    (
        "45f-Repeats-InvalidEndings",
        Because::Music21("refuses to expand these endings"),
    ),
];

#[derive(Clone, Copy, Debug)]
enum Because {
    /// The import says this among what was not carried over, or as its error.
    Says(&'static str),
    /// music21 does something else than MusicXML 4.0 says: what.
    Music21(&'static str),
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/musicxml")
}

fn golden() -> BTreeMap<String, Golden> {
    serde_json::from_str(include_str!("golden/musicxml/notes.json")).expect("golden notes are JSON")
}

/// What became of a file.
struct Imported {
    /// Keys and onsets in ticks since the first bar began, in order; none where there are only rests.
    notes: Vec<(Option<u8>, i64)>,
    /// How many measures are played.
    measures: usize,
    /// Everything that was not carried over, as it is printed.
    lost: String,
}

/// The first part of a file as a line, through its text.
fn import(name: &str) -> Imported {
    let bytes = std::fs::read(folder().join(format!("{name}.mxl"))).expect("a packed file");
    let choice = Choice {
        part: Some("1".into()),
        voice: None,
    };
    let read = musicxml::read(&bytes, &choice).unwrap_or_else(|error| panic!("{name}: {error}"));
    let keys = read
        .score
        .measures
        .iter()
        .flat_map(|measure| &measure.events);
    let keys = keys.filter_map(|event| match &event.sound {
        Sound::Pitches(pitches) => Some(pitches.iter().filter_map(|at| at.pitch.key())),
        Sound::Dead(_) => None,
    });
    let keys: Vec<Key> = keys.flatten().collect();
    let range = keys.iter().min().zip(keys.iter().max());
    let wishes = Wishes {
        octaves: 0,
        tuning: range.map(|(low, high)| strings_over(*low, *high)),
        title: name.into(),
    };
    let measures = read.score.playing.len();
    let (notes, lost) = match tidy(&read.score, &wishes) {
        Ok((line, losses)) => {
            let lost: Vec<String> = losses.list.iter().map(ToString::to_string).collect();
            (sounding(&reread(&line, name)), lost.join("\n"))
        }
        Err(NoLine::Silent) => (Vec::new(), NoLine::Silent.to_string()),
        Err(why) => panic!("{name}: {why}"),
    };
    Imported {
        notes,
        measures,
        lost,
    }
}

/// The line as it is read back from what is printed.
fn reread(line: &Line, name: &str) -> Line {
    let text = print(line);
    let again = parse(&text, name);
    let again = again.unwrap_or_else(|mistakes| panic!("{text}\n{}", mistakes.render(false)));
    assert_eq!(again, *line, "{name}");
    again
}

/// Eight strings that reach every key of a range: the suite is not for basses.
fn strings_over(low: Key, high: Key) -> Tuning {
    let top = high.0.saturating_sub(24).max(low.0 + 7);
    let open: Vec<String> = (0..8)
        .map(|n| Key(low.0 + (u32::from(top - low.0) * n / 7) as u8).to_string())
        .collect();
    instrument::tuning(&open.join(" ")).expect("rising strings")
}

fn sounding(line: &Line) -> Vec<(Option<u8>, i64)> {
    let expected = unroll(line, Speed::WRITTEN);
    let first = expected.bars[0].start;
    let note = |note: &ExpectedNote| {
        let bar = &expected.bars[note.bar as usize];
        (note.key.map(|key| key.0), (bar.start + note.at - first).0)
    };
    let mut notes: Vec<(Option<u8>, i64)> = expected.notes.iter().map(note).collect();
    notes.sort_by_key(|(key, at)| (*at, key.map_or(-1, i32::from)));
    notes
}

fn onset_ticks(quarters: &str) -> f64 {
    let (upper, lower) = quarters.split_once('/').expect("a fraction");
    let number = |part: &str| part.parse::<f64>().expect("a number");
    number(upper) / number(lower) * TICKS_PER_QUARTER as f64
}

/// The first difference, in words.
fn difference(ours: &Imported, golden: &Golden) -> Option<String> {
    if golden.repeats == "refused" {
        return (golden.notes.is_empty()).then(|| "no order to compare with".to_owned());
    }
    if ours.measures != golden.bars {
        return Some(format!(
            "{} measures are played, {} in music21",
            ours.measures, golden.bars
        ));
    }
    if ours.notes.len() != golden.notes.len() {
        return Some(format!(
            "{} notes, {} in music21",
            ours.notes.len(),
            golden.notes.len()
        ));
    }
    let mut pairs = ours.notes.iter().zip(&golden.notes);
    let other = pairs.find(|((key, at), (golden_key, golden_at))| {
        key != golden_key || (*at as f64 - onset_ticks(golden_at)).abs() >= 1.0
    });
    other.map(|(ours, theirs)| format!("{ours:?} is {theirs:?} in music21"))
}

#[test]
fn every_file_of_the_suite_has_the_notes_that_music21_reads_or_says_why_not() {
    let (mut single, mut equal) = (0, 0);
    let mut wrong = Vec::new();
    for (name, golden) in golden() {
        let imported = import(&name);
        let difference = difference(&imported, &golden);
        if golden.staves == 1 {
            single += 1;
            equal += usize::from(difference.is_none());
        }
        let because = OTHERWISE.iter().find(|(file, _)| *file == name);
        match (difference, because) {
            (None, None) => {}
            (Some(difference), Some((_, Because::Music21(leaves)))) => {
                println!("{name}: {difference}, as there {leaves}");
            }
            (Some(difference), Some((_, Because::Says(words))))
                if imported.lost.contains(words) =>
            {
                println!("{name}: {difference}: {words}");
            }
            (difference, because) => {
                wrong.push(format!(
                    "{name}: {difference:?}, {because:?}, says {:?}",
                    imported.lost
                ));
            }
        }
    }
    println!("{equal} of {single} files with one staff are equal");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(10 * equal >= 9 * single, "{equal} of {single}");
}

#[test]
fn every_packed_file_has_its_notes_and_the_other_way_round() {
    let entries = std::fs::read_dir(folder()).expect("the folder of packed files");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .filter_map(|name| Some(name.strip_suffix(".mxl")?.to_owned()))
        .collect();
    names.sort();
    assert!(names.iter().eq(golden().keys()));
    assert!(
        OTHERWISE
            .iter()
            .all(|(name, _)| names.iter().any(|other| other == name))
    );
}
