//! The notes and rests of a bar on the staff, y from its top line.

use super::columns::{self, DOT_GAP, DOT_STEP};
use super::figures::{Figure, Head};
use super::glyph::Glyph;
use super::placed::PlacedBar;
use super::shape::{Item, Role, Shape, at};
use super::stems::{self, Direction, height};
use crate::line::Stroke;

/// Thicknesses, in spaces (the font's own recommendations, from memory).
pub(super) const STEM: f64 = 0.12;
const LEDGER: f64 = 0.16;
/// How far a ledger line is longer than its head, on each side.
const LEDGER_OVERHANG: f64 = 0.35;

/// Adds what a bar has on the staff, without ties.
pub(super) fn draw(bar: &PlacedBar<'_>, items: &mut Vec<Item>) {
    if bar.figured.silent {
        let rest = Glyph::WholeRest;
        let x = (bar.left + bar.right - rest.width()) / 2.0;
        items.push(Item::new(Role::Rest, Shape::Sign(rest, at(x, 1.0))));
        return;
    }
    let mut pen = Pen { bar, items };
    for index in 0..bar.figured.figures.len() {
        pen.figure(index);
    }
    for group in 0..bar.grouping.beams.len() {
        pen.beam(group);
    }
    for group in 0..bar.grouping.triplets.len() {
        pen.triplet(group);
    }
}

pub(super) struct Pen<'a, 'p> {
    pub(super) bar: &'p PlacedBar<'a>,
    items: &'p mut Vec<Item>,
}

impl<'a> Pen<'a, '_> {
    pub(super) fn add(&mut self, note: Option<u32>, role: Role, shape: Shape) {
        self.items.push(Item::of(note, role, shape));
    }

    fn figure(&mut self, index: usize) {
        let figure = &self.bar.figured.figures[index];
        let x = self.bar.xs[index];
        if figure.is_rest() {
            return self.rest(figure, x);
        }
        let direction = self.bar.grouping.directions[index];
        let shifts = columns::shifts(figure, direction);
        for (head, shift) in figure.heads.iter().zip(&shifts) {
            self.head(figure, head, x + shift);
        }
        let first = shifts.iter().copied().fold(0.0, f64::min);
        for (head, glyph, left) in columns::signs(figure) {
            let head = &figure.heads[head];
            let place = at(x + first + left, height(head.position));
            self.add(Some(head.note), Role::Accidental, Shape::Sign(glyph, place));
        }
        let last = shifts.iter().copied().fold(0.0, f64::max);
        let right = x + last + columns::glyph(figure, &figure.heads[0]).width();
        self.parentheses(figure, x + first, right);
        self.dots(figure, right + columns::parentheses(figure));
        self.articulations(index);
        if figure.length.value == 1 {
            return;
        }
        if !self.bar.grouping.is_beamed(index) {
            let tip = stems::tip(figure, direction);
            self.stem(index, tip);
            self.flag(index, tip);
        }
    }

    fn rest(&mut self, figure: &Figure, x: f64) {
        let rest = columns::rest(figure);
        let y = if rest == Glyph::WholeRest { 1.0 } else { 2.0 };
        self.add(None, Role::Rest, Shape::Sign(rest, at(x, y)));
        for dot in 0..figure.length.dots {
            let x = x + rest.width() + DOT_GAP + DOT_STEP * f64::from(dot);
            self.add(None, Role::Dot, Shape::Sign(Glyph::Dot, at(x, 1.5)));
        }
    }

    fn head(&mut self, figure: &Figure, head: &Head, x: f64) {
        let (note, y) = (Some(head.note), height(head.position));
        let glyph = columns::glyph(figure, head);
        let below = (head.position..0).filter(|p| p % 2 == 0);
        let above = (9..=head.position).filter(|p| p % 2 == 0);
        for ledger in below.chain(above) {
            let y = height(ledger);
            let shape = Shape::Line {
                from: at(x - LEDGER_OVERHANG, y),
                to: at(x + glyph.width() + LEDGER_OVERHANG, y),
                thickness: LEDGER,
            };
            self.add(note, Role::Ledger, shape);
        }
        self.add(note, Role::Head, Shape::Sign(glyph, at(x, y)));
    }

    /// Around all heads of a ghost note; those that are near each other share a pair.
    fn parentheses(&mut self, figure: &Figure, left: f64, right: f64) {
        let mut last: Option<i32> = None;
        for head in figure.heads.iter().filter(|head| head.optional) {
            if last.is_some_and(|last| head.position - last < 4) {
                continue;
            }
            last = Some(head.position);
            let y = height(head.position);
            let open = Glyph::OpenParenthesis;
            let pair = [
                Shape::Sign(open, at(left - open.width() - 0.15, y)),
                Shape::Sign(Glyph::CloseParenthesis, at(right + 0.15, y)),
            ];
            for shape in pair {
                self.add(Some(head.note), Role::Parenthesis, shape);
            }
        }
    }

    /// Dots stand in spaces, each in one of its own.
    fn dots(&mut self, figure: &Figure, right: f64) {
        let mut used: Vec<i32> = Vec::new();
        for head in figure.heads.iter().rev() {
            let mut position = head.position + i32::from(head.position % 2 == 0);
            while used.contains(&position) {
                position -= 2;
            }
            used.push(position);
            for dot in 0..figure.length.dots {
                let x = right + DOT_GAP + DOT_STEP * f64::from(dot);
                let place = at(x, height(position));
                self.add(Some(head.note), Role::Dot, Shape::Sign(Glyph::Dot, place));
            }
        }
    }

    pub(super) fn stem(&mut self, index: usize, tip: f64) {
        let figure = &self.bar.figured.figures[index];
        let direction = self.bar.grouping.directions[index];
        let cross = figure.heads[0].dead;
        let from = stems::farthest(figure, direction);
        // Where the stem meets the outline of the head.
        let meets = if cross { 0.44 } else { 0.17 };
        let x = self.bar.stem_x(index);
        let shape = Shape::Line {
            from: at(x, from + direction.sign() * meets),
            to: at(x, tip),
            thickness: STEM,
        };
        self.add(figure.note(), Role::Stem, shape);
    }

    fn flag(&mut self, index: usize, tip: f64) {
        let figure = &self.bar.figured.figures[index];
        let glyph = match (figure.flags(), self.bar.grouping.directions[index]) {
            (1, Direction::Up) => Glyph::EighthUp,
            (1, Direction::Down) => Glyph::EighthDown,
            (2, Direction::Up) => Glyph::SixteenthUp,
            (2, Direction::Down) => Glyph::SixteenthDown,
            (3, Direction::Up) => Glyph::ThirtySecondUp,
            (3, Direction::Down) => Glyph::ThirtySecondDown,
            _ => return,
        };
        let place = at(self.bar.stem_x(index) - STEM / 2.0, tip);
        self.add(figure.note(), Role::Flag, Shape::Sign(glyph, place));
    }

    /// Dots and lines stand at the head, in a space; an accent outside the staff.
    fn articulations(&mut self, index: usize) {
        let figure = &self.bar.figured.figures[index];
        let away = match self.bar.grouping.directions[index] {
            Direction::Up => Direction::Down,
            Direction::Down => Direction::Up,
        };
        let position = match away {
            Direction::Up => figure.highest(),
            Direction::Down => figure.lowest(),
        };
        let x = self.bar.xs[index] + columns::middle(figure);
        let mut y = height(position) + away.sign();
        if (-0.25..=4.25).contains(&y) && y.fract() == 0.0 {
            y += away.sign() / 2.0;
        }
        if figure.tied_out {
            y += away.sign() * 0.75;
        }
        let put = |pen: &mut Self, glyph: Glyph, y: f64| {
            let area = glyph.area();
            let place = at(
                x - (area.left + area.right) / 2.0,
                y - (area.top + area.bottom) / 2.0,
            );
            pen.add(figure.note(), Role::Articulation, Shape::Sign(glyph, place));
        };
        let near = match (figure.marks.short, figure.marks.full) {
            (true, _) => Some(Glyph::Staccato),
            (_, true) => Some(Glyph::Tenuto),
            _ => None,
        };
        if let Some(glyph) = near {
            put(self, glyph, y);
            y += away.sign() * 0.9;
        }
        if figure.marks.accent {
            let (glyph, y) = match away {
                Direction::Up => (Glyph::AccentAbove, y.min(-0.8)),
                Direction::Down => (Glyph::AccentBelow, y.max(4.8)),
            };
            put(self, glyph, y);
        }
    }
}

/// The sign of a stroke.
pub(super) fn stroke(stroke: Stroke) -> Glyph {
    match stroke {
        Stroke::Down => Glyph::DownStroke,
        Stroke::Up => Glyph::UpStroke,
    }
}
