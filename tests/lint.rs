//! `lint`: every kind of advice has a line that is given it and one, little different, that is not.

mod takes;

use leadsman::advice::{Advice, IDS, advise};
use leadsman::line::parse::parse;
use leadsman::line::source::Source;
use serde_json::Value;
use takes::Bench;

fn advice(text: &str) -> Vec<Advice> {
    let line = parse(text, "line.toml").unwrap_or_else(|mistakes| panic!("{mistakes}"));
    advise(&line, &Source::of(text))
}

fn ids(text: &str) -> Vec<&'static str> {
    advice(text).iter().map(|advice| advice.id).collect()
}

/// A line of one section, on which there is nothing to say but what the section brings.
fn line(section: &str) -> String {
    with_head("", section)
}

fn with_head(head: &str, section: &str) -> String {
    let tempo = if head.contains("tempo") {
        ""
    } else {
        "tempo = 120\n"
    };
    let key = if head.contains("key") {
        ""
    } else {
        "key = \"E minor\"\n"
    };
    format!(
        "# A test.\ntitle = \"Short Crossing\"\nmeter = \"4/4\"\n{tempo}{key}{head}\n\
         [[section]]\nname = \"A\"\n{section}\n"
    )
}

fn notes(notes: &str) -> String {
    line(&format!("notes = \"{notes}\""))
}

/// For each kind of advice a line that is given it, and one that is not.
fn cases() -> Vec<(&'static str, String, String)> {
    let case = |id, with: String, without: String| (id, with, without);
    let steps = |head: &str| {
        let notes =
            "notes = \"F1/8 Ab1/8 Bb1/8 C2/8 Db2/8 Eb2/8 F2/8 Ab1/8 | Bb1/4 Db2/4 Ab1/4 F1/4\"";
        with_head(head, notes)
    };
    let sections = |second: &str| {
        line(&format!(
            "chords = \"Em\"\nnotes = \"E1/1\"\n[[section]]\n{second}"
        ))
    };
    vec![
        case(
            "hand-leap",
            notes("F1@E/16 C4@G/16 r/8 r/4 r/2"),
            notes("F1@E/4 C4@G/4 r/2"),
        ),
        case(
            "hand-leap",
            notes("G:12/16 G:2/16 r/8 r/4 r/2"),
            // The open string gives the hand the time.
            notes("G:12/16 E:0/8 G:2/16 r/4 r/2"),
        ),
        case("wide-stop", notes("E:1+A:9/1"), notes("E:1+A:4/1")),
        // Six frets are near together at the twelfth.
        case("wide-stop", notes("E:2+A:7/1"), notes("E:13+A:18/1")),
        case("high-fret", notes("G:21/1"), notes("G:20/1")),
        case(
            "high-fret",
            line("passes = [0, 3]\nnotes = \"G:18/1\""),
            line("passes = [0, 2]\nnotes = \"G:18/1\""),
        ),
        case(
            "finger-misfit",
            line("notes = \"A:0/2 A:2/2\"\nfingers = \"2 2\""),
            line("notes = \"A:0/2 A:2/2\"\nfingers = \"0 2\""),
        ),
        case(
            "finger-misfit",
            line("notes = \"A:2/2 A:0+D:2/2\"\nfingers = \"0 2\""),
            // In the second pass no string is open.
            line("passes = [0, 1]\nnotes = \"A:2/2 A:0+D:2/2\"\nfingers = \"1 2\""),
        ),
        case(
            "fast-notes",
            with_head("tempo = 220", "notes = \"E1/16 E1/16 E1/16 E1/16 r/4 r/2\""),
            with_head("tempo = 210", "notes = \"E1/16 E1/16 E1/16 E1/16 r/4 r/2\""),
        ),
        // Three notes can be raked.
        case(
            "fast-notes",
            with_head("tempo = 300", "notes = \"E1/16 E1/16 E1/16 E1/16 r/4 r/2\""),
            with_head("tempo = 300", "notes = \"E1/16 A1/16 D2/16 r/16 r/4 r/2\""),
        ),
        case(
            "same-stroke",
            with_head(
                "tempo = 150",
                "notes = \"E1/16 E1/16 r/8 r/4 r/2\"\nstrokes = \"d d\"",
            ),
            with_head(
                "tempo = 150",
                "notes = \"E1/16 E1/16 r/8 r/4 r/2\"\nstrokes = \"d u\"",
            ),
        ),
        case(
            "same-stroke",
            with_head(
                "tempo = 150",
                "notes = \"A1@A/16 A1@A/16 r/8 r/4 r/2\"\nstrokes = \"u u\"",
            ),
            // A rake.
            with_head(
                "tempo = 150",
                "notes = \"A1@A/16 E1@E/16 r/8 r/4 r/2\"\nstrokes = \"u u\"",
            ),
        ),
        case(
            "cut-too-soon",
            notes("E1/32' r/32 r/16 r/8 r/4 r/2"),
            notes("E1/16' r/16 r/8 r/4 r/2"),
        ),
        case(
            "cut-too-soon",
            notes("E1/32m r/32 r/16 r/8 r/4 r/2"),
            notes("E1/32 r/32 r/16 r/8 r/4 r/2"),
        ),
        case("tied-cut", notes("E1/2'~ E1/2"), notes("E1/2>~ E1/2")),
        case("tied-cut", notes("E1/2m~ E1/2"), notes("E1/2m E1/2")),
        case(
            "no-gap",
            with_head("gate = 1.0", "notes = \"E1@E/4 E2@D/4 r/2\""),
            with_head("gate = 0.9", "notes = \"E1@E/4 E2@D/4 r/2\""),
        ),
        case(
            "no-gap",
            with_head("gate = 0.99", "notes = \"E1@E/4 E2@D/4 r/2\""),
            with_head("gate = 0.99", "notes = \"E1@E/4' E2@D/4 B1@A/4_ B2@G/4\""),
        ),
        case(
            "off-key",
            steps("key = \"C major\""),
            steps("key = \"Db major\""),
        ),
        // Most notes belong to the chord.
        case(
            "off-key",
            steps("key = \"C major\""),
            steps("key = \"C major\"").replace("notes =", "chords = \"Bbm7 | Bbm7\"\nnotes ="),
        ),
        case(
            "spelling",
            with_head("key = \"Bb major\"", "notes = \"Bb1/2 D#2/2\""),
            with_head("key = \"Bb major\"", "notes = \"Bb1/2 Eb2/2\""),
        ),
        // The chord asks for it, or the note is not in the key.
        case(
            "spelling",
            with_head(
                "key = \"Bb major\"",
                "chords = \"B7\"\nnotes = \"B1/2 A#1/2\"",
            ),
            with_head(
                "key = \"Bb major\"",
                "chords = \"B7\"\nnotes = \"B1/2 D#2/4 F#2/4\"",
            ),
        ),
        case(
            "no-key",
            notes("E1/1").replace("key = \"E minor\"\n", ""),
            notes("E1/1"),
        ),
        case(
            "no-key",
            notes("E1/1").replace("key = \"E minor\"\n", ""),
            notes("x/1").replace("key = \"E minor\"\n", ""),
        ),
        case(
            "chords-missing",
            sections("name = \"B\"\nnotes = \"G1/1\""),
            sections("name = \"B\"\nchords = \"-\"\nnotes = \"G1/1\""),
        ),
        case(
            "chords-missing",
            line("chords = \"- | Em\"\nnotes = \"E1/1 | E1/1\""),
            with_head(
                "pickup = true",
                "chords = \"- | Em\"\nnotes = \"B1/4 | E1/1\"",
            ),
        ),
        case(
            "name-twice",
            sections("name = \"a \"\nchords = \"-\"\nnotes = \"G1/1\""),
            sections("name = \"B\"\nchords = \"-\"\nnotes = \"G1/1\""),
        ),
        case(
            "repeated-section",
            sections("name = \"B\"\nchords = \"Em\"\nnotes = \"E1/1\""),
            sections("name = \"B\"\nchords = \"Em\"\nnotes = \"E1/2 E1/2\""),
        ),
        case(
            "swing-unused",
            with_head("swing = \"2:1\"", "notes = \"E1/4 E1/4 E1/2\""),
            with_head("swing = \"2:1\"", "notes = \"E1/4 E1/8 E1/8 E1/2\""),
        ),
        case(
            "swing-unused",
            with_head(
                "swing = \"2:1\"",
                "swing = \"3:1\"\nnotes = \"E1/4 E1/8 E1/8 E1/2\"",
            ),
            with_head("swing = \"1:1\"", "notes = \"E1/1\""),
        ),
        case("accent-ghost", notes("E1/1>?"), notes("E1/2> E1/2?")),
        case(
            "no-comment",
            notes("E1/1").replace("# A test.\n", ""),
            notes("E1/1"),
        ),
        case("no-notes", notes("r/1"), notes("x/1")),
    ]
}

#[test]
fn each_advice_is_given_where_it_is_due_and_nowhere_else() {
    for (id, with, without) in cases() {
        assert!(ids(&with).contains(&id), "{id} is not given:\n{with}");
        assert_eq!(ids(&without), [""; 0], "{id}:\n{without}");
    }
}

#[test]
fn each_kind_of_advice_has_its_lines() {
    for id in IDS {
        assert!(cases().iter().any(|(case, ..)| *case == id), "{id}");
    }
    assert!(cases().iter().all(|(case, ..)| IDS.contains(case)));
}

#[test]
fn advice_names_section_bar_beat_line_and_column() {
    let text = with_head(
        "tempo = 150",
        "notes = \"\"\"\nE1/1 |\nr/4. E1/16 E1/16 r/2\n\"\"\"\nstrokes = \"d | d d\"",
    );
    let all = advice(&text);
    let [found] = &all[..] else { panic!("{all:?}") };
    let place = (found.section.as_deref(), found.bar, found.beat);
    assert_eq!(place, (Some("A"), Some(2), Some(2.75)));
    let line = text.lines().nth(found.line - 1).unwrap();
    assert_eq!(line, "r/4. E1/16 E1/16 r/2");
    assert_eq!(found.column, 12);
    assert_eq!(found.text, "two down strokes 100 ms apart on one string");
}

#[test]
fn a_pickup_is_bar_0_and_counts_from_its_own_beat() {
    let all = advice(&with_head("pickup = true", "notes = \"r/8 B1/8>? | E1/1\""));
    assert_eq!(
        (all[0].id, all[0].bar, all[0].beat),
        ("accent-ghost", Some(0), Some(4.5))
    );
}

#[test]
fn the_same_in_further_places_and_passes_is_said_once_with_their_number() {
    let section = "passes = [0, 0, 2]\nnotes = \"E1/4>? E1/4 E1/4>? E1/4>?\"";
    let all = advice(&line(section));
    let [found] = &all[..] else { panic!("{all:?}") };
    assert_eq!((found.beat, found.more), (Some(1.0), 2));
}

#[test]
fn the_key_that_would_fit_is_named() {
    let text = with_head(
        "key = \"C major\"",
        "notes = \"F1/8 Ab1/8 Bb1/8 C2/8 Db2/8 Eb2/8 F2/8 Ab1/8 | Db2/4 Bb1/4 Ab1/4 Db2/4\"",
    );
    let all = advice(&text);
    let found = all.iter().find(|advice| advice.id == "off-key").unwrap();
    assert_eq!(found.text, "9 of 12 notes lie outside C major");
    assert_eq!(found.better, "Db major has all of them");
}

#[test]
fn the_tempo_that_two_fingers_can_pluck_is_named() {
    let all = advice(&with_head(
        "tempo = 250",
        "notes = \"E1/16 E1/16 E1/16 E1/16 r/4 r/2\"",
    ));
    assert_eq!(
        all[0].text,
        "4 notes follow one another every 60 ms: two fingers pluck no faster than every 70 ms"
    );
    assert_eq!(all[0].better, "a tempo of 214 or less, or fewer notes");
    let at_the_tempo = "notes = \"E1/16 E1/16 E1/16 E1/16 r/4 r/2\"";
    assert!(advice(&with_head("tempo = 214", at_the_tempo)).is_empty());
}

#[test]
fn the_house_lines_are_clean() {
    for entry in std::fs::read_dir("lines").unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        assert_eq!(advice(&text), [], "{}", path.display());
    }
}

#[test]
fn advice_alone_ends_with_0_and_a_count() {
    let bench = Bench::new(&notes("E1/2>? E1/2'~ | E1/1"));
    let ran = bench.run(&["lint", "line.toml"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.starts_with(
        "line.toml:9:10: section A, bar 1, beat 1: an accent on a ghost note that may stay away [accent-ghost]\n    \
         better: leave out > or ?\n"
    ), "{}", ran.out);
    assert!(
        ran.out.ends_with("2 pieces of advice, no error.\n"),
        "{}",
        ran.out
    );
}

#[test]
fn a_clean_line_gets_one_line_of_answer() {
    let bench = Bench::new(&notes("E1/1"));
    let ran = bench.run(&["lint", "line.toml"]);
    assert_eq!(ran.out, "Nothing to say: the line is fine.\n");
    let ran = bench.run(&["lint", "line.toml", "line.toml"]);
    assert_eq!(ran.out, "Nothing to say: 2 lines are fine.\n");
}

#[test]
fn all_errors_of_all_files_end_with_2() {
    let bench = Bench::new(&notes("E1/1"));
    bench.write("a.toml", notes("H1/2 E1/2x").as_bytes());
    bench.write("b.toml", notes("E1/2").as_bytes());
    let ran = bench.run(&["lint", "a.toml", "line.toml", "b.toml"]);
    assert_eq!(ran.code, Some(2));
    assert_eq!(ran.err.matches("error[").count(), 3, "{}", ran.err);
    for words in ["a.toml:9", "b.toml:9"] {
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    assert_eq!(ran.out, "Nothing to say: the line is fine.\n");
}

#[test]
fn json_has_errors_and_advice_of_every_file() {
    let bench = Bench::new(&notes("E1/1>?"));
    bench.write("a.toml", notes("E1/2").as_bytes());
    let ran = bench.run(&["lint", "--json", "line.toml", "a.toml"]);
    assert_eq!(ran.code, Some(2));
    let page: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(page["schema"], "leadsman.lint/1");
    assert_eq!((&page["errors"], &page["advice"]), (&1.into(), &1.into()));
    let advice = &page["files"][0]["advice"][0];
    assert_eq!(
        (&advice["id"], &advice["bar"], &advice["line"]),
        (&"accent-ghost".into(), &1.into(), &9.into())
    );
    let error = &page["files"][1]["errors"][0];
    assert_eq!(
        (&error["id"], &error["column"]),
        (&"bar-too-short".into(), &10.into())
    );
}
