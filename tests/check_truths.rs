//! Takes with known errors at known places: the check says exactly those.
//!
//! Times are laid out by hand at 120 quarter notes a minute: a quarter note lasts 500 ms, and sounds for 450. Bar 1
//! beat 1 falls 2 s into each take.

mod takes;

use serde_json::Value;
use takes::{Bench, Note, note};

const START_MS: f64 = 2000.0;
const E1: u8 = 28;
const A1: u8 = 33;
const D2: u8 = 38;
const G2: u8 = 43;

/// A line at 120 of one section, with more settings for its head.
fn line(head: &str, notes: &str) -> Bench {
    Bench::new(&format!(
        "title = \"By hand\"\nmeter = \"4/4\"\ntempo = 120\n{head}\n[[section]]\nname = \"A\"\nnotes = \"{notes}\"\n"
    ))
}

fn open_strings() -> Bench {
    line("", "E1/4 A1/4 D2/4 G2/4 | E1/4 A1/4 D2/4 G2/4")
}

const OPEN: [u8; 8] = [E1, A1, D2, G2, E1, A1, D2, G2];

/// Quarter notes in their place from bar 1 beat 1 on.
fn quarters(keys: &[u8]) -> Vec<Note> {
    every(500.0, keys)
}

fn every(ms: f64, keys: &[u8]) -> Vec<Note> {
    let at = |index: usize| index as f64 * ms;
    let keys = keys.iter().enumerate();
    keys.map(|(index, key)| note(at(index), *key, 0.9 * ms))
        .collect()
}

/// The JSON of a check of notes whose times are since bar 1 beat 1.
fn check(bench: &Bench, notes: &[Note], options: &[&str]) -> Value {
    let notes = takes::moved(notes, START_MS);
    bench.check(&notes, &[&["--start", "2"], options].concat())
}

fn field<'a>(json: &'a Value, index: usize, name: &str) -> &'a Value {
    &json["notes"][index][name]
}

fn number(json: &Value, index: usize, name: &str) -> f64 {
    field(json, index, name).as_f64().unwrap_or(f64::NAN)
}

/// One verdict on every note; `-` for null.
fn all<'a>(json: &'a Value, name: &str) -> Vec<&'a str> {
    let notes = json["notes"].as_array().expect("notes");
    notes
        .iter()
        .map(|note| note[name].as_str().unwrap_or("-"))
        .collect()
}

fn numbers(json: &Value, name: &str) -> Vec<f64> {
    let notes = json["notes"].as_array().expect("notes");
    notes
        .iter()
        .map(|note| note[name].as_f64().unwrap_or(f64::NAN))
        .collect()
}

/// The verdicts on one note: pitch, timing, length.
fn verdicts(json: &Value, index: usize) -> [String; 3] {
    ["pitch", "timing", "length"]
        .map(|name| field(json, index, name).as_str().unwrap_or("-").to_string())
}

#[test]
fn a_take_in_its_place_is_right_in_everything() {
    let json = check(&open_strings(), &quarters(&OPEN), &[]);
    for index in 0..8 {
        assert_eq!(verdicts(&json, index), ["right", "in", "in"]);
        assert_eq!(number(&json, index, "offset_ms"), 0.0);
        assert_eq!(number(&json, index, "length_ratio"), 1.0);
        assert_eq!(number(&json, index, "ring_over_ms"), 0.0);
    }
    assert_eq!(json["take"]["start_s"], 2.0);
    assert_eq!(json["convention"]["f_measure"], 1.0);
    assert_eq!(json["findings"], serde_json::json!([]));
}

#[test]
fn a_note_41_ms_late_reads_41_ms_late() {
    let mut notes = quarters(&OPEN);
    notes[3].at_ms += 41.0;
    let json = check(&open_strings(), &notes, &[]);
    assert!((number(&json, 3, "offset_ms") - 41.0).abs() < 0.025);
    assert_eq!(verdicts(&json, 3), ["right", "late", "in"]);
    assert_eq!(json["summary"]["timing_in"], 7);
    let mean = json["summary"]["offset_mean_ms"].as_f64().unwrap();
    assert!((mean - 41.0 / 8.0).abs() < 0.01);
}

#[test]
fn wrong_octave_missed_and_extra_notes_are_told_apart() {
    let mut notes = quarters(&OPEN);
    notes[1].key = A1 + 1;
    notes[2].key = D2 + 12;
    notes.remove(5);
    notes.push(note(3900.0, 50, 40.0));
    let json = check(&open_strings(), &notes, &[]);
    let pitch = all(&json, "pitch");
    assert_eq!(
        pitch,
        [
            "right", "wrong", "octave", "right", "right", "-", "right", "right"
        ]
    );
    assert!(field(&json, 5, "played").is_null() && field(&json, 5, "offset_ms").is_null());
    assert_eq!(json["extra"].as_array().map(Vec::len), Some(1));
    assert_eq!(json["extra"][0]["key"], 50);
    assert_eq!(json["extra"][0]["onset_s"], 3.9);
    let sum = &json["summary"];
    assert_eq!(
        (&sum["matched"], &sum["missed"], &sum["extra"]),
        (&7.into(), &1.into(), &1.into())
    );
    assert_eq!(sum["pitch_right"], 5);
}

#[test]
fn the_edges_of_the_timing_window_are_inside() {
    let mut notes = quarters(&OPEN);
    for (note, offset) in notes.iter_mut().zip([30.0, 30.05, -30.0, -30.05]) {
        note.at_ms += offset;
    }
    let json = check(&open_strings(), &notes, &[]);
    assert_eq!(all(&json, "timing")[..4], ["in", "late", "in", "early"]);
    let json = check(
        &open_strings(),
        &notes,
        &["--lean", "-10", "--window", "20"],
    );
    assert_eq!(
        all(&json, "timing")[..5],
        ["late", "late", "in", "early", "in"]
    );
}

#[test]
fn the_length_window_is_the_larger_of_50_ms_and_20_percent_edges_inside() {
    let wide = ["--ring-window", "1000"];
    // 450 ms: 20 % is 90 ms.
    let mut notes = quarters(&OPEN);
    for (note, length) in notes.iter_mut().zip([540.0, 540.05, 360.0, 359.95]) {
        note.length_ms = length;
    }
    let json = check(&open_strings(), &notes, &wide);
    assert_eq!(all(&json, "length")[..4], ["in", "long", "in", "short"]);
    // 112.5 ms: 20 % is less than 50 ms.
    let bench = line("", "E1/16 A1/16 D2/16 G2/16 r/4 r/2");
    let mut notes = every(125.0, &OPEN[..4]);
    for (note, length) in notes.iter_mut().zip([162.5, 162.55, 62.5, 62.45]) {
        note.length_ms = length;
    }
    let json = check(&bench, &notes, &wide);
    assert_eq!(all(&json, "length"), ["in", "long", "in", "short"]);
    let json = check(
        &bench,
        &notes,
        &[
            &wide[..],
            &["--length-window", "0", "--length-percent", "45"],
        ]
        .concat(),
    );
    assert_eq!(all(&json, "length"), ["in", "in", "in", "in"]);
}

#[test]
fn a_note_marked_short_sounds_for_a_quarter_to_65_hundredths_of_its_written_length() {
    let bench = line("", "E1/4' A1/4' D2/4' G2/4' | E1/4m A1/4m x/4 x/4");
    let mut notes = quarters(&OPEN);
    let lengths = [125.0, 124.95, 325.0, 325.05, 20.0, 325.05, 20.0, 325.05];
    for (note, length) in notes.iter_mut().zip(lengths) {
        note.length_ms = length;
    }
    let json = check(&bench, &notes, &[]);
    let length = all(&json, "length");
    assert_eq!(
        length,
        ["in", "short", "in", "long", "in", "long", "in", "long"]
    );
    assert_eq!(number(&json, 0, "length_ratio"), 0.5);
}

#[test]
fn a_note_rings_when_it_outlasts_the_next_onset_as_played_by_more_than_30_ms() {
    let mut notes = quarters(&OPEN);
    notes[0].length_ms = 530.0;
    notes[1].length_ms = 531.0;
    notes[3].at_ms += 20.0;
    notes[2].length_ms = 540.0;
    let json = check(&open_strings(), &notes, &[]);
    assert_eq!(all(&json, "length")[..3], ["in", "rings", "in"]);
    let over = numbers(&json, "ring_over_ms");
    assert_eq!(over[..3], [30.0, 31.0, 20.0]);
}

#[test]
fn a_note_rings_into_a_written_rest_and_past_the_end_of_the_line() {
    let bench = line("", "E1/4 r/4 D2/4 r/4 | E1/4 A1/4 D2/4 G2/4");
    let mut notes = quarters(&OPEN);
    notes[0].length_ms = 530.0;
    notes[2].length_ms = 531.0;
    notes[7].length_ms = 531.0;
    notes.remove(3);
    notes.remove(1);
    let json = check(&bench, &notes, &[]);
    assert_eq!(
        all(&json, "length"),
        ["in", "rings", "in", "in", "in", "rings"]
    );
    assert_eq!(number(&json, 1, "ring_over_ms"), 31.0);
    assert_eq!(number(&json, 5, "ring_over_ms"), 31.0);
}

#[test]
fn a_ghost_note_left_out_is_not_missed_and_one_played_counts() {
    let bench = line("", "E1/4 A1/4? D2/4 G2/4 | E1/4 A1/4? D2/4 G2/4");
    let mut notes = quarters(&OPEN);
    notes.remove(1);
    let json = check(&bench, &notes, &[]);
    let sum = &json["summary"];
    assert_eq!(
        (&sum["expected"], &sum["matched"], &sum["missed"]),
        (&7.into(), &7.into(), &0.into())
    );
    assert!(field(&json, 1, "played").is_null());
    assert_eq!(verdicts(&json, 5), ["right", "in", "in"]);
    assert_eq!(json["convention"]["recall"], 1.0);
}

#[test]
fn a_dead_note_has_no_pitch_to_be_wrong() {
    let bench = line("", "E1/4 x/4 D2/4 x@G/4 | E1/4 A1/4 D2/4 G2/4");
    let mut notes = quarters(&OPEN);
    for (index, key) in [(1, 60), (3, 20)] {
        notes[index].key = key;
        notes[index].length_ms = 60.0;
    }
    let json = check(&bench, &notes, &[]);
    assert!(json["notes"][1]["expected"]["key"].is_null());
    assert_eq!(verdicts(&json, 1), ["unjudged", "in", "in"]);
    assert_eq!(verdicts(&json, 3), ["unjudged", "in", "in"]);
    assert_eq!(field(&json, 3, "string"), "G");
    assert_eq!(json["summary"]["pitch_right"], 6);
    assert_eq!(json["convention"]["f_measure"], 1.0);
}

#[test]
fn the_notes_of_a_double_stop_may_come_in_either_order() {
    let bench = line("", "D2+A2/2 E2+B2/2 | D2+A2/2 E2+B2/2");
    let stop = |at: f64, low: u8, high: u8, first_ms: f64| {
        [note(at - first_ms, high, 900.0), note(at, low, 900.0)]
    };
    let notes: Vec<Note> = [
        stop(0.0, 38, 45, 4.0),
        stop(1000.0, 40, 47, -4.0),
        stop(2000.0, 38, 45, 0.0),
        stop(3000.0, 40, 47, 12.0),
    ]
    .concat();
    let json = check(&bench, &notes, &[]);
    assert_eq!(all(&json, "pitch"), ["right"; 8]);
    assert_eq!(json["extra"], serde_json::json!([]));
    assert_eq!(
        numbers(&json, "offset_ms"),
        [0.0, -4.0, 0.0, 4.0, 0.0, 0.0, 0.0, -12.0]
    );
    assert_eq!(all(&json, "length"), ["in"; 8]);
}

#[test]
fn one_key_sounding_on_two_strings_is_two_notes_with_their_own_ends() {
    let bench = line("", "E:5/4 A:0/4 r/2 | E:5/4 A:0/4 r/2");
    let notes = [
        note(0.0, A1, 1200.0).on_channel(4),
        note(500.0, A1, 450.0).on_channel(3),
        note(2000.0, A1, 450.0).on_channel(4),
        note(2500.0, A1, 450.0).on_channel(3),
    ];
    let json = check(&bench, &notes, &[]);
    assert_eq!(all(&json, "string"), ["E", "A", "E", "A"]);
    assert_eq!(numbers(&json, "fret"), [5.0, 0.0, 5.0, 0.0]);
    assert_eq!(json["notes"][0]["played"]["length_s"], 1.2);
    assert_eq!(all(&json, "length"), ["rings", "in", "in", "in"]);
    assert_eq!(number(&json, 0, "ring_over_ms"), 700.0);
}

#[test]
fn of_one_pitch_at_sixteenths_each_note_finds_its_own_and_the_one_left_out_is_named() {
    let bar = ["E1/16"; 16].join(" ");
    let bench = line("", &format!("{bar} | {bar}"));
    let mut notes = every(125.0, &[E1; 32]);
    let offsets = [20.0, -25.0, 10.0, 0.0, -15.0, 25.0, -5.0];
    for (index, note) in notes.iter_mut().enumerate() {
        note.at_ms += offsets[index % 7];
        note.length_ms = 90.0;
    }
    notes.remove(13);
    let json = check(&bench, &notes, &[]);
    for index in (0..32).filter(|index| *index != 13) {
        assert_eq!(
            number(&json, index, "offset_ms"),
            offsets[index % 7],
            "note {index}"
        );
    }
    assert!(field(&json, 13, "played").is_null());
    assert_eq!(field(&json, 13, "beat"), 4.25);
    assert_eq!(json["summary"]["extra"], 0);
}

/// Six bars in which no two neighbours are alike.
fn six_bars() -> (Bench, Vec<u8>) {
    let bars = [
        "C2/4 E2/4 G2/4 A2/4",
        "F1/4 A1/4 C2/4 D2/4",
        "G1/4 B1/4 D2/4 E2/4",
        "A1/4 C2/4 E2/4 F2/4",
        "D2/4 F2/4 A2/4 B2/4",
        "G1/4 A1/4 B1/4 C2/4",
    ];
    let keys = [
        36, 40, 43, 45, 29, 33, 36, 38, 31, 35, 38, 40, 33, 36, 40, 41, 38, 41, 45, 47, 31, 33, 35,
        36,
    ];
    (line("", &bars.join(" | ")), keys.to_vec())
}

/// Bars 3 and 4 of [`six_bars`], moved.
fn with_phrase_moved(keys: &[u8], by_ms: f64) -> Vec<Note> {
    let mut notes = quarters(keys);
    notes[8..16].iter_mut().for_each(|note| note.at_ms += by_ms);
    notes
}

#[test]
fn a_phrase_a_beat_late_is_followed_and_the_rest_stays_in_place() {
    let (bench, keys) = six_bars();
    let mut notes = with_phrase_moved(&keys, 500.0);
    // The first beat of bar 5 is taken by the phrase's last note.
    notes.remove(16);
    notes[9].at_ms += 41.0;
    let json = check(&bench, &notes, &[]);
    let displaced = numbers(&json, "displaced_beats");
    for (index, displaced) in displaced.iter().enumerate() {
        let by = if (8..16).contains(&index) { 1.0 } else { 0.0 };
        assert_eq!(*displaced, by, "note {index}");
        if index == 16 {
            assert!(field(&json, index, "played").is_null());
            continue;
        }
        let late = if index == 9 { 41.0 } else { 0.0 };
        assert_eq!(number(&json, index, "offset_ms"), 500.0 * by + late);
        let timing = if index == 9 { "late" } else { "in" };
        assert_eq!(verdicts(&json, index)[..2], ["right", timing]);
    }
    assert_eq!(
        (&json["summary"]["missed"], &json["summary"]["extra"]),
        (&1.into(), &0.into())
    );
    assert!((json["summary"]["offset_mean_ms"].as_f64().unwrap() - 41.0 / 23.0).abs() < 0.01);
}

#[test]
fn a_phrase_half_a_beat_early_or_late_is_followed() {
    let (bench, keys) = six_bars();
    for (by_ms, beats) in [(250.0, 0.5), (-250.0, -0.5)] {
        let json = check(&bench, &with_phrase_moved(&keys, by_ms), &[]);
        let displaced = numbers(&json, "displaced_beats");
        assert_eq!(displaced[..8], [0.0; 8]);
        assert_eq!(displaced[8..16], [beats; 8]);
        assert_eq!(displaced[16..], [0.0; 8]);
        assert_eq!(all(&json, "timing"), ["in"; 24]);
        assert_eq!(all(&json, "pitch"), ["right"; 24]);
        assert_eq!(number(&json, 10, "offset_ms"), by_ms);
        assert_eq!(json["summary"]["timing_in"], 24);
    }
}

#[test]
fn a_bar_left_out_is_missed_and_what_follows_is_a_bar_early() {
    let (bench, keys) = six_bars();
    let played = [&keys[..8], &keys[12..]].concat();
    let json = check(&bench, &quarters(&played), &[]);
    let displaced = numbers(&json, "displaced_beats");
    assert_eq!(displaced[..12], [0.0; 12]);
    assert_eq!(displaced[12..], [-4.0; 12]);
    let missed: Vec<usize> = (0..24)
        .filter(|i| field(&json, *i, "played").is_null())
        .collect();
    assert_eq!(missed, [8, 9, 10, 11]);
    assert_eq!(number(&json, 20, "offset_ms"), -2000.0);
    assert_eq!(json["summary"]["extra"], 0);
}

#[test]
fn a_bar_played_twice_leaves_four_extra_notes_and_a_bar_late() {
    let (bench, keys) = six_bars();
    let played = [&keys[..12], &keys[8..]].concat();
    let json = check(&bench, &quarters(&played), &[]);
    let displaced = numbers(&json, "displaced_beats");
    assert_eq!(
        displaced[..12],
        [0.0; 12],
        "the first time through is the written one"
    );
    assert_eq!(displaced[12..], [4.0; 12]);
    assert_eq!(all(&json, "timing"), ["in"; 24]);
    let extra: Vec<u64> = json["extra"]
        .as_array()
        .unwrap()
        .iter()
        .map(|n| n["key"].as_u64().unwrap())
        .collect();
    assert_eq!(extra, [31, 35, 38, 40]);
}

#[test]
fn six_eight_slips_by_an_eighth_a_third_of_its_beat() {
    let bench = line("", "A1/8 C2/8 E2/8 G2/8 E2/8 C2/8");
    let bars = "A1/8 C2/8 E2/8 G2/8 E2/8 C2/8 | D2/8 F2/8 A2/8 C3/8 A2/8 F2/8 | E1/8 G1/8 B1/8 D2/8 B1/8 G1/8 | A1/4. A2/4.";
    bench.write(
        "line.toml",
        format!("title = \"Six\"\nmeter = \"6/8\"\ntempo = 90\n[[section]]\nname = \"A\"\nnotes = \"{bars}\"\n").as_bytes(),
    );
    // 90 quarter notes a minute: an eighth lasts 1000/3 ms.
    let keys = [
        33, 36, 40, 43, 40, 36, 38, 41, 45, 48, 45, 41, 28, 31, 35, 38, 35, 31,
    ];
    let mut notes = every(1000.0 / 3.0, &keys);
    notes[6..]
        .iter_mut()
        .for_each(|note| note.at_ms += 1000.0 / 3.0);
    let json = check(&bench, &notes, &[]);
    let displaced = numbers(&json, "displaced_beats");
    assert_eq!(displaced[..6], [0.0; 6]);
    assert!(
        displaced[6..18]
            .iter()
            .all(|beats| (beats - 1.0 / 3.0).abs() < 1e-9),
        "{displaced:?}"
    );
    assert_eq!(field(&json, 3, "beat"), 2.0);
    assert_eq!(all(&json, "timing")[..18], ["in"; 18]);
}

#[test]
fn a_pickup_is_bar_0_and_comes_before_the_start() {
    let bench = line("pickup = true", "D2/8 E2/8 | E1/4 A1/4 D2/4 G2/4");
    let mut notes = quarters(&OPEN[..4]);
    notes.extend([note(-500.0, 38, 225.0), note(-250.0, 40, 225.0)]);
    let json = check(&bench, &notes, &[]);
    assert_eq!(all(&json, "pitch"), ["right"; 6]);
    assert_eq!(
        (field(&json, 0, "bar"), field(&json, 0, "beat")),
        (&0.into(), &4.0.into())
    );
    assert_eq!(
        (field(&json, 1, "bar"), field(&json, 1, "beat")),
        (&0.into(), &4.5.into())
    );
    assert_eq!(
        (field(&json, 2, "bar"), field(&json, 2, "beat")),
        (&1.into(), &1.0.into())
    );
    assert_eq!(json["notes"][0]["expected"]["onset_s"], -0.5);
    assert_eq!(field(&json, 0, "entry"), true);
}

#[test]
fn latency_is_taken_out_before_anything_is_judged() {
    let mut notes = quarters(&OPEN);
    for note in &mut notes {
        let f0 = 440.0 * 2f64.powf((f64::from(note.key) - 69.0) / 12.0);
        note.at_ms += 6.0 + 1.5 * 1000.0 / f0;
    }
    let json = check(
        &open_strings(),
        &notes,
        &["--latency", "6", "--latency-periods", "1.5"],
    );
    for offset in numbers(&json, "offset_ms") {
        assert!(offset.abs() < 0.026, "{offset}");
    }
    let json = check(&open_strings(), &notes, &["--latency", "6"]);
    // 1.5 periods of E1 are 36.4 ms, of G2 15.3 ms.
    assert_eq!(all(&json, "timing")[..4], ["late", "in", "in", "in"]);
}

#[test]
fn of_several_channels_one_can_be_chosen() {
    let mut notes: Vec<Note> = quarters(&OPEN)
        .iter()
        .map(|note| note.on_channel(2))
        .collect();
    notes.extend((0..8).map(|n| note(f64::from(n) * 400.0 + 133.0, 60, 90.0).on_channel(10)));
    let json = check(&open_strings(), &notes, &[]);
    assert_eq!(json["summary"]["extra"], 8);
    let json = check(&open_strings(), &notes, &["--channel", "2"]);
    assert_eq!(
        (&json["summary"]["extra"], &json["take"]["played"]),
        (&0.into(), &8.into())
    );
    assert_eq!(all(&json, "pitch"), ["right"; 8]);
}

#[test]
fn an_instrument_that_sends_written_pitch_is_moved_down_an_octave() {
    let notes: Vec<Note> = quarters(&OPEN)
        .iter()
        .map(|n| Note {
            key: n.key + 12,
            ..*n
        })
        .collect();
    let json = check(&open_strings(), &notes, &["--octave", "-1"]);
    assert_eq!(all(&json, "pitch"), ["right"; 8]);
    assert_eq!(json["notes"][0]["played"]["key"], E1);
}

#[test]
fn speed_scales_the_click_and_swing_bends_only_the_upbeats() {
    let bench = line("swing = \"2:1\"", "E1/8 A1/8 D2/8 G2/8 E1/8 A1/8 D2/8 G2/8");
    // At 50 % a beat lasts 1 s; the short half of a pair starts at its last third.
    let onsets = [
        0.0, 666.65, 1000.0, 1666.65, 2000.0, 2666.65, 3000.0, 3666.65,
    ];
    let notes: Vec<Note> = onsets
        .iter()
        .zip(OPEN)
        .map(|(at, key)| note(*at, key, 300.0))
        .collect();
    let json = check(&bench, &notes, &["--speed", "50"]);
    for offset in numbers(&json, "offset_ms") {
        assert!(offset.abs() < 0.05, "{offset}");
    }
    assert_eq!(json["line"]["speed"], 50.0);
    let upbeats: Vec<bool> = (0..8).map(|i| field(&json, i, "upbeat") == true).collect();
    assert_eq!(upbeats, [false, true].repeat(4));
    assert_eq!(numbers(&json, "beat")[..3], [1.0, 1.5, 2.0]);
}
