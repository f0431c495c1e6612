//! Hand-made traces for each rule of the clean-up stage: what it mends, and what it must leave alone.

mod cleaning;

use cleaning::{
    assert_cleaned, assert_passes, at, bend, clean, control, off, off_channel, on, on_channel,
    plain,
};
use leadsman::played::MidiMessage;
use leadsman::played::cleanup::{Cleaned, Rule, Rules};
use leadsman::units::{Key, Nanos};

#[test]
fn an_octave_guessed_and_corrected_is_one_note_of_the_second_key() {
    for guess in [40, 64] {
        let trace = [
            on(100.0, guess),
            off(125.0, guess),
            on(125.0, 52),
            off(400.0, 52),
        ];
        assert_cleaned(&trace, Rule::OctaveGlitches, &[(100.0, 52, 300.0)]);
    }
    let late_off = [on(100.0, 40), on(139.9, 52), off(144.5, 40), off(400.0, 52)];
    assert_cleaned(&late_off, Rule::OctaveGlitches, &[(100.0, 52, 300.0)]);
    let there_and_back = [
        on(0.0, 40),
        off(12.0, 40),
        on(12.0, 52),
        off(30.0, 52),
        on(31.0, 40),
        off(300.0, 40),
    ];
    assert_cleaned(&there_and_back, Rule::OctaveGlitches, &[(0.0, 40, 300.0)]);
}

#[test]
fn octaves_that_last_forty_ms_or_sound_together_are_notes() {
    assert_passes(&[on(0.0, 40), off(40.0, 40), on(40.0, 52), off(90.0, 52)]);
    assert_passes(&[on(0.0, 40), off(55.0, 40), on(60.0, 52), off(120.0, 52)]);
    // A double stop.
    assert_passes(&[on(0.0, 40), on(3.0, 52), off(300.0, 40), off(310.0, 52)]);
    // Apart by a silence.
    assert_passes(&[on(0.0, 40), off(20.0, 40), on(39.0, 52), off(120.0, 52)]);
}

#[test]
fn what_was_cleaned_says_what_came_and_what_it_is_now() {
    let trace = [on(100.0, 40), off(125.0, 40), on(125.0, 52), off(400.0, 52)];
    let cleaned = Cleaned {
        rule: Rule::OctaveGlitches,
        at: Nanos::from_ms(100),
        key: Key(40),
        into: Some(Key(52)),
    };
    assert_eq!(clean(&trace, Rules::ALL).cleaned, [cleaned]);
}

#[test]
fn a_note_reported_twice_is_one_note() {
    let rule = Rule::DoubledNotes;
    let with_off = [on(0.0, 40), off(8.0, 40), on(20.0, 40), off(300.0, 40)];
    assert_cleaned(&with_off, rule, &[(0.0, 40, 300.0)]);
    let one_off_at_the_end = [on(0.0, 40), on(20.0, 40), off(300.0, 40)];
    assert_cleaned(&one_off_at_the_end, rule, &[(0.0, 40, 300.0)]);
    let two_offs_at_the_end = [on(0.0, 40), on(20.0, 40), off(300.0, 40), off(300.5, 40)];
    assert_cleaned(&two_offs_at_the_end, rule, &[(0.0, 40, 300.0)]);
    let off_of_the_first_late = [on(0.0, 40), on(20.0, 40), off(22.0, 40), off(300.0, 40)];
    assert_cleaned(&off_of_the_first_late, rule, &[(0.0, 40, 300.0)]);
    let three_times = [
        on(0.0, 40),
        off(9.0, 40),
        on(20.0, 40),
        off(28.0, 40),
        on(41.0, 40),
        off(300.0, 40),
    ];
    assert_cleaned(&three_times, rule, &[(0.0, 40, 300.0)]);
}

#[test]
fn fast_repeats_of_one_key_are_notes() {
    // Sixteenths at 160 bpm, 94 ms apart; at 240 bpm, 62.5 ms; and the bound itself.
    for apart in [93.75, 62.5, 30.0] {
        let trace: Vec<_> = (0..32)
            .flat_map(|n| {
                let start = apart * f64::from(n);
                [on(start, 40), off(start + 0.9 * apart, 40)]
            })
            .collect();
        assert_passes(&trace);
    }
}

#[test]
fn a_slide_in_steps_is_one_note_of_the_key_it_rests_on() {
    let rule = Rule::SlideSteps;
    let up = [
        on(0.0, 40),
        off(30.0, 40),
        on(30.0, 41),
        off(55.0, 41),
        on(56.0, 42),
        off(90.0, 42),
        on(90.0, 43),
        off(500.0, 43),
    ];
    assert_cleaned(&up, rule, &[(0.0, 43, 500.0)]);
    let down_with_late_offs = [
        on(0.0, 50),
        on(20.0, 49),
        off(23.0, 50),
        on(40.0, 48),
        off(44.0, 49),
        off(500.0, 48),
    ];
    assert_cleaned(&down_with_late_offs, rule, &[(0.0, 48, 500.0)]);
    let from_a_long_note = [&[on(-300.0, 39), off(0.0, 39)], &up[..]].concat();
    let notes = [(-300.0, 39, 300.0), (0.0, 43, 500.0)];
    assert_cleaned(&from_a_long_note, rule, &notes);
}

#[test]
fn a_fall_off_a_long_note_belongs_to_it() {
    let fall = [
        on(0.0, 45),
        off(400.0, 45),
        on(400.0, 44),
        off(420.0, 44),
        on(420.0, 43),
        off(440.0, 43),
        on(440.0, 42),
        off(460.0, 42),
    ];
    assert_cleaned(&fall, Rule::SlideSteps, &[(0.0, 45, 460.0)]);
}

#[test]
fn semitones_that_are_played_stay_notes() {
    let run = |length: f64, keys: &[u8]| {
        let notes = keys.iter().enumerate();
        notes
            .flat_map(|(n, key)| {
                let start = length * n as f64;
                [on(start, *key), off(start + length, *key)]
            })
            .collect::<Vec<_>>()
    };
    assert_passes(&run(40.0, &[40, 41, 42, 43, 44]));
    // Thirty-seconds at 120 bpm, a trill, a grace note, a turn.
    assert_passes(&run(62.5, &[40, 41, 42, 43, 44, 43, 42]));
    assert_passes(&run(80.0, &[40, 41, 40, 41, 40, 41]));
    assert_passes(&[on(0.0, 40), off(35.0, 40), on(35.0, 41), off(300.0, 41)]);
    assert_passes(&run(38.0, &[40, 41, 40]));
}

#[test]
fn a_note_split_by_a_bend_is_one_note_of_its_first_key() {
    let rule = Rule::BendSplits;
    let split = [
        on(0.0, 45),
        bend(180.0, 30),
        bend(190.0, 55),
        off(198.0, 45),
        bend(200.0, 0),
        on(200.0, 46),
        off(500.0, 46),
    ];
    assert_cleaned(&split, rule, &[(0.0, 45, 500.0)]);
    let and_back = [
        &split[..6],
        &[
            bend(300.0, -45),
            off(310.0, 46),
            on(310.0, 45),
            off(500.0, 45),
        ],
    ]
    .concat();
    assert_cleaned(&and_back, rule, &[(0.0, 45, 500.0)]);
}

#[test]
fn hammered_notes_and_notes_under_vibrato_are_notes() {
    assert_passes(&[on(0.0, 45), off(200.0, 45), on(200.0, 46), off(500.0, 46)]);
    // Vibrato of a fifth of a semitone; and a bend the other way.
    for cents in [20, -60] {
        assert_passes(&[
            on(0.0, 45),
            bend(190.0, cents),
            off(200.0, 45),
            on(200.0, 46),
            off(500.0, 46),
        ]);
    }
}

#[test]
fn a_whole_semitone_of_bend_that_stands_is_part_of_the_key() {
    let rule = Rule::BentKeys;
    let before = [bend(-50.0, 100), on(0.0, 40), off(300.0, 40)];
    assert_cleaned(&before, rule, &[(0.0, 41, 300.0)]);
    let just_after = [on(0.0, 40), bend(10.0, -195), off(300.0, 40)];
    assert_cleaned(&just_after, rule, &[(0.0, 38, 300.0)]);
    // RPN 0: an octave of range.
    let wide = [
        control(-9.0, 101, 0),
        control(-9.0, 100, 0),
        control(-9.0, 6, 12),
        bend(-8.0, 100),
        on(0.0, 40),
        off(300.0, 40),
    ];
    assert_cleaned(&wide, rule, &[(0.0, 46, 300.0)]);
}

#[test]
fn other_bends_have_no_effect_on_the_key() {
    assert_passes(&[bend(-50.0, 60), on(0.0, 40), off(300.0, 40)]);
    assert_passes(&[on(0.0, 40), bend(100.0, 200), off(300.0, 40)]);
    let wobble = (0..30).map(|n| bend(f64::from(n) * 10.0, if n % 2 == 0 { 100 } else { -100 }));
    let wobbling: Vec<_> = wobble.chain([on(1.0, 40), off(300.0, 40)]).collect();
    assert_passes(&wobbling);
}

#[test]
fn a_very_short_very_soft_note_is_left_out() {
    let trace = [
        on(0.0, 40),
        off(180.0, 40),
        on_channel(0, 195.0, 47, 9),
        off(207.0, 47),
        on(250.0, 45),
        off(400.0, 45),
    ];
    let notes = [(0.0, 40, 180.0), (250.0, 45, 150.0)];
    assert_cleaned(&trace, Rule::GhostTriggers, &notes);
    let cleaned = clean(&trace, Rules::ALL).cleaned;
    assert_eq!((cleaned[0].key, cleaned[0].into), (Key(47), None));
}

#[test]
fn ghost_notes_that_are_meant_are_louder_or_longer() {
    assert_passes(&[on_channel(0, 0.0, 40, 32), off(10.0, 40)]);
    assert_passes(&[on_channel(0, 0.0, 40, 9), off(15.0, 40)]);
}

/// Two strings, each with two notes: then the channels are known.
fn two_strings() -> Vec<leadsman::played::TimedMessage> {
    [0.0, 400.0, 800.0, 1200.0]
        .into_iter()
        .zip([(1, 38), (2, 33), (1, 40), (2, 35)])
        .flat_map(|(start, (channel, key))| {
            [
                on_channel(channel, start, key, 80),
                off_channel(channel, start + 300.0, key),
            ]
        })
        .collect()
}

#[test]
fn a_string_that_sounds_on_is_ended_by_its_next_note() {
    let overlap = [
        on_channel(1, 2000.0, 38, 80),
        on_channel(1, 2400.0, 41, 80),
        off_channel(1, 2600.0, 38),
        off_channel(1, 2700.0, 41),
    ];
    let came = clean(&[two_strings(), overlap.to_vec()].concat(), Rules::ALL);
    let last = &plain(&came.notes)[4..];
    assert_eq!(last, [(2000.0, 38, 400.0), (2400.0, 41, 300.0)]);
    assert_eq!(came.cleaned.len(), 1);
    assert_eq!(came.cleaned[0].rule, Rule::StringOverlaps);
    // On other strings notes ring on, and an off a little late is in order.
    let other_string = [
        on_channel(1, 2000.0, 38, 80),
        on_channel(2, 2400.0, 33, 80),
        off_channel(1, 2600.0, 38),
        on_channel(2, 2700.0, 35, 80),
        off_channel(2, 2704.0, 33),
        off_channel(2, 2900.0, 35),
    ];
    assert_passes(&[two_strings(), other_string.to_vec()].concat());
}

#[test]
fn a_channel_is_not_taken_for_a_string_without_evidence() {
    // All strings on one channel: two notes ring into each other.
    assert_passes(&[on(0.0, 40), on(300.0, 45), off(400.0, 40), off(600.0, 45)]);
    // A chord on one channel, then the same on its neighbour: a keyboard in two parts.
    let chord = |start: f64, channel: u8| {
        [
            on_channel(channel, start, 40, 80),
            on_channel(channel, start + 4.0, 47, 80),
            off_channel(channel, start + 300.0, 40),
            off_channel(channel, start + 300.0, 47),
        ]
    };
    let overlap = [
        on_channel(1, 2000.0, 38, 80),
        on_channel(1, 2400.0, 41, 80),
        off_channel(1, 2600.0, 38),
        off_channel(1, 2700.0, 41),
    ];
    let trace = [
        &chord(0.0, 1)[..],
        &chord(500.0, 2),
        &chord(900.0, 2),
        &overlap,
    ]
    .concat();
    assert_passes(&trace);
}

#[test]
fn a_note_whose_end_never_came_ends_at_the_next_one() {
    let trace = [
        on(0.0, 40),
        on(500.0, 45),
        off(900.0, 45),
        on(1000.0, 40),
        off(1400.0, 40),
    ];
    let notes = [(0.0, 40, 500.0), (500.0, 45, 400.0), (1000.0, 40, 400.0)];
    assert_cleaned(&trace, Rule::MissingOffs, &notes);
    // Never struck again: known when the take is over.
    let at_the_end = [
        on(0.0, 40),
        on(500.0, 45),
        off(900.0, 45),
        on(2000.0, 47),
        off(2500.0, 47),
    ];
    let notes = [(0.0, 40, 500.0), (500.0, 45, 400.0), (2000.0, 47, 500.0)];
    assert_cleaned(&at_the_end, Rule::MissingOffs, &notes);
}

#[test]
fn an_end_that_cannot_be_known_is_left_open() {
    assert_passes(&[on(0.0, 40), off(300.0, 40), on(500.0, 45)]);
    // Cut off by the end of the take while it rings on.
    assert_passes(&[on(0.0, 40), on(500.0, 45), off(900.0, 45)]);
    // The earlier off, a little late, when the key is struck again.
    assert_passes(&[on(0.0, 40), on(300.0, 40), off(320.0, 40), off(600.0, 40)]);
}

#[test]
fn a_note_on_of_velocity_zero_is_an_off_before_it_comes_here() {
    let read = leadsman::midi::message::parse(&[0x90, 40, 0]).expect("a message");
    assert_eq!(read, off(0.0, 40).message);
    let came = clean(&[on(0.0, 40), at(250.0, read)], Rules::ALL);
    assert_eq!(plain(&came.notes), [(0.0, 40, 250.0)]);
}

#[test]
fn all_notes_off_ends_the_notes_and_nothing_continues_them() {
    let all = MidiMessage::AllNotesOff { channel: 0 };
    assert_passes(&[
        on(0.0, 40),
        on(2.0, 47),
        at(20.0, all),
        on(21.0, 52),
        off(300.0, 52),
    ]);
}
