//! How much room each figure takes, and how much it is given.
//!
//! Room grows with a power of the length, between its square root and its logarithm, as engravers' tables do (from memory); no figure
//! has less than what it and its neighbour need.

use super::figures::{Figure, FiguredBar, Head};
use super::glyph::Glyph;
use super::shape::text_width;
use super::stems::Direction;
use crate::units::TICKS_PER_QUARTER;

/// The room of a quarter note, in spaces.
const QUARTER: f64 = 4.2;
const POWER: f64 = 0.5;
/// Between figures at the least.
const GAP: f64 = 0.45;
/// From the bar line to the first figure.
pub(super) const LEAD: f64 = 1.0;
/// The size of frets, and of the offsets of a take.
pub(super) const FRET_SIZE: f64 = 1.5;
pub(super) const OFFSET_SIZE: f64 = 1.4;
/// Between a head and what stands before it.
pub(super) const BEFORE: f64 = 0.25;
pub(super) const DOT_GAP: f64 = 0.35;
pub(super) const DOT_STEP: f64 = 0.6;

/// The room of a figure, from the left edge of its (undisplaced) heads.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    /// What it needs before and behind that.
    pub(super) left: f64,
    pub(super) right: f64,
    /// What it is given to the next one, unless it needs more.
    pub(super) ideal: f64,
    /// What it needs to the next one; to the bar line the last.
    pub(super) least: f64,
}

/// What else has to fit at a figure.
#[derive(Clone, Debug, Default)]
pub(super) struct Words {
    /// Texts in the middle of the column.
    pub(super) centred: Vec<(String, f64)>,
}

/// The columns of a bar; `words` are those of each figure, `chords` the figure at (or before) which a chord stands, and its
/// width.
pub(super) fn columns(
    bar: &FiguredBar,
    directions: &[Direction],
    beamed: &[bool],
    words: &[Words],
    chords: &[(usize, f64)],
) -> Vec<Column> {
    let figures = &bar.figures;
    let mut columns: Vec<Column> = (0..figures.len())
        .map(|index| {
            column(
                &figures[index],
                directions[index],
                beamed[index],
                &words[index],
            )
        })
        .collect();
    for index in 0..columns.len() {
        let next = columns.get(index + 1).map_or(0.55, |next| next.left);
        columns[index].least = columns[index].right + GAP + next;
    }
    for (index, (first, width)) in chords.iter().enumerate() {
        let end = chords.get(index + 1).map_or(columns.len(), |next| next.0);
        if end > *first {
            let has: f64 = columns[*first..end].iter().map(|column| column.least).sum();
            let more = (width - has).max(0.0) / (end - first) as f64;
            columns[*first..end]
                .iter_mut()
                .for_each(|column| column.least += more);
        }
    }
    columns
}

fn column(figure: &Figure, direction: Direction, beamed: bool, words: &Words) -> Column {
    let middle = middle(figure);
    let half = |(text, size): &(String, f64)| text_width(text, *size) / 2.0;
    let half = words.centred.iter().map(half).fold(0.0, f64::max);
    let (left, right) = match figure.is_rest() {
        true => (0.0, rest(figure).width() + dots(figure)),
        false => notes(figure, direction, beamed),
    };
    let quarters = figure.length.ticks().0 as f64 / TICKS_PER_QUARTER as f64;
    Column {
        left: left.max(half - middle),
        right: right.max(half + middle),
        ideal: QUARTER * quarters.powf(POWER),
        least: 0.0,
    }
}

/// The middle of the heads, where texts stand.
pub(super) fn middle(figure: &Figure) -> f64 {
    match figure.is_rest() {
        true => rest(figure).width() / 2.0,
        false => glyph(figure, &figure.heads[0]).width() / 2.0,
    }
}

fn dots(figure: &Figure) -> f64 {
    match figure.length.dots {
        0 => 0.0,
        dots => DOT_GAP + DOT_STEP * f64::from(dots),
    }
}

fn notes(figure: &Figure, direction: Direction, beamed: bool) -> (f64, f64) {
    let width = glyph(figure, &figure.heads[0]).width();
    let shifts = shifts(figure, direction);
    let first = shifts.iter().copied().fold(0.0, f64::min);
    let last = shifts.iter().copied().fold(0.0, f64::max);
    let before = before(figure);
    let flag = match (direction, beamed, figure.flags()) {
        (Direction::Up, false, 1..) => 1.0,
        _ => 0.0,
    };
    let behind = (parentheses(figure) + dots(figure)).max(flag);
    (before - first, width + last + behind)
}

/// How far each head is from the column: of two a second apart, one stands on the other side of the stem.
pub(super) fn shifts(figure: &Figure, direction: Direction) -> Vec<f64> {
    let mut shifts = vec![0.0; figure.heads.len()];
    let width = figure
        .heads
        .first()
        .map_or(0.0, |head| glyph(figure, head).width());
    let order: Vec<usize> = match direction {
        Direction::Up => (0..shifts.len()).collect(),
        Direction::Down => (0..shifts.len()).rev().collect(),
    };
    for pair in order.windows(2) {
        let apart = figure.heads[pair[0]]
            .position
            .abs_diff(figure.heads[pair[1]].position);
        if apart <= 1 && shifts[pair[0]] == 0.0 {
            shifts[pair[1]] = -direction.sign() * (width - 0.12);
        }
    }
    shifts
}

/// Where the sign before each head begins, to the left of all heads: signs that would touch stand side by side.
pub(super) fn signs(figure: &Figure) -> Vec<(usize, Glyph, f64)> {
    let mut placed: Vec<(usize, Glyph, f64)> = Vec::new();
    let heads = figure.heads.iter().enumerate().rev();
    for (index, sharps) in heads.filter_map(|(index, head)| Some((index, head.accidental?))) {
        let glyph = Glyph::accidental(sharps);
        let near = |other: &&(usize, Glyph, f64)| {
            let apart = figure.heads[other.0].position - figure.heads[index].position;
            apart.abs() < 6
        };
        let inner = placed.iter().filter(near).map(|(_, _, left)| *left);
        let edge = inner.fold(f64::INFINITY, f64::min);
        let from = if edge.is_finite() {
            edge
        } else {
            -BEFORE - parentheses(figure)
        };
        placed.push((index, glyph, from - glyph.width() - 0.05));
    }
    placed
}

/// The room of a parenthesis before the heads.
pub(super) fn parentheses(figure: &Figure) -> f64 {
    match figure.heads.iter().any(|head| head.optional) {
        true => 0.75,
        false => 0.0,
    }
}

fn before(figure: &Figure) -> f64 {
    let signs = signs(figure);
    let farthest = signs.iter().map(|(_, _, left)| -left);
    farthest.fold(parentheses(figure), f64::max)
}

/// The sign of a head.
pub(super) fn glyph(figure: &Figure, head: &Head) -> Glyph {
    match (head.dead, figure.length.value) {
        (true, _) => Glyph::CrossHead,
        (false, 1) => Glyph::WholeHead,
        (false, 2) => Glyph::HalfHead,
        (false, _) => Glyph::BlackHead,
    }
}

/// The sign of a rest.
pub(super) fn rest(figure: &Figure) -> Glyph {
    match figure.length.value {
        1 => Glyph::WholeRest,
        2 => Glyph::HalfRest,
        4 => Glyph::QuarterRest,
        8 => Glyph::EighthRest,
        16 => Glyph::SixteenthRest,
        _ => Glyph::ThirtySecondRest,
    }
}
