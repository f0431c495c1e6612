//! The study lines under `lines/`: each is valid, prints and reads back, and has what its comment promises.

use leadsman::line::length::NoteLength;
use leadsman::line::parse::parse;
use leadsman::line::pitch::PitchClass;
use leadsman::line::print::print;
use leadsman::line::read::read;
use leadsman::line::{Bar, Line, Note, Place, Section, Stop, Stroke, Swung};
use leadsman::units::{Key, Ticks};
use std::path::{Path, PathBuf};

const NAMES: [&str; 20] = [
    "bilge_pump",
    "crossing_the_wake",
    "echo_off_the_breakwater",
    "first_bell",
    "five_bollards",
    "fog_on_the_slipway",
    "four_decks_up",
    "gangway_skip",
    "gulls_over_the_wheelhouse",
    "last_call_ashore",
    "mooring_lines",
    "night_watch_rounds",
    "pilot_ladder",
    "rising_water",
    "slow_swell",
    "ticket_punch",
    "tide_table_walk",
    "two_blasts_astern",
    "under_the_car_deck",
    "winch_ratchet",
];

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("lines/{name}.toml"))
}

fn line(name: &str) -> Line {
    read(&path(name)).unwrap_or_else(|error| panic!("{error}"))
}

fn all() -> impl Iterator<Item = (&'static str, Line)> {
    NAMES.into_iter().map(|name| (name, line(name)))
}

fn notes(line: &Line) -> impl Iterator<Item = &Note> {
    line.sections.iter().flat_map(section_notes)
}

fn section_notes(section: &Section) -> impl Iterator<Item = &Note> {
    section.bars.iter().flat_map(|bar| &bar.notes)
}

/// Where each note of a bar starts.
fn starts(bar: &Bar) -> impl Iterator<Item = (Ticks, &Note)> {
    bar.notes.iter().scan(Ticks(0), |at, note| {
        let start = *at;
        *at += note.length.ticks();
        Some((start, note))
    })
}

fn keys(line: &Line, note: &Note) -> Vec<Key> {
    match &note.place {
        Place::Struck(stops) => stops
            .iter()
            .filter_map(|stop| line.tuning.key_of(*stop))
            .collect(),
        _ => Vec::new(),
    }
}

/// The fret of a note that names its string.
fn fret(line: &Line, note: &Note) -> Option<u8> {
    match &note.place {
        Place::Struck(stops) => match stops[..] {
            [Stop::Fret { fret, .. }] => Some(fret),
            [Stop::PitchOn { pitch, string }] => line.tuning.fret_of(pitch.key()?, string),
            _ => None,
        },
        _ => None,
    }
}

#[test]
fn there_are_these_twenty_lines_and_no_other() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("lines");
    let mut found: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    found.sort();
    assert_eq!(found, NAMES);
}

#[test]
fn each_line_prints_and_reads_back_as_itself() {
    for (name, line) in all() {
        let text = print(&line);
        assert_eq!(parse(&text, name).as_ref(), Ok(&line), "{text}");
    }
}

#[test]
fn each_line_says_at_its_head_what_it_trains() {
    for name in NAMES {
        let text = std::fs::read_to_string(path(name)).unwrap();
        let head: Vec<&str> = text
            .lines()
            .take_while(|line| line.starts_with('#'))
            .collect();
        assert!(
            head.iter().any(|line| line.starts_with("# Trains: ")),
            "{name}"
        );
    }
}

#[test]
fn each_line_has_8_to_24_bars_with_a_key_and_chords() {
    for (name, line) in all() {
        let bars: usize = line.sections.iter().map(|section| section.bars.len()).sum();
        assert!(
            (8..=24).contains(&(bars - usize::from(line.pickup))),
            "{name}: {bars}"
        );
        for section in &line.sections {
            assert!(section.key.or(line.key).is_some(), "{name}");
            assert!(section.chords.is_some(), "{name}");
        }
    }
}

#[test]
fn each_line_but_the_last_study_stays_within_an_octave_of_the_nut() {
    for (name, line) in all() {
        let highest = notes(&line)
            .flat_map(|note| keys(&line, note))
            .max()
            .unwrap();
        let widest = line.sections.iter().flat_map(|s| &s.passes).max().unwrap();
        let octave = line
            .tuning
            .open
            .last()
            .and_then(|open| open.key())
            .unwrap()
            .0
            + 12;
        let beyond = if name == "gulls_over_the_wheelhouse" {
            3
        } else {
            0
        };
        assert!(
            highest.0 + widest.unsigned_abs() <= octave + beyond,
            "{name}: {highest}"
        );
    }
}

/// Bass players put the root where a chord begins (common practice). An inversion has its slash note there.
#[test]
fn chord_changes_land_on_their_roots() {
    for (name, line) in all() {
        let (mut changes, mut on_root) = (0, 0);
        for section in &line.sections {
            let chords = section.chords.iter().flatten();
            for (bar, cell) in section.bars.iter().zip(chords) {
                let first = bar
                    .notes
                    .iter()
                    .map(|note| keys(&line, note))
                    .find(|keys| !keys.is_empty());
                if let (Some(chord), Some(first)) = (cell.chords.first(), first) {
                    let lowest = chord.symbol.bass.unwrap_or(chord.symbol.root);
                    changes += 1;
                    on_root += usize::from(sounds(first[0], lowest));
                }
            }
        }
        assert!(changes >= 8 || name == "slow_swell", "{name}: {changes}");
        assert!(
            10 * on_root >= 9 * changes,
            "{name}: {on_root} of {changes}"
        );
    }
}

/// The same for chords that begin inside a bar.
#[test]
fn chords_inside_a_bar_find_their_root_within_a_beat() {
    let mut found = 0;
    for (name, line) in all() {
        for section in &line.sections {
            let beat = section.meter.unwrap_or(line.meter).beat();
            for (bar, cell) in section.bars.iter().zip(section.chords.iter().flatten()) {
                for chord in cell
                    .chords
                    .iter()
                    .filter(|chord| chord.beat.unwrap_or(1000) > 1000)
                {
                    let at = Ticks(i64::from(chord.beat.unwrap() - 1000) * beat.0 / 1000);
                    let first = starts(bar)
                        .filter(|(start, _)| *start >= at && *start < at + beat)
                        .find_map(|(_, note)| keys(&line, note).first().copied());
                    let first = first.unwrap_or_else(|| panic!("{name}: {}", chord.symbol));
                    assert!(sounds(first, chord.symbol.root), "{name}: {}", chord.symbol);
                    found += 1;
                }
            }
        }
    }
    assert!(found >= 8, "{found}");
}

fn sounds(key: Key, class: PitchClass) -> bool {
    i16::from(key.0 % 12) == i16::from(class.semitones()).rem_euclid(12)
}

#[test]
fn three_lines_or_more_have_strokes_or_fingers() {
    let layered = |section: &Section| section.strokes.is_some() || section.fingers.is_some();
    let count = all()
        .filter(|(_, line)| line.sections.iter().any(layered))
        .count();
    assert!(count >= 3, "{count}");
}

#[test]
fn strokes_go_down_on_the_beat_and_up_between() {
    for (name, unit) in [
        ("gangway_skip", 480),
        ("bilge_pump", 240),
        ("ticket_punch", 480),
        ("winch_ratchet", 240),
        ("pilot_ladder", 480),
        ("gulls_over_the_wheelhouse", 480),
    ] {
        let line = line(name);
        let bars = line.sections.iter().flat_map(|section| {
            let strokes = section.strokes.as_ref().expect("strokes");
            section.bars.iter().zip(strokes)
        });
        for (bar, strokes) in bars {
            let struck = starts(bar).filter(|(_, note)| note.place != Place::Rest);
            for ((start, _), stroke) in struck.zip(strokes) {
                let down = (start.0 / unit) % 2 == 0;
                assert_eq!(*stroke == Stroke::Down, down, "{name} at {start:?}");
            }
        }
    }
}

#[test]
fn gangway_skip_swings_with_upbeat_entries_skips_and_climbing_passes() {
    let line = line("gangway_skip");
    let swing = line.swing.expect("swing");
    assert_eq!(
        (swing.long, swing.short, line.swung),
        (2000, 1000, Swung::Eighth)
    );
    assert!(line.pickup);
    let passes = &line.sections[0].passes;
    assert!(passes.windows(2).all(|pair| pair[1] > pair[0]) && passes.len() >= 3);
    let bars = || line.sections.iter().flat_map(|section| &section.bars);
    let entries = bars().filter(|bar| {
        bar.notes[0].place == Place::Rest && bar.notes[0].length.ticks() == Ticks(480)
    });
    assert!(entries.count() >= 5);
    let skips = bars().flat_map(starts).filter(|(start, note)| {
        start.0 % 960 == 480 && note.marks.short && note.length.ticks() == Ticks(480)
    });
    assert!(skips.count() >= 15);
}

#[test]
fn tide_table_walk_has_octave_jumps_to_be_muted_across_a_string() {
    let line = line("tide_table_walk");
    let all: Vec<&Note> = notes(&line).collect();
    let string = |note: &Note| match &note.place {
        Place::Struck(stops) => stops[0].string().map(|string| string.0),
        _ => None,
    };
    let mut jumps = 0;
    for (index, muted) in all.iter().enumerate().filter(|(_, note)| note.marks.muted) {
        let before = all[index - 1];
        assert_eq!(keys(&line, before)[0].0 + 12, keys(&line, muted)[0].0);
        // Two strings up, or three to the open G: a smaller number is a higher string.
        let strings_up = string(before)
            .zip(string(muted))
            .map(|(low, high)| low - high);
        assert!(matches!(strings_up, Some(2 | 3)), "{strings_up:?}");
        jumps += 1;
    }
    assert!(jumps >= 6, "{jumps}");
    let quarters = all
        .iter()
        .filter(|note| note.length.ticks() == Ticks(960))
        .count();
    assert!(quarters * 10 >= all.len() * 8);
}

#[test]
fn tide_table_walk_is_fingered_in_the_first_position() {
    assert_fingers("tide_table_walk", |fret| [0, 1, 2, 4][usize::from(fret)]);
}

#[test]
fn under_the_car_deck_is_fingered_a_finger_a_fret_from_the_second() {
    assert_fingers("under_the_car_deck", |fret| fret.saturating_sub(1));
}

fn assert_fingers(name: &str, finger_of: impl Fn(u8) -> u8) {
    let line = line(name);
    for section in &line.sections {
        let fingers = section.fingers.as_ref().expect("fingers").iter().flatten();
        let frets = section_notes(section).filter_map(|note| fret(&line, note));
        for (fret, finger) in frets.zip(fingers) {
            assert_eq!(*finger, finger_of(fret), "{name}, fret {fret}");
        }
    }
}

#[test]
fn bilge_pump_is_straight_sixteenths_with_dead_and_ghost_notes() {
    let line = line("bilge_pump");
    assert_eq!(line.swing, None);
    let count = |wanted: fn(&Note) -> bool| notes(&line).filter(|note| wanted(note)).count();
    assert!(count(|note| matches!(note.place, Place::Dead(_))) >= 16);
    assert!(count(|note| note.marks.optional) >= 16);
    assert!(count(|note| note.length.ticks() == Ticks(240)) >= 60);
}

#[test]
fn the_meters_are_those_that_are_promised() {
    for (name, meter) in [
        ("fog_on_the_slipway", "3/4"),
        ("five_bollards", "5/4"),
        ("slow_swell", "12/8"),
        ("four_decks_up", "4/4"),
        ("last_call_ashore", "3/4"),
        ("two_blasts_astern", "6/8"),
    ] {
        assert_eq!(line(name).meter.to_string(), meter, "{name}");
    }
}

#[test]
fn the_ballad_is_slow_and_holds_its_notes() {
    let line = line("fog_on_the_slipway");
    assert!(line.tempo.0 <= 80_000);
    assert!(notes(&line).filter(|note| note.marks.full).count() >= 7);
    let dotted_half = NoteLength {
        value: 2,
        dots: 1,
        triplet: false,
    };
    assert!(notes(&line).any(|note| note.tie && note.length == dotted_half));
}

#[test]
fn under_the_car_deck_uses_the_low_b_string() {
    let line = line("under_the_car_deck");
    assert_eq!(line.tuning.open.len(), 5);
    assert_eq!(line.tuning.lowest().unwrap().to_string(), "B0");
    let low = notes(&line).filter(|note| keys(&line, note).first().is_some_and(|key| key.0 < 28));
    assert!(low.count() >= 15);
}

#[test]
fn four_decks_up_climbs_in_key_and_by_three_a_minute() {
    let line = line("four_decks_up");
    let tempos: Vec<u32> = line
        .sections
        .iter()
        .filter_map(|s| Some(s.tempo?.0))
        .collect();
    assert_eq!(tempos, [100_000, 103_000, 106_000, 109_000]);
    let tonics: Vec<i8> = line
        .sections
        .iter()
        .filter_map(|s| Some(s.key?.tonic.semitones()))
        .collect();
    let steps: Vec<i8> = tonics
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).rem_euclid(12))
        .collect();
    assert_eq!(steps, [2, 2, 2]);
}
