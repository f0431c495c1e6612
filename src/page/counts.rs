//! What a player counts: the beats, and between them what the notes need.

use super::Sign;
use crate::expected::ExpectedBar;
use crate::line::meter::beat_is_dotted;
use crate::units::Ticks;
use std::collections::{BTreeMap, BTreeSet};

/// The counts of a bar, by written position in it. `places` are where notes and rests begin.
///
/// Beats are always counted; halves of a beat (`&`; thirds `& a` of a dotted one) in all beats of a bar that needs one, quarters
/// (`e a`) and triplets (`t l`) in the beats that need one. Any other place has a dot.
pub(super) fn counts(bar: &ExpectedBar, places: &BTreeSet<Ticks>) -> BTreeMap<Ticks, String> {
    let grid = Grid::of(bar, places);
    let end = bar.offset + bar.length;
    let mut counts = BTreeMap::new();
    let mut beat = Ticks(bar.offset.0 / bar.beat.0 * bar.beat.0);
    while beat < end {
        for into in grid.counted(beat) {
            let at = beat + into;
            if (bar.offset..end).contains(&at) {
                counts.insert(at - bar.offset, grid.syllable(at));
            }
        }
        beat += bar.beat;
    }
    counts
}

/// The sign that a count needs explained.
pub(super) fn sign(count: &str) -> Option<Sign> {
    match count {
        "t" | "l" => Some(Sign::Triplet),
        "." => Some(Sign::Between),
        _ => None,
    }
}

struct Grid {
    beat: Ticks,
    /// Into which parts every beat of the bar is counted.
    parts: i64,
    /// Places in the full bar.
    places: Vec<Ticks>,
}

impl Grid {
    fn of(bar: &ExpectedBar, places: &BTreeSet<Ticks>) -> Grid {
        let places: Vec<Ticks> = places.iter().map(|at| *at + bar.offset).collect();
        let parts = if beat_is_dotted(bar.beat) { 3 } else { 2 };
        let needs =
            |at: &Ticks| at.0 % bar.beat.0 != 0 && is_part(at.0 % bar.beat.0, bar.beat, parts);
        let parts = if places.iter().any(needs) { parts } else { 1 };
        Grid {
            beat: bar.beat,
            parts,
            places,
        }
    }

    /// What is counted in the beat that begins at `beat`, from there.
    fn counted(&self, beat: Ticks) -> BTreeSet<Ticks> {
        let inside = |at: &&Ticks| (beat..beat + self.beat).contains(*at);
        let needed: BTreeSet<Ticks> = self
            .places
            .iter()
            .filter(inside)
            .map(|at| *at - beat)
            .collect();
        let finer = |parts: i64| {
            let is_own = |at: &Ticks| at.0 != 0 && is_part(at.0, self.beat, parts);
            needed
                .iter()
                .any(|at| is_own(at) && !is_part(at.0, self.beat, 2))
        };
        let split = |parts: i64| (0..parts).map(move |part| Ticks(self.beat.0 * part / parts));
        let mut counted = needed.clone();
        counted.insert(Ticks(0));
        if self.parts == 3 {
            counted.extend(split(3));
        } else if !beat_is_dotted(self.beat) {
            match (finer(4), finer(3)) {
                (true, _) => counted.extend(split(4)),
                (false, true) => counted.extend(split(3)),
                (false, false) => counted.extend(split(self.parts)),
            }
        }
        counted
    }

    fn syllable(&self, at: Ticks) -> String {
        let into = at.0 % self.beat.0;
        let twelfth = (12 * into % self.beat.0 == 0).then_some(12 * into / self.beat.0);
        let dotted = beat_is_dotted(self.beat);
        let syllable = match (twelfth, dotted) {
            (Some(0), _) => return (1 + at.0 / self.beat.0).to_string(),
            (Some(4), true) | (Some(6), false) => "&",
            (Some(8), true) | (Some(9), false) => "a",
            (Some(3), false) => "e",
            (Some(4), false) => "t",
            (Some(8), false) => "l",
            _ => ".",
        };
        syllable.into()
    }
}

/// Whether a place in a beat is one of so many equal parts of it.
fn is_part(into: i64, beat: Ticks, parts: i64) -> bool {
    parts * into % beat.0 == 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Nanos;

    /// The bar's counts in order; places in 24ths of a quarter note.
    fn counted(meter: &str, offset: i64, places: &[i64]) -> String {
        let meter: crate::line::meter::Meter = meter.parse().expect(meter);
        let bar = ExpectedBar {
            section: 0,
            pass: 1,
            number: 1,
            onset: Nanos::ZERO,
            end: Nanos::ZERO,
            beat: meter.beat(),
            start: Ticks(0),
            length: Ticks(meter.bar().0 - 40 * offset),
            offset: Ticks(40 * offset),
            upbeat: (Ticks(0), 1),
            silent: false,
        };
        let places = places.iter().map(|at| Ticks(40 * at)).collect();
        let counts = counts(&bar, &places);
        counts.into_values().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_bar_is_counted_as_finely_as_it_needs() {
        assert_eq!(counted("4/4", 0, &[0, 48]), "1 2 3 4");
        assert_eq!(counted("4/4", 0, &[0, 12]), "1 & 2 & 3 & 4 &");
        assert_eq!(counted("4/4", 0, &[0, 18, 36]), "1 e & a 2 & 3 & 4 &");
        assert_eq!(counted("4/4", 0, &[0, 8, 16, 24]), "1 t l 2 3 4");
        assert_eq!(counted("4/4", 0, &[0, 3, 24]), "1 . 2 3 4");
        assert_eq!(counted("3/4", 0, &[16, 32]), "1 t l 2 t l 3");
    }

    #[test]
    fn the_beat_is_the_meters() {
        assert_eq!(counted("12/8", 0, &[0, 36]), "1 2 3 4");
        assert_eq!(counted("6/8", 0, &[12]), "1 & a 2 & a");
        assert_eq!(counted("6/8", 0, &[0, 18]), "1 . 2");
        assert_eq!(counted("7/8", 0, &[0, 6]), "1 & 2 & 3 & 4 & 5 & 6 & 7 &");
        assert_eq!(counted("2/2", 0, &[0, 24, 36]), "1 e & a 2 &");
    }

    #[test]
    fn a_pickup_counts_towards_the_bar() {
        assert_eq!(counted("4/4", 72, &[0, 12]), "4 &");
        assert_eq!(counted("4/4", 84, &[0]), "&");
        assert_eq!(counted("4/4", 60, &[0]), "& 4 &");
    }
}
