//! `new`: the line to fill in is valid, clean, laid out, playable, and never in the place of another file.

mod takes;

use leadsman::line::read::read;
use takes::Bench;

#[test]
fn a_new_line_is_valid_clean_and_in_the_layout() {
    let bench = Bench::new("");
    let ran = bench.run(&["new", "night_crossing.toml"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let line = read(&bench.path("night_crossing.toml")).unwrap();
    assert_eq!(line.title, "Night Crossing");
    assert_eq!(line.sections[0].bars.len(), 4);
    let lint = bench.run(&["lint", "night_crossing.toml"]);
    assert_eq!(lint.out, "Nothing to say: the line is fine.\n");
    assert_eq!(
        bench
            .run(&["format", "--check", "night_crossing.toml"])
            .code,
        Some(0)
    );
}

#[test]
fn a_new_line_can_be_played_at_once() {
    let bench = Bench::new("");
    bench.run(&["new", "a.toml"]);
    let ran = bench.run(&["demo", "a.toml", "--habits", "steady"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("16 of 16"), "{}", ran.out);
}

#[test]
fn every_key_that_its_comments_name_can_be_used_as_they_show_it() {
    let bench = Bench::new("");
    bench.run(&["new", "a.toml"]);
    let text = std::fs::read_to_string(bench.path("a.toml")).unwrap();
    let mut used = Vec::new();
    let lines = text.lines().map(|line| match line.strip_prefix("# ") {
        Some(key) if key.contains(" = ") && !key.contains("...") && !key.contains("pickup") => {
            used.push(key.split(' ').next().unwrap().to_owned());
            key
        }
        _ => line,
    });
    let changed = lines.collect::<Vec<_>>().join("\n");
    bench.write("b.toml", changed.as_bytes());
    read(&bench.path("b.toml")).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(used, ["swing", "swung", "gate", "tuning", "passes"]);
}

#[test]
fn any_meter_and_key_give_a_clean_line() {
    let bench = Bench::new("");
    for meter in ["4/4", "3/4", "5/4", "2/2", "6/8", "7/8", "12/8", "1/16"] {
        for key in [
            "C major",
            "Cb major",
            "F# harmonic minor",
            "B locrian",
            "Eb lydian",
            "Bb minor",
        ] {
            let name = format!("{meter} {key}.toml").replace('/', "-");
            let ran = bench.run(&[
                "new", &name, "--meter", meter, "--key", key, "--tempo", "90",
            ]);
            assert_eq!(ran.code, Some(0), "{}", ran.err);
            let lint = bench.run(&["lint", &name]);
            assert_eq!(
                (lint.out.as_str(), lint.err.as_str()),
                ("Nothing to say: the line is fine.\n", "")
            );
            let line = read(&bench.path(&name)).unwrap();
            assert_eq!(
                (line.meter.to_string(), line.tempo.0),
                (meter.to_owned(), 90_000)
            );
        }
    }
}

#[test]
fn a_file_that_is_there_is_left_as_it_is() {
    let bench = Bench::new("mine");
    let ran = bench.run(&["new", "line.toml"]);
    assert_eq!(ran.code, Some(2));
    assert_eq!(
        ran.err,
        "error: line.toml is there already, and is left as it is\n"
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("line.toml")).unwrap(),
        "mine"
    );
}

#[test]
fn what_cannot_begin_a_line_is_said() {
    let bench = Bench::new("");
    for (arguments, words) in [
        (&["new", "_.toml"][..], "--title"),
        (&["new", "a.toml", "--title", " "], "--title"),
        (&["new", "no/such/a.toml"], "cannot write no/such/a.toml"),
        (&["new", "a.toml", "--meter", "4"], "--meter"),
        (&["new", "a.toml", "--key", "H minor"], "--key"),
        (&["new", "a.toml", "--key", "B## lydian"], "accidentals"),
        (&["new", "a.toml", "--tempo", "19"], "--tempo"),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.code, Some(2), "{arguments:?}");
        assert!(ran.err.contains(words), "{arguments:?}: {}", ran.err);
        assert!(!bench.path("a.toml").exists());
    }
}

#[test]
fn it_says_what_to_do_next_as_a_shell_wants_it() {
    let bench = Bench::new("");
    let ran = bench.run(&["new", "two decks.toml", "--title", "Two \"Decks\""]);
    for words in [
        "leadsman lint 'two decks.toml'",
        "leadsman show 'two",
        "leadsman play 'two",
    ] {
        assert!(ran.out.contains(words), "{}", ran.out);
    }
    assert_eq!(
        read(&bench.path("two decks.toml")).unwrap().title,
        "Two \"Decks\""
    );
}
