//! Takes with known errors at known places: the check says exactly those.
//!
//! Times are laid out by hand at 120 quarter notes a minute: a quarter note lasts 500 ms, and sounds for 450. Bar 1
//! beat 1 falls 2 s into each take.

mod takes;

use takes::by_hand::*;
use takes::{Note, note};

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
