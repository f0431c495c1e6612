//! What charts are drawn on.

use super::axis::Axis;
use super::ink::{Ink, in_variables};
use plotters::coord::Shift;
use plotters::prelude::*;

/// A drawing: what stands inside an `svg` element, and its size in px.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing {
    /// The elements.
    pub elements: String,
    /// Its width.
    pub width: u32,
    /// Its height.
    pub height: u32,
}

/// The width of a chart that does not need more.
pub(super) const WIDTH: u32 = 720;
/// In px, before the 1.24 that `plotters` divides sizes by.
const TEXT_SIZE: f64 = 16.0;
const SMALL_SIZE: f64 = 15.0;

pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
pub(super) type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Axis, Axis>>;
pub(super) type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

/// Draws in memory, which takes whatever is drawn.
pub(super) fn draw(width: u32, height: u32, on: impl FnOnce(&Area<'_>) -> Drawn) -> Drawing {
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, (width, height)).into_drawing_area();
        on(&area)
            .and_then(|()| area.present())
            .unwrap_or_else(|error| unreachable!("a string takes what is drawn: {error}"));
    }
    let inside = text.split_once('>').map_or("", |(_, inside)| inside);
    let inside = inside.trim().trim_end_matches("</svg>");
    let tidy = in_variables(inside)
        .replace(" opacity=\"1\"", "")
        .replace(" font-family=\"sans-serif\"", "")
        .replace(">\n", ">")
        .replace("\n<", "<");
    Drawing {
        elements: tidy,
        width,
        height,
    }
}

/// How words are written.
pub(super) fn text_style<'a>() -> TextStyle<'a> {
    ("sans-serif", TEXT_SIZE)
        .into_font()
        .color(&Ink::Text.number())
}

/// How words inside a chart are written.
pub(super) fn small_style<'a>() -> TextStyle<'a> {
    ("sans-serif", SMALL_SIZE)
        .into_font()
        .color(&Ink::Text.number())
}

/// Axes with their labels, and a level line at each of y's.
pub(super) fn axes<'a, 'b>(
    area: &'a Area<'b>,
    x: &Axis,
    y: &Axis,
) -> Result<Chart<'a, 'b>, DrawingAreaErrorKind<std::io::Error>> {
    let mut chart = ChartBuilder::on(area)
        .margin_top(26)
        .margin_right(16)
        .margin_bottom(4)
        .x_label_area_size(46)
        .y_label_area_size(34 + 8 * y.widest_name())
        .build_cartesian_2d(x.clone(), y.clone())?;
    let mut mesh = chart.configure_mesh();
    mesh.disable_x_mesh()
        .axis_style(Ink::Text.number())
        .bold_line_style(Ink::Grid.number())
        .light_line_style(TRANSPARENT)
        .label_style(text_style())
        .axis_desc_style(text_style())
        .x_desc(x.label.as_str())
        .y_desc(y.label.as_str())
        .draw()?;
    Ok(chart)
}
