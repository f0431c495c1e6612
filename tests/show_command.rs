//! `leadsman show` as it is run: with a take, for other passes, and read by a program that stops reading.

mod takes;

use std::process::{Command, Stdio};
use takes::{Bench, Note, note, smf};

const LINE: &str = "title = \"Open Water\"\nmeter = \"4/4\"\ntempo = 120\nkey = \"E minor\"\n\
     [[section]]\nname = \"A\"\npasses = [0, 2]\nstrokes = \"d u d u | d u d\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | A1/4 C2/4? E2/2\"\n\
     [[section]]\nname = \"B\"\nnotes = \"E1+B1/2 A1/4 r/4\"";
const KEYS: [u8; 7] = [28, 33, 38, 43, 33, 36, 40];

/// The whole line in its place but for offsets: pass 1 early and late by turns, pass 2 in place.
fn played() -> Vec<Note> {
    let mut notes = Vec::new();
    for (index, key) in KEYS.iter().enumerate() {
        let at = 2000.0 + 500.0 * index as f64;
        let offset = if index % 2 == 0 { -12.0 } else { 25.0 };
        match index {
            2 | 5 => {}
            4 => notes.push(note(at + offset, key + 4, 400.0)),
            _ => notes.push(note(at + offset, *key, 400.0)),
        }
        notes.push(note(at + 4000.0, key + 2, 400.0));
    }
    notes.push(note(10_003.0, 28, 900.0));
    notes.push(note(10_104.0, 35, 800.0));
    notes.push(note(11_000.0, 33, 400.0));
    notes
}

fn bench() -> Bench {
    let bench = Bench::new(LINE);
    bench.write("take.mid", &smf(&played()));
    bench
}

#[track_caller]
fn shown(bench: &Bench, options: &[&str]) -> String {
    let mut command = bench.leadsman(&[&["show", "line.toml"], options].concat());
    let output = command.env("LC_ALL", "C.UTF-8").output().expect("it runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{said}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// The rows of that label, and what stands in them at the columns of a word of the row `of` above.
fn rows<'t>(text: &'t str, label: &str) -> Vec<&'t str> {
    let of = |line: &&str| line.split_whitespace().next() == Some(label);
    text.lines().filter(of).collect()
}

/// What stands under each word of a row of names.
fn under(names: &str, row: &str) -> Vec<(String, String)> {
    let row: Vec<char> = row.chars().collect();
    let below = |at: usize| {
        let rest = row.get(at..).unwrap_or_default();
        let word: String = rest.iter().take_while(|c| **c != ' ').collect();
        word
    };
    let starts = names.match_indices(' ').filter_map(|(at, _)| {
        let word: String = names[at + 1..].chars().take_while(|c| *c != ' ').collect();
        (!word.is_empty()).then(|| (word, below(at + 1)))
    });
    starts.collect()
}

#[test]
fn offsets_stand_under_their_notes_and_other_notes_are_named() {
    let page = shown(&bench(), &["--take", "take.mid", "--start", "2"]);
    let (names, offsets) = (rows(&page, "note"), rows(&page, "ms"));
    let found = under(names[0], offsets[0]);
    let expected = [
        ("E", "-12"),
        ("A", "+25"),
        ("D", "--"),
        ("G", "+25"),
        ("A", "-12"),
        ("C", "()"),
        ("E", "-12"),
    ];
    let found: Vec<_> = found
        .iter()
        .map(|(a, b)| (a.as_str(), b.as_str()))
        .collect();
    assert_eq!(found, expected, "{page}");
    let played = under(names[0], rows(&page, "played")[0]);
    let named: Vec<_> = played
        .iter()
        .filter(|(_, other)| !other.is_empty())
        .collect();
    assert_eq!(named, [&("A".to_string(), "C#2".to_string())], "{page}");
    assert!(page.contains("-- missed"), "{page}");
    assert!(page.contains("() ghost note left out"), "{page}");
}

#[test]
fn with_a_take_the_passes_follow_one_another() {
    let page = shown(&bench(), &["--take", "take.mid", "--start", "2"]);
    let first = page.find("A · pass 1 of 2 (by 0, +2 semitones) · E minor");
    let second = page.find("A · pass 2 of 2 (by 0, +2 semitones) · F# minor");
    assert!(first.is_some() && first < second, "{page}");
    let one = shown(
        &bench(),
        &["--take", "take.mid", "--start", "2", "--pass", "2"],
    );
    let (names, offsets) = (rows(&one, "note"), rows(&one, "ms"));
    assert_eq!(offsets.len(), 1, "{one}");
    let found = under(names[0], offsets[0]);
    assert_eq!(found[0], ("F#".into(), "0".into()), "{one}");
}

#[test]
fn each_note_of_a_double_stop_has_its_offset_the_upper_one_above() {
    let page = shown(&bench(), &["--take", "take.mid", "--start", "2"]);
    let offsets = rows(&page, "ms");
    let stops: Vec<&str> = offsets.iter().rev().take(2).copied().collect();
    let words = |row: &str| row.split_whitespace().map(String::from).collect::<Vec<_>>();
    assert_eq!(words(stops[1]), ["ms", "+104"], "{page}");
    assert_eq!(words(stops[0]), ["ms", "+3", "0"], "{page}");
}

#[test]
fn without_a_take_the_first_pass_is_shown_and_others_by_number() {
    let bench = bench();
    let page = shown(&bench, &[]);
    assert!(
        page.contains("pass 1 of 2") && !page.contains("pass 2"),
        "{page}"
    );
    assert!(page.contains("no strings in this line: likely ones are shown"));
    assert!(rows(&page, "ms").is_empty(), "{page}");
    let all = shown(&bench, &["--pass", "all"]);
    assert!(
        all.contains("pass 1 of 2") && all.contains("pass 2 of 2"),
        "{all}"
    );
    let ran = bench.run(&["show", "line.toml", "--pass", "3"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err
            .contains("there is no pass 3: there are 2 at the most"),
        "{}",
        ran.err
    );
}

#[test]
fn rows_bars_and_speed_are_as_asked_for() {
    let bench = bench();
    let page = shown(
        &bench,
        &["--bars", "2", "--speed", "50", "--without", "degree,stroke"],
    );
    assert!(
        page.starts_with("Open Water · bar 2 · quarter = 60 (50 % of 120)\n"),
        "{page}"
    );
    assert_eq!(rows(&page, "bar").len(), 1, "{page}");
    assert!(
        rows(&page, "degree").is_empty() && rows(&page, "stroke").is_empty(),
        "{page}"
    );
    assert!(!page.contains("d down"), "{page}");
    let section = shown(&bench, &["--section", "B"]);
    assert!(rows(&section, "note")[0].contains("E+B"), "{section}");
}

/// The bars were not played in one piece: each pass has them.
#[test]
fn bars_of_our_own_take_are_shown_in_every_pass() {
    let bench = bench();
    let ran = bench.run(&["demo", "line.toml", "--take", "own.mid"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let page = shown(&bench, &["--take", "own.mid", "--bars", "2"]);
    assert_eq!(rows(&page, "ms").len(), 2, "{page}");
    assert!(
        page.starts_with("Open Water · bar 2 · quarter = 120\n"),
        "{page}"
    );
    assert!(
        page.contains("pass 1 of 2") && page.contains("pass 2 of 2"),
        "{page}"
    );
    let ran = bench.run(&["show", "line.toml", "--take", "own.mid", "--bars", "9"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("there is no bar 9"), "{}", ran.err);
}

#[test]
fn a_locale_without_utf_8_gets_ascii() {
    let bench = bench();
    let run = |locale: &str| {
        let mut command = bench.leadsman(&["show", "line.toml"]);
        let output = command.env("LC_ALL", locale).output().expect("it runs");
        String::from_utf8(output.stdout).expect("text")
    };
    assert!(run("C").is_ascii());
    assert!(run("en_GB.utf8").contains('│'));
}

#[test]
fn a_reader_that_stops_reading_is_no_error() {
    let bench = bench();
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .arg("show")
        .arg(bench.path("line.toml"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}
