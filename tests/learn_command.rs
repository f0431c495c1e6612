//! `leadsman learn` without a foot: two notes, what is forgotten, what is wrong, and what the settings say of it.

mod takes;

use std::fs;
use takes::{Bench, Ran};

const LINE: &str = "title = \"Open Water\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4\"";
const USUAL: &str = "config/leadsman/settings.toml";

fn bench(settings: &str) -> Bench {
    let bench = Bench::new(LINE);
    fs::create_dir_all(bench.path("config/leadsman")).expect("a folder");
    bench.write(USUAL, settings.as_bytes());
    bench
}

fn text(bench: &Bench) -> String {
    fs::read_to_string(bench.path(USUAL)).expect("the settings")
}

#[track_caller]
fn refused(ran: &Ran, words: &[&str]) {
    assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{}", ran.err);
    for word in words {
        assert!(ran.err.contains(word), "no {word:?} in: {}", ran.err);
    }
}

/// What is said first, and then the file.
#[track_caller]
fn kept(bench: &Bench, ran: &Ran, said: &str) {
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let file = bench.path(USUAL);
    assert_eq!(ran.out, format!("{said}\nKept in {}.\n", file.display()));
}

#[test]
fn two_notes_are_bound_without_a_port_and_the_file_begins_with_them() {
    let bench = Bench::new(LINE);
    let ran = bench.run(&["learn", "--two-notes", "g"]);
    let said = "\"again\" is now two quick notes on the open G string.";
    kept(&bench, &ran, said);
    let begun = "[control]\ntwo-notes = { command = \"again\", string = \"G\" }\n";
    assert_eq!(text(&bench), begun);
    let ran = bench.run(&["learn", "next", "--two-notes", "E"]);
    let said = "\"next\" is now two quick notes on the open E string; \
                \"again\" is no longer two quick notes on the open G string.";
    kept(&bench, &ran, said);
    let file = "--settings=other.toml";
    refused(
        &bench.run(&["learn", file, "--two-notes", "E"]),
        &["cannot read other.toml"],
    );
}

#[test]
fn what_is_forgotten_leaves_the_rest_of_the_file_as_it_was() {
    let before = "# mine\n[control]\n# the left one\nagain = { control = 64 } # worn\n\
                  stop = { program = 3, channel = 2 }\ntwo-notes = { string = \"G\" }\n\n[demo]\nseed = 3 # lucky\n";
    let bench = bench(before);
    let ran = bench.run(&["learn", "next", "--forget"]);
    assert_eq!(ran.out, "\"next\" had no switch.\n");
    assert_eq!(text(&bench), before);
    let ran = bench.run(&["learn", "stop", "again", "--forget"]);
    let said = "\"stop\" is no longer program change 3 on channel 2.\n\
                \"again\" is no longer control change 64 on any channel, nor two quick notes on the open G string.";
    kept(&bench, &ran, said);
    let after = text(&bench);
    assert!(after.starts_with("# mine\n[control]\n"), "{after}");
    assert!(after.ends_with("\n[demo]\nseed = 3 # lucky\n"), "{after}");
    assert!(!after.contains("control = 64") && !after.contains("two-notes"));
}

#[test]
fn options_that_do_not_go_together_and_words_that_mean_nothing_are_refused() {
    let bench = bench("");
    let refused = |args: &[&str], words: &[&str]| {
        refused(&bench.run(&[&["learn"], args].concat()), words);
    };
    refused(&["agian"], &["again, next, slower, faster, stop"]);
    refused(
        &["again", "next", "--two-notes", "G"],
        &["two quick notes mean one thing"],
    );
    refused(&["--two-notes", "H"], &["the string's letter, such as G"]);
    refused(&["--forget"], &["<WHAT>"]);
    refused(
        &["again", "--forget", "--two-notes", "G"],
        &["--two-notes", "--forget"],
    );
    refused(
        &["--two-notes", "G", "--midi", "bass"],
        &["--two-notes", "--midi"],
    );
    refused(
        &["--backend", "silent"],
        &["the silent backend hears no foot switch"],
    );
    assert_eq!(text(&bench), "");
}

const WRONG: &str = "[play]\nspeed = 90\n[control]\nagain = { control = 640 }\nagian = 3\n\
                     stop = { program = 3 }\nnext = { program = 3, channel = 2 }\n";

#[test]
fn a_table_that_is_wrong_is_told_by_learn_and_by_settings_and_stops_nobody_else() {
    let bench = bench(WRONG);
    let words = [
        "settings.toml:4:21",
        "controls are 0 to 119",
        "settings.toml:5:1",
        "did you mean `again`?",
        "settings.toml:7:1",
        "`next` is the same switch as `stop`",
    ];
    for args in [
        &["learn"][..],
        &["learn", "stop", "--forget"],
        &["learn", "stop", "--two-notes", "G"],
    ] {
        refused(&bench.run(args), &words);
    }
    assert_eq!(text(&bench), WRONG);
    let ran = bench.run(&["settings", "play"]);
    assert_eq!(ran.code, Some(2));
    for word in words {
        assert!(ran.err.contains(word), "no {word:?} in: {}", ran.err);
    }
    assert!(ran.out.contains("speed = 90"), "{}", ran.out);
    assert_eq!(bench.run(&["lint", "line.toml"]).code, Some(0));
}

#[test]
fn the_settings_say_what_is_bound_in_words() {
    let bench = bench(
        "[control]\nagain = { control = 64, channel = 1 }\n\ntwo-notes = { string = \"1\", command = \"next\" }\n",
    );
    let ran = bench.run(&["settings", "learn"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let (_, table) = ran.out.split_once("[control]\n").expect("the table");
    let shown: Vec<(&str, &str)> = table
        .lines()
        .filter_map(|line| line.split_once("# "))
        .map(|(entry, words)| (entry.trim_end(), words))
        .collect();
    assert_eq!(
        shown,
        [
            (
                "again = { channel = 1, control = 64 }",
                "control change 64 on channel 1 (the file, line 2)"
            ),
            ("#next", "not set"),
            ("#slower", "not set"),
            ("#faster", "not set"),
            ("#stop", "not set"),
            (
                "two-notes = { command = \"next\", string = \"1\" }",
                "two quick notes on open string 1: next (the file, line 4)"
            ),
        ]
    );
    let whole: toml::Table = bench.run(&["settings"]).out.parse().expect("TOML");
    assert_eq!(whole["control"]["again"]["control"].as_integer(), Some(64));
    assert!(!bench.run(&["settings", "lint"]).out.contains("[control]"));
}
