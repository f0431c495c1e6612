//! Marks: one value each, told apart by shape before colour.

use super::canvas::{Area, Chart, Drawn};
use super::ink::Ink;
use plotters::element::PathElement;
use plotters::prelude::*;

/// What stands for a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A disc: inside its window, or not judged.
    Disc,
    /// A triangle that points down: early, or too short.
    Down,
    /// A triangle that points up: late, or too long.
    Up,
    /// A diamond: rings over.
    Diamond,
    /// A cross: nothing was played.
    Cross,
}

impl Mark {
    fn ink(self) -> Ink {
        match self {
            Mark::Disc => Ink::Plain,
            Mark::Down => Ink::Early,
            Mark::Up | Mark::Diamond => Ink::Late,
            Mark::Cross => Ink::Text,
        }
    }

    /// Its corners in px around its place, downwards; none of a disc and a cross.
    fn corners(self) -> &'static [(i32, i32)] {
        match self {
            Mark::Down => &[(-5, -4), (5, -4), (0, 5)],
            Mark::Up => &[(-5, 4), (5, 4), (0, -5)],
            Mark::Diamond => &[(0, -6), (5, 0), (0, 6), (-5, 0)],
            Mark::Disc | Mark::Cross => &[],
        }
    }

    /// Draws it at a value; on the whole drawing, so that none is cut at the edge of the chart.
    pub(super) fn draw(self, on: &Area<'_>, chart: &Chart<'_, '_>, at: (f64, f64)) -> Drawn {
        let (x, y) = chart.plotting_area().map_coordinate(&at);
        let colour = self.ink().number();
        match self {
            Mark::Disc => on.draw(&Circle::new((x, y), 3, colour.filled())),
            Mark::Cross => {
                let bars = [[(-4, -4), (4, 4)], [(-4, 4), (4, -4)]];
                bars.into_iter().try_for_each(|bar| {
                    let ends = bar.map(|(dx, dy)| (x + dx, y + dy)).to_vec();
                    on.draw(&PathElement::new(ends, colour.stroke_width(2)))
                })
            }
            Mark::Down | Mark::Up | Mark::Diamond => {
                let corners = self.corners().iter();
                let corners: Vec<(i32, i32)> = corners.map(|(dx, dy)| (x + dx, y + dy)).collect();
                on.draw(&Polygon::new(corners, colour.filled()))
            }
        }
    }
}
