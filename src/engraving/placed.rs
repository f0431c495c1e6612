//! A bar with its groups, and where its columns stand in a system.

use super::figures::FiguredBar;
use super::groups;
use super::stems::{self, Direction};
use crate::expected::ExpectedBar;
use std::ops::Range;

/// How the figures of a bar hang together.
#[derive(Clone, Debug)]
pub(super) struct Grouping {
    pub(super) beams: Vec<Range<usize>>,
    pub(super) triplets: Vec<Range<usize>>,
    pub(super) directions: Vec<Direction>,
}

impl Grouping {
    pub(super) fn of(figured: &FiguredBar, bar: &ExpectedBar) -> Grouping {
        let beams = groups::beamed(&figured.figures, bar.meter(), bar.offset);
        Grouping {
            triplets: groups::triplets(&figured.figures),
            directions: stems::directions(&figured.figures, &beams),
            beams,
        }
    }

    pub(super) fn is_beamed(&self, index: usize) -> bool {
        self.beams.iter().any(|beam| beam.contains(&index))
    }
}

/// A bar in a system.
pub(super) struct PlacedBar<'a> {
    pub(super) figured: &'a FiguredBar,
    pub(super) grouping: &'a Grouping,
    /// The left edge of the heads of each figure.
    pub(super) xs: Vec<f64>,
    /// Where the bar begins and ends.
    pub(super) left: f64,
    pub(super) right: f64,
}

impl<'a> PlacedBar<'a> {
    pub(super) fn new(
        figured: &'a FiguredBar,
        grouping: &'a Grouping,
        xs: Vec<f64>,
        edges: Range<f64>,
    ) -> PlacedBar<'a> {
        PlacedBar {
            figured,
            grouping,
            xs,
            left: edges.start,
            right: edges.end,
        }
    }
}
