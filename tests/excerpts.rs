//! Whole runs of the program on some bars of a line, and with silent bars.

mod takes;

use leadsman::midi::smf::{self, TextKind};
use serde_json::{Value, json};
use takes::schema::{assert_valid, schema};
use takes::{Bench, note};

/// A pickup, three bars played three times, two bars played once. At 400 % a bar lasts a quarter of a second.
const LINE: &str = "title = \"Spring Tide\"\nmeter = \"4/4\"\ntempo = 240\npickup = true\n\
     [[section]]\nname = \"Ebb\"\npasses = [0, 0, 2]\nstrokes = \"d | d u d d | d d u d d | d d u d\"\n\
     notes = \"D2/4 | E1/4 A1/8 C2/8 D2/2 | A1/4 r/8 C2/8 E2/8 F2/8 G2/4~ | G2/4 A1/4 r/8 F1/8 E1/4\"\n\
     [[section]]\nname = \"Flood\"\nnotes = \"r/4 D2/4 A1/4 D2/4 | G1/4 B1/4 D2/4 G2/4 | C2/2 r/2\"\n";

fn bench() -> Bench {
    // The third bar's first note is tied to: three of its notes are struck.
    Bench::new(&LINE.replace("d d u d\"", "d u d\""))
}

fn demo(bench: &Bench, take: &str, options: &[&str]) -> takes::Ran {
    let args = ["demo", "line.toml", "--habits", "unsteady", "--take", take];
    let ran = bench.run(&[&args[..], options].concat());
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    ran
}

fn bars(json: &Value) -> Vec<(u64, u64)> {
    let notes = json["notes"].as_array().expect("notes").iter();
    let number = |value: &Value| value.as_u64().expect("a number");
    let mut bars: Vec<_> = notes
        .map(|note| (number(&note["pass"]), number(&note["bar"])))
        .collect();
    bars.dedup();
    bars
}

#[test]
fn an_excerpt_played_live_is_checked_to_the_same_report() {
    let bench = bench();
    let args = "play line.toml --backend silent --count-in 0 --speed 400 --stand-in late-entries --bars 2-3 --silent 1:1 \
                --take part.mid";
    let played = bench.run(&args.split_whitespace().collect::<Vec<_>>());
    assert_eq!(played.code, Some(0), "{}", played.err);
    let checked = bench.run(&["check", "line.toml", "part.mid"]);
    assert_eq!((checked.code, checked.err.as_str()), (Some(0), ""));
    assert!(
        played.out.contains(&checked.out),
        "{}\n---\n{}",
        played.out,
        checked.out
    );
    assert!(
        played
            .out
            .starts_with("Spring Tide · bars 2 to 3 · quarter = 960 "),
        "{}",
        played.out
    );
    assert!(
        played
            .out
            .contains("\nThen 1 bar with the click, 1 without, and so on.\n")
    );
    assert_eq!(
        played.out.matches("(no click)").count(),
        3,
        "{}",
        played.out
    );
    assert!(
        checked.out.contains("take part.mid · bar 2 starts at "),
        "{}",
        checked.out
    );
    let json = bench
        .run(&["check", "line.toml", "part.mid", "--json"])
        .json();
    assert_valid(&schema(), &json);
    assert_eq!(json["line"]["bars"], json!([2, 3]));
    assert_eq!(
        bars(&json),
        [(1, 2), (1, 3), (2, 2), (2, 3), (3, 2), (3, 3)]
    );
    assert_eq!(json["notes"][0]["expected"]["onset_s"], 0.0);
}

#[test]
fn a_kept_excerpt_is_read_to_the_bit_as_it_was_judged() {
    for (options, of) in [
        (vec!["--bars", "2-5"], json!([2, 5])),
        (vec!["--bars", "0-1", "--silent", "2:1"], json!([0, 1])),
        (vec!["--section", "Flood"], json!([4, 6])),
        (vec!["--section", "Ebb", "--bars", "3"], json!([3, 3])),
        (vec!["--silent", "3:2", "--speed", "60"], Value::Null),
    ] {
        let bench = bench();
        let live = demo(&bench, "kept.mid", &[&options[..], &["--json"]].concat());
        let check = bench.run(&["check", "line.toml", "kept.mid", "--json"]);
        assert_eq!(
            (check.code, &check.out),
            (Some(0), &live.out),
            "{options:?} {}",
            check.err
        );
        assert_eq!(live.json()["line"]["bars"], of);
        assert_valid(&schema(), &live.json());
    }
}

#[test]
fn a_section_with_a_pickup_has_it_in_its_first_pass() {
    let bench = bench();
    let json = demo(&bench, "ebb.mid", &["--section", "Ebb", "--json"]).json();
    let first: Vec<_> = bars(&json).into_iter().take(5).collect();
    assert_eq!(first, [(1, 0), (1, 1), (1, 2), (1, 3), (2, 1)]);
}

#[test]
fn the_take_of_an_excerpt_is_named_and_marked_by_its_bars() {
    let bench = bench();
    demo(&bench, "marked.mid", &["--bars", "3-4"]);
    let file = smf::read_file(&bench.path("marked.mid")).expect("a file");
    let of = |kind: TextKind| -> Vec<&str> {
        let texts = file.texts.iter().filter(|text| text.kind == kind);
        texts.map(|text| text.text.as_str()).collect()
    };
    assert!(of(TextKind::TrackName).contains(&"Spring Tide, bars 3 to 4"));
    let markers = [
        "Ebb, bar 3",
        "Ebb, pass 2, bar 3",
        "Ebb, pass 3, bar 3",
        "Flood, bar 4",
    ];
    assert_eq!(of(TextKind::Marker), markers);
}

#[test]
fn a_take_from_elsewhere_is_judged_against_the_bars_that_are_named() {
    let bench = bench();
    // Bar 5 at 240: a quarter lasts 250 ms.
    let keys = [31, 35, 38, 43];
    let notes: Vec<_> = (0..4)
        .map(|n| note(1000.0 + 250.0 * n as f64 + 10.0, keys[n], 200.0))
        .collect();
    let json = bench.check(&notes, &["--bars", "5", "--start", "1"]);
    assert_eq!(json["line"]["bars"], json!([5, 5]));
    assert_eq!(
        (&json["summary"]["pitch_right"], &json["summary"]["missed"]),
        (&4.into(), &0.into())
    );
    assert_eq!(bars(&json), [(1, 5)]);
    let offset = json["summary"]["offset_mean_ms"].as_f64().expect("a mean");
    assert!((offset - 10.0).abs() < 0.1, "{offset}");
}

/// The notes of these bars with what was read of them, without their places in the list and in time.
fn readings(json: &Value, some: std::ops::RangeInclusive<u64>) -> Vec<Value> {
    let notes = json["notes"].as_array().expect("notes").iter();
    let here = notes.filter(|note| some.contains(&note["bar"].as_u64().expect("a bar")));
    here.map(|note| {
        json!([
            note["bar"],
            note["beat"],
            note["offset_ms"],
            note["pitch"],
            note["timing"],
            note["length"]
        ])
    })
    .collect()
}

#[test]
fn bars_that_a_take_has_in_one_piece_are_found_in_it() {
    let bench = bench();
    let whole = demo(&bench, "whole.mid", &["--json"]).json();
    let part = bench.run(&["check", "line.toml", "whole.mid", "--json", "--bars", "5-6"]);
    assert_eq!((part.code, part.err.as_str()), (Some(0), ""));
    let part = part.json();
    assert_eq!(readings(&part, 5..=6).len(), 5);
    assert_eq!(readings(&part, 0..=9), readings(&whole, 5..=6));
    assert_eq!(
        (&part["extra"], &part["summary"]["missed"]),
        (&json!([]), &0.into())
    );
    let section = bench
        .run(&[
            "check",
            "line.toml",
            "whole.mid",
            "--json",
            "--section",
            "Ebb",
        ])
        .json();
    assert_eq!(readings(&section, 0..=9), readings(&whole, 0..=3));
}

#[test]
fn bars_that_a_take_does_not_have_in_one_piece_are_wrong_input() {
    let bench = bench();
    demo(&bench, "whole.mid", &[]);
    demo(&bench, "flood.mid", &["--section", "Flood"]);
    for (take, bars, words) in [
        (
            "whole.mid",
            "2-3",
            "the take is of bars 0 to 6, without bars 2 to 3 in one piece",
        ),
        (
            "flood.mid",
            "1-4",
            "the take is of bars 4 to 6, without bars 1 to 4 in one piece",
        ),
    ] {
        let ran = bench.run(&["check", "line.toml", take, "--bars", bars]);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""));
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}

#[test]
fn what_is_not_in_the_line_is_one_error_with_what_is() {
    let bench = bench();
    demo(&bench, "whole.mid", &[]);
    let cases = [
        (
            "--bars 6-9",
            "error: there is no bar 9 in \"Spring Tide\": it has bars 0 (the pickup) to 6\n",
        ),
        (
            "--bars 0",
            "error: bar 0 is the pickup into bar 1: with 0-1 both are played\n",
        ),
        (
            "--section Flod",
            "error: there is no section \"Flod\" (\"Flood\"?): the sections are \"Ebb\" (bars 0 to 3), \"Flood\" (bars 4 to 6)\n",
        ),
        (
            "--section Ebb --bars 4",
            "error: section \"Ebb\" has bars 0 to 3, and bar 4 is not all in it\n",
        ),
    ];
    for command in [
        "demo line.toml",
        "play line.toml --backend silent --stand-in",
        "check line.toml whole.mid",
    ] {
        for (options, words) in cases {
            let args: Vec<&str> = command.split(' ').chain(options.split(' ')).collect();
            let ran = bench.run(&args);
            assert_eq!(
                (ran.code, ran.out.as_str(), ran.err.as_str()),
                (Some(2), "", words),
                "{args:?}"
            );
        }
    }
    for (options, words) in [
        ("--bars 5-", "write the first and the last bar, such as 5-8"),
        ("--bars 3-2", "the first bar comes first: 2-3"),
        (
            "--silent 3:0",
            "write the bars with the click and the bars without, each 1 to 64, such as 3:1",
        ),
    ] {
        let args: Vec<&str> = ["demo"].into_iter().chain(options.split(' ')).collect();
        let ran = bench.run(&args);
        assert_eq!(ran.code, Some(2));
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}

#[test]
fn bars_of_rests_alone_are_played_without_a_note() {
    let bench = Bench::new(
        "title = \"Slack Water\"\nmeter = \"2/4\"\ntempo = 240\n[[section]]\nname = \"A\"\nnotes = \"E1/2 | r/2 | E1/2\"\n",
    );
    let json = demo(&bench, "rest.mid", &["--bars", "2", "--json"]).json();
    assert_eq!(
        (&json["line"]["notes"], &json["notes"]),
        (&0.into(), &json!([]))
    );
}
