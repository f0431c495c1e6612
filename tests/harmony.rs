//! Scales, degrees, signatures and chord tones against music21 10.5.1, golden file made by `tests/golden/harmony.py`; and
//! what a note is called in each pass and when another is played for it.

mod expected_line;

use expected_line::{key, line};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Degree, ExpectedNote, unroll};
use leadsman::line::Line;
use leadsman::line::chord::{ChordCell, ChordSymbol, PlacedChord};
use leadsman::line::chord_tones::ChordTones;
use leadsman::line::key_signature::{KeySignature, Mode};
use leadsman::line::pitch::PitchClass;
use leadsman::units::Key;
use proptest::prelude::*;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Deserialize)]
struct Golden {
    scales: BTreeMap<String, Vec<String>>,
    degrees: BTreeMap<String, String>,
    chords: BTreeMap<String, Vec<String>>,
}

fn golden() -> Golden {
    serde_json::from_str(include_str!("golden/harmony.json")).expect("golden harmony is JSON")
}

fn class(text: &str) -> PitchClass {
    text.parse().expect(text)
}

#[test]
fn scales_and_signatures_of_all_keys_and_modes_are_those_of_music21() {
    let scales = golden().scales;
    assert_eq!(scales.len(), Mode::NAMES.len());
    for (name, keys) in scales {
        let mode: Mode = name.parse().expect("a mode");
        assert_eq!(keys.len(), 15, "{name}");
        for row in keys {
            let mut words = row.split(' ');
            let tonic = class(words.next().expect("a tonic"));
            let sharps = words.next().expect("sharps");
            let signature = KeySignature { tonic, mode };
            assert_eq!(signature.sharps().to_string(), sharps, "{signature}");
            let theirs: Vec<PitchClass> = words.map(class).collect();
            assert_eq!(theirs.len(), 7, "{signature}");
            for (index, note) in theirs.into_iter().enumerate() {
                let step = mode.scale()[index];
                let degree = Degree::of_spelled(note, signature);
                assert_eq!(usize::from(degree.number), index + 1, "{signature}: {note}");
                assert_eq!(degree.semitones(), step, "{signature}: {note}");
                let sounding = Key((60 + tonic.semitones() + step) as u8);
                assert_eq!(
                    Degree::of_key(sounding, signature),
                    degree,
                    "{signature}: {note}"
                );
                assert_eq!(degree.above(tonic), Some(note), "{signature}: {note}");
            }
        }
    }
}

#[test]
fn degrees_of_all_spellings_in_all_major_keys_are_those_of_music21() {
    let degrees = golden().degrees;
    assert_eq!(degrees.len(), 15);
    for (tonic, row) in degrees {
        let signature = KeySignature {
            tonic: class(&tonic),
            mode: Mode::Major,
        };
        let ours: Vec<String> = (0..7)
            .flat_map(|letter| (-2..=2).map(move |accidental| PitchClass { letter, accidental }))
            .map(|note| Degree::of_spelled(note, signature).to_string())
            .collect();
        assert_eq!(ours.join(" "), row, "{tonic}");
    }
}

#[test]
fn a_shifted_key_has_the_fewest_accidentals_that_music21_knows() {
    for (name, keys) in golden().scales {
        let mode: Mode = name.parse().expect("a mode");
        let rows = || keys.iter().map(|row| row.split(' ').collect::<Vec<_>>());
        for written in rows() {
            let tonic = class(written[0]);
            for semitones in 1..12 {
                let shifted = KeySignature { tonic, mode }.shifted(semitones);
                let sounds = |note: PitchClass| note.semitones().rem_euclid(12);
                assert_eq!(sounds(shifted.tonic), (sounds(tonic) + semitones) % 12);
                let same_sound =
                    rows().filter(|row| sounds(class(row[0])) == sounds(shifted.tonic));
                let accidentals = same_sound.map(|row| row[1].parse::<i8>().expect("sharps").abs());
                assert_eq!(Some(shifted.sharps().abs()), accidentals.min(), "{shifted}");
            }
        }
    }
}

#[test]
fn chord_tones_are_spelled_as_music21_spells_them() {
    let chords = golden().chords;
    assert!(chords.len() > 60);
    for (figure, by_root) in chords {
        for (root, theirs) in ["C", "Db", "F#"].into_iter().zip(by_root) {
            let symbol: ChordSymbol = format!("{root}{figure}").parse().expect("a chord");
            let tones = ChordTones::of(&symbol).degrees();
            let ours: BTreeSet<String> = tones
                .map(|degree| degree.above(symbol.root).expect("a name").to_string())
                .collect();
            let theirs: BTreeSet<String> = theirs.split(' ').map(String::from).collect();
            assert_eq!(ours, theirs, "{symbol}");
        }
    }
}

/// One section with chords, a cell a bar.
fn over(signature: Option<KeySignature>, chords: &str, notes: &str) -> Line {
    let mut line = line(notes);
    line.key = signature;
    let cell = |cell: &str| ChordCell {
        chords: cell.split_whitespace().map(placed).collect(),
    };
    line.sections[0].chords = Some(chords.split('|').map(cell).collect());
    line
}

fn placed(word: &str) -> PlacedChord {
    let (symbol, beat) = word.split_once('@').unwrap_or((word, ""));
    PlacedChord {
        symbol: symbol.parse().expect(symbol),
        beat: beat.parse::<u32>().ok().map(|beat| 1000 * beat),
    }
}

fn notes(line: &Line) -> Vec<ExpectedNote> {
    unroll(line, Speed::WRITTEN).notes
}

/// Name, degree of the key, degree over the root.
fn called(line: &Line) -> Vec<String> {
    let degree = |degree: Option<Degree>| degree.map_or("-".into(), |degree| degree.to_string());
    let call = |note: &ExpectedNote| {
        let chord = note.chord.map_or("-".into(), |tone| {
            format!("{} of {}", tone.degree, tone.root)
        });
        format!("{} {} {chord}", note.name(), degree(note.degree))
    };
    notes(line).iter().map(call).collect()
}

#[test]
fn a_note_is_counted_from_the_chord_that_sounds_when_it_is_struck() {
    let line = over(
        key("D", Mode::Minor),
        "Dm7 | | Em7b5@1 A7@3",
        "D2/2 F2/2 | C2/2~ C2/4 C#2/4 | Bb1/4 G#1/4 C#2/4 G1/4",
    );
    assert_eq!(
        called(&line),
        [
            "D2 1 1 of D",
            "F2 b3 b3 of D",
            "C2 b7 b7 of D",
            "C#2 7 7 of D",
            "Bb1 b6 b5 of E",
            "G#1 #4 3 of E",
            "C#2 7 3 of A",
            "G1 4 b7 of A",
        ]
    );
}

#[test]
fn every_pass_has_its_own_names_and_the_same_degrees() {
    let mut line = over(
        key("C", Mode::Mixolydian),
        "C7 | F7",
        "Bb1/2 E2/2 | Eb2/2 4:7/2",
    );
    line.sections[0].passes = vec![0, 1, 2, 6, 12];
    let called = called(&line);
    let pass = |number: usize| called[4 * number..4 * number + 4].join(", ");
    assert_eq!(
        pass(0),
        "Bb1 b7 b7 of C, E2 3 3 of C, Eb2 b3 b7 of F, B1 7 #4 of F"
    );
    assert_eq!(
        pass(1),
        "Cb2 b7 b7 of Db, F2 3 3 of Db, Fb2 b3 b7 of Gb, C2 7 #4 of Gb"
    );
    assert_eq!(
        pass(2),
        "C2 b7 b7 of D, F#2 3 3 of D, F2 b3 b7 of G, C#2 7 #4 of G"
    );
    assert_eq!(
        pass(3),
        "E2 b7 b7 of F#, A#2 3 3 of F#, A2 b3 b7 of B, E#2 7 #4 of B"
    );
    assert_eq!(
        pass(4),
        "Bb2 b7 b7 of C, E3 3 3 of C, Eb3 b3 b7 of F, B2 7 #4 of F"
    );
}

#[test]
fn a_line_without_a_key_is_named_by_its_chords() {
    let mut line = over(None, "Dm7 | A7", "4:13/2 C2/2 | 4:9/2 4:10/2");
    line.sections[0].passes = vec![0, -1];
    assert_eq!(
        called(&line),
        [
            "F2 - b3 of D",
            "C2 - b7 of D",
            "C#2 - 3 of A",
            "D2 - 4 of A",
            "E2 - b3 of C#",
            "B1 - b7 of C#",
            "C2 - 3 of Ab",
            "Db2 - 4 of Ab",
        ]
    );
}

#[test]
fn a_pickup_is_played_once_and_its_chord_goes_on() {
    let mut line = over(key("G", Mode::Major), "G@4 | | D7", "D2/4 | G1/1 | C2/1");
    line.pickup = true;
    line.sections[0].passes = vec![0, 0];
    assert_eq!(
        called(&line),
        [
            "D2 5 5 of G",
            "G1 1 1 of G",
            "C2 4 b7 of D",
            "G1 1 1 of G",
            "C2 4 b7 of D",
        ]
    );
}

fn said(signature: Option<KeySignature>, chord: &str, note: &str, played: u8) -> String {
    let line = over(signature, chord, &format!("{note}/1"));
    let contrast = notes(&line)[0].contrast(Key(played));
    contrast
        .map(|contrast| contrast.to_string())
        .unwrap_or_default()
}

#[test]
fn a_wrong_degree_is_said_as_a_player_says_it() {
    let d_minor = key("D", Mode::Minor);
    let wanted = |played: &str, line: &str| format!("{played} where the line has the {line}");
    assert_eq!(
        said(key("Db", Mode::Major), "Db7", "Cb2", 36),
        wanted("natural 7th", "flat 7th")
    );
    assert_eq!(
        said(key("Gb", Mode::Major), "Db7", "Cb2", 36),
        wanted("natural 7th", "flat 7th")
    );
    assert_eq!(
        said(None, "Db7", "Cb2", 48),
        wanted("natural 7th", "flat 7th")
    );
    assert_eq!(
        said(d_minor, "A7", "C#2", 36),
        wanted("minor third", "major third")
    );
    assert_eq!(
        said(d_minor, "A7#9", "C#2", 36),
        wanted("minor third", "major third")
    );
    assert_eq!(
        said(d_minor, "Dm7", "F2", 42),
        wanted("major third", "minor third")
    );
    assert_eq!(
        said(d_minor, "Em7b5", "Bb1", 35),
        wanted("natural 5th", "flat 5th")
    );
    assert_eq!(said(d_minor, "Dm7", "A1", 34), wanted("flat 6th", "5th"));
    assert_eq!(
        said(d_minor, "Bdim7", "Ab1", 33),
        wanted("flat 7th", "double-flat 7th")
    );
}

#[test]
fn the_other_third_is_said_over_its_chord() {
    let d_minor = key("D", Mode::Minor);
    assert_eq!(
        said(d_minor, "Dm7", "D2", 42),
        "major third over a minor chord"
    );
    assert_eq!(
        said(d_minor, "A7", "B1", 36),
        "minor third over a major chord"
    );
    assert_eq!(
        said(d_minor, "A7", "A1", 37),
        "major third where the line has the root"
    );
}

#[test]
fn a_passing_note_and_a_bar_without_chords_are_counted_from_the_tonic() {
    let d_minor = key("D", Mode::Minor);
    let wanted = |played: &str, line: &str| format!("{played} where the line has the {line}");
    assert_eq!(
        said(d_minor, "Gm7", "C2", 37),
        wanted("natural 7th", "flat 7th")
    );
    assert_eq!(
        said(d_minor, "", "C2", 37),
        wanted("natural 7th", "flat 7th")
    );
    assert_eq!(
        said(d_minor, "", "F2", 42),
        wanted("major third", "minor third")
    );
    assert_eq!(said(d_minor, "", "D2", 39), wanted("flat 2nd", "root"));
}

#[test]
fn nothing_is_said_of_an_octave_a_dead_note_or_a_line_without_key_and_chords() {
    let d_minor = key("D", Mode::Minor);
    assert_eq!(said(d_minor, "Dm7", "D2", 50), "");
    assert_eq!(said(d_minor, "Dm7", "x", 50), "");
    assert_eq!(said(None, "", "D2", 37), "");
}

const QUALITIES: [&str; 8] = ["", "m7", "7", "maj7", "m7b5", "dim7", "7alt", "sus4"];

proptest! {
    #[test]
    fn every_name_sounds_its_key_and_keeps_its_degree(
        tonic in (0u8..7, -1i8..=1),
        mode in 0..Mode::NAMES.len(),
        has_key: bool,
        root in (0u8..7, -1i8..=1),
        quality in 0..QUALITIES.len(),
        fret in 0u8..12,
        shift in -12i8..=12,
        played in 24u8..60,
    ) {
        let note = |(letter, accidental)| PitchClass { letter, accidental };
        let signature = KeySignature { tonic: note(tonic), mode: Mode::NAMES[mode].1 };
        prop_assume!(signature.sharps().abs() <= 7);
        let signature = has_key.then_some(signature);
        let symbol = format!("{}{}", note(root), QUALITIES[quality]);
        let mut line = over(signature, &symbol, &format!("2:{fret}/1"));
        line.sections[0].passes = vec![0, shift];
        let notes = notes(&line);
        let [written, moved] = &notes[..] else { panic!("two notes") };
        let key = moved.key.expect("a key");
        let spelled = moved.spelled.expect("a name");
        prop_assert!(spelled.sounds(key), "{} is not {}", moved.name(), key);
        let tone = moved.chord.expect("a chord");
        prop_assert_eq!(tone.degree, written.chord.expect("a chord").degree);
        prop_assert_eq!((key.0 as i16 - i16::from(tone.root.semitones() + tone.degree.semitones())) % 12, 0);
        prop_assert_eq!(moved.degree, written.degree);
        prop_assert_eq!(moved.degree.is_some(), has_key);
        // The name and the degree tell the same story wherever the name did not need three accidentals.
        if let (Some(signature), Some(degree)) = (moved.signature, moved.degree)
            && degree.above(signature.tonic).is_some()
        {
            prop_assert_eq!(degree.above(signature.tonic), Some(spelled));
        }
        let contrast = moved.contrast(Key(played));
        prop_assert_eq!(contrast.is_none(), (i16::from(played) - i16::from(key.0)) % 12 == 0);
        if let Some(contrast) = contrast {
            let apart = contrast.played.semitones() - contrast.line.semitones();
            prop_assert_eq!((i16::from(apart) - i16::from(played) + i16::from(key.0)) % 12, 0);
        }
    }
}
