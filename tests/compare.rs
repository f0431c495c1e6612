//! `leadsman compare`: players on one line, with takes whose truth is known.

mod takes;

use serde_json::Value;
use std::collections::BTreeMap;
use takes::own::Playing;
use takes::schema::{assert_valid, schema_folder};
use takes::{Bench, Ran};
use unicode_width::UnicodeWidthStr;

/// Swing, entries and upbeats in two sections: 48 notes a take.
const LINE: &str = "title = \"Turn of the Screw Pump\"\nmeter = \"4/4\"\ntempo = 120\nswing = \"2:1\"\n\
     [[section]]\nname = \"Up\"\npasses = [0, 0]\n\
     notes = \"r/8 E1/8 A1/8 C2/8 D2/8 E2/8 G2/8 E2/8 | A1/4 r/8 C2/8 E2/8 E2/8 G2/8 A2/8\"\n\
     [[section]]\nname = \"Down\"\npasses = [0, 0]\n\
     notes = \"r/8 D2/8 A1/8 A1/8 D2/8 F2/8 E2/8 D2/8 | E1/8 E1/8 G1/8 G1/8 E1/8 E1/8 A1/4\"";

/// Takes of a player, each with chance of its own.
fn write(bench: &Bench, player: &str, habits: &str, takes: u64) {
    let seed = player.bytes().map(u64::from).sum::<u64>() * 100;
    for take in 0..takes {
        let playing = Playing::of(LINE, habits, seed + take);
        playing.write(&bench.path(&format!("{player}/{take}.mid")));
    }
}

/// Anna comes in 40 ms late after rests, Ben does not; otherwise they play alike.
fn two() -> Bench {
    let bench = Bench::new(LINE);
    write(&bench, "anna", "late-entries-ms=40,spread-ms=8", 5);
    write(&bench, "ben", "spread-ms=8", 5);
    bench
}

fn compare(bench: &Bench, arguments: &[&str]) -> Ran {
    bench.run(&[&["compare", "line.toml"], arguments].concat())
}

fn json(bench: &Bench, arguments: &[&str]) -> Value {
    let ran = compare(bench, &[arguments, &["--json"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_valid(&schema(), &ran.json());
    ran.json()
}

fn schema() -> jsonschema::Validator {
    let read = |name: &str| -> Value {
        let text = std::fs::read_to_string(schema_folder().join(name)).expect("a schema");
        serde_json::from_str(&text).expect("JSON")
    };
    let schema = read("compare.schema.json");
    jsonschema::meta::validate(&schema).expect("a schema of draft 2020-12");
    jsonschema::validator_for(&schema).expect("a schema")
}

/// Differences by measure and pair.
fn differences(part: &Value) -> BTreeMap<(String, String), &Value> {
    let name = |value: &Value| value.as_str().expect("a name").to_string();
    part["differences"]
        .as_array()
        .expect("differences")
        .iter()
        .map(|one| {
            let pair = format!("{} {}", name(&one["players"][0]), name(&one["players"][1]));
            ((name(&one["measure"]), pair), one)
        })
        .collect()
}

#[test]
fn the_one_thing_in_which_two_players_differ_is_beyond_chance_and_nothing_else() {
    let bench = two();
    let told = json(&bench, &["anna", "ben"]);
    let of = differences(&told["whole"]);
    for ((measure, _), difference) in &of {
        // Late entries are a part of the spread and of the lengths of notes before them; the rest is alike.
        let is_alike =
            ["pitch_pct", "lean_ms", "upbeats_ms", "swing_ratio"].contains(&measure.as_str());
        assert!(
            !is_alike || difference["beyond_chance"] == false,
            "{difference}"
        );
    }
    let entries = of[&("entries_ms".into(), "anna ben".into())];
    assert_eq!(entries["beyond_chance"], true);
    let bound = |place: usize| entries["interval"][place].as_f64().expect("a bound");
    assert!(bound(0) < 40.0 && 40.0 < bound(1), "{entries}");
    assert!(bound(1) - bound(0) < 20.0, "{entries}");
}

#[test]
fn players_stand_in_the_order_given_and_the_pair_turns_with_them() {
    let bench = two();
    let (there, back) = (
        json(&bench, &["anna", "ben"]),
        json(&bench, &["ben", "anna"]),
    );
    assert_eq!(there["whole"]["players"][0], back["whole"]["players"][1]);
    let size = |told: &Value, pair: &str| {
        differences(&told["whole"])[&("entries_ms".into(), pair.into())]["size"]
            .as_f64()
            .expect("a size")
    };
    assert!((size(&there, "anna ben") + size(&back, "ben anna")).abs() < 1e-9);
}

#[test]
fn a_players_figures_are_the_means_of_their_takes() {
    let bench = two();
    let told = json(&bench, &["anna", "ben"]);
    let mut logs = Vec::new();
    for take in 0..5 {
        let file = format!("anna/{take}.mid");
        let checked = bench.run(&["check", "line.toml", &file, "--json"]).json();
        logs.push(
            checked["summary"]["offset_sd_ms"]
                .as_f64()
                .expect("a spread")
                .ln(),
        );
    }
    let spread = (logs.iter().sum::<f64>() / 5.0).exp();
    let found = &told["whole"]["players"][0]["spread_ms"];
    assert!(
        (found["value"].as_f64().expect("a value") - spread).abs() < 1e-9,
        "{found} {spread}"
    );
    assert_eq!(found["takes"], 5);
}

#[test]
fn speeds_are_never_mixed_and_what_is_left_out_is_told() {
    let bench = two();
    for take in 0..4 {
        let slow = Playing {
            speed_pct: 80,
            ..Playing::of(LINE, "spread-ms=8", 50 + take)
        };
        slow.write(&bench.path(&format!("ben/slow/{take}.mid")));
    }
    let told = json(&bench, &["anna", "ben"]);
    assert_eq!(told["line"]["speed"], 100.0);
    let left_out = told["left_out"].as_array().expect("takes");
    assert_eq!(left_out.len(), 4);
    assert!(
        left_out
            .iter()
            .all(|take| take["why"] == "other-speed" && take["speed"] == 80.0)
    );
    let text = compare(&bench, &["anna", "ben"]).out;
    assert!(
        text.contains("Compared: 10 takes at 100 % of the written tempo."),
        "{text}"
    );
    assert!(text.contains("Left out: 4 at 80 %."), "{text}");

    let slow = json(&bench, &["anna", "ben", "--speed", "80"]);
    assert_eq!(slow["line"]["speed"], 80.0);
    let takes = |player: usize| slow["whole"]["players"][player]["takes"].as_u64();
    assert_eq!((takes(0), takes(1)), (Some(0), Some(4)));
    assert_eq!(slow["whole"]["differences"], Value::Array(Vec::new()));
    let none = compare(&bench, &["anna", "ben", "--speed", "60"]);
    assert_eq!((none.code, none.out.as_str()), (Some(1), ""));
    assert!(none.err.contains("no take is at 60 %"), "{}", none.err);
}

#[test]
fn takes_of_some_bars_and_takes_broken_off_are_left_out() {
    let bench = two();
    let some = Playing {
        bars: Some([1, 2]),
        ..Playing::of(LINE, "steady", 1)
    };
    some.write(&bench.path("anna/some.mid"));
    let stopped = Playing {
        stopped_ms: Some(3000),
        ..Playing::of(LINE, "steady", 1)
    };
    stopped.write(&bench.path("ben/stopped.mid"));
    let told = json(&bench, &["anna", "ben"]);
    let why: Vec<&Value> = told["left_out"]
        .as_array()
        .expect("takes")
        .iter()
        .map(|take| &take["why"])
        .collect();
    assert_eq!(why, ["other-bars", "stopped"]);
    // The bars that all of them have in common can be compared.
    let common = json(&bench, &["anna", "ben", "--bars", "1-2"]);
    assert_eq!(common["line"]["bars"], serde_json::json!([1, 2]));
    assert_eq!(common["whole"]["players"][0]["takes"], 6);
}

#[test]
fn a_single_take_is_a_player_by_its_name_and_too_little_to_tell() {
    let bench = two();
    let ran = compare(&bench, &["anna", "ben/1.mid"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let words = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains(
        "Not enough to tell a difference from chance, which takes 3 takes or more: 1 (1 take)."
    ));
    assert!(!ran.out.contains("eyond chance: "), "{}", ran.out);
}

#[test]
fn a_take_that_cannot_be_read_stops_nobody() {
    let bench = two();
    bench.write("anna/odd.mid", b"no music");
    let ran = compare(&bench, &["anna", "ben", "--json"]);
    assert_eq!(ran.code, Some(1));
    assert!(
        ran.err
            .contains("note: anna/odd.mid: this is not a MIDI file"),
        "{}",
        ran.err
    );
    let told = ran.json();
    assert_valid(&schema(), &told);
    assert_eq!(told["left_out"][0]["why"], "not-judged");
    assert_eq!(told["whole"]["players"][0]["takes"], 5);
}

#[test]
fn players_of_one_name_are_told_apart_by_their_paths() {
    let bench = Bench::new(LINE);
    write(&bench, "march/anna", "steady", 1);
    write(&bench, "april/anna", "steady", 1);
    write(&bench, "ben", "steady", 1);
    let told = json(&bench, &["march/anna", "april/anna", "ben/"]);
    let names: Vec<&Value> = told["whole"]["players"]
        .as_array()
        .expect("players")
        .iter()
        .map(|p| &p["name"])
        .collect();
    assert_eq!(names, ["march/anna", "april/anna", "ben"]);
}

#[test]
fn sections_are_compared_on_request_in_the_order_of_the_line() {
    let bench = two();
    assert_eq!(json(&bench, &["anna", "ben"])["sections"], Value::Null);
    let told = json(&bench, &["anna", "ben", "--sections"]);
    let sections = told["sections"].as_array().expect("sections");
    let names: Vec<&Value> = sections.iter().map(|part| &part["section"]).collect();
    assert_eq!(names, ["Up", "Down"]);
    let notes = |part: &Value| part["players"][0]["expected"].as_u64().expect("a count");
    assert_eq!(
        sections.iter().map(notes).sum::<u64>(),
        notes(&told["whole"])
    );
    let text = compare(&bench, &["anna", "ben", "--sections"]).out;
    assert!(
        text.find("Section Up") < text.find("Section Down"),
        "{text}"
    );
}

#[test]
fn a_table_has_a_row_a_player_and_section() {
    let bench = two();
    let told = json(&bench, &["anna", "ben", "--sections"]);
    let ran = compare(&bench, &["anna", "ben", "--sections", "--csv"]);
    let mut reader = csv::Reader::from_reader(ran.out.as_bytes());
    let heads = reader.headers().expect("heads").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let cell = |row: usize, name: &str| {
        let column = heads
            .iter()
            .position(|head| head == name)
            .unwrap_or_else(|| panic!("{name}"));
        rows[row][column].to_string()
    };
    let who: Vec<(String, String)> = (0..rows.len())
        .map(|row| (cell(row, "section"), cell(row, "player")))
        .collect();
    let expected = [
        ("", "anna"),
        ("", "ben"),
        ("Up", "anna"),
        ("Up", "ben"),
        ("Down", "anna"),
        ("Down", "ben"),
    ];
    assert_eq!(
        who,
        expected.map(|(section, player)| (section.to_string(), player.to_string()))
    );
    let low: f64 = cell(0, "entries_ms_low").parse().expect("a number");
    let golden = told["whole"]["players"][0]["entries_ms"]["interval"][0]
        .as_f64()
        .expect("a bound");
    assert!((low - golden).abs() <= 5e-4, "{low} {golden}");
    assert_eq!(cell(0, "takes"), "5");
}

#[test]
fn text_fits_eighty_columns_and_names_what_is_not_beyond_chance_too() {
    let bench = two();
    write(
        &bench,
        "carl-with-a-name-that-is-far-too-long-for-a-column",
        "spread-ms=24",
        4,
    );
    let carl = "carl-with-a-name-that-is-far-too-long-for-a-column";
    let text = compare(&bench, &["anna", "ben", carl, "--sections"]).out;
    let widest = text.lines().map(UnicodeWidthStr::width).max();
    assert!(widest <= Some(80), "{text}");
    assert!(text.contains("Beyond chance: anna against ben +"), "{text}");
    assert!(text.contains("Not beyond chance: "), "{text}");
}
