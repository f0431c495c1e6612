//! Phrases away from their beat, bars left out and played twice: followed, and the rest left in its place.

mod takes;

use takes::by_hand::*;
use takes::{Bench, Note};

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
