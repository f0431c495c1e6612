//! How much of its length the stand-in lets a note sound.

use super::Habits;
use crate::expected::{Expected, ExpectedNote};
use crate::line::Stroke;
use crate::units::Nanos;

/// The factors on the sounding lengths.
pub(super) struct Lengths<'a> {
    habits: &'a Habits,
    /// Where each tempo begins, and how much faster than the line's slowest it is: 0.1 is 10 %.
    faster: Vec<(Nanos, f64)>,
}

impl<'a> Lengths<'a> {
    pub(super) fn new(expected: &Expected, habits: &'a Habits) -> Lengths<'a> {
        let tempi = || {
            let changes = expected.tempo_map.changes();
            changes.map(|(_, at, rate)| (at, rate.quarters_per_minute()))
        };
        let slowest = tempi().map(|(_, tempo)| tempo).fold(f64::MAX, f64::min);
        Lengths {
            habits,
            faster: tempi()
                .map(|(at, tempo)| (at, tempo / slowest - 1.0))
                .collect(),
        }
    }

    /// The share of its expected sounding length that a note gets.
    pub(super) fn factor(&self, note: &ExpectedNote) -> f64 {
        let stroke = match note.stroke {
            Some(Stroke::Up) => self.habits.up_strokes_length,
            _ => 1.0,
        };
        let tempo = self.faster.partition_point(|(at, _)| *at <= note.onset);
        let faster = self.faster[tempo.saturating_sub(1)].1;
        let speed = self.habits.fast_notes_short.powf(10.0 * faster);
        self.habits.short_notes * stroke * speed
    }
}
