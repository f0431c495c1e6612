//! Clean playing passes the clean-up stage unchanged: no rule touches it.

mod cleaning;

use cleaning::{assert_passes, off_channel, on_channel};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use leadsman::midi::smf;
use leadsman::stand_in::{Habits, play};
use proptest::prelude::*;

/// Sixteenths on one key, chromatic sixteenths up and down, octave leaps in eighths, double stops, dead and ghost notes.
const HARD: &str = "title = \"h\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [0, 0, 0, 0]\n\
     notes = \"E1/16 E1/16 E1/16 E1/16 x/16 E1/16 E1/16? x/16 E1/16 F1/16 F#1/16 G1/16 G#1/16 G1/16 F#1/16 F1/16 | \
     E1/8 E2/8 E1/8' E2/8' D2+A2/4 E1+E2/4m | A1/8t A#1/8t B1/8t A2/8 A1/8 r/2\"";

fn texts() -> Vec<String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("lines");
    let files = std::fs::read_dir(folder).expect("the lines");
    let mut texts: Vec<String> = files
        .map(|file| std::fs::read_to_string(file.expect("a file").path()).expect("a line"))
        .collect();
    texts.push(HARD.into());
    texts
}

#[test]
fn no_rule_touches_any_stand_in_without_a_converter() {
    for text in texts() {
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        for speed in [70_000, 100_000, 120_000] {
            let expected = unroll(&line, Speed(speed));
            for name in Habits::names().filter(|name| *name != "bad-converter") {
                for seed in 0..8 {
                    assert_passes(&play(&expected, &Habits::named(name).unwrap(), seed));
                }
            }
        }
    }
}

#[test]
fn no_rule_touches_a_stand_in_with_several_habits() {
    let habits = [
        "late-entries,rushed-upbeats,missed-muting,wrong-frets",
        "unsteady,patchy",
        "laid-back,short-notes,missed-muting,converter",
        "early-entries,dragged-upbeats,velocity-spread=20,rushing",
    ];
    for text in texts() {
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = unroll(&line, Speed::WRITTEN);
        for habits in habits {
            for seed in 0..20 {
                assert_passes(&play(&expected, &habits.parse().unwrap(), seed));
            }
        }
    }
}

/// One hand on one string: notes of any key, each of 60 ms or more, with silences, and the next on as the last ends or
/// up to 5 ms before.
fn playing() -> impl Strategy<Value = Vec<(u8, f64, f64, u8)>> {
    let note = (28u8..60, 60.0..900.0, -5.0..400.0, 20u8..127);
    prop::collection::vec(note, 1..60)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn notes_of_sixty_ms_or_more_pass_whatever_their_keys(notes in playing(), channel in 0u8..16) {
        let (mut events, mut start) = (Vec::new(), 0.0);
        let mut last_key = 0;
        for (mut key, length, silence, velocity) in notes {
            // A key that is struck again ends first.
            let silence = if key == last_key { silence.max(0.0) } else { silence };
            start += silence;
            key = key.min(127);
            events.push(on_channel(channel, start, key, velocity));
            events.push(off_channel(channel, start + length, key));
            start += length;
            last_key = key;
        }
        assert_passes(&events);
    }
}

/// A voice among 3,000 bends of a tenth of a semitone, as a converter sends them: see `tests/golden/smf_notes.py`.
#[test]
fn a_file_full_of_small_bends_is_read_as_the_notes_in_it() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/smf");
    let file = smf::read_file(&path.join("made_bends.mid")).expect("a file");
    let events = file.messages();
    assert!(events.len() > 3000);
    assert_passes(&events);
}
