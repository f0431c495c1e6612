//! A line of music: what is written, and where the line is now.

use super::canvas::Canvas;
use super::figures::{self, Squares};
use super::look::Ink;
use super::marks;
use super::plan::{Band, Plan};
use super::sheet::{Sheet, Step};
use super::view::View;
use crate::page::text::draw_row;
use crate::page::{Row, RowKind, System};

/// Draws a line with its first row at `top`.
pub(super) fn draw(
    canvas: &mut Canvas<'_>,
    view: &View,
    sheet: &Sheet,
    plan: &Plan,
    line: usize,
    top: u16,
) {
    let Some(system) = sheet.page.systems.get(line) else {
        return;
    };
    let mut y = top;
    for band in &plan.bands {
        match band {
            Band::Chord => written(canvas, system, RowKind::Chord, y),
            Band::Count => written(canvas, system, RowKind::Count, y),
            Band::Mark => written(canvas, system, RowKind::Mark, y),
            Band::Note => written(canvas, system, RowKind::Note, y),
            Band::Strings => strings(canvas, view, sheet, plan, line, y),
            Band::Side => marks::sides(canvas, view, sheet, line, y),
            Band::Ms => marks::offsets(canvas, view, sheet, line, y, plan.offsets),
            Band::Length => marks::lengths(canvas, view, sheet, line, y),
        }
        y += plan.height_of(*band);
    }
}

/// The column on the canvas of a column of the page.
pub(super) fn x_of(system: &System, column: usize) -> u16 {
    u16::try_from(system.label_width + column).unwrap_or(u16::MAX)
}

fn row_of(system: &System, kind: RowKind) -> Option<&Row> {
    system.rows.iter().find(|row| row.kind == kind)
}

fn written(canvas: &mut Canvas<'_>, system: &System, kind: RowKind, y: u16) {
    if let Some(row) = row_of(system, kind) {
        let ink = match kind {
            RowKind::Count => Ink::Strong,
            _ => Ink::Plain,
        };
        canvas.text(0, y, &draw_row(system, row, canvas.look.charset), ink);
    }
}

fn strings(
    canvas: &mut Canvas<'_>,
    view: &View,
    sheet: &Sheet,
    plan: &Plan,
    line: usize,
    top: u16,
) {
    let system = &sheet.page.systems[line];
    let height = plan.height_of_string();
    let middle = |string: u8| top + (u16::from(string) - 1) * height + height / 2;
    for row in &system.rows {
        let RowKind::String(string) = row.kind else {
            continue;
        };
        match plan.frets {
            None => {
                let text = draw_row(system, row, canvas.look.charset);
                canvas.text(0, middle(string), &text, Ink::Plain);
            }
            Some(squares) => large_string(canvas, system, row, middle(string), squares),
        }
    }
    for ring in marks::rings(view, sheet, line) {
        let sign = canvas.look.either('≈', '~');
        for column in ring.columns {
            canvas.put(x_of(system, column), middle(ring.string), sign, Ink::Late);
        }
    }
    for step in sheet.steps_at(view.now) {
        if step.line == line {
            here(canvas, system, step, middle(step.string), plan.frets);
        }
    }
}

/// The string's line with large frets over it.
fn large_string(
    canvas: &mut Canvas<'_>,
    system: &System,
    row: &Row,
    middle: u16,
    squares: Squares,
) {
    let bare = Row {
        cells: Vec::new(),
        ..row.clone()
    };
    let text = draw_row(system, &bare, canvas.look.charset);
    canvas.text(0, middle, &text, Ink::Plain);
    let bar_line = canvas.look.charset.bar_line();
    let begins = system.spans.iter().filter(|span| span.begins);
    let ends = system.spans.iter().filter(|span| span.ends);
    let lines = begins.map(|span| span.columns.start);
    for column in lines.chain(ends.map(|span| span.columns.end)) {
        for into in 0..squares.height() {
            let y = middle - squares.height() / 2 + into;
            canvas.put(x_of(system, column), y, bar_line, Ink::Plain);
        }
    }
    for cell in &row.cells {
        let x = x_of(system, cell.column);
        if figures::has_figures(&cell.text) {
            // The string must not run through the figure.
            for into in 0..squares.width(cell.text.chars().count()) {
                canvas.put(x.saturating_add(into), middle, ' ', Ink::Plain);
            }
            let top = middle - squares.height() / 2;
            figures::draw(canvas, (x, top), &cell.text, squares, Ink::Strong);
        } else {
            canvas.text(x, middle, &cell.text, Ink::Strong);
        }
    }
}

/// `[5]`, reversed: brackets for the shape.
fn here(
    canvas: &mut Canvas<'_>,
    system: &System,
    step: &Step,
    middle: u16,
    frets: Option<Squares>,
) {
    let x = x_of(system, step.column);
    let (width, rows) = match (frets, step.note) {
        (Some(squares), Some(_)) => (squares.width(step.width), squares.height()),
        _ => (step.width as u16, 1),
    };
    let top = middle - rows / 2;
    for y in top..top + rows {
        for into in 0..width {
            canvas.ink(x.saturating_add(into), y, Ink::Here);
        }
        let is_middle = y == middle;
        canvas.put(x - 1, y, if is_middle { '[' } else { ' ' }, Ink::Here);
        let after = x.saturating_add(width);
        canvas.put(after, y, if is_middle { ']' } else { ' ' }, Ink::Here);
    }
}
