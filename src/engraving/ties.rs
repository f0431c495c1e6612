//! Ties of a system: between heads of one line or space, and to and from the systems beside it.

use super::columns;
use super::placed::PlacedBar;
use super::shape::{Item, Role, Shape, at};
use super::stems::{Direction, height};

/// From the middle of a head to the end of its tie.
const FROM_HEAD: f64 = 0.65;
const SHORTEST: f64 = 1.6;

/// Adds the ties of bars side by side; `left` is where the first note may be tied from.
pub(super) fn draw(bars: &[PlacedBar<'_>], left: f64, items: &mut Vec<Item>) {
    let places = bars.iter().flat_map(|bar| {
        let indices = 0..bar.figured.figures.len();
        indices.map(move |index| (bar, index))
    });
    let places: Vec<(&PlacedBar<'_>, usize)> = places.collect();
    let end = bars.last().map_or(0.0, |bar| bar.right);
    for (order, (bar, index)) in places.iter().enumerate() {
        let figure = &bar.figured.figures[*index];
        let x = bar.xs[*index];
        if order == 0 && figure.tied_in {
            tie(bar, *index, left.min(x - SHORTEST)..x - 0.15, items);
        }
        if figure.tied_out {
            let from = x + 2.0 * columns::middle(figure) + dots(figure.length.dots) + 0.1;
            let next = places.get(order + 1);
            let to = next.map_or(end - 0.2, |(bar, index)| bar.xs[*index] - 0.15);
            tie(bar, *index, from..to, items);
        }
    }
}

fn dots(dots: u8) -> f64 {
    match dots {
        0 => 0.0,
        dots => columns::DOT_GAP + columns::DOT_STEP * f64::from(dots) - 0.2,
    }
}

/// Away from the stem; of a double stop the upper tie upwards and the others downwards.
fn tie(bar: &PlacedBar<'_>, index: usize, x: std::ops::Range<f64>, items: &mut Vec<Item>) {
    let figure = &bar.figured.figures[index];
    let single = match bar.grouping.directions[index] {
        Direction::Up => Direction::Down,
        Direction::Down => Direction::Up,
    };
    for (order, head) in figure.heads.iter().enumerate() {
        let side = match figure.heads.len() {
            1 => single,
            all if order + 1 == all => Direction::Up,
            _ => Direction::Down,
        };
        let y = height(head.position) + side.sign() * FROM_HEAD;
        let height = side.sign() * (0.35 + 0.05 * (x.end - x.start)).min(1.1);
        let shape = Shape::Arch {
            from: at(x.start, y),
            to: at(x.end, y),
            height,
        };
        items.push(Item::of(Some(head.note), Role::Tie, shape));
    }
}
