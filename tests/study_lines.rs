//! The twelve graded studies under `lines/`: numbered, listed, playable, and each with what its comment promises.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::fingering::{Fingering, Placed, Source};
use leadsman::line::read::read;
use leadsman::line::{Line, Place, Section};
use std::path::{Path, PathBuf};

/// From the easiest.
const STUDIES: [&str; 12] = [
    "first_bell",
    "last_call_ashore",
    "mooring_lines",
    "ticket_punch",
    "echo_off_the_breakwater",
    "night_watch_rounds",
    "crossing_the_wake",
    "two_blasts_astern",
    "winch_ratchet",
    "rising_water",
    "pilot_ladder",
    "gulls_over_the_wheelhouse",
];

fn folder() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn path(name: &str) -> PathBuf {
    folder().join(format!("lines/{name}.toml"))
}

fn line(name: &str) -> Line {
    read(&path(name)).unwrap_or_else(|error| panic!("{error}"))
}

fn expected(name: &str) -> Expected {
    unroll(&line(name), Speed::WRITTEN)
}

fn fingered(name: &str) -> bool {
    line(name).sections.iter().all(|s| s.fingers.is_some())
}

fn ties(section: &Section) -> usize {
    let last = |bar: &leadsman::line::Bar| bar.notes.last().is_some_and(|note| note.tie);
    section.bars.iter().filter(|bar| last(bar)).count()
}

#[test]
fn each_study_says_its_number_and_how_to_practise_it() {
    for (index, name) in STUDIES.iter().enumerate() {
        let text = std::fs::read_to_string(path(name)).unwrap();
        let number = format!("# Study {} of 12\n", index + 1);
        assert!(text.starts_with(&number), "{name}");
        let head = text.lines().take_while(|line| line.starts_with('#'));
        let says = head.filter(|line| line.starts_with("# Practise ")).count();
        assert_eq!(says, 1, "{name}");
    }
}

#[test]
fn the_readme_lists_the_studies_in_their_order() {
    let readme = std::fs::read_to_string(folder().join("README.md")).unwrap();
    let places: Vec<usize> = STUDIES
        .iter()
        .map(|name| readme.find(&format!("| `{name}` |")).expect(name))
        .collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn written_fingers_lie_under_the_hand() {
    for name in STUDIES.into_iter().filter(|name| fingered(name)) {
        let expected = expected(name);
        let fingering = Fingering::of(&expected);
        for (note, placed) in expected.notes.iter().zip(&fingering.places) {
            assert_eq!(placed.finger, note.finger, "{name}, bar {}", note.bar);
            assert_eq!(placed.source, Source::Written, "{name}");
        }
    }
}

#[test]
fn five_studies_have_strings_and_fingers_throughout() {
    assert_eq!(STUDIES.iter().filter(|name| fingered(name)).count(), 5);
}

#[test]
fn the_pilot_ladder_shifts_without_an_open_string() {
    let fingering = Fingering::of(&expected("pilot_ladder"));
    assert!(fingering.places.iter().all(|place| place.fret > Some(0)));
    let shifts = fingering.moves.iter().filter_map(|m| m.shift);
    assert!(shifts.filter(|shift| shift.by != 0).count() >= 10);
}

#[test]
fn the_last_study_lies_between_the_ninth_and_the_fifteenth_fret() {
    let places = Fingering::of(&expected("gulls_over_the_wheelhouse")).places;
    let frets: Vec<u8> = places
        .iter()
        .filter_map(|place: &Placed| place.fret)
        .collect();
    assert_eq!(frets.len(), places.len());
    assert_eq!(
        (frets.iter().min(), frets.iter().max()),
        (Some(&9), Some(&15))
    );
}

#[test]
fn the_last_study_swings_two_to_one_with_skips() {
    let expected = expected("gulls_over_the_wheelhouse");
    let swing = line("gulls_over_the_wheelhouse").swing.expect("swing");
    assert_eq!((swing.long, swing.short), (2000, 1000));
    let skips = expected.notes.iter().filter(|note| note.is.skip);
    assert!(skips.count() >= 30);
}

#[test]
fn the_tempi_of_rising_water_lie_two_apart_while_the_key_climbs() {
    let line = line("rising_water");
    let tempi: Vec<u32> = line
        .sections
        .iter()
        .filter_map(|s| Some(s.tempo?.0))
        .collect();
    assert_eq!(tempi, [96_000, 98_000, 100_000, 98_000]);
    let climbs = line.sections.iter().filter(|s| s.passes.len() > 1);
    let mut tonics = Vec::new();
    for section in climbs {
        let tonic = section.key.expect("a key").tonic.semitones();
        tonics.extend(section.passes.iter().map(|shift| tonic + *shift));
    }
    assert!(
        tonics.windows(2).all(|pair| pair[1] == pair[0] + 1),
        "{tonics:?}"
    );
}

#[test]
fn crossing_the_wake_is_tied_over_most_of_its_bar_lines() {
    let sections = line("crossing_the_wake").sections;
    assert!(sections.iter().map(ties).sum::<usize>() >= 10);
}

#[test]
fn two_blasts_astern_has_every_length_many_times() {
    let sections = line("two_blasts_astern").sections;
    let marks = || {
        let bars = sections.iter().flat_map(|section| &section.bars);
        bars.flat_map(|bar| &bar.notes).map(|note| &note.marks)
    };
    assert!(marks().filter(|marks| marks.full).count() >= 15);
    assert!(marks().filter(|marks| marks.short).count() >= 15);
    assert!(marks().filter(|marks| marks.muted).count() >= 15);
}

#[test]
fn most_bars_of_last_call_ashore_end_or_begin_in_a_rest() {
    let sections = line("last_call_ashore").sections;
    let bars: Vec<_> = sections.iter().flat_map(|section| &section.bars).collect();
    let rests = |bar: &&&leadsman::line::Bar| bar.notes.iter().any(|n| n.place == Place::Rest);
    assert!(bars.iter().filter(rests).count() * 4 >= bars.len() * 3);
}
