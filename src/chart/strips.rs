//! Values side by side in groups: a mark for each, and a box from quarter to quarter around the middle one.

use super::canvas::{self, Area, Chart, Drawing, Drawn};
use super::{Axis, Ink, Mark};
use plotters::element::PathElement;
use plotters::prelude::*;

const HEIGHT: u32 = 320;
/// The room of a group at the least, in px, and of all that is beside them.
const GROUP_ROOM: u32 = 46;
const BESIDE: u32 = 82;
/// The width of a box and of a cloud of marks, as shares of the room.
const BOX: f64 = 0.36;
const CLOUD: f64 = 0.3;
/// A box is drawn from so many values on.
const FEWEST_BOXED: usize = 5;

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Strips {
    /// What the groups are, with its unit where it has one.
    pub x_label: String,
    /// Upwards.
    pub y: Axis,
    /// From y to y: where values should be.
    pub window: Option<(f64, f64)>,
    /// Level lines.
    pub lines: Vec<(f64, Ink)>,
    /// From left to right.
    pub strips: Vec<Strip>,
}

/// A group.
#[derive(Clone, Debug)]
pub struct Strip {
    /// Its name.
    pub name: String,
    /// How many values it has.
    pub count: usize,
    /// A quarter up, half-way, three quarters up: see [`quartiles`].
    pub quartiles: Option<[f64; 3]>,
    /// Its values, or some of them.
    pub values: Vec<(f64, Mark)>,
}

/// The middle of a group, and the values a quarter and three quarters up; linear between neighbours (type 7 of Hyndman & Fan 1996,
/// American Statistician 50:361). `None` without values.
pub fn quartiles(values: &[f64]) -> Option<[f64; 3]> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = |share: f64| {
        let place = share * last as f64;
        let below = place.floor() as usize;
        let above = (below + 1).min(last);
        sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
    };
    Some([at(0.25), at(0.5), at(0.75)])
}

impl Strips {
    /// Draws them. Values outside the axis are drawn on its edge.
    pub fn draw(&self) -> Drawing {
        let count = self.strips.len().max(1);
        let names = self.strips.iter().enumerate();
        let names = names.map(|(index, strip)| (index as f64, strip.name.clone()));
        let x = Axis::exact(&self.x_label, -0.5, count as f64 - 0.5, names.collect());
        let width = canvas::WIDTH.max(BESIDE + GROUP_ROOM * count as u32);
        canvas::draw(width, HEIGHT, |area| {
            let mut chart = canvas::axes(area, &x, &self.y)?;
            self.behind(&x, &mut chart)?;
            for (index, strip) in self.strips.iter().enumerate() {
                self.strip(area, index as f64, strip, &mut chart)?;
            }
            Ok(())
        })
    }

    fn behind(&self, x: &Axis, chart: &mut Chart<'_, '_>) -> Drawn {
        if let Some((low, high)) = self.window {
            let (low, high) = (self.y.clamp(low), self.y.clamp(high));
            let corners = [(x.low, low), (x.high, high)];
            chart.draw_series([Rectangle::new(corners, Ink::Window.number().filled())])?;
            for y in [low, high] {
                chart.draw_series([level(x, y, Ink::Edge.number().into())])?;
            }
        }
        for (y, ink) in &self.lines {
            chart.draw_series([level(x, self.y.clamp(*y), ink.number().stroke_width(2))])?;
        }
        Ok(())
    }

    fn strip(&self, on: &Area<'_>, x: f64, strip: &Strip, chart: &mut Chart<'_, '_>) -> Drawn {
        for (order, (value, mark)) in strip.values.iter().enumerate() {
            // Golden-ratio steps spread any number of marks evenly, the same way each time.
            let share = (0.5 + order as f64 * 0.618_033_988_75).fract() - 0.5;
            mark.draw(on, chart, (x + share * 2.0 * CLOUD, self.y.clamp(*value)))?;
        }
        let boxed = strip.quartiles.filter(|_| strip.count >= FEWEST_BOXED);
        if let Some(quarters) = boxed {
            let [low, middle, high] = quarters.map(|value| self.y.clamp(value));
            let corners = [(x - BOX, low), (x + BOX, high)];
            let style = Ink::Text.number().stroke_width(1);
            chart.draw_series([Rectangle::new(corners, style)])?;
            let line = vec![(x - BOX, middle), (x + BOX, middle)];
            let style = Ink::Text.number().stroke_width(3);
            chart.draw_series([PathElement::new(line, style)])?;
        }
        let (left, top) = chart.plotting_area().map_coordinate(&(x, self.y.high));
        let text = format!("n {}", strip.count);
        let width = 7 * text.chars().count() as i32;
        let place = (left - width / 2, top - 18);
        on.draw(&Text::new(text, place, canvas::small_style()))
    }
}

fn level(x: &Axis, y: f64, style: ShapeStyle) -> PathElement<(f64, f64)> {
    PathElement::new(vec![(x.low, y), (x.high, y)], style)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Type 7, worked by hand: the places are 0.75, 1.5 and 2.25 of 0 to 3.
    #[test]
    fn quartiles_lie_between_neighbours() {
        assert_eq!(quartiles(&[8.0, 1.0, 4.0, 2.0]), Some([1.75, 3.0, 5.0]));
        assert_eq!(quartiles(&[3.0]), Some([3.0; 3]));
        assert_eq!(quartiles(&[]), None);
    }

    #[test]
    fn a_box_is_drawn_where_there_are_values_enough_and_each_group_says_how_many() {
        let strip = |name: &str, count: usize| Strip {
            name: name.into(),
            count,
            quartiles: quartiles(&(0..count).map(|value| value as f64).collect::<Vec<_>>()),
            values: (0..count).map(|value| (value as f64, Mark::Disc)).collect(),
        };
        let strips = Strips {
            x_label: "beat".into(),
            y: Axis::linear("offset, ms", [0.0, 9.0].into_iter(), |v| v.to_string()),
            window: None,
            lines: vec![(0.0, Ink::Target)],
            strips: vec![strip("1", 9), strip("1.5", 2), strip("2", 0)],
        };
        let drawing = strips.draw();
        assert_eq!(drawing.elements.matches("<circle").count(), 11);
        assert_eq!(drawing.elements.matches("<rect").count(), 1);
        for text in [">n 9<", ">n 2<", ">n 0<", ">1.5<"] {
            assert!(
                drawing.elements.contains(text),
                "{text} {}",
                drawing.elements
            );
        }
    }
}
