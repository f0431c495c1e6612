//! What is expected: places, passes, rests, entries, skips, double stops, degrees, layers.

mod expected_line;

use expected_line::{key, line, section, swung, tuning};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedNote, NoteTraits, unroll};
use leadsman::line::key_signature::Mode;
use leadsman::line::{Line, Stroke};
use leadsman::units::{Key, Nanos};

fn expected(line: &Line) -> Expected {
    unroll(line, Speed::WRITTEN)
}

fn each<T>(line: &Line, fact: impl Fn(&ExpectedNote) -> T) -> Vec<T> {
    expected(line).notes.iter().map(fact).collect()
}

fn keys(line: &Line) -> Vec<u8> {
    each(line, |note| note.key.map_or(0, |key| key.0))
}

#[test]
fn passes_shift_pitches_and_frets_and_keep_strings() {
    let mut line = line("A1/4 1:5/4 A2@2/4 x@4/4");
    line.sections[0].passes = vec![0, 0, 2];
    assert_eq!(keys(&line), [33, 48, 45, 0, 33, 48, 45, 0, 35, 50, 47, 0]);
    assert_eq!(
        each(&line, |n| (n.string, n.fret))[8..],
        [
            (None, None),
            (Some(1), Some(7)),
            (Some(2), Some(9)),
            (Some(4), None)
        ]
    );
    assert_eq!(each(&line, |n| n.pass)[7..9], [2, 3]);
    let numbers: Vec<_> = expected(&line)
        .bars
        .iter()
        .map(|bar| (bar.pass, bar.number))
        .collect();
    assert_eq!(numbers, [(1, 1), (2, 1), (3, 1)]);
}

/// The 5th fret matches the next open string in fourths; the 12th is the octave (common practice).
#[test]
fn frets_follow_the_fret_rule() {
    let line = line("4:5/4 3:0/4 4:12/4 4:0/4");
    assert_eq!(keys(&line), [33, 33, 40, 28]);
}

#[test]
fn a_five_string_bass_names_its_strings() {
    let mut line = line("5:0/4 B0/4 E1@5/4 1:12/4");
    line.tuning = tuning("B0 E1 A1 D2 G2");
    assert_eq!(keys(&line), [23, 23, 28, 55]);
    assert_eq!(each(&line, |n| n.fret), [Some(0), None, Some(5), Some(12)]);
    assert_eq!(expected(&line).strings, ["G", "D", "A", "E", "B"]);
}

#[test]
fn a_rest_begins_where_the_note_before_it_ends() {
    let line = line("A1/4 A1/4 r/8 A1/8 r/4 | A1/1");
    assert_eq!(
        each(&line, |n| n.rest_at),
        [
            None,
            Some(Nanos::from_ms(1000)),
            Some(Nanos::from_ms(1500)),
            Some(Nanos::from_ms(4000))
        ]
    );
}

#[test]
fn a_rest_in_swing_begins_at_its_bent_start() {
    let line = swung(2, 1, "A1/8 r/8 A1/4 r/2");
    assert_eq!(
        each(&line, |n| n.rest_at),
        [Some(Nanos(333_333_333)), Some(Nanos::from_ms(1000))]
    );
}

#[test]
fn no_rest_lies_between_passes_and_sections_that_join() {
    let mut line = line("A1/1");
    line.sections[0].passes = vec![0, 0];
    line.sections.push(section("B", "D2/2 r/2"));
    assert_eq!(
        each(&line, |n| n.rest_at),
        [None, None, Some(Nanos::from_ms(5000))]
    );
    assert_eq!(each(&line, |n| n.is.entry), [true, false, false]);
}

#[test]
fn an_eighth_of_rests_makes_an_entry() {
    let line = line("A1/8 r/16 A1/16 r/16 r/16 A1/8 A1/4? r/8t A1/8t A1/8t");
    assert_eq!(
        each(&line, |n| n.is.entry),
        [true, false, true, false, false, false]
    );
}

#[test]
fn rests_add_up_across_bars_and_passes() {
    let mut line = line("r/16 A1/8. A1/2 A1/8. r/16");
    line.sections[0].passes = vec![0, 0];
    assert_eq!(
        each(&line, |n| n.is.entry),
        [true, false, false, true, false, false]
    );
}

#[test]
fn a_skip_is_a_short_upbeat_that_runs_into_the_beat() {
    let line = swung(
        2,
        1,
        "A1/8 A1/8 A1/4 r/8 A1/8 r/4 | A1/8 A1/16 A1/16 A1/8 A1/4. r/8 A1/8' | x/8 x/8 x/4 A1/2",
    );
    assert_eq!(
        each(&line, |n| n.is.skip),
        [
            false, true, false, // the and of one, into two
            false, // followed by a rest
            false, false, true, // only the second sixteenth reaches the beat
            false, false, // the and of three lasts too long
            true,  // over the bar line
            false, true, false, false // dead notes are struck
        ]
    );
}

#[test]
fn a_skip_may_run_into_the_next_pass() {
    let mut line = line("r/2. r/8 A1/8");
    line.sections[0].passes = vec![0];
    assert_eq!(each(&line, |n| n.is.skip), [false]);
    line.sections.push(section("B", "A1/1"));
    assert_eq!(each(&line, |n| n.is.skip), [true, false]);
}

#[test]
fn a_double_stop_is_one_group() {
    let line = line("A1/4 D2+A2/4 A1/2");
    assert_eq!(each(&line, |n| n.group), [0, 1, 1, 2]);
    assert_eq!(keys(&line), [33, 38, 45, 33]);
    let notes = expected(&line).notes;
    assert_eq!(notes[1].onset, notes[2].onset);
    assert_eq!(notes[1].rest_at, None);
}

#[test]
fn degrees_count_from_the_key_of_the_section() {
    let mut line = line("C2/4 C#2/4 D2/4 2:3/4");
    line.key = key("D", Mode::Minor);
    line.sections[0].passes = vec![0, 2];
    line.sections.push(section("B", "Cb2/2 3:2/2"));
    line.sections[1].key = key("Db", Mode::Mixolydian);
    let degrees = each(&line, |n| {
        n.degree.map(|d| d.to_string()).unwrap_or_default()
    });
    assert_eq!(
        degrees,
        ["b7", "7", "1", "b3", "b7", "7", "1", "b3", "b7", "b7"]
    );
}

#[test]
fn a_line_without_a_key_and_a_dead_note_have_no_degree() {
    let mut keyless = line("A1/1");
    assert_eq!(each(&keyless, |n| n.degree), [None]);
    keyless = line("x/1");
    keyless.key = key("C", Mode::Major);
    assert_eq!(each(&keyless, |n| (n.degree, n.key)), [(None, None)]);
}

#[test]
fn marks_become_traits() {
    let line = line("A1/4>? A1/4' A1/4m x/4");
    let traits = each(&line, |n| n.is);
    let none = NoteTraits::default();
    assert_eq!(
        traits,
        [
            NoteTraits {
                entry: true,
                accent: true,
                optional: true,
                ..none
            },
            NoteTraits {
                short: true,
                ..none
            },
            NoteTraits {
                muted: true,
                ..none
            },
            NoteTraits { dead: true, ..none },
        ]
    );
}

#[test]
fn layers_give_one_mark_a_struck_note() {
    let mut line = line("A1/4 r/4 A1/4 D2/4~ | D2/2 A1/2");
    line.sections[0].strokes = Some(vec![
        vec![Stroke::Down, Stroke::Down, Stroke::Up],
        vec![Stroke::Up],
    ]);
    line.sections[0].fingers = Some(vec![vec![1, 2, 3], vec![4]]);
    assert_eq!(
        each(&line, |n| (n.stroke.unwrap(), n.finger.unwrap())),
        [
            (Stroke::Down, 1),
            (Stroke::Down, 2),
            (Stroke::Up, 3),
            (Stroke::Up, 4)
        ]
    );
}

#[test]
fn a_line_of_rests_expects_nothing_for_its_length() {
    let rests = expected(&line("r/1 | r/1"));
    assert!(rests.notes.is_empty());
    assert_eq!(rests.end, Nanos::from_ms(4000));
    assert_eq!(rests.bars.len(), 2);
}

#[test]
fn a_shift_off_the_instrument_leaves_no_fret() {
    let mut line = line("4:0/1");
    line.sections[0].passes = vec![-1];
    assert_eq!(each(&line, |n| (n.key, n.fret)), [(Some(Key(27)), None)]);
}
