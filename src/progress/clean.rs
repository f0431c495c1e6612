//! The highest speed held clean.
//!
//! A take is clean when
//! - it went through to the end (nine tenths of the notes that the fullest take of these bars had to play);
//! - of the notes that had to be played, 95 % had the right pitch, and no more than 5 % were played besides: one in twenty is a slip;
//! - 80 % of the notes were in time: of recorded, hand-annotated bass (spread 22.5 ms) 82 % lie inside ±30 ms, so that
//!   whoever plays as steadily passes.
//!
//! A speed is held when two takes at it were clean in a row: one may be luck.

use super::figures::{Part, TakeFigures};
use super::history::{Entry, History};
use super::outcome::{CleanPoint, CleanSpeed};
use crate::line::bar_range::BarRange;
use std::collections::BTreeMap;

const TO_THE_END: f64 = 0.9;
const RIGHT: f64 = 0.95;
const BESIDES: f64 = 0.05;
const IN_TIME: f64 = 0.8;
/// Takes in a row that hold a speed.
pub(super) const HOLDS: u32 = 2;

/// Whether a take of bars, of which the fullest had so many notes, is clean.
pub fn is_clean(figures: &TakeFigures, fullest: u32) -> bool {
    let Part {
        expected,
        extra,
        pitch_right,
        timed,
        timing_in,
        ..
    } = figures.whole;
    let asked = figures.whole.asked_for_pitch();
    let share = |count: u32, of: u32| f64::from(count) / f64::from(of.max(1));
    let is_whole = expected > 0 && share(expected, fullest) >= TO_THE_END;
    let is_right =
        (asked == 0 || share(pitch_right, asked) >= RIGHT) && share(extra, expected) <= BESIDES;
    is_whole && is_right && timed > 0 && share(timing_in, timed) >= IN_TIME
}

/// One speed of some bars.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SpeedRecord {
    /// Clean takes in a row, up to the latest.
    pub in_a_row: u32,
    /// When it was held first.
    pub held_ms: Option<i64>,
    /// Whether any take was clean.
    pub once: bool,
    /// When it was played last.
    pub last_ms: i64,
}

/// All speeds of some bars, and what they came to.
pub(super) fn records(history: &History, bars: Option<BarRange>) -> BTreeMap<u32, SpeedRecord> {
    let takes = || history.entries().iter().filter(|entry| entry.bars == bars);
    let fullest = fullest(takes());
    let mut records: BTreeMap<u32, SpeedRecord> = BTreeMap::new();
    for entry in takes() {
        let record = records.entry(entry.footing().speed).or_default();
        record.last_ms = record.last_ms.max(entry.begun_ms);
        if is_clean(&entry.figures, fullest) {
            record.once = true;
            record.in_a_row += 1;
            if record.in_a_row >= HOLDS {
                record.held_ms.get_or_insert(entry.begun_ms);
            }
        } else {
            record.in_a_row = 0;
        }
    }
    records
}

fn fullest<'a>(takes: impl Iterator<Item = &'a Entry>) -> u32 {
    takes
        .map(|entry| entry.figures.whole.expected)
        .max()
        .unwrap_or(0)
}

/// The bars that were played, all of the line first.
pub(super) fn bars_played(history: &History) -> Vec<Option<BarRange>> {
    let bars = history.entries().iter().map(|entry| entry.bars);
    let mut bars: Vec<Option<[u32; 2]>> = bars.map(|bars| bars.map(Into::into)).collect();
    bars.sort_unstable();
    bars.dedup();
    bars.into_iter().map(|bars| bars.map(Into::into)).collect()
}

/// By bars, all of the line first.
pub(super) fn clean_speeds(history: &History) -> Vec<CleanSpeed> {
    bars_played(history)
        .into_iter()
        .map(|bars| clean_speed(history, bars))
        .collect()
}

fn clean_speed(history: &History, bars: Option<BarRange>) -> CleanSpeed {
    let records = records(history, bars);
    let fastest = |is: fn(&SpeedRecord) -> bool| {
        let mut speeds = records.iter().rev();
        speeds
            .find(|(_, record)| is(record))
            .map(|(speed, _)| *speed)
    };
    let held = fastest(|record| record.held_ms.is_some());
    CleanSpeed {
        bars,
        held,
        since_ms: held.and_then(|speed| records[&speed].held_ms),
        once: fastest(|record| record.once),
        tried: fastest(|_| true).unwrap_or(0),
        points: points(history, bars),
    }
}

fn points(history: &History, bars: Option<BarRange>) -> Vec<CleanPoint> {
    let takes: Vec<&Entry> = history
        .entries()
        .iter()
        .filter(|entry| entry.bars == bars)
        .collect();
    let fullest = fullest(takes.iter().copied());
    let point = |takes: &[&Entry]| CleanPoint {
        session: takes[0].session,
        begun_ms: takes[0].session_begun_ms,
        takes: takes.len(),
        clean: takes
            .iter()
            .filter(|entry| is_clean(&entry.figures, fullest))
            .map(|entry| entry.footing().speed)
            .max(),
    };
    takes
        .chunk_by(|one, next| one.session == next.session)
        .map(point)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn take(number: i64, speed: f64, in_time: u32) -> Entry {
        let whole = Part {
            expected: 100,
            matched: 100,
            pitched: 100,
            pitch_right: 95,
            extra: 5,
            timed: 100,
            timing_in: in_time,
            ..Part::default()
        };
        let figures = TakeFigures {
            whole,
            ..TakeFigures::default()
        };
        Entry {
            take: number,
            session: number / 3,
            session_begun_ms: number / 3 * 1000,
            begun_ms: number * 100,
            utc_offset_s: 0,
            speed,
            bars: None,
            figures,
        }
    }

    #[test]
    fn two_clean_takes_in_a_row_hold_a_speed_and_one_does_not() {
        let history = History::new(vec![
            take(0, 70.0, 80),
            take(1, 90.0, 85),
            take(2, 70.0, 90),
            take(3, 80.0, 95),
            take(4, 80.0, 79),
            take(5, 80.0, 95),
            take(6, 100.0, 60),
        ]);
        let clean = &clean_speeds(&history)[0];
        assert_eq!(
            (clean.held, clean.since_ms, clean.once, clean.tried),
            (Some(70), Some(200), Some(90), 100)
        );
        let points: Vec<_> = clean.points.iter().map(|point| point.clean).collect();
        assert_eq!(points, [Some(90), Some(80), None]);
    }

    #[test]
    fn each_condition_is_needed() {
        let clean = take(0, 100.0, 80).figures;
        assert!(is_clean(&clean, 100));
        assert!(is_clean(&clean, 111) && !is_clean(&clean, 112));
        let unclean: [fn(&mut Part); 3] = [
            |part| part.timing_in = 79,
            |part| part.pitch_right = 94,
            |part| part.extra = 6,
        ];
        for spoil in unclean {
            let mut figures = clean.clone();
            spoil(&mut figures.whole);
            assert!(!is_clean(&figures, 100));
        }
        assert!(!is_clean(&TakeFigures::default(), 0));
    }
}
