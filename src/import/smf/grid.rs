//! The grids that onsets are moved to.

use crate::units::TICKS_PER_WHOLE;
use std::fmt;
use std::str::FromStr;

/// Straight steps, triplet steps, or for each quarter whichever fits it better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grid {
    /// The straight step: this part of a whole note.
    pub straight: Option<u8>,
    /// The triplet step, without its `t`.
    pub triplet: Option<u8>,
}

const fn grid(straight: u8, triplet: u8) -> Grid {
    const fn some(part: u8) -> Option<u8> {
        if part == 0 { None } else { Some(part) }
    }
    Grid {
        straight: some(straight),
        triplet: some(triplet),
    }
}

impl Grid {
    /// The grids that are tried, the coarsest first.
    pub const TRIED: [Grid; 10] = [
        grid(4, 0),
        grid(8, 0),
        grid(0, 8),
        grid(16, 0),
        grid(8, 8),
        grid(16, 8),
        grid(0, 16),
        grid(16, 16),
        grid(32, 0),
        grid(32, 16),
    ];

    /// The straight step in ticks.
    pub fn straight_ticks(self) -> Option<i64> {
        self.straight.map(|part| TICKS_PER_WHOLE / i64::from(part))
    }

    /// The triplet step in ticks.
    pub fn triplet_ticks(self) -> Option<i64> {
        self.triplet
            .map(|part| TICKS_PER_WHOLE * 2 / 3 / i64::from(part))
    }

    /// The shorter of its steps, in ticks.
    pub fn finest(self) -> i64 {
        let steps = [self.straight_ticks(), self.triplet_ticks()];
        steps
            .into_iter()
            .flatten()
            .min()
            .unwrap_or(TICKS_PER_WHOLE / 32)
    }
}

/// The text is not a grid.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` is not a grid (such as `1/16`, `1/8t` or `1/16+1/8t`; 1/4 to 1/32, triplets to 1/16t)"
)]
pub struct NotAGrid(pub String);

impl FromStr for Grid {
    type Err = NotAGrid;

    fn from_str(text: &str) -> Result<Grid, NotAGrid> {
        let wrong = || NotAGrid(text.to_owned());
        let mut grid = grid(0, 0);
        for step in text.split('+') {
            let part = step.trim().strip_prefix("1/").ok_or_else(wrong)?;
            let (part, steps) = match part.strip_suffix('t') {
                Some(part) => (part, &mut grid.triplet),
                None => (part, &mut grid.straight),
            };
            let known = match part {
                "4" => 4,
                "8" => 8,
                "16" => 16,
                "32" => 32,
                _ => return Err(wrong()),
            };
            if steps.replace(known).is_some() {
                return Err(wrong());
            }
        }
        // A thirty-second triplet is finer than a line's bars are made of.
        match grid.triplet {
            Some(32) => Err(wrong()),
            _ => Ok(grid),
        }
    }
}

impl fmt::Display for Grid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let straight = self.straight.map(|part| format!("1/{part}"));
        let triplet = self.triplet.map(|part| format!("1/{part}t"));
        let steps: Vec<String> = straight.into_iter().chain(triplet).collect();
        f.write_str(&steps.join("+"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grids_read_back_as_they_are_written() {
        for grid in Grid::TRIED {
            assert_eq!(grid.to_string().parse(), Ok(grid));
        }
        let read: Grid = "1/8t + 1/16".parse().expect("a grid");
        assert_eq!(
            (read.straight_ticks(), read.triplet_ticks()),
            (Some(240), Some(320))
        );
    }

    #[test]
    fn what_is_no_grid_is_refused() {
        for text in [
            "", "16", "1/12", "1/32t", "1/8+1/16", "1/8.", "2/8", "1/8tt",
        ] {
            assert!(text.parse::<Grid>().is_err(), "{text}");
        }
    }
}
