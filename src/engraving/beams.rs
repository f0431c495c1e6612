//! What holds the notes of a bar together on the staff: beams and triplets.

use super::columns;
use super::figures::Figure;
use super::glyph::Glyph;
use super::placed::PlacedBar;
use super::shape::{Role, Shape, at};
use super::staff::{Pen, STEM};
use super::stems::{self, BeamLine, Direction, height};

/// The thickness of a beam, in spaces (the font's own recommendation, from memory).
const BEAM: f64 = 0.5;
/// From the middle of a beam to that of the next.
const BEAM_STEP: f64 = 0.75;
const STUB: f64 = 1.1;

impl Pen<'_, '_> {
    pub(super) fn beam(&mut self, group: usize) {
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

    /// A number at the beam, or in a bracket where no one beam holds the triplet together.
    pub(super) fn triplet(&mut self, group: usize) {
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
