//! The pitch findings: takes made by hand with exactly one mistake, and how often each is right against the stand-in.
//!
//! `FINDINGS_TAKES=2000 cargo test --release --test findings_pitch -- --nocapture` measures on more takes than the
//! default and prints the rates.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedNote, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::slips::Slip;
use leadsman::findings::{Finding, find};
use leadsman::judge::judge::judge;
use leadsman::judge::{Judgement, Settings};
use leadsman::line::parse::parse;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{Habits, perform};
use leadsman::units::Key;
use std::collections::BTreeMap;
use std::sync::Arc;

fn line(toml: &str) -> Arc<Expected> {
    let toml = format!("title = \"Slips\"\nmeter = \"4/4\"\ntempo = 100\n{toml}");
    let line =
        parse(&toml, "line.toml").unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)));
    Arc::new(unroll(&line, Speed::WRITTEN))
}

/// One section named A.
fn section(head: &str, notes: &str) -> Arc<Expected> {
    line(&format!(
        "[[section]]\nname = \"A\"\n{head}\nnotes = \"{notes}\"\n"
    ))
}

/// Every note on its place; how many semitones off, as told.
fn played(expected: &Arc<Expected>, off: impl Fn(usize, &ExpectedNote) -> i16) -> Judgement {
    let key = |index: usize, note: &ExpectedNote| {
        let key = note.key.map_or(40, |key| i16::from(key.0));
        Key((key + off(index, note)) as u8)
    };
    let (channel, velocity) = (0, 90);
    let mut events: Vec<TimedMessage> = (0..)
        .zip(&expected.notes)
        .flat_map(|(index, note)| {
            let key = key(index, note);
            let on = MidiMessage::NoteOn {
                channel,
                key,
                velocity,
            };
            let off = MidiMessage::NoteOff { channel, key };
            [(note.onset, on), (note.end(), off)]
        })
        .map(|(at, message)| TimedMessage { at, message })
        .collect();
    let is_on = |event: &TimedMessage| matches!(event.message, MidiMessage::NoteOn { .. });
    events.sort_by_key(|event| (event.at, is_on(event)));
    judge(
        Arc::clone(expected),
        &Settings::default(),
        events.into_iter(),
    )
}

fn findings(expected: &Arc<Expected>, off: impl Fn(usize, &ExpectedNote) -> i16) -> Vec<Finding> {
    let judgement = played(expected, off);
    find(&Evidence::new(
        expected,
        &judgement,
        &Settings::default().windows,
    ))
}

/// The one finding of such a take.
fn only(expected: &Arc<Expected>, off: impl Fn(usize, &ExpectedNote) -> i16) -> Finding {
    let mut findings = findings(expected, off);
    let told: Vec<_> = findings.iter().map(|finding| &finding.text).collect();
    assert_eq!(findings.len(), 1, "{told:?}");
    findings.remove(0)
}

fn told(
    expected: &Arc<Expected>,
    off: impl Fn(usize, &ExpectedNote) -> i16,
) -> (&'static str, String) {
    let finding = only(expected, off);
    assert_eq!(finding.count, finding.notes.len());
    assert!(finding.practice.is_some() && !finding.advice.is_empty());
    (finding.id, finding.text)
}

fn assert_told(
    expected: &Arc<Expected>,
    off: impl Fn(usize, &ExpectedNote) -> i16,
    id: &str,
    text: &str,
) {
    let found = told(expected, off);
    assert_eq!((found.0, found.1.as_str()), (id, text));
}

/// In Db mixolydian, Cb is the flat seventh.
const DB: &str = "Db2/4 Ab2/4 Cb3/4 Ab2/4 | Gb2/4 F2/4 Cb3/4 Db2/4 | Db2/4 F2/4 Ab2/4 Cb3/4 | Gb2/4 Cb3/4 Ab2/4 Db2/4";
const RUN: &str = "E2/4 G2/4 A2/4 B2/4 | D3/4 B2/4 A2/4 G2/4";

fn db() -> Arc<Expected> {
    section("key = \"Db mixolydian\"", DB)
}

#[test]
fn a_right_take_has_none() {
    let moving = section("key = \"Db mixolydian\"\npasses = [0, 2, 5]", DB);
    for expected in [moving, section("", RUN)] {
        assert_eq!(findings(&expected, |_, _| 0), []);
    }
}

#[test]
fn a_flat_seventh_played_natural_is_told_in_the_names_of_the_key() {
    let raise = |_: usize, note: &ExpectedNote| i16::from(note.name() == "Cb3");
    assert_told(
        &db(),
        raise,
        "wrong-degree",
        "You played the natural 7th where the line has the flat 7th (C for Cb): 4 of 4, bars 1 to 4.",
    );
}

#[test]
fn a_degree_that_is_wrong_is_told_in_the_key_of_every_pass() {
    let expected = section("key = \"Db mixolydian\"\npasses = [0, 2]", DB);
    let flat_seventh =
        |note: &ExpectedNote| note.degree.is_some_and(|degree| degree.to_string() == "b7");
    let second_pass =
        |_: usize, note: &ExpectedNote| i16::from(note.pass == 2 && flat_seventh(note));
    assert_told(
        &expected,
        second_pass,
        "wrong-degree",
        "You played the natural 7th where the line has the flat 7th (D for Db): 4 of 8, bars 1 to 4.",
    );
}

#[test]
fn a_major_third_over_minor_chords_is_one_degree_over_all_of_them() {
    let expected = section(
        "chords = \"Dm | Gm | Am\"",
        "D2/4 F2/4 A2/4 D2/4 | G2/4 Bb2/4 D3/4 G2/4 | A2/4 C3/4 E3/4 A2/4",
    );
    let raise = |_: usize, note: &ExpectedNote| i16::from(note.at.0 > 0 && is_third(note));
    assert_told(
        &expected,
        raise,
        "wrong-degree",
        "You played the major third where the line has the minor third (F# for F): 3 of 3, bars 1 to 3.",
    );
}

fn is_third(note: &ExpectedNote) -> bool {
    note.chord.is_some_and(|chord| chord.degree.number == 3)
}

#[test]
fn slips_by_a_fret_that_hit_all_degrees_are_no_wrong_degree() {
    let expected = section("key = \"Db mixolydian\"\npasses = [0, 0, 0]", DB);
    let slip = |index: usize, _: &ExpectedNote| match index % 7 {
        2 => 1,
        5 => -1,
        _ => 0,
    };
    let (id, text) = told(&expected, slip);
    assert_eq!(id, "neighbour-frets");
    assert!(text.starts_with("14 of 48 notes (29 %, 17 to 44 %) sounded one fret too high (7) or one fret too low (7), most often "), "{text}");
}

#[test]
fn without_key_and_chords_a_semitone_is_a_fret() {
    let expected = section("passes = [0, 0]", RUN);
    assert_told(
        &expected,
        |_, note| -i16::from(note.name() == "A2"),
        "neighbour-frets",
        "4 of only 16 notes sounded one fret too low, Ab where the line has A: bars 1 and 2.",
    );
}

#[test]
fn one_note_that_is_wrong_in_every_pass_is_told_as_one_note() {
    let expected = section("passes = [0, 0, 0]", &format!("{RUN} | {RUN} | {RUN}"));
    assert_told(
        &expected,
        |index, _| i16::from(index % 24 == 10),
        "neighbour-frets",
        "One note, in 3 of 3 passes, sounded one fret too high, Bb where the line has A: bar 3, beat 3.",
    );
    let finding = only(&expected, |index, _| i16::from(index % 24 == 10));
    assert!(finding.advice.starts_with("Read this note again"));
}

#[test]
fn as_many_slips_here_and_there_are_ordinary_ones() {
    let expected = section("passes = [0, 0, 0]", &format!("{RUN} | {RUN} | {RUN}"));
    for by in [1, -1, 12, 5] {
        let slip =
            |index: usize, _: &ExpectedNote| if [10, 33, 55].contains(&index) { by } else { 0 };
        assert_eq!(findings(&expected, slip), [], "{by}");
    }
}

#[test]
fn an_octave_is_told_by_its_side() {
    let expected = section("passes = [0, 0, 0]", RUN);
    assert_told(
        &expected,
        |index, _| if index < 3 { 12 } else { 0 },
        "octave-slips",
        "3 of only 24 notes sounded an octave too high: bar 1.",
    );
    let mixed = |index: usize, _: &ExpectedNote| match index {
        1 | 8 | 13 => 12,
        4 | 11 | 22 => -12,
        _ => 0,
    };
    assert_told(
        &expected,
        mixed,
        "octave-slips",
        "6 of 24 notes (25 %, 10 to 47 %) sounded an octave too high (3) or an octave too low (3): bars 1 and 2.",
    );
}

/// A line of five strings that names all of them; no two neighbours are alike in what they make of a fret.
fn five_strings() -> Arc<Expected> {
    line(
        "tuning = \"B0 E1 A1 D2 F2\"\n[[section]]\nname = \"A\"\npasses = [0, 0]\nnotes = \"B:3/4 B:5/4 E:3/4 E:5/4 | A:3/4 A:5/4 D:3/4 D:5/4 | F:3/4 F:5/4 D:3/4 A:3/4\"\n",
    )
}

#[test]
fn the_same_fret_of_the_next_string_is_known_on_any_tuning() {
    // From D to F it is three semitones, elsewhere five.
    let higher = |_: usize, note: &ExpectedNote| match note.string {
        Some(2) => 3,
        Some(4) => 5,
        _ => 0,
    };
    assert_told(
        &five_strings(),
        higher,
        "wrong-string",
        "10 of 24 notes (42 %, 22 to 63 %) were played at the right fret on the next higher string: bars 1 to 3.",
    );
    let lower = |_: usize, note: &ExpectedNote| match note.string {
        Some(1) => -3,
        _ => 0,
    };
    let (id, text) = told(&five_strings(), lower);
    assert_eq!(id, "wrong-string");
    assert!(text.contains("the next lower string"), "{text}");
    // A fourth up from the D string is no string.
    let fourth = |_: usize, note: &ExpectedNote| if note.string == Some(2) { 5 } else { 0 };
    assert_eq!(findings(&five_strings(), fourth), []);
}

#[test]
fn where_no_string_is_named_the_next_one_is_likely() {
    let expected = section(
        "passes = [0, 0, 0]",
        "E1/4 F1/4 G1/4 A1/4 | B1/4 C2/4 G1/4 F1/4",
    );
    let slip = |index: usize, note: &ExpectedNote| {
        if index < 8 && matches!(note.name().as_str(), "F1" | "G1") {
            5
        } else {
            0
        }
    };
    assert_told(
        &expected,
        slip,
        "wrong-string",
        "4 of only 24 notes were likely played at the right fret on the next higher string: bars 1 and 2.",
    );
}

#[test]
fn a_pass_that_moves_and_is_played_on_is_one_finding() {
    let expected = section("passes = [0, 2]", RUN);
    assert_told(
        &expected,
        |_, note| if note.pass == 2 { -2 } else { 0 },
        "shifts",
        "Pass 2 moves up a tone; you played on in the old key for 8 notes: bars 1 and 2.",
    );
    // Two that are right in between, then in the new key.
    let partly = |_: usize, note: &ExpectedNote| {
        if note.pass == 2 && note.bar == 2 {
            2
        } else {
            0
        }
    };
    let down = section("passes = [0, -2]", RUN);
    assert_told(
        &down,
        partly,
        "shifts",
        "Pass 2 moves down a tone; you played on in the old key for 4 notes: bar 1.",
    );
}

#[test]
fn right_notes_in_between_leave_it_one_run() {
    let expected = section("passes = [0, 3]", &format!("{RUN} | {RUN}"));
    let old = |index: usize, _: &ExpectedNote| {
        if (16..28).contains(&index) && index % 4 != 2 {
            -3
        } else {
            0
        }
    };
    assert_told(
        &expected,
        old,
        "shifts",
        "Pass 2 moves up 3 frets; you played on in the old key for 9 notes: bars 1 to 3.",
    );
}

#[test]
fn a_move_by_an_octave_or_a_fret_is_a_move_first() {
    for (by, way) in [(12, "up an octave"), (1, "up a semitone")] {
        let expected = section(&format!("key = \"E minor\"\npasses = [0, {by}]"), RUN);
        let (id, text) = told(&expected, |_, note| if note.pass == 2 { -by } else { 0 });
        assert_eq!(id, "shifts");
        assert!(text.contains(way), "{text}");
    }
}

#[test]
fn a_section_that_repeats_another_in_a_new_key_is_known() {
    let expected = line(&format!(
        "[[section]]\nname = \"Quay\"\nnotes = \"{RUN}\"\n[[section]]\nname = \"Deck\"\nnotes = \"F#2/4 A2/4 B2/4 C#3/4 | E3/4 C#3/4 B2/4 A2/4\"\n"
    ));
    assert_told(
        &expected,
        |index, _| if (8..14).contains(&index) { -2 } else { 0 },
        "shifts",
        "Deck is Quay moved up a tone; you played on in the old key for 6 notes: bars 3 and 4.",
    );
}

#[test]
fn notes_off_by_as_much_where_nothing_moved_are_no_missed_shift() {
    let expected = section("passes = [0, 0, 0]", RUN);
    let judgement = played(&expected, |index, _| if index < 6 { -2 } else { 0 });
    let settings = Settings::default();
    let evidence = Evidence::new(&expected, &judgement, &settings.windows);
    assert!(find(&evidence).is_empty());
    assert_eq!(
        evidence.slips().causes()[..7],
        [[Some(Slip::Other); 6].as_slice(), &[None]].concat()
    );
}

#[test]
fn a_dead_note_has_no_pitch_to_slip() {
    let expected = section("passes = [0, 2]", "x/4 x/4 x/4 x/4 | E2/4 x/4 x/4 x/4");
    assert_eq!(
        findings(&expected, |_, note| if note.key.is_none() { 1 } else { 0 }),
        []
    );
}

/// Head and notes. All keys have flats or none at all; the second and third lines name their strings.
const LINES: [(&str, &str); 3] = [
    (
        "key = \"C minor\"\nchords = \"Cm7 | Fm7 | Gm7 | Cm7\"",
        "C2/8 Eb2/8 G2/8 Bb2/8 C3/4 r/4 | F2/8 Ab2/8 C3/8 Eb3/8 F2/4 r/8 Eb2/8 | G2/8 Bb2/8 D3/8 F3/8 G2/4 r/8 Bb1/8 | C2/4 r/8 Eb2/8 G2/8 Bb2/8 C2/4",
    ),
    (
        "key = \"Bb minor\"",
        "Bb1@E/8 Db2@A/8 F2@D/8 Ab2@D/8 Bb2@G/4 Ab2@D/4 | Eb2@A/8 Gb2@D/8 Db2@A/8 Ab1@E/8 Bb1@E/4 r/4 | F2@D/8 Ab2@D/8 C3@G/8 Ab2@D/8 Db2@A/4 r/8 Bb1@E/8 | Gb1@E/4 Db2@A/8 Ab1@E/8 Bb1@E/4 r/4",
    ),
    (
        "",
        "E1@E/8 E1@E/8 r/8 G1@E/8 A1@A/8 E2@D/8 r/4 | D2@A/4 r/8 D2@D/8 A1@A/8 C2@A/8 E2@D/4 | r/4 F1@E/8 B1@A/8 E2@D/8 D2@A/8 B1@A/4 | A1@E/8 A2@D/8 r/8 A1@A/8 G1@E/8 G2@D/8 r/4",
    ),
];

/// A line of at least so many notes; every second pass `by` semitones up.
fn of_length(line: usize, notes: usize, by: usize) -> Arc<Expected> {
    let (head, text) = LINES[line];
    let of = |passes: usize| {
        let shifts: Vec<String> = (0..passes)
            .map(|pass| (pass % 2 * by).to_string())
            .collect();
        section(&format!("{head}\npasses = [{}]", shifts.join(", ")), text)
    };
    of(notes.div_ceil(of(1).notes.len()))
}

fn takes() -> u64 {
    let set = std::env::var("FINDINGS_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(16)
}

/// What was found in some takes.
#[derive(Default)]
struct Rates {
    takes: u64,
    found: BTreeMap<&'static str, u64>,
    /// Takes with at least one wrong note in ten, and those of them that have the finding.
    many: u64,
    found_in_many: u64,
}

impl Rates {
    fn of(lines: &[Arc<Expected>], habit: &str, id: &str) -> Rates {
        let habits = format!("spread-ms=10,correlation=0.25{habit}");
        let habits: Habits = habits.parse().expect("habits");
        let settings = Settings::default();
        let mut rates = Rates::default();
        for (expected, seed) in lines
            .iter()
            .flat_map(|line| (0..takes()).map(move |seed| (line, seed)))
        {
            let performance = perform(expected, &habits, seed);
            let judgement = judge(
                Arc::clone(expected),
                &settings,
                performance.events.into_iter(),
            );
            let found = find(&Evidence::new(expected, &judgement, &settings.windows));
            let is_found = found.iter().any(|finding| finding.id == id);
            let wrong = performance.truth.iter().filter(|truth| {
                truth
                    .expected
                    .is_some_and(|index| expected.notes[index].key != Some(truth.key))
            });
            rates.takes += 1;
            if 10 * wrong.count() >= expected.notes.len() {
                rates.many += 1;
                rates.found_in_many += u64::from(is_found);
            }
            for finding in found {
                *rates.found.entry(finding.id).or_default() += 1;
            }
        }
        println!(
            "{habit} {id}: {} takes, {:?}; in {} of {} with one wrong note in ten",
            rates.takes, rates.found, rates.found_in_many, rates.many
        );
        rates
    }

    /// Every finding but this one is in one take of a hundred at most.
    fn assert_no_other(&self, id: &str) {
        for (other, count) in self.found.iter().filter(|(other, _)| **other != id) {
            assert!(
                100 * count <= self.takes,
                "{other} in {count} of {} takes",
                self.takes
            );
        }
    }
}

fn lines(lengths: &[usize], by: usize) -> Vec<Arc<Expected>> {
    let of = |line: usize| lengths.iter().map(move |notes| of_length(line, *notes, by));
    (0..LINES.len()).flat_map(of).collect()
}

#[test]
fn slips_of_one_kind_are_found_where_one_note_in_ten_has_them_and_not_taken_for_another() {
    for (habit, id) in [
        (",wrong-frets=0.1", "neighbour-frets"),
        (",octave-slips=0.1", "octave-slips"),
        (",next-string=0.1", "wrong-string"),
    ] {
        let rates = Rates::of(&lines(&[60, 120], 0), habit, id);
        assert!(100 * rates.found_in_many >= 95 * rates.many, "{id}");
        rates.assert_no_other(id);
    }
}

#[test]
fn degrees_that_are_wrong_throughout_are_found_with_ordinary_slips_beside_them() {
    // The last line has no key.
    for by in [0, 2] {
        let lines = &lines(&[24, 60], by)[..4];
        for habit in ["raised-sevenths=1", "major-thirds=1"] {
            let habit = format!(",wrong-frets=0.01,{habit}");
            let rates = Rates::of(lines, &habit, "wrong-degree");
            assert!(100 * rates.found["wrong-degree"] >= 95 * rates.takes);
            rates.assert_no_other("wrong-degree");
        }
    }
}

#[test]
fn an_old_key_that_is_played_on_is_found_whatever_the_interval() {
    for by in [1, 2, 5] {
        let rates = Rates::of(&lines(&[40, 120], by), ",old-key=1", "shifts");
        assert!(100 * rates.found["shifts"] >= 95 * rates.takes);
        rates.assert_no_other("shifts");
    }
}

#[test]
fn takes_with_ordinary_slips_have_none() {
    let ordinary = ",wrong-frets=0.004,octave-slips=0.003,next-string=0.003";
    for (habit, by) in [
        ("", 0),
        ("", 2),
        (ordinary, 0),
        (ordinary, 2),
        (",dropped=0.05,extra=0.03", 2),
    ] {
        let rates = Rates::of(&lines(&[24, 60, 120], by), habit, "");
        let all: u64 = rates.found.values().sum();
        assert!(100 * all <= rates.takes, "{:?}", rates.found);
    }
}
