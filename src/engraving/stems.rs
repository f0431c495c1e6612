//! Stems and beams: which way they point, how long they are, how a beam leans.
//!
//! Common practice (from memory): a stem is an octave long and reaches the middle line; a group points away from the middle line by its
//! outermost head, downwards where there is no difference; a beam leans half as much as its outer notes, a space at the most, and not at
//! all when an inner note is nearer to it than they are.

use super::figures::Figure;
use std::ops::Range;

/// An octave, in spaces.
const LENGTH: f64 = 3.5;
/// Where the middle line is, from the top line.
const MIDDLE: f64 = 2.0;
/// The middle line in half spaces above the bottom one.
const MIDDLE_POSITION: i32 = 4;
/// How much a beam leans at the most, in spaces, and a space of width.
const MOST_LEAN: f64 = 1.0;
const MOST_SLOPE: f64 = 0.2;

/// Which way stems point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Direction {
    Up,
    Down,
}

impl Direction {
    /// −1 upwards, 1 downwards.
    pub(super) fn sign(self) -> f64 {
        match self {
            Direction::Up => -1.0,
            Direction::Down => 1.0,
        }
    }
}

/// From the top line down to a position.
pub(super) fn height(position: i32) -> f64 {
    4.0 - f64::from(position) / 2.0
}

/// The direction of each figure of a bar.
pub(super) fn directions(figures: &[Figure], beams: &[Range<usize>]) -> Vec<Direction> {
    let of = |figures: &[Figure]| {
        let heads = || figures.iter().flat_map(|figure| &figure.heads);
        let highest = heads().map(|head| head.position - MIDDLE_POSITION).max();
        let lowest = heads().map(|head| MIDDLE_POSITION - head.position).max();
        match highest >= lowest {
            true => Direction::Down,
            false => Direction::Up,
        }
    };
    let single = figures
        .iter()
        .map(|figure| of(std::slice::from_ref(figure)));
    let mut directions: Vec<Direction> = single.collect();
    for beam in beams {
        directions[beam.clone()].fill(of(&figures[beam.clone()]));
    }
    directions
}

/// Where the stem of a figure without a beam ends.
pub(super) fn tip(figure: &Figure, direction: Direction) -> f64 {
    let longer = if figure.flags() == 3 { 0.75 } else { 0.0 };
    let tip = nearest(figure, direction) + direction.sign() * (LENGTH + longer);
    reach_middle(tip, direction)
}

fn reach_middle(tip: f64, direction: Direction) -> f64 {
    match direction {
        Direction::Up => tip.min(MIDDLE),
        Direction::Down => tip.max(MIDDLE),
    }
}

/// The head that is nearest to the end of the stem.
fn nearest(figure: &Figure, direction: Direction) -> f64 {
    height(match direction {
        Direction::Up => figure.highest(),
        Direction::Down => figure.lowest(),
    })
}

/// The head at which the stem begins.
pub(super) fn farthest(figure: &Figure, direction: Direction) -> f64 {
    height(match direction {
        Direction::Up => figure.lowest(),
        Direction::Down => figure.highest(),
    })
}

/// The outermost beam of a group: where it is at the first stem, and how much lower a space further on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BeamLine {
    pub(super) start_x: f64,
    pub(super) start_y: f64,
    pub(super) slope: f64,
}

impl BeamLine {
    /// The line of a group whose stems stand at `xs`.
    pub(super) fn of(figures: &[Figure], xs: &[f64], direction: Direction) -> BeamLine {
        let heads: Vec<f64> = figures.iter().map(|one| nearest(one, direction)).collect();
        let width = xs[xs.len() - 1] - xs[0];
        let slope = lean(&heads, width, direction) / width;
        // The line through the first head that all stems are long enough for.
        let starts = figures
            .iter()
            .zip(&heads)
            .zip(xs)
            .map(|((figure, head), x)| {
                let least = match figure.flags() {
                    3 => 4.0,
                    2 => 3.25,
                    _ => 3.0,
                };
                let tip = reach_middle(head + direction.sign() * least, direction);
                tip - slope * (x - xs[0])
            });
        let start_y = match direction {
            Direction::Up => starts.fold(f64::INFINITY, f64::min),
            Direction::Down => starts.fold(f64::NEG_INFINITY, f64::max),
        };
        BeamLine {
            start_x: xs[0],
            // On a line, a space's middle or half-way between: no slivers of white.
            start_y: direction.sign() * (direction.sign() * start_y * 4.0).ceil() / 4.0,
            slope,
        }
    }

    pub(super) fn at(&self, x: f64) -> f64 {
        self.start_y + self.slope * (x - self.start_x)
    }
}

/// How much lower the beam is at its end than at its beginning.
fn lean(heads: &[f64], width: f64, direction: Direction) -> f64 {
    let (first, last) = (heads[0], heads[heads.len() - 1]);
    let outermost = |y: f64| direction.sign() * y;
    let outer = outermost(first).max(outermost(last));
    let inner = &heads[1..heads.len() - 1];
    if inner.iter().any(|head| outermost(*head) >= outer) && !inner.is_empty() {
        return 0.0;
    }
    let most = MOST_LEAN.min(MOST_SLOPE * width);
    ((last - first) / 2.0).clamp(-most, most)
}

/// The beams of one level of a group, as runs of its figures; a run of one is a stub.
pub(super) fn level(figures: &[Figure], level: usize) -> Vec<Range<usize>> {
    let mut start = 0;
    let chunks = figures.chunk_by(|one, next| (one.flags() >= level) == (next.flags() >= level));
    let chunks = chunks.map(|chunk| {
        let run = start..start + chunk.len();
        start = run.end;
        run
    });
    chunks
        .filter(|run| figures[run.start].flags() >= level)
        .collect()
}

/// Whether a stub points to the note after it: where it begins the group, or what of its beat comes before it is as long as
/// a plain value that it begins anew.
pub(super) fn stub_points_on(figures: &[Figure], index: usize) -> bool {
    let into = figures[index].at - figures[0].at;
    let is_last = index + 1 == figures.len();
    let whole = 2 * figures[index].length.ticks().0;
    index == 0 || (!is_last && into.0 % whole == 0)
}
