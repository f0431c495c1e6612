//! Line → MIDI file → line keeps what a MIDI file can hold: every note with its key and written place, meters, the
//! swing (as a marker beside straight notes), and the title.
//!
//! A pickup comes back as a whole bar with rests. Not compared, because the format does not hold it: strings, frets, fingers, strokes, chords, spelling, what is a dead
//! note and what a pitched one, how notes are tied together from pieces, passes (they come back as they are played).
//! Written lengths come back by a rule (`import::smf::lengths`), which `tests/import_smf.rs` looks at.

mod line_strategy;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::export::smf::{Feel, write};
use leadsman::import::smf::{Choice, read};
use leadsman::line::read::read as read_line;
use leadsman::line::{Line, SwingRatio, Swung};
use leadsman::score::tidy::{Wishes, tidy};
use leadsman::units::{Key, Ticks};
use proptest::prelude::*;

/// What comes back; `None` where the grid cannot hold the line's figures (the import says so).
fn there_and_back(line: &Line, grid: &str) -> Option<Line> {
    let exported = write(line, None, Speed::WRITTEN, Feel::Straight).expect("a file");
    let choice = Choice {
        // What is found without being told is for `tests/import_smf.rs`.
        grid: Some(grid.parse().expect("a grid")),
        ..Choice::default()
    };
    let read = read(&exported.bytes, &choice).ok()?;
    let wishes = Wishes {
        title: "untitled".into(),
        tuning: Some(line.tuning.clone()),
        ..Wishes::default()
    };
    let is_held = read.moves.largest.0.abs() < 0.5;
    is_held.then(|| tidy(&read.score, &wishes).expect("a line").0)
}

/// Where a note is written, and its key.
fn struck(expected: &Expected) -> Vec<(Ticks, Option<Key>)> {
    let mut struck: Vec<_> = expected
        .notes
        .iter()
        .map(|note| (expected.bars[note.bar as usize].start + note.at, note.key))
        .collect();
    struck.sort();
    struck
}

type BarFacts = (Ticks, String, Option<(SwingRatio, Swung)>);

fn bars(line: &Line, expected: &Expected) -> Vec<BarFacts> {
    let last = expected.notes.last().map_or(0, |note| note.bar) as usize;
    let facts = |bar: &leadsman::expected::ExpectedBar| {
        let section = &line.sections[usize::from(bar.section)];
        let ratio = section.swing.or(line.swing);
        let ratio = ratio.filter(|ratio| ratio.long != ratio.short);
        let swung = section.swung.unwrap_or(line.swung);
        (
            bar.start,
            bar.meter().to_string(),
            ratio.map(|ratio| (ratio, swung)),
        )
    };
    expected.bars[..=last].iter().map(facts).collect()
}

/// Compares the two; a dead note has come back as the pitch that it was written with.
fn compare(line: &Line, back: &Line, name: &str) {
    let (one, other) = (unroll(line, Speed::WRITTEN), unroll(back, Speed::WRITTEN));
    let (ours, theirs) = (struck(&one), struck(&other));
    assert_eq!(ours.len(), theirs.len(), "{name}");
    // A pickup comes back at the end of a whole bar.
    let moved = theirs[0].0 - ours[0].0;
    assert!(line.pickup || moved == Ticks(0), "{name}: {moved:?}");
    for (our, their) in std::iter::zip(ours, theirs) {
        assert_eq!(our.0 + moved, their.0, "{name}");
        assert!(
            our.1.is_none() || our.1 == their.1,
            "{name}: {our:?} {their:?}"
        );
    }
    let whole = usize::from(line.pickup);
    let mut ours = bars(line, &one);
    ours.iter_mut().for_each(|bar| bar.0 += moved);
    assert_eq!(ours[whole..], bars(back, &other)[whole..], "{name}");
}

#[test]
fn every_house_line_comes_back_straight_with_its_swing_as_a_marker() {
    let mut compared = 0;
    for entry in std::fs::read_dir("lines").expect("lines") {
        let path = entry.expect("an entry").path();
        let line = read_line(&path).expect("a line");
        let back = there_and_back(&line, "1/16+1/16t").expect("a line on the grid");
        assert_eq!(back.title, line.title, "{}", path.display());
        compare(&line, &back, &path.display().to_string());
        compared += 1;
    }
    assert_eq!(compared, 20);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn any_line_comes_back(line in line_strategy::lines()) {
        let has_notes = !unroll(&line, Speed::WRITTEN).notes.is_empty();
        prop_assume!(has_notes);
        let back = there_and_back(&line, "1/32+1/16t");
        prop_assume!(back.is_some());
        compare(&line, &back.expect("a line"), "generated");
    }
}
