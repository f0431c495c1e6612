//! A part of a buffer to draw on: what falls outside is not drawn.

use super::look::{Ink, Look};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use unicode_width::UnicodeWidthStr;

/// Positions count from the area's top left corner.
pub(super) struct Canvas<'a> {
    buffer: &'a mut Buffer,
    area: Rect,
    pub(super) look: Look,
}

impl<'a> Canvas<'a> {
    /// An empty canvas.
    pub(super) fn new(buffer: &'a mut Buffer, area: Rect, look: Look) -> Canvas<'a> {
        let area = area.intersection(buffer.area);
        for y in area.top()..area.bottom() {
            for x in area.left()..area.right() {
                buffer[(x, y)].reset();
            }
        }
        Canvas { buffer, area, look }
    }

    pub(super) fn width(&self) -> u16 {
        self.area.width
    }

    pub(super) fn height(&self) -> u16 {
        self.area.height
    }

    /// One character that is one wide.
    pub(super) fn put(&mut self, x: u16, y: u16, character: char, ink: Ink) {
        if x < self.area.width && y < self.area.height {
            let cell = &mut self.buffer[(self.area.x + x, self.area.y + y)];
            cell.set_char(character).set_style(self.look.style(ink));
        }
    }

    /// What stands there, in another ink.
    pub(super) fn ink(&mut self, x: u16, y: u16, ink: Ink) {
        if x < self.area.width && y < self.area.height {
            self.buffer[(self.area.x + x, self.area.y + y)].set_style(self.look.style(ink));
        }
    }

    /// Text in one row, as the terminal can show it, cut at the edge. Returns where it ends.
    pub(super) fn text(&mut self, x: u16, y: u16, text: &str, ink: Ink) -> u16 {
        if x >= self.area.width || y >= self.area.height {
            return x;
        }
        let shown = self.look.charset.plain(text).replace('\u{a0}', " ");
        let (at, width) = ((self.area.x + x, self.area.y + y), self.area.width - x);
        let style = self.look.style(ink);
        let (end, _) = self
            .buffer
            .set_stringn(at.0, at.1, &shown, usize::from(width), style);
        end - self.area.x
    }

    /// Text that ends at the right edge, unless it would begin left of `from`: then it is left out.
    pub(super) fn text_right(&mut self, from: u16, y: u16, text: &str, ink: Ink) {
        let width = self.look.charset.plain(text).width();
        if let Some(x) = usize::from(self.area.width).checked_sub(width)
            && x >= usize::from(from)
        {
            self.text(x as u16, y, text, ink);
        }
    }

    /// Text in as many rows as it needs up to `most`, from column `x` to the right edge. Returns the rows.
    pub(super) fn paragraph(&mut self, x: u16, y: u16, most: u16, text: &str, ink: Ink) -> u16 {
        let width = usize::from(self.area.width.saturating_sub(x));
        if width == 0 {
            return 0;
        }
        let lines = textwrap::wrap(text, width);
        let mut rows = 0;
        for line in lines.iter().take(usize::from(most)) {
            self.text(x, y.saturating_add(rows), line, ink);
            rows += 1;
        }
        rows
    }
}
