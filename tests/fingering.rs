//! Fingerings of lines worked out by hand, and what holds for every line.

mod line_strategy;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::fingering::{Fingering, Placed, Source};
use leadsman::line::Line;
use leadsman::line::parse::parse;
use proptest::prelude::*;

/// One section in 4/4 on a bass in fourths.
fn line(notes: &str) -> Line {
    let text = format!(
        "title = \"Test\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\nnotes = \"{notes}\"\n"
    );
    parse(&text, "test.toml").unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)))
}

fn unrolled(line: &Line) -> Expected {
    unroll(line, Speed::WRITTEN)
}

fn fingering(line: &Line) -> Fingering {
    Fingering::of(&unrolled(line))
}

fn fingered(notes: &str, fingers: &[&[u8]]) -> Fingering {
    let mut line = line(notes);
    line.sections[0].fingers = Some(fingers.iter().map(|bar| bar.to_vec()).collect());
    fingering(&line)
}

/// String and fret, `E3`; the strings of a bass in fourths.
fn spots(fingering: &Fingering) -> Vec<String> {
    let spot = |placed: &Placed| match (placed.string, placed.fret) {
        (Some(string), Some(fret)) => {
            format!("{}{fret}", ["G", "D", "A", "E"][usize::from(string) - 1])
        }
        (Some(string), None) => ["Gx", "Dx", "Ax", "Ex"][usize::from(string) - 1].into(),
        _ => "-".into(),
    };
    fingering.places.iter().map(spot).collect()
}

fn positions(fingering: &Fingering) -> Vec<Option<u8>> {
    fingering
        .places
        .iter()
        .map(|placed| placed.position)
        .collect()
}

fn fingers(fingering: &Fingering) -> Vec<Option<u8>> {
    fingering
        .places
        .iter()
        .map(|placed| placed.finger)
        .collect()
}

fn crossings(fingering: &Fingering) -> Vec<Option<i8>> {
    let moves = fingering.moves.iter();
    moves.map(|moved| moved.crossing.map(|d| d.by)).collect()
}

fn shifts(fingering: &Fingering) -> Vec<Option<i8>> {
    let moves = fingering.moves.iter();
    moves.map(|moved| moved.shift.map(|d| d.by)).collect()
}

const G_MAJOR: &str = "G1/4 A1/4 B1/4 C2/4 | D2/4 E2/4 F#2/4 G2/4";
const IN_SECOND_POSITION: [&str; 8] = ["E3", "E5", "A2", "A3", "A5", "D2", "D4", "D5"];

/// The closed fingering of a major scale, one finger a fret from the second finger (common practice).
#[test]
fn a_major_scale_from_the_second_finger_stays_in_one_position() {
    let found = fingering(&line(G_MAJOR));
    assert_eq!(spots(&found), IN_SECOND_POSITION);
    assert_eq!(positions(&found), [Some(2); 8]);
    assert_eq!(fingers(&found), [2, 4, 1, 2, 4, 1, 3, 4].map(Some));
    let written = fingered(G_MAJOR, &[&[2, 4, 1, 2], &[4, 1, 3, 4]]);
    assert_eq!(written, found);
}

#[test]
fn written_fingers_choose_the_open_strings() {
    let found = fingered(G_MAJOR, &[&[4, 0, 2, 4], &[0, 2, 4, 0]]);
    assert_eq!(
        spots(&found),
        ["E3", "A0", "A2", "A3", "D0", "D2", "D4", "G0"]
    );
    assert_eq!(found.places[1].position, None);
    assert_eq!(found.places[1].finger, Some(0));
}

#[test]
fn a_line_of_open_strings_is_played_open() {
    let found = fingering(&line("E1/4 A1/4 D2/4 G2/4 | D2/4 A1/4 E1/2"));
    assert_eq!(spots(&found), ["E0", "A0", "D0", "G0", "D0", "A0", "E0"]);
    assert_eq!(positions(&found), [None; 7]);
    assert_eq!(
        crossings(&found),
        [
            None,
            Some(1),
            Some(1),
            Some(1),
            Some(-1),
            Some(-1),
            Some(-1)
        ]
    );
    assert_eq!(shifts(&found), [None; 7]);
}

/// An octave lies two strings and two frets up (common practice).
#[test]
fn an_octave_leap_goes_two_strings_and_two_frets_up() {
    for (notes, wanted) in [
        ("F1/2 F2/2", ["E1", "D3"]),
        ("G1/2 G2/2", ["E3", "D5"]),
        ("Bb1/2 Bb2/2", ["A1", "G3"]),
        ("C2/2 C3/2", ["A3", "G5"]),
    ] {
        let found = fingering(&line(notes));
        assert_eq!(spots(&found), wanted);
        assert_eq!(crossings(&found), [None, Some(2)]);
        assert_eq!(shifts(&found), [None, Some(0)]);
    }
}

#[test]
fn a_named_string_is_kept_and_is_written() {
    let found = fingering(&line("D2@E/4 D2/4 F1/4 E2@A/4"));
    assert_eq!(found.places[0].string, Some(4));
    assert_eq!(found.places[0].fret, Some(10));
    assert_eq!(found.places[0].source, Source::Written);
    assert_eq!(found.places[1].source, Source::Likely);
    assert_eq!(found.places[3].fret, Some(7));
}

#[test]
fn a_move_is_written_only_where_the_line_says_enough() {
    let sources = |found: &Fingering| {
        let moved = found.moves[1];
        (
            moved.crossing.map(|d| d.source),
            moved.shift.map(|d| d.source),
        )
    };
    let (written, likely) = (Some(Source::Written), Some(Source::Likely));
    let named = "C2@A/2 G2@D/2";
    assert_eq!(sources(&fingering(&line(named))), (written, likely));
    assert_eq!(sources(&fingered(named, &[&[1, 1]])), (written, written));
    assert_eq!(
        sources(&fingered("C2@A/2 G2/2", &[&[1, 1]])),
        (likely, likely)
    );
    let found = fingered(named, &[&[1, 1]]);
    assert_eq!(shifts(&found), [None, Some(2)]);
    assert_eq!(positions(&found), [Some(3), Some(5)]);
}

#[test]
fn a_passage_moved_up_a_tone_keeps_its_shape() {
    // Octaves, and a scale whose fingers alone are written: no open strings in either.
    let octaves = line("F1/4 F2/4 F1/4 F2/4 | Bb1/4 Bb2/4 F2/4 F1/4");
    let mut scale = line(G_MAJOR);
    scale.sections[0].fingers = Some(vec![vec![2, 4, 1, 2], vec![4, 1, 3, 4]]);
    for mut line in [octaves, scale] {
        line.sections[0].passes = vec![0, 2];
        let found = fingering(&line);
        let (first, second) = found.places.split_at(found.places.len() / 2);
        for (before, after) in first.iter().zip(second) {
            assert!(before.fret > Some(0));
            assert_eq!(before.string, after.string);
            assert_eq!(before.fret.map(|fret| fret + 2), after.fret);
        }
    }
}

#[test]
fn a_named_string_stays_in_a_pass_and_its_fret_moves() {
    let mut line = line("C2@A/1");
    line.sections[0].passes = vec![0, 5];
    assert_eq!(spots(&fingering(&line)), ["A3", "A8"]);
}

#[test]
fn a_written_open_string_is_passed_over_where_the_pass_has_left_it() {
    let mut line = line("A1@A/1");
    line.sections[0].fingers = Some(vec![vec![0]]);
    line.sections[0].passes = vec![0, 1];
    let found = fingering(&line);
    assert_eq!(spots(&found), ["A0", "A1"]);
    assert_eq!(fingers(&found), [Some(0), Some(1)]);
}

#[test]
fn the_notes_of_a_double_stop_have_a_string_each_under_one_hand() {
    for (notes, wanted) in [
        ("C2+G2/1", ["A3", "D5"]),
        ("C2+E2/1", ["A3", "D2"]),
        ("F1+C2/1", ["E1", "A3"]),
    ] {
        let found = fingering(&line(notes));
        assert_eq!(spots(&found), wanted);
        assert_eq!(found.places[0].position, found.places[1].position);
        assert_eq!(found.moves[0], found.moves[1]);
    }
    // Each alone would lie on the A string.
    let crowded = fingering(&line("A1+B1/1"));
    assert_eq!(spots(&crowded), ["E5", "A2"]);
}

/// A tenth on named strings, twelve frets wide: nobody's hand, but it is what the line says.
#[test]
fn a_stretch_that_the_line_demands_is_kept() {
    let found = fingering(&line("F1@E+G2@A/1"));
    assert_eq!(spots(&found), ["E1", "A10"]);
}

#[test]
fn first_position_is_fingered_one_two_four() {
    let found = fingering(&line("F1/4 F#1/4 G1/2 | Bb1/4 B1/4 C2/2"));
    assert_eq!(fingers(&found), [1, 2, 4, 1, 2, 4].map(Some));
    assert_eq!(positions(&found), [Some(1); 6]);
}

#[test]
fn a_shift_waits_for_the_open_string() {
    // Up from first position to the seventh: the open A lies between.
    let found = fingering(&line("F1@E/4 Bb1@A/4 A1@A/4 E2@A/4 | D2@E/1"));
    assert_eq!(spots(&found), ["E1", "A1", "A0", "A7", "E10"]);
    assert_eq!(found.moves[2].shift, None);
    let shift = found.moves[3].shift.unwrap().by;
    assert!(shift >= 3, "{shift}");
    assert_eq!(found.moves[4].shift.unwrap().by, 10 - 3 - 1 - shift);
}

#[test]
fn a_dead_note_without_a_string_has_no_place_and_no_crossing() {
    let found = fingering(&line("C2/4 x/4 x@D/4 C2/4"));
    assert_eq!(spots(&found), ["A3", "-", "Dx", "A3"]);
    assert_eq!(crossings(&found), [None, None, None, Some(-1)]);
    assert_eq!(shifts(&found), [None, None, None, Some(0)]);
    assert_eq!(found.places[2].source, Source::Written);
    assert_eq!(found.places[2].finger, None);
}

#[test]
fn a_line_without_notes_has_no_fingering() {
    assert!(fingering(&line("r/1")).places.is_empty());
}

/// What holds for every fingering: each note sounds where it is placed, under the hand that is there.
fn check(expected: &Expected) {
    let found = Fingering::of(expected);
    assert_eq!(found.places.len(), expected.notes.len());
    assert_eq!(found.moves.len(), expected.notes.len());
    for (note, placed) in expected.notes.iter().zip(&found.places) {
        let Some(key) = note.key else {
            assert_eq!((placed.string, placed.fret), (note.string, None));
            continue;
        };
        let (string, fret) = (placed.string.unwrap(), placed.fret.unwrap());
        assert_eq!(expected.open[usize::from(string) - 1].0 + fret, key.0);
        assert!(note.string.is_none_or(|named| named == string));
        assert!(note.fret.is_none_or(|named| named == fret));
        if fret > 0 {
            let position = placed.position.unwrap();
            assert!(
                (position..position + 4).contains(&fret),
                "{note:?} {placed:?}"
            );
            assert!((1..=4).contains(&placed.finger.unwrap()));
        } else {
            assert_eq!(placed.finger, Some(0));
        }
    }
    for group in found
        .places
        .iter()
        .zip(&expected.notes)
        .collect::<Vec<_>>()
        .chunk_by(|a, b| a.1.group == b.1.group)
    {
        let mut strings: Vec<_> = group.iter().map(|(placed, _)| placed.string).collect();
        strings.sort();
        strings.dedup();
        assert_eq!(strings.len(), group.len());
    }
}

#[test]
fn every_line_that_comes_with_leadsman_can_be_played() {
    let mut lines = 0;
    for entry in std::fs::read_dir("lines").unwrap() {
        let line = leadsman::line::read::read(&entry.unwrap().path()).unwrap();
        check(&unrolled(&line));
        lines += 1;
    }
    assert!(lines >= 8, "{lines}");
}

/// The line whose author wrote all strings and fingers has no other one found for it.
#[test]
fn what_a_line_writes_is_what_is_found() {
    for name in ["tide_table_walk", "under_the_car_deck"] {
        let line = leadsman::line::read::read(format!("lines/{name}.toml").as_ref()).unwrap();
        let expected = unrolled(&line);
        let found = Fingering::of(&expected);
        for (note, placed) in expected.notes.iter().zip(&found.places) {
            if note.finger.is_some() && note.string.is_some() {
                assert_eq!(note.finger, placed.finger, "{name} {note:?}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_pitched_note_of_any_line_is_placed_where_it_sounds(line in line_strategy::lines()) {
        let expected = unrolled(&line);
        let found = Fingering::of(&expected);
        for (note, placed) in expected.notes.iter().zip(&found.places) {
            if let (Some(key), Some(string), Some(fret)) = (note.key, placed.string, placed.fret) {
                prop_assert_eq!(expected.open[usize::from(string) - 1].0 + fret, key.0);
            }
            prop_assert_eq!(note.key.is_some(), placed.fret.is_some());
            prop_assert!(note.string.is_none_or(|named| placed.string == Some(named)));
        }
    }
}
