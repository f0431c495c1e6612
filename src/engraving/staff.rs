//! The notes and rests of a bar on the staff, y from its top line.

use super::columns::{self, DOT_GAP, DOT_STEP};
use super::figures::{Figure, Head};
use super::glyph::Glyph;
use super::placed::PlacedBar;
use super::shape::{Item, Role, Shape, at};
use super::stems::{self, BeamLine, Direction, height};
use crate::line::Stroke;

/// Thicknesses, in spaces (the font's own recommendations, from memory).
pub(super) const STEM: f64 = 0.12;
const LEDGER: f64 = 0.16;
pub(super) const BEAM: f64 = 0.5;
/// From the middle of a beam to that of the next.
const BEAM_STEP: f64 = 0.75;
const STUB: f64 = 1.1;
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

struct Pen<'a, 'p> {
    bar: &'p PlacedBar<'a>,
    items: &'p mut Vec<Item>,
}

impl<'a> Pen<'a, '_> {
    fn add(&mut self, note: Option<u32>, role: Role, shape: Shape) {
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

    fn stem(&mut self, index: usize, tip: f64) {
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

    fn beam(&mut self, group: usize) {
        let range = self.bar.grouping.beams[group].clone();
        let line = self.bar.beam_line(group);
        let direction = self.bar.grouping.directions[range.start];
        for index in range.clone() {
            let x = self.bar.stem_x(index);
            self.stem(index, line.at(x));
        }
        let figures = &self.bar.figured.figures[range.clone()];
        for level in 1..=3 {
            let lower = -direction.sign() * BEAM_STEP * (level - 1) as f64;
            for run in stems::level(figures, level) {
                let first = self.bar.stem_x(range.start + run.start);
                let last = self.bar.stem_x(range.start + run.end - 1);
                let (from, to) = match run.len() {
                    1 if stems::stub_points_on(figures, run.start) => (first, first + STUB),
                    1 => (first - STUB, first),
                    _ => (first, last),
                };
                let edge = STEM / 2.0;
                let (from, to) = (from - edge, to + edge);
                let shape = Shape::Beam {
                    from: at(from, line.at(from) + lower),
                    to: at(to, line.at(to) + lower),
                    thickness: BEAM,
                };
                self.add(figures[run.start].note(), Role::Beam, shape);
            }
        }
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

    /// A number at the beam, or in a bracket where no one beam holds the triplet together.
    fn triplet(&mut self, group: usize) {
        let range = self.bar.grouping.triplets[group].clone();
        let figures = &self.bar.figured.figures;
        let note = figures[range.clone()].iter().find_map(Figure::note);
        let digit = Glyph::Triplet;
        let half = digit.width() / 2.0;
        if let Some(beam) = self
            .bar
            .grouping
            .beams
            .iter()
            .position(|beam| *beam == range)
        {
            let direction = self.bar.grouping.directions[range.start];
            let line = self.bar.beam_line(beam);
            let x = (self.bar.stem_x(range.start) + self.bar.stem_x(range.end - 1)) / 2.0;
            let middle = line.at(x) + direction.sign() * 1.1;
            let shape = Shape::Sign(digit, at(x - half, middle + digit_half()));
            return self.add(note, Role::Triplet, shape);
        }
        let lead = range.clone().find(|index| !figures[*index].is_rest());
        let direction = lead.map_or(Direction::Up, |index| self.bar.grouping.directions[index]);
        let ends = range.clone().map(|index| self.bar.outer(index, direction));
        let edge = match direction {
            Direction::Up => ends.fold(-0.3, f64::min) - 1.0,
            Direction::Down => ends.fold(4.3, f64::max) + 1.0,
        };
        let left = self.bar.xs[range.start] - 0.1;
        let last = &figures[range.end - 1];
        let right = self.bar.xs[range.end - 1] + 2.0 * columns::middle(last) + 0.1;
        let middle = (left + right) / 2.0;
        let shape = Shape::Sign(digit, at(middle - half, edge + digit_half()));
        self.add(note, Role::Triplet, shape);
        let hook = edge - direction.sign() * 0.7;
        let gap = half + 0.35;
        let lines = [
            (at(left, hook), at(left, edge)),
            (at(left, edge), at(middle - gap, edge)),
            (at(middle + gap, edge), at(right, edge)),
            (at(right, edge), at(right, hook)),
        ];
        for (from, to) in lines {
            let thickness = 0.13;
            let shape = Shape::Line {
                from,
                to,
                thickness,
            };
            self.add(note, Role::Triplet, shape);
        }
    }
}

/// From the base line of the triplet's number up to its middle.
fn digit_half() -> f64 {
    let area = Glyph::Triplet.area();
    -(area.top + area.bottom) / 2.0
}

/// The sign of a stroke.
pub(super) fn stroke(stroke: Stroke) -> Glyph {
    match stroke {
        Stroke::Down => Glyph::DownStroke,
        Stroke::Up => Glyph::UpStroke,
    }
}

impl PlacedBar<'_> {
    /// Where the stem of a figure stands.
    pub(super) fn stem_x(&self, index: usize) -> f64 {
        let figure = &self.figured.figures[index];
        let width = columns::glyph(figure, &figure.heads[0]).width();
        match self.grouping.directions[index] {
            Direction::Up => self.xs[index] + width - STEM / 2.0,
            Direction::Down => self.xs[index] + STEM / 2.0,
        }
    }

    /// The outermost beam of a group.
    pub(super) fn beam_line(&self, group: usize) -> BeamLine {
        let range = self.grouping.beams[group].clone();
        let xs: Vec<f64> = range.clone().map(|index| self.stem_x(index)).collect();
        BeamLine::of(
            &self.figured.figures[range.clone()],
            &xs,
            self.grouping.directions[range.start],
        )
    }

    /// How far a figure reaches upwards or downwards.
    fn outer(&self, index: usize, towards: Direction) -> f64 {
        let figure = &self.figured.figures[index];
        if figure.is_rest() {
            return 2.0 + towards.sign() * 1.5;
        }
        let head = match towards {
            Direction::Up => height(figure.highest()) - 0.5,
            Direction::Down => height(figure.lowest()) + 0.5,
        };
        if figure.length.value == 1 || self.grouping.directions[index] != towards {
            return head;
        }
        let beam = self
            .grouping
            .beams
            .iter()
            .position(|beam| beam.contains(&index));
        match beam {
            Some(beam) => self.beam_line(beam).at(self.stem_x(index)) + towards.sign() * BEAM / 2.0,
            None => stems::tip(figure, towards),
        }
    }
}
