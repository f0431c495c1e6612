//! What the program says of the clean-up stage, and how it is told to keep notes as they came.

mod takes;

use serde_json::json;
use takes::{Bench, Note, note, smf};

const LINE: &str = "title = \"Four\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E2/4 A2/4 D2/4 G2/4\"";

/// An octave glitch on the first note, the second one reported twice; bar 1 starts with the file.
fn messy() -> Vec<Note> {
    vec![
        note(0.0, 52, 24.0),
        note(24.0, 40, 420.0),
        note(500.0, 45, 12.0),
        note(520.0, 45, 430.0),
        note(1000.0, 38, 450.0),
        note(1500.0, 43, 450.0),
    ]
}

#[test]
fn what_was_cleaned_up_is_listed_and_the_notes_are_judged_clean() {
    let json = Bench::new(LINE).check(&messy(), &[]);
    let cleaned = json!([
        {"rule": "octave-glitches", "at_s": 0.0, "key": 52, "into": 40},
        {"rule": "doubled-notes", "at_s": 0.52, "key": 45, "into": 45},
    ]);
    assert_eq!(json["cleaned"], cleaned);
    assert_eq!(json["extra"], json!([]));
    assert_eq!(json["summary"]["pitch_right"], 4);
    let first = json!({"key": 40, "onset_s": 0.0, "length_s": 0.444, "velocity": 80});
    assert_eq!(json["notes"][0]["played"], first);
}

#[test]
fn a_rule_that_is_kept_out_leaves_its_notes_as_they_came() {
    let bench = Bench::new(LINE);
    let rules = |options: &[&str]| -> Vec<String> {
        let json = bench.check(&messy(), options);
        let cleaned = json["cleaned"].as_array().expect("a list");
        cleaned
            .iter()
            .map(|one| one["rule"].as_str().expect("a name").to_string())
            .collect()
    };
    assert_eq!(rules(&["--keep", "octave-glitches"]), ["doubled-notes"]);
    assert_eq!(
        rules(&["--keep", "octave-glitches", "--keep", "doubled-notes"]),
        [""; 0]
    );
    assert_eq!(rules(&["--keep", "all"]), [""; 0]);
    assert_eq!(rules(&["--keep", "all", "--keep", "none"]).len(), 2);
    let json = bench.check(&messy(), &["--keep", "all"]);
    assert_eq!(json["take"]["played"], 6);
    assert_eq!(json["extra"].as_array().expect("a list").len(), 2);
}

#[test]
fn the_text_says_what_was_cleaned_up_in_one_line() {
    let bench = Bench::new(LINE);
    let ran = bench.check_bytes(&smf(&messy()), &["--start", "0"]);
    let line = "Cleaned up: 1 octave glitch, 1 doubled note (all of them: --json; --keep leaves\n  them as they came)\n";
    assert!(ran.out.contains(line), "{}", ran.out);
    let kept = bench.check_bytes(&smf(&messy()), &["--start", "0", "--keep", "all"]);
    assert!(!kept.out.contains("Cleaned up"), "{}", kept.out);
}

#[test]
fn a_rule_that_does_not_exist_is_answered_with_those_that_do() {
    let ran = Bench::new(LINE).check_bytes(&smf(&messy()), &["--keep", "glitches"]);
    assert_eq!(ran.code, Some(2));
    for name in ["octave-glitches", "missing-offs", "all", "none"] {
        assert!(ran.err.contains(name), "{}", ran.err);
    }
}

#[test]
fn help_tells_what_each_rule_does() {
    let ran = Bench::new(LINE).run(&["check", "--help"]);
    for words in ["slide-steps:", "a note that is reported twice is one note"] {
        assert!(ran.out.contains(words), "{}", ran.out);
    }
}

#[test]
fn a_take_keeps_what_came_and_how_it_was_cleaned() {
    let bench = Bench::new(LINE);
    let demo = ["demo", "line.toml", "--json", "--take", "t.mid", "--habits"];
    let habits = ["octave-glitches=1", "--keep", "octave-glitches"];
    let played = bench.run(&[&demo[..], &habits].concat()).json();
    assert_eq!(played["cleaned"], json!([]));
    assert_eq!(played["take"]["played"], 8);
    let again = bench.run(&["check", "line.toml", "t.mid", "--json"]).json();
    assert_eq!(again["take"]["played"], 8);
    let cleaned = bench
        .run(&["check", "line.toml", "t.mid", "--json", "--keep", "none"])
        .json();
    assert_eq!(cleaned["take"]["played"], 4);
    assert_eq!(cleaned["cleaned"].as_array().expect("a list").len(), 4);
}
