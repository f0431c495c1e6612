//! `leadsman takes` as it is run: what is done with takes.

mod takes;

use serde_json::Value;
use std::fs;
use takes::kept::Kept;
use takes::schema::{assert_valid, schema_of};

#[test]
fn a_note_is_written_read_and_taken_away() {
    let kept = Kept::new();
    kept.demo("rope.toml --habits steady");
    assert_eq!(kept.out("takes note 1"), "There is no note about take 1.\n");
    assert_eq!(kept.out("takes note 1 new strings, too loud"), "");
    assert_eq!(kept.out("takes note 1"), "new strings, too loud\n");
    assert!(kept.out("takes").contains("(* has a note)"));
    assert!(
        kept.out("takes show 1")
            .contains("\nNote: new strings, too loud\n")
    );
    let ran = kept
        .bench
        .run(&["takes", "note", "1", "  ", "--logbook", "log.sqlite"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("--remove takes it away"), "{}", ran.err);
    kept.out("takes note 1 --remove");
    assert_eq!(kept.out("takes note 1"), "There is no note about take 1.\n");
}

#[test]
fn takes_are_written_as_files() {
    let kept = Kept::new();
    kept.demo("line.toml --habits late-entries --take kept.mid");
    kept.demo("rope.toml --habits steady");
    let read = |name: &str| fs::read(kept.bench.path(name)).expect(name);
    assert_eq!(kept.out("takes export 1"), "take-1.mid written\n");
    assert_eq!(read("take-1.mid"), read("kept.mid"));
    assert_eq!(kept.out("takes export 1 -o a.json"), "a.json written\n");
    assert_eq!(read("a.json"), kept.out("takes show 1 --json").into_bytes());
    kept.out("takes export 1 -o b.txt --format csv");
    let table = String::from_utf8(read("b.txt")).expect("text");
    let json: Value = serde_json::from_slice(&read("a.json")).expect("JSON");
    let notes = json["notes"].as_array().expect("notes");
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let names = rows.headers().expect("names").clone();
    let at = |name: &str| {
        names
            .iter()
            .position(|other| other == name)
            .expect("a column")
    };
    let rows: Vec<csv::StringRecord> = rows.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), notes.len());
    for (row, note) in rows.iter().zip(notes) {
        assert_eq!(
            row[at("offset_ms")].parse().ok(),
            note["offset_ms"].as_f64()
        );
        assert_eq!(
            row[at("pitch")],
            *note["pitch"].as_str().unwrap_or_default()
        );
        let played = note["played"]["onset_s"].as_f64();
        assert_eq!(row[at("played_onset_s")].parse().ok(), played);
    }

    let refused = kept.refused("takes export 1");
    assert!(
        refused.contains("take-1.mid is there already: --force replaces it"),
        "{refused}"
    );
    // One that is there keeps the others from being written, too.
    kept.refused("takes export 2 1");
    assert!(!kept.bench.path("take-2.mid").exists());
    kept.out("takes export 2 1 --force");
    assert_eq!(
        kept.out("takes export 2 1 2 -o all --format json"),
        "all/take-1.json written\nall/take-2.json written\n"
    );
    assert_eq!(read("all/take-1.json"), read("a.json"));
    let refused = kept.refused("takes export 1 2 -o a.json");
    assert!(refused.contains("a.json is one file"), "{refused}");
    let refused = kept.refused("takes export 1 -o take.wav");
    assert!(refused.contains(".mid, .json or .csv"), "{refused}");
    let refused = kept.refused("takes export 1 -o no/such/a.mid");
    assert!(refused.contains("cannot write no/such/a.mid"), "{refused}");
}

#[test]
fn what_is_removed_comes_back_until_it_is_tidied_away() {
    let kept = Kept::new();
    for seed in 1..=3 {
        kept.demo(&format!("rope.toml --habits steady --seed {seed}"));
    }
    let refused = kept.refused("takes remove 2");
    assert!(
        refused.contains("--yes does it without asking"),
        "{refused}"
    );
    let removed = kept.out("takes remove 3 2 3 --yes");
    assert!(
        removed.contains("takes 2 and 3") && removed.contains("leadsman takes restore 2 3"),
        "{removed}"
    );
    assert_eq!(kept.out("takes").lines().count(), 2);
    assert_eq!(kept.out("takes --removed").lines().count(), 3);
    let json: Value = serde_json::from_str(&kept.out("takes --removed --json")).expect("JSON");
    assert_valid(&schema_of("takes"), &json);
    assert_eq!(json["takes"][0]["state"], "removed");
    for args in ["takes show 2", "takes export 2", "takes remove 2 --yes"] {
        let refused = kept.refused(args);
        assert!(
            refused.contains(
                "log.sqlite: take 2 was removed; `leadsman takes restore 2` brings it back"
            ),
            "{args}: {refused}"
        );
    }
    assert_eq!(kept.out("takes restore 2"), "Back again: take 2.\n");
    let refused = kept.refused("takes restore 2");
    assert!(refused.contains("take 2 was not removed"), "{refused}");
    // All or none.
    kept.refused("takes remove 1 99 --yes");
    assert_eq!(kept.out("takes").lines().count(), 3);

    kept.refused("takes tidy");
    let tidied = kept.out("takes tidy --yes");
    assert!(
        tidied.starts_with("1 take thrown away, ") && tidied.ends_with("B came back.\n"),
        "{tidied}"
    );
    assert!(kept.out("takes tidy").contains("nothing to tidy"));
    let refused = kept.refused("takes restore 3");
    assert!(refused.contains("there is no take 3; `leadsman takes` lists"));
    // Its number is not given away.
    kept.demo("rope.toml --habits steady");
    let list = kept.out("takes");
    let numbers: Vec<&str> = list.lines().skip(1).map(|row| row[..4].trim()).collect();
    assert_eq!(numbers, ["1", "2", "4"]);
}

#[test]
fn on_a_terminal_what_would_go_is_shown_and_anything_but_yes_is_no() {
    let kept = Kept::new();
    kept.demo("rope.toml --habits steady");
    let Some(said) = kept.on_terminal(80, "takes remove 1", "\n") else {
        return;
    };
    assert!(
        said.contains("Rope Locker") && said.contains("Remove take 1? [y/N]"),
        "{said}"
    );
    assert!(said.ends_with("Nothing was removed.\n"), "{said}");
    let said = kept
        .on_terminal(80, "takes remove 1", "y\n")
        .expect("a terminal");
    assert!(said.contains("Removed: take 1."), "{said}");
    let said = kept
        .on_terminal(80, "takes tidy", "never\n")
        .expect("a terminal");
    assert!(
        said.contains("Throw 1 removed take away for good? [y/N]")
            && said.contains("Nothing was thrown away."),
        "{said}"
    );
    let said = kept
        .on_terminal(80, "takes tidy", "Yes\n")
        .expect("a terminal");
    assert!(said.contains("1 take thrown away"), "{said}");
}
