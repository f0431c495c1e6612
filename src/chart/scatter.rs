//! One mark a value over an axis, with windows, lines and divisions.

use super::canvas::{self, Area, Chart, Drawing, Drawn};
use super::{Axis, Ink, Mark};
use plotters::element::PathElement;
use plotters::prelude::*;

const HEIGHT: u32 = 320;
/// Names of divisions nearer than that to the one before are left out, in px.
const NAME_ROOM: i32 = 14;

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Scatter {
    /// To the right.
    pub x: Axis,
    /// Upwards.
    pub y: Axis,
    /// From y to y: where values should be.
    pub window: Option<(f64, f64)>,
    /// Values.
    pub marks: Vec<(f64, f64, Mark)>,
    /// Lines over them.
    pub curves: Vec<Curve>,
    /// Upright lines with a name, from left to right.
    pub divisions: Vec<(f64, String)>,
}

/// A line.
#[derive(Clone, Debug)]
pub struct Curve {
    /// Its points.
    pub points: Vec<(f64, f64)>,
    /// What it stands for.
    pub ink: Ink,
}

impl Curve {
    /// A level line all the way from left to right.
    pub fn level(y: f64, x: &Axis, ink: Ink) -> Curve {
        Curve {
            points: vec![(x.low, y), (x.high, y)],
            ink,
        }
    }
}

impl Scatter {
    /// Draws it. Values outside an axis are drawn on its edge.
    pub fn draw(&self) -> Drawing {
        canvas::draw(canvas::WIDTH, HEIGHT, |area| {
            let mut chart = canvas::axes(area, &self.x, &self.y)?;
            self.window(&mut chart)?;
            self.divisions(area, &mut chart)?;
            let inside = |(x, y)| (self.x.clamp(x), self.y.clamp(y));
            for (x, y, mark) in &self.marks {
                mark.draw(area, &chart, inside((*x, *y)))?;
            }
            for curve in &self.curves {
                let points: Vec<(f64, f64)> = curve.points.iter().copied().map(inside).collect();
                let width = if curve.ink == Ink::Moving { 3 } else { 2 };
                let style = curve.ink.number().stroke_width(width);
                chart.draw_series([PathElement::new(points, style)])?;
            }
            Ok(())
        })
    }

    fn window(&self, chart: &mut Chart<'_, '_>) -> Drawn {
        let Some((low, high)) = self.window else {
            return Ok(());
        };
        let (low, high) = (self.y.clamp(low), self.y.clamp(high));
        let corners = [(self.x.low, low), (self.x.high, high)];
        chart.draw_series([Rectangle::new(corners, Ink::Window.number().filled())])?;
        for y in [low, high] {
            let ends = vec![(self.x.low, y), (self.x.high, y)];
            chart.draw_series([PathElement::new(ends, Ink::Edge.number())])?;
        }
        Ok(())
    }

    fn divisions(&self, on: &Area<'_>, chart: &mut Chart<'_, '_>) -> Drawn {
        let mut free_from = i32::MIN;
        for (x, name) in &self.divisions {
            let ends = vec![(*x, self.y.low), (*x, self.y.high)];
            chart.draw_series([PathElement::new(ends, Ink::Grid.number())])?;
            let (left, top) = chart.plotting_area().map_coordinate(&(*x, self.y.high));
            if left >= free_from {
                let place = (left + 2, top - 18);
                on.draw(&Text::new(name.clone(), place, canvas::small_style()))?;
                free_from = left + NAME_ROOM + (name.chars().count() as i32) * 7;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scatter_without_values_is_its_axes_alone() {
        let axis = |label: &str| Axis::linear(label, std::iter::empty(), |v| v.to_string());
        let scatter = Scatter {
            x: axis("time, s"),
            y: axis("offset, ms"),
            window: Some((-0.5, 0.5)),
            marks: vec![],
            curves: vec![],
            divisions: vec![(0.0, "A & B".into())],
        };
        let drawing = scatter.draw();
        let svg = format!("<svg>{}</svg>", drawing.elements);
        let document = roxmltree::Document::parse(&svg).expect("XML");
        let texts: Vec<&str> = document
            .descendants()
            .filter_map(|node| node.text())
            .collect();
        for text in ["time, s", "offset, ms", "A & B"] {
            assert!(
                texts.iter().any(|own| own.trim() == text),
                "{text}: {texts:?}"
            );
        }
        assert!(!svg.contains('#') && svg.contains("var(--window)"), "{svg}");
    }

    #[test]
    fn what_is_early_and_what_is_late_differ_in_shape() {
        let axis = || Axis::exact("a", -1.0, 1.0, vec![]);
        let drawn = |mark| {
            let scatter = Scatter {
                x: axis(),
                y: axis(),
                window: None,
                marks: vec![(0.0, 5.0, mark)],
                curves: vec![],
                divisions: vec![],
            };
            let drawing = scatter.draw().elements;
            let shape = drawing.split("<polygon").nth(1).expect("a shape");
            let points = shape.split("points=\"").nth(1).expect("points");
            points.split('"').next().map(str::to_string)
        };
        assert_ne!(drawn(Mark::Down), drawn(Mark::Up));
        assert_ne!(drawn(Mark::Up), drawn(Mark::Diamond));
    }
}
