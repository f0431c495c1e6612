//! Onsets to a grid: the coarsest that explains them.
//!
//! The spread of a grid is the median distance of all notes from it, divided by 0.6745 (the median of the absolute
//! standard normal), and [`SHARPEST_MS`] at least. A grid explains the notes of a quarter when the sum of their squared
//! distances, in spreads, is at most 16 + 4 n for n notes, which chance exceeds less than once in 10,000 quarters. It is
//! a grid at all when its spread is at most [`WIDEST`] of its step; notes anywhere between have 0.37 of it.

use super::error::Unreadable;
use super::feel::{Feel, Place};
use super::frame::Bar;
use super::grid::Grid;
use crate::units::TICKS_PER_QUARTER;

/// No player and no file is judged finer than that.
const SHARPEST_MS: f64 = 2.0;
/// The widest spread, as a share of the step.
const WIDEST: f64 = 0.15;
/// So many in a hundred may stay unexplained where no grid explains all.
const STRAYS_PERCENT: usize = 2;

/// An onset to be moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// As it is in the file.
    pub place: Place,
    /// What a tick of a line lasts there.
    pub ms_per_tick: f64,
}

/// Where an onset is moved to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Which bar.
    pub bar: usize,
    /// Written place in it, in ticks.
    pub at: i64,
    /// Played minus written, swing applied.
    pub late_ms: f64,
}

/// All onsets on a grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The grid.
    pub grid: Grid,
    /// One an onset.
    pub moved: Vec<Moved>,
    /// The spread about it.
    pub spread_ms: f64,
    median_ms: f64,
    /// Notes that the spread does not explain.
    off: usize,
}

/// What onsets are moved in.
pub struct Room<'r> {
    /// The onsets, in order.
    pub onsets: &'r [Onset],
    /// The bars.
    pub bars: &'r [Bar],
    /// The swing.
    pub feel: &'r Feel,
}

/// The coarsest grid that explains every onset, else the coarsest that explains all but a few.
pub fn coarsest(room: &Room<'_>) -> Result<Fit, Unreadable> {
    let fits: Vec<Fit> = Grid::TRIED.iter().map(|grid| room.fit(*grid)).collect();
    let ms_per_tick = median(room.onsets.iter().map(|onset| onset.ms_per_tick));
    let few = |fit: &&Fit| fit.off * 100 <= STRAYS_PERCENT * fit.moved.len();
    let narrow = |fit: &&Fit| {
        let step_ms = fit.grid.finest() as f64 * ms_per_tick;
        // Below the sharpest spread nothing is told apart.
        fit.spread_ms <= (WIDEST * step_ms).max(SHARPEST_MS)
    };
    let narrow: Vec<&Fit> = fits.iter().filter(narrow).collect();
    let found = narrow.iter().find(|fit| fit.off == 0);
    if let Some(fit) = found.or_else(|| narrow.iter().find(|fit| few(fit))) {
        return Ok((*fit).clone());
    }
    let share = |fit: &&Fit| fit.spread_ms / fit.grid.finest() as f64;
    let nearest = fits.iter().min_by(|a, b| share(a).total_cmp(&share(b)));
    Err(
        nearest.map_or(Unreadable::NoNotes(Vec::new()), |fit| Unreadable::NoGrid {
            grid: fit.grid,
            off: fit.off,
            of: fit.moved.len(),
            typical_ms: fit.median_ms,
        }),
    )
}

impl Room<'_> {
    /// Moves every onset to a grid.
    pub fn fit(&self, grid: Grid) -> Fit {
        let on = |step: Option<i64>| -> Option<Vec<Moved>> {
            let step = step?;
            Some(
                self.onsets
                    .iter()
                    .map(|onset| self.moved(onset, step))
                    .collect(),
            )
        };
        let moved = match (on(grid.straight_ticks()), on(grid.triplet_ticks())) {
            (Some(straight), Some(triplet)) => self.chosen(straight, triplet),
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => Vec::new(),
        };
        let median_ms = median(moved.iter().map(|moved| moved.late_ms.abs()));
        let spread_ms = spread(median_ms);
        let cells = self.cells();
        let unexplained = cells.filter(|cell| {
            let notes = &moved[cell.clone()];
            squares(notes) > limit(notes.len()) * spread_ms.powi(2)
        });
        let off: usize = unexplained.map(|cell| cell.len()).sum();
        let same = |pair: &&[Moved]| (pair[0].bar, pair[0].at) == (pair[1].bar, pair[1].at);
        let collided = moved.windows(2).filter(same).count();
        Fit {
            grid,
            off: (off + collided).min(moved.len()),
            moved,
            spread_ms,
            median_ms,
        }
    }

    fn moved(&self, onset: &Onset, step: i64) -> Moved {
        let Place { bar, at } = onset.place;
        let written = self.feel.unbend(onset.place);
        let near = (written / step as f64).round() as i64 * step;
        let length = self.bars[bar].length;
        let place = Place {
            bar,
            at: near.min(length) as f64,
        };
        let late_ms = (at - self.feel.bend(place)) * onset.ms_per_tick;
        match near >= length && bar + 1 < self.bars.len() {
            true => Moved {
                bar: bar + 1,
                at: 0,
                late_ms,
            },
            // The last bar has nothing behind it.
            false => Moved {
                bar,
                at: near.clamp(0, (length - 1) / step * step),
                late_ms,
            },
        }
    }

    /// For each quarter triplets, where straight steps do not explain its notes and triplets do far better.
    fn chosen(&self, straight: Vec<Moved>, triplet: Vec<Moved>) -> Vec<Moved> {
        let nearer = straight.iter().zip(&triplet);
        let nearer = nearer.map(|(one, other)| one.late_ms.abs().min(other.late_ms.abs()));
        let variance = spread(median(nearer)).powi(2);
        let mut chosen = straight;
        for cell in self.cells() {
            let (as_straight, as_triplet) = (&chosen[cell.clone()], &triplet[cell.clone()]);
            let wrong = squares(as_straight) > limit(cell.len()) * variance;
            if wrong && squares(as_triplet) * 4.0 < squares(as_straight) {
                chosen[cell.clone()].copy_from_slice(&triplet[cell]);
            }
        }
        chosen
    }

    /// The onsets of each quarter.
    fn cells(&self) -> impl Iterator<Item = std::ops::Range<usize>> {
        let cell = |onset: &Onset| {
            let quarter = onset.place.at / TICKS_PER_QUARTER as f64;
            (onset.place.bar, quarter.floor() as i64)
        };
        let mut start = 0;
        self.onsets
            .chunk_by(move |a, b| cell(a) == cell(b))
            .map(move |chunk| {
                let range = start..start + chunk.len();
                start = range.end;
                range
            })
    }
}

fn limit(notes: usize) -> f64 {
    16.0 + 4.0 * notes as f64
}

fn squares(moved: &[Moved]) -> f64 {
    moved.iter().map(|moved| moved.late_ms.powi(2)).sum()
}

fn spread(median_ms: f64) -> f64 {
    (median_ms / 0.6745).max(SHARPEST_MS)
}

/// The middle of some numbers, 0 of none.
pub fn median(numbers: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = numbers.collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}
