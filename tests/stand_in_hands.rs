//! Habits of the stand-in that are about the hands: strokes, strings, fingers, lengths, keys. Each does what it says, and
//! nothing else.

mod playing;

use leadsman::expected::Expected;
use leadsman::played::MidiMessage;
use playing::{keys, lengths_ms, offsets_ms, play, section, unrolled};

fn one_section(settings: &str, notes: &str) -> Expected {
    unrolled("", &[section(settings, notes)])
}

fn all(values: &[f64]) -> Vec<Option<f64>> {
    values.iter().copied().map(Some).collect()
}

fn velocities(expected: &Expected, habits: &str) -> Vec<u8> {
    let events = play(expected, habits).events;
    let velocity = |message: &MidiMessage| match message {
        MidiMessage::NoteOn { velocity, .. } => Some(*velocity),
        _ => None,
    };
    events.iter().filter_map(|e| velocity(&e.message)).collect()
}

#[test]
fn up_strokes_differ_in_time_length_and_velocity_each_by_itself() {
    let line = one_section("strokes = \"d u d u\"", "A1/4 A1/4 A1/4 A1/4");
    let plain = ([0.0; 4], [450.0; 4], [80; 4]);
    for (habit, offsets, lengths, loudness) in [
        ("up-strokes-ms=20", [0.0, 20.0, 0.0, 20.0], plain.1, plain.2),
        (
            "up-strokes-length=0.5",
            plain.0,
            [450.0, 225.0, 450.0, 225.0],
            plain.2,
        ),
        (
            "up-strokes-velocity=-15",
            plain.0,
            plain.1,
            [80, 65, 80, 65],
        ),
    ] {
        assert_eq!(offsets_ms(&line, habit), all(&offsets), "{habit}");
        assert_eq!(lengths_ms(&line, habit), all(&lengths), "{habit}");
        assert_eq!(velocities(&line, habit), loudness, "{habit}");
    }
}

#[test]
fn without_strokes_none_is_an_up_stroke() {
    let line = one_section("", "A1/4 A1/4 A1/4 A1/4");
    let habits = "up-strokes-ms=20,up-strokes-length=0.5,up-strokes-velocity=9";
    assert_eq!(play(&line, habits), play(&line, "exact"));
}

#[test]
fn notes_after_a_crossing_move_alone() {
    let by_string = one_section("", "E:5/4 A:0/4 A:12/4 D:0/4");
    let wanted = all(&[0.0, 25.0, 0.0, 25.0]);
    assert_eq!(offsets_ms(&by_string, "crossings-ms=25"), wanted);
    let by_leap = one_section("", "A1/4 D2/4 F2/4 A2/4");
    let wanted = all(&[0.0, 25.0, 0.0, 0.0]);
    assert_eq!(offsets_ms(&by_leap, "crossings-ms=25"), wanted);
}

#[test]
fn notes_after_a_shift_of_the_hand_move_alone() {
    // Fret 5 to 8 is in reach; open strings wait for no hand; 8 to 3 by way of one is a shift.
    let line = one_section("", "A:5/4 A:8/4 D:0/4 D:3/4 | D:7/4 A:7/4 A1/4 A:12/4");
    let wanted = all(&[0.0, 0.0, 0.0, 30.0, 30.0, 0.0, 0.0, 30.0]);
    assert_eq!(offsets_ms(&line, "shifts-ms=30"), wanted);
}

#[test]
fn notes_of_the_fourth_finger_move_alone() {
    let line = one_section("fingers = \"1 4 3 4\"", "F1/4 G#1/4 G1/4 G#1/4");
    let wanted = all(&[0.0, 15.0, 0.0, 15.0]);
    assert_eq!(offsets_ms(&line, "fourth-finger-ms=15"), wanted);
}

#[test]
fn mutes_stay_open_until_the_next_strike_at_most() {
    let line = one_section("", "A1/4m A1/4' A1/8 r/8 A1/4' | A1/8m r/8 r/2.");
    let written = all(&[250.0, 250.0, 225.0, 250.0, 125.0]);
    assert_eq!(lengths_ms(&line, "exact"), written);
    let open = all(&[350.0, 350.0, 225.0, 350.0, 225.0]);
    assert_eq!(lengths_ms(&line, "mutes-open-ms=100"), open);
    let capped = all(&[500.0, 500.0, 225.0, 500.0, 525.0]);
    assert_eq!(lengths_ms(&line, "mutes-open-ms=400"), capped);
}

/// 132 is 10 % faster than 120 and 144 is 20 %.
#[test]
fn fast_notes_are_short_by_their_speed() {
    let parts = ["", "tempo = 132", "tempo = 144"].map(|tempo| section(tempo, "A1/4 C2/2."));
    let line = unrolled("", &parts);
    let shares: Vec<f64> = lengths_ms(&line, "fast-notes-short=0.8")
        .iter()
        .zip(&line.notes)
        .map(|(length, note)| length.expect("a note") / note.sounding.ms())
        .collect();
    for (share, wanted) in shares.iter().zip([1.0, 1.0, 0.8, 0.8, 0.64, 0.64]) {
        assert!((share - wanted).abs() < 1e-6, "{shares:?}");
    }
}

/// E1 to G4 are on the instrument: low notes slip up, high ones down.
#[test]
fn an_octave_slips_to_where_the_instrument_goes() {
    let line = one_section("", "E1/4 D#2/4 G4/4 G#3/4");
    assert_eq!(keys(&line, "octave-slips=1"), [40, 51, 55, 44]);
    let middle = one_section(
        "passes = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0]",
        "A2/4 A2/4 A2/4 A2/4",
    );
    let slips = keys(&middle, "octave-slips=0.5");
    let count = |key| slips.iter().filter(|played| **played == key).count();
    assert_eq!(count(33) + count(45) + count(57), 40);
    assert!(count(33) > 3 && count(45) > 9 && count(57) > 3, "{slips:?}");
}

#[test]
fn a_note_of_a_double_stop_slips_to_no_other_ones_key() {
    let line = one_section("", "E1+E2/1");
    assert_eq!(keys(&line, "octave-slips=1"), [28, 52]);
}

#[test]
fn the_next_string_has_the_same_fret() {
    // Lowest and highest strings have one neighbour; the third string of this tuning is a third below the second.
    let head = "tuning = \"E1 A1 C#2 G2\"";
    let line = unrolled(head, &[section("", "E:3/4 G:3/4 E:0/4 G:5/4")]);
    assert_eq!(keys(&line, "next-string=1"), [36, 40, 33, 42]);
    let line = unrolled(
        head,
        &[section(
            "passes = [0, 0, 0, 0, 0]",
            "A:3/4 A:3/4 A:3/4 A:3/4",
        )],
    );
    let slips = keys(&line, "next-string=1");
    assert!(slips.iter().all(|key| [31, 40].contains(key)), "{slips:?}");
    assert!(slips.contains(&31) && slips.contains(&40));
}

#[test]
fn the_next_string_is_a_fourth_away_where_the_line_names_none() {
    let line = one_section("", "E1/4 F1/4 G4/4 F4/4");
    assert_eq!(keys(&line, "next-string=1"), [33, 34, 62, 60]);
}

#[test]
fn flat_sevenths_or_minor_thirds_are_raised_wherever_they_are() {
    let line = one_section(
        "key = \"D minor\"",
        "D2/4 F2/4 C2/4 C#2/4 | F1/4 G1/4 C3/4 x/4",
    );
    assert_eq!(keys(&line, "exact"), [38, 41, 36, 37, 29, 31, 48, 48]);
    assert_eq!(
        keys(&line, "raised-sevenths=1"),
        [38, 41, 37, 37, 29, 31, 49, 48]
    );
    assert_eq!(
        keys(&line, "major-thirds=1"),
        [38, 42, 36, 37, 30, 31, 48, 48]
    );
}

#[test]
fn the_old_key_is_kept_for_two_bars_of_a_pass_in_another() {
    let line = one_section("passes = [0, 2, 2, -1]", "A1/1 | C2/1 | D2/1");
    let wanted = [33, 36, 38, 33, 36, 40, 35, 38, 40, 35, 38, 37];
    assert_eq!(keys(&line, "old-key=1"), wanted);
}

#[test]
fn a_slip_of_one_kind_leaves_the_chances_of_the_others_alone() {
    let line = one_section(
        "passes = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0]",
        "A2/4 A2/4 A2/4 A2/4",
    );
    let plain = keys(&line, "wrong-frets=0.3");
    let both = keys(
        &line,
        "wrong-frets=0.3,octave-slips=0.5,next-string=0.3,rough-bars-ms=9",
    );
    let fret = |key: &u8| {
        [40, 45, 50, 33, 57]
            .iter()
            .map(|at| *key as i8 - at)
            .min_by_key(|by| by.abs())
    };
    for (plain, both) in plain.iter().zip(&both) {
        assert_eq!(fret(plain), fret(both));
    }
}
