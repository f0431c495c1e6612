//! Habits of the stand-in that are about time: each moves what it says by what it says, and nothing else.

mod playing;

use leadsman::expected::Expected;
use leadsman::units::Nanos;
use playing::{Played, offsets_ms, play, section, unrolled};

const QUARTERS: &str = "A1/4 C2/4 D2/4 E2/4";

/// So many bars of quarters.
fn quarters(bars: usize) -> String {
    vec![QUARTERS; bars].join(" | ")
}

fn one_section(notes: &str) -> Expected {
    unrolled("", &[section("", notes)])
}

fn assert_near(found: &[Option<f64>], wanted: &[Option<f64>]) {
    assert_eq!(found.len(), wanted.len());
    for (index, pair) in found.iter().zip(wanted).enumerate() {
        match pair {
            (Some(found), Some(wanted)) => {
                assert!(
                    (found - wanted).abs() < 1e-5,
                    "note {index}: {found}, not {wanted}"
                );
            }
            (found, wanted) => assert_eq!(found, wanted, "note {index}"),
        }
    }
}

fn all(values: &[f64]) -> Vec<Option<f64>> {
    values.iter().copied().map(Some).collect()
}

/// Pairs of 2:1 at 120 have 500 ms; at 1.5 times their ratio, 3:1, the upbeat is at 375 ms instead of 333.3, and at half
/// of it, 1:1, at 250 ms.
#[test]
fn a_swing_factor_divides_the_swung_pairs_anew() {
    let notes = "A1/8 C2/8 D2/4 r/8 E2/8 D2/8t C2/8t A1/8t | A1/16 A1/16 A1/16 A1/16 r/2.";
    let swung = unrolled("swing = \"2:1\"", &[section("", notes)]);
    let third = 500.0 / 3.0;
    // The sixteenths of the last pair halve its halves.
    for (habit, up, first, last) in [
        (
            "swing-factor=1.5",
            375.0 - 2.0 * third,
            187.5 - third,
            437.5 - 2.5 * third,
        ),
        (
            "swing-factor=0.5",
            250.0 - 2.0 * third,
            125.0 - third,
            375.0 - 2.5 * third,
        ),
    ] {
        let wanted = [0.0, up, 0.0, up, 0.0, 0.0, 0.0, 0.0, first, up, last];
        assert_near(&offsets_ms(&swung, habit), &all(&wanted));
    }
    assert_near(&offsets_ms(&swung, "swing-factor=1"), &all(&[0.0; 11]));
}

#[test]
fn a_swing_factor_divides_pairs_of_sixteenths_and_in_a_pickup() {
    let head = "swing = \"3:1\"\nswung = \"1/16\"\npickup = true";
    let notes = "A1/16 C2/16 | A1/8 C2/16 D2/16 r/2.";
    let swung = unrolled(head, &[section("", notes)]);
    // A pair has 250 ms, its second half at 3/4; at 0.4 times that ratio, 1.2:1, at 12/22.
    let up = 250.0 * (12.0 / 22.0 - 0.75);
    let wanted = all(&[0.0, up, 0.0, 0.0, up]);
    assert_near(&offsets_ms(&swung, "swing-factor=0.4"), &wanted);
}

#[test]
fn a_swing_factor_leaves_straight_lines_alone() {
    let straight = one_section("A1/8 C2/8 D2/16 D2/16 E2/8 r/2");
    assert_near(&offsets_ms(&straight, "swing-factor=2"), &all(&[0.0; 5]));
}

#[test]
fn skips_move_alone() {
    let line = one_section("A1/4 r/8 C2/8 D2/8 E2/8 r/4 | A1/4 r/2.");
    let wanted = [0.0, 25.0, 0.0, 0.0, 0.0];
    assert_near(&offsets_ms(&line, "skips-ms=25"), &all(&wanted));
}

/// From 120 to 122: at the old tempo a beat of the new one takes 500 ms instead of 491.8, and so eight beats fall 65.57 ms
/// behind, which go in equal parts on the next four.
#[test]
fn an_old_tempo_is_kept_for_its_beats_and_then_made_up_for() {
    let line = unrolled(
        "",
        &[
            section("", &quarters(2)),
            section("tempo = 122", &quarters(4)),
        ],
    );
    let beat = 500.0 - 60_000.0 / 122.0;
    let mut wanted = vec![0.0; 8];
    wanted.extend((0..=8).map(|n| f64::from(n) * beat));
    wanted.extend([0.75, 0.5, 0.25, 0.0].map(|share| share * 8.0 * beat));
    wanted.resize(24, 0.0);
    assert_near(&offsets_ms(&line, "old-tempo-beats=8"), &all(&wanted));
}

/// From 120 to 60 and 16 beats kept the player is 8 s ahead and waits for the click; from 120 to 240 they are 4 s behind.
#[test]
fn a_great_change_of_tempo_is_made_up_for_without_changing_places() {
    for tempo in [60, 240] {
        let line = unrolled(
            "",
            &[
                section("", &quarters(2)),
                section(&format!("tempo = {tempo}"), &quarters(20)),
            ],
        );
        let truth = play(&line, "old-tempo-beats=16").truth;
        assert_eq!(truth.len(), 88);
        assert!(
            truth
                .windows(2)
                .all(|pair| pair[1].onset - pair[0].onset >= Nanos::from_ms(100)),
            "{tempo}"
        );
        assert_eq!(truth[87].offset, Nanos::ZERO, "{tempo}");
    }
}

#[test]
fn every_second_section_has_its_own_tempo() {
    let parts = [2, 2, 2].map(|bars| section("", &quarters(bars)));
    let line = unrolled("", &parts);
    // At 102 % each 500 ms take 490.2.
    let mut wanted = vec![0.0; 8];
    wanted.extend((0..8).map(|n| f64::from(n) * 500.0 * (1.0 / 1.02 - 1.0)));
    wanted.extend([0.0; 8]);
    assert_near(&offsets_ms(&line, "section-drift-percent=2"), &all(&wanted));
}

/// At 80 % the seven beats after the first take 4,375 ms instead of 3,500: the last note would come after the next
/// section has begun, 4,000 ms on. The one before it comes at 3,750 ms.
#[test]
fn what_a_dragging_section_has_not_reached_is_left_out() {
    let line = unrolled("", &[1, 2, 1].map(|bars| section("", &quarters(bars))));
    let mut wanted = all(&[0.0; 4]);
    wanted.extend((0..7).map(|n| Some(f64::from(n) * 125.0)));
    wanted.push(None);
    wanted.extend([Some(0.0); 4]);
    assert_near(&offsets_ms(&line, "section-drift-percent=-20"), &wanted);
}

/// Six bars: the fourth, with index 3, is the middle one.
#[test]
fn the_middle_phrase_is_late_or_early_as_a_whole() {
    let line = one_section(&quarters(6));
    for (beats, left_out) in [
        (0.5, 0..0),
        (-0.5, 0..0),
        (1.0, 20..21),
        (2.0, 20..22),
        (-1.0, 11..12),
        (-2.0, 10..12),
    ] {
        let mut wanted = [Some(0.0); 24];
        wanted[12..20].fill(Some(500.0 * beats));
        wanted[left_out].fill(None);
        let habit = format!("late-phrase-beats={beats}");
        assert_near(&offsets_ms(&line, &habit), &wanted);
    }
}

#[test]
fn a_bar_left_out_makes_two_bars_early() {
    let line = one_section(&quarters(7));
    let mut wanted = [Some(0.0); 28];
    wanted[12..16].fill(None);
    wanted[16..24].fill(Some(-2000.0));
    assert_near(&offsets_ms(&line, "skipped-bar=1"), &wanted);
}

#[test]
fn a_bar_played_twice_makes_two_bars_late() {
    let line = one_section(&quarters(8));
    let mut wanted = [Some(0.0); 32];
    wanted[20..28].fill(Some(2000.0));
    wanted[28..].fill(None);
    assert_near(&offsets_ms(&line, "repeated-bar=1"), &wanted);
    let Played { truth, .. } = play(&line, "repeated-bar=1");
    let again: Vec<_> = truth.iter().filter(|t| t.expected.is_none()).collect();
    for (index, note) in again.iter().enumerate() {
        let first = truth.iter().find(|t| t.expected == Some(16 + index));
        let first = first.expect("the first time");
        assert_eq!((note.key, note.length), (first.key, first.length));
        assert_eq!(note.onset, first.onset + Nanos::from_ms(2000));
    }
    assert_eq!(again.len(), 4);
}

/// A phrase that comes late leaves a silence before it: the note there rings into that, not on to the phrase.
#[test]
fn a_note_before_a_gap_rings_for_its_time_alone() {
    let line = one_section("A1/4 A1/4 A1/4 A1/4 | A2/4 A2/4 A2/4 A2/4");
    let truth = play(&line, "late-phrase-beats=2,ring-over-ms=80").truth;
    assert_eq!(truth[3].length, Nanos::from_ms(580));
}

#[test]
fn every_fourth_bar_is_rough() {
    let line = unrolled(
        "",
        &[section(
            "passes = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0]",
            &quarters(8),
        )],
    );
    let offsets = offsets_ms(&line, "rough-bars-ms=20");
    let mut rough = Vec::new();
    for (note, offset) in line.notes.iter().zip(&offsets) {
        let offset = offset.expect("all are played");
        match line.bars[note.bar as usize].number {
            4 | 8 => rough.push(offset),
            _ => assert_eq!(offset, 0.0),
        }
    }
    assert_eq!(rough.len(), 80);
    let power = rough.iter().map(|ms| ms * ms).sum::<f64>() / 80.0;
    // The standard error of a deviation from 80 draws is 8 %.
    assert!((power.sqrt() - 20.0).abs() < 5.0, "{}", power.sqrt());
}

#[test]
fn a_click_that_sounds_throughout_leaves_the_own_clock_no_room() {
    let line = one_section(&quarters(2));
    let wanted = all(&[0.0; 8]);
    assert_near(&offsets_ms(&line, "clock-ms=20,hand-ms=8"), &wanted);
}
