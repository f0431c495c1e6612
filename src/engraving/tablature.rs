//! The strings below the staff, y from the highest.

use super::columns::{self, FRET_SIZE};
use super::figures::{Figure, Head};
use super::placed::PlacedBar;
use super::shape::{Anchor, Item, Role, Shape, at};

/// Between strings.
pub(super) const STEP: f64 = 1.5;

/// From the highest string to the lowest.
pub(super) fn height(strings: usize) -> f64 {
    STEP * (strings.saturating_sub(1)) as f64
}

/// What stands on a string for a head; a held one in parentheses, as a ghost note.
pub(super) fn fret(figure: &Figure, head: &Head) -> String {
    let text = match (head.dead, head.fret) {
        (true, _) => "x".to_string(),
        (false, Some(fret)) => fret.to_string(),
        (false, None) => "?".to_string(),
    };
    match figure.tied_in || head.optional {
        true => format!("({text})"),
        false => text,
    }
}

/// Adds the frets of a bar; the highest string is at `top`.
pub(super) fn draw(bar: &PlacedBar<'_>, top: f64, items: &mut Vec<Item>) {
    for (figure, x) in bar.figured.figures.iter().zip(&bar.xs) {
        for head in &figure.heads {
            let y = top + STEP * f64::from(head.string.max(1) - 1);
            let shape = Shape::Text {
                text: fret(figure, head),
                at: at(x + columns::middle(figure), y + 0.36 * FRET_SIZE),
                size: FRET_SIZE,
                anchor: Anchor::Middle,
            };
            items.push(Item::of(Some(head.note), Role::Fret, shape));
        }
    }
}
