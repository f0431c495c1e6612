//! The JSON of a check: its schema, its example, and the order of its fields.
//!
//! `LEADSMAN_WRITE_EXAMPLE=1 cargo test --test check_json` writes `tests/schema/check.example.mid` and `.json` anew.

mod takes;

use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::Value;
use std::fmt;
use takes::schema::{assert_valid, schema, schema_folder};
use takes::{Note, note};

/// The example's take, in ms from its start; bar 1 starts at 2 s, at 120 quarter notes a minute. Entries come late,
/// one note is missing, one wrong, one an octave up, one extra, a ghost note is left out in pass 1, two bars of B come
/// half a beat late, an octave is guessed and corrected, and the last note never ends.
fn example_take() -> Vec<u8> {
    let bar = |number: usize, notes: &[(f64, u8, f64)]| -> Vec<Note> {
        let start = 2000.0 + 2000.0 * number as f64;
        notes
            .iter()
            .map(|(at, key, length)| note(start + at, *key, *length))
            .collect()
    };
    let b_late = |notes: [u8; 4]| {
        [0.0, 1.0, 2.0, 3.0].map(|beat| (beat * 500.0 + 250.0, notes[beat as usize], 440.0))
    };
    let mut notes = [
        bar(
            0,
            &[
                (295.0, 45, 200.0),
                (502.0, 50, 21.0),
                (523.0, 38, 419.0),
                (1291.0, 41, 210.0),
                (1500.0, 45, 450.0),
            ],
        ),
        bar(
            1,
            &[
                (301.0, 43, 200.0),
                (498.0, 36, 430.0),
                (1296.0, 40, 190.0),
                (1503.0, 36, 230.0),
            ],
        ),
        bar(
            2,
            &[
                (300.0, 38, 200.0),
                (505.0, 34, 560.0),
                (1010.0, 35, 60.0),
                (1752.0, 38, 200.0),
            ],
        ),
        bar(
            3,
            &[
                (0.0, 40, 900.0),
                (8.0, 33, 890.0),
                (1288.0, 43, 205.0),
                (1497.0, 45, 90.0),
            ],
        ),
        bar(
            4,
            &[
                (299.0, 45, 210.0),
                (500.0, 39, 450.0),
                (1300.0, 53, 190.0),
                (1498.0, 45, 455.0),
            ],
        ),
        bar(
            5,
            &[
                (293.0, 43, 220.0),
                (1294.0, 40, 210.0),
                (1502.0, 36, 240.0),
                (1950.0, 52, 30.0),
            ],
        ),
        bar(
            6,
            &[
                (296.0, 38, 215.0),
                (501.0, 34, 445.0),
                (995.0, 34, 70.0),
                (1497.0, 41, 200.0),
                (1750.0, 38, 205.0),
            ],
        ),
        bar(
            7,
            &[
                (3.0, 33, 880.0),
                (3.0, 40, 900.0),
                (1297.0, 43, 195.0),
                (1500.0, 45, 110.0),
            ],
        ),
        bar(8, &b_late([38, 41, 45, 48])),
        bar(9, &b_late([34, 38, 41, 45])),
        bar(
            10,
            &[
                (4.0, 31, 450.0),
                (499.0, 34, 455.0),
                (1003.0, 38, 440.0),
                (1496.0, 43, 445.0),
            ],
        ),
    ]
    .concat();
    notes.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    let tempo = [0, 0xFF, 0x51, 3, 0x07, 0xA1, 0x20];
    let mut track = takes::track(&tempo, &notes, 20.0);
    // The last note: struck 20 ms after the last end, and held for good.
    track.truncate(track.len() - 4);
    track.extend([0x84, 0x58, 0x90, 38, 96, 0, 0xFF, 0x2F, 0]);
    takes::smf_of(&10_000u16.to_be_bytes(), &track)
}

#[test]
fn the_example_is_what_a_check_prints_to_the_byte() {
    let folder = schema_folder();
    let (take, json) = (
        folder.join("check.example.mid"),
        folder.join("check.example.json"),
    );
    let write = std::env::var_os("LEADSMAN_WRITE_EXAMPLE").is_some();
    if write {
        std::fs::write(&take, example_take()).expect("a written take");
    }
    assert_eq!(
        std::fs::read(&take).expect("the example's take"),
        example_take()
    );
    let args = ["check", "check.example.toml", "check.example.mid", "--json"];
    let output = takes::leadsman(&folder, &args)
        .output()
        .expect("a program that runs");
    assert_eq!(
        (
            output.status.code(),
            String::from_utf8_lossy(&output.stderr).as_ref()
        ),
        (Some(0), "")
    );
    if write {
        std::fs::write(&json, &output.stdout).expect("a written example");
    }
    let kept = std::fs::read(&json).expect("the example");
    assert_eq!(
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&kept)
    );
}

fn example() -> Value {
    let text =
        std::fs::read_to_string(schema_folder().join("check.example.json")).expect("the example");
    serde_json::from_str(&text).expect("JSON")
}

#[test]
fn the_example_is_of_the_schema_and_shows_every_part_of_it() {
    let json = example();
    assert_valid(&schema(), &json);
    let notes = json["notes"].as_array().unwrap();
    let any = |holds: &dyn Fn(&Value) -> bool| notes.iter().any(holds);
    assert!(any(&|note| note["played"].is_null()));
    assert!(any(
        &|note| note["expected"]["key"].is_null() && note["pitch"] == "unjudged"
    ));
    assert!(any(&|note| note["pitch"] == "wrong") && any(&|note| note["pitch"] == "octave"));
    assert!(any(
        &|note| note["displaced_beats"] == 0.5 && note["timing"] == "in"
    ));
    assert!(any(
        &|note| note["played"]["onset_s"].is_number() && note["played"]["length_s"].is_null()
    ));
    assert!(any(&|note| note["length"] == "rings") && any(&|note| note["timing"] == "late"));
    assert!(any(&|note| note["beat"] == 1.5
        && note["entry"] == true
        && note["degree"] == "5"));
    assert!(any(&|note| note["string"] == "D" && note["fret"] == 7));
    assert_eq!(json["extra"].as_array().unwrap().len(), 1);
    assert_eq!(json["findings"][0]["id"], "late-entries");
    let cleaned = r#"[{"rule": "octave-glitches", "at_s": 0.502, "key": 50, "into": 38}]"#;
    assert_eq!(
        json["cleaned"],
        serde_json::from_str::<Value>(cleaned).unwrap()
    );
    // The wrong note, the octave, the ghost and what is left of the missed one are told apart in the sums.
    let sum = &json["summary"];
    assert_eq!((&sum["missed"], &sum["extra"]), (&1.into(), &1.into()));
}

#[test]
fn the_schema_refuses_what_does_not_belong() {
    let schema = schema();
    let changes: [fn(&mut Value); 15] = [
        |json| json["sections"][0]["passes"] = 0.into(),
        |json| json["lean"] = 18.into(),
        |json| json["findings"][0]["practice"]["click"] = "off".into(),
        |json| json["cleaned"][0]["rule"] = "tidying".into(),
        |json| json["cleaned"][0]["at_s"] = Value::Null,
        |json| json["notes"][0]["grade"] = 1.into(),
        |json| json["notes"][0]["pitch"] = "sharp".into(),
        |json| json["notes"][0]["offset_ms"] = Value::Null,
        |json| json["take"]["start_s"] = Value::Null,
        |json| json["notes"][0]["timing"] = Value::Null,
        |json| json["take"]["trust"] = serde_json::json!({ "within_ms": 1.0 }),
        |json| json["summary"]["missed"] = (-1).into(),
        |json| json["convention"]["onset_tolerance_ms"] = 30.into(),
        |json| json["findings"][0]["id"] = "lateness".into(),
        |json| {
            json["notes"][0]
                .as_object_mut()
                .unwrap()
                .remove("ring_over_ms");
        },
    ];
    for change in changes {
        let mut json = example();
        change(&mut json);
        assert!(!schema.is_valid(&json));
    }
}

/// JSON with the order of its fields.
enum Ordered {
    Object(Vec<(String, Ordered)>),
    Array(Vec<Ordered>),
    Other,
}

impl<'de> Deserialize<'de> for Ordered {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Ordered, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = Ordered;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("JSON")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Ordered, A::Error> {
                let mut fields = Vec::new();
                while let Some(field) = map.next_entry()? {
                    fields.push(field);
                }
                Ok(Ordered::Object(fields))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Ordered, A::Error> {
                let mut items = Vec::new();
                while let Some(item) = list.next_element()? {
                    items.push(item);
                }
                Ok(Ordered::Array(items))
            }
            fn visit_bool<E>(self, _: bool) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
            fn visit_i64<E>(self, _: i64) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
            fn visit_u64<E>(self, _: u64) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
            fn visit_f64<E>(self, _: f64) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
            fn visit_str<E>(self, _: &str) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
            fn visit_unit<E>(self) -> Result<Ordered, E> {
                Ok(Ordered::Other)
            }
        }
        deserializer.deserialize_any(Reader)
    }
}

impl Ordered {
    fn names(&self) -> Vec<&str> {
        match self {
            Ordered::Object(fields) => fields.iter().map(|(name, _)| name.as_str()).collect(),
            _ => Vec::new(),
        }
    }

    fn get(&self, name: &str) -> &Ordered {
        match self {
            Ordered::Object(fields) => {
                &fields
                    .iter()
                    .find(|field| field.0 == name)
                    .expect("a field")
                    .1
            }
            Ordered::Array(items) => &items[name.parse::<usize>().expect("a number")],
            Ordered::Other => panic!("nothing in it"),
        }
    }
}

#[test]
fn the_fields_come_in_their_order() {
    let text =
        std::fs::read_to_string(schema_folder().join("check.example.json")).expect("the example");
    let json: Ordered = serde_json::from_str(&text).expect("JSON");
    assert_eq!(
        json.names(),
        [
            "schema",
            "line",
            "take",
            "notes",
            "extra",
            "cleaned",
            "summary",
            "sections",
            "lean",
            "new_tempi",
            "self_paced",
            "convention",
            "findings"
        ]
    );
    assert_eq!(
        json.get("line").names(),
        ["title", "file", "tempo", "speed", "bars", "notes"]
    );
    assert_eq!(
        json.get("take").names(),
        ["file", "start_s", "played", "trust"]
    );
    let note = json.get("notes").get("0");
    assert_eq!(
        note.names(),
        [
            "index",
            "section",
            "pass",
            "bar",
            "beat",
            "string",
            "fret",
            "degree",
            "entry",
            "upbeat",
            "skip",
            "expected",
            "played",
            "offset_ms",
            "displaced_beats",
            "length_ratio",
            "ring_over_ms",
            "pitch",
            "timing",
            "length"
        ]
    );
    assert_eq!(note.get("expected").names(), ["key", "onset_s", "length_s"]);
    assert_eq!(
        note.get("played").names(),
        ["key", "onset_s", "length_s", "velocity"]
    );
    assert_eq!(
        json.get("extra").get("0").names(),
        ["key", "onset_s", "length_s", "velocity"]
    );
    assert_eq!(
        json.get("summary").names(),
        [
            "expected",
            "matched",
            "missed",
            "extra",
            "pitch_right",
            "timing_in",
            "timing_unjudged",
            "length_in",
            "offset_mean_ms",
            "offset_sd_ms",
            "swing_ratio",
            "tempo_drift_pct"
        ]
    );
    assert_eq!(
        json.get("sections").get("0").names(),
        [
            "name",
            "passes",
            "expected",
            "matched",
            "missed",
            "pitch_right",
            "offset_mean_ms",
            "offset_sd_ms",
            "tempo_drift_pct",
            "timing_in",
            "length_in"
        ]
    );
    assert_eq!(
        json.get("findings").get("0").get("practice").names(),
        ["bars", "speed", "click"]
    );
    assert_eq!(
        json.get("convention").names(),
        [
            "onset_tolerance_ms",
            "matched",
            "precision",
            "recall",
            "f_measure"
        ]
    );
    assert_eq!(
        json.get("findings").get("0").names(),
        [
            "id",
            "count",
            "of",
            "mean_ms",
            "interval_ms",
            "text",
            "advice",
            "practice",
            "notes"
        ]
    );
}
