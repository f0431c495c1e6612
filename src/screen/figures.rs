//! Large figures: three squares wide, five high, drawn in block characters.

use super::canvas::Canvas;
use super::look::Ink;

/// The size of a figure's squares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Squares {
    /// Half a character high and one wide: a figure is 3 × 3 characters. Not in ASCII.
    Half,
    /// So many characters high and twice as many wide.
    Whole(u16),
}

impl Squares {
    /// Characters from top to bottom.
    pub(super) fn height(self) -> u16 {
        match self {
            Squares::Half => 3,
            Squares::Whole(size) => 5 * size,
        }
    }

    /// Characters that a word of `figures` figures takes, one square between two of them.
    pub(super) fn width(self, figures: usize) -> u16 {
        let square = match self {
            Squares::Half => 1,
            Squares::Whole(size) => 2 * size,
        };
        // Nothing that is drawn is nearly as long.
        let squares = (4 * figures.min(1000)).saturating_sub(1) as u16;
        square.saturating_mul(squares)
    }

    /// The largest squares at which so many figures fit.
    pub(super) fn that_fit(figures: usize, width: u16, height: u16) -> Option<Squares> {
        let most = height / 5;
        (1..=most)
            .rev()
            .map(Squares::Whole)
            .find(|squares| squares.width(figures) <= width)
    }
}

/// The figure's rows from top to bottom, three bits each; `None` where there is no such figure.
fn shape(figure: char) -> Option<[u8; 5]> {
    let rows = match figure {
        '0' => [0b111, 0b101, 0b101, 0b101, 0b111],
        '1' => [0b010, 0b110, 0b010, 0b010, 0b111],
        '2' => [0b111, 0b001, 0b111, 0b100, 0b111],
        '3' => [0b111, 0b001, 0b111, 0b001, 0b111],
        '4' => [0b101, 0b101, 0b111, 0b001, 0b001],
        '5' => [0b111, 0b100, 0b111, 0b001, 0b111],
        '6' => [0b111, 0b100, 0b111, 0b101, 0b111],
        '7' => [0b111, 0b001, 0b001, 0b010, 0b010],
        '8' => [0b111, 0b101, 0b111, 0b101, 0b111],
        '9' => [0b111, 0b101, 0b111, 0b001, 0b111],
        'x' => [0b101, 0b101, 0b010, 0b101, 0b101],
        '-' => [0b000, 0b000, 0b111, 0b000, 0b000],
        _ => return None,
    };
    Some(rows)
}

/// Whether every character of a word is a figure.
pub(super) fn has_figures(word: &str) -> bool {
    !word.is_empty() && word.chars().all(|figure| shape(figure).is_some())
}

/// Draws a word's figures; other characters stay empty. Empty squares are left as they are.
pub(super) fn draw(
    canvas: &mut Canvas<'_>,
    (x, y): (u16, u16),
    word: &str,
    squares: Squares,
    ink: Ink,
) {
    for (number, figure) in word.chars().enumerate() {
        let x = x.saturating_add(squares.width(number + 1) - squares.width(1));
        if let Some(rows) = shape(figure) {
            match squares {
                Squares::Half => draw_half(canvas, (x, y), rows, ink),
                Squares::Whole(size) => draw_whole(canvas, (x, y), rows, size, ink),
            }
        }
    }
}

fn draw_half(canvas: &mut Canvas<'_>, (x, y): (u16, u16), rows: [u8; 5], ink: Ink) {
    let filled = |row: usize, column: u16| {
        rows.get(row)
            .is_some_and(|row| row >> (2 - column) & 1 == 1)
    };
    for line in 0..3 {
        for column in 0..3 {
            let upper = filled(2 * usize::from(line), column);
            let lower = filled(2 * usize::from(line) + 1, column);
            let block = match (upper, lower) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            };
            canvas.put(x.saturating_add(column), y.saturating_add(line), block, ink);
        }
    }
}

fn draw_whole(canvas: &mut Canvas<'_>, (x, y): (u16, u16), rows: [u8; 5], size: u16, ink: Ink) {
    let block = canvas.look.either('█', '#');
    for line in 0..5 * size {
        for column in 0..6 * size {
            let row = rows[usize::from(line / size)];
            if row >> (2 - column / (2 * size)) & 1 == 1 {
                let (x, y) = (x.saturating_add(column), y.saturating_add(line));
                canvas.put(x, y, block, ink);
            }
        }
    }
}
