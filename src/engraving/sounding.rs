//! What a take adds below its numbers: where each note fell in the timing window, and how long it sounded against what is written.
//!
//! A ruler is as wide as the timing window and has its own scale, for a few ms are nothing beside a beat. The bar of a length keeps
//! to the time of the part: it begins and ends between the notes where it did for the ear.

use super::columns;
use super::figures::Figure;
use super::placed::PlacedBar;
use super::shape::{Area, Item, Point, Role, Shape, at};
use crate::judge::{Length, Partner, Reading, Timing};
use crate::page::Source;
use crate::units::{Nanos, Ticks};

/// Whether offsets and lengths are drawn besides being told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sounding {
    /// Numbers alone.
    Told,
    /// A ruler and a length to each note.
    Drawn {
        /// Half width of the timing window.
        window: Nanos,
        /// Where its middle is.
        lean: Nanos,
    },
}

/// The place of a ruler's end, in spaces from its middle.
const RULER: f64 = 1.0;
/// The room that a ruler takes, as a text of that size.
pub(super) const RULER_ROOM: &str = "+000";
/// Half the height of what is expected, and of what was played.
const ASKED: f64 = 0.45;
const SOUNDED: f64 = 0.22;
/// How far below its middle a note is drawn while it rings over.
const RINGING: f64 = 0.95;

/// Time to places of a system.
pub(super) struct TimeAxis {
    /// Rising; a bar line has its time twice, at its own place and at that of the first note behind it.
    knots: Vec<(Nanos, f64)>,
}

impl TimeAxis {
    /// The axis of these bars: struck notes, rests and bar lines are where they are written, all else between.
    pub(super) fn of(source: Source<'_>, bars: &[PlacedBar<'_>]) -> TimeAxis {
        let mut axis = TimeAxis { knots: Vec::new() };
        let notes = &source.expected.notes;
        for placed in bars {
            let bar = &source.expected.bars[placed.figured.bar as usize];
            let mut rest_at = None;
            for (figure, x) in placed.figured.figures.iter().zip(&placed.xs) {
                let note = figure.note().map(|note| &notes[note as usize]);
                let time = match note {
                    Some(note) if !figure.tied_in => Some(note.onset),
                    Some(_) => None,
                    None => rest_at.take(),
                };
                rest_at = note.and_then(|note| note.rest_at);
                let starts = (figure.at == Ticks(0)).then_some(bar.onset);
                if let Some(time) = time.or(starts) {
                    axis.push(time, x + columns::middle(figure));
                }
            }
            axis.push(bar.end, placed.right);
        }
        axis
    }

    fn push(&mut self, time: Nanos, x: f64) {
        let last = self.knots.last();
        if last.is_none_or(|last| time >= last.0 && x >= last.1) {
            self.knots.push((time, x));
        }
    }

    /// Where something ends: at a bar line, before it. Before the first knot and behind the last it stays with them.
    fn end(&self, time: Nanos) -> f64 {
        self.between(self.knots.partition_point(|knot| knot.0 < time), time)
    }

    /// Where a note begins that is written at one time and came at another: at a bar line behind it, and when it is early as far
    /// before its place as it would be behind it when late.
    fn start(&self, written: Nanos, came: Nanos) -> f64 {
        let behind = |time| self.between(self.knots.partition_point(|knot| knot.0 <= time), time);
        let place = behind(written);
        match came < written {
            true => 2.0 * place - behind(written + written - came),
            false => behind(came),
        }
    }

    fn between(&self, next: usize, time: Nanos) -> f64 {
        match (
            next.checked_sub(1).map(|before| self.knots[before]),
            self.knots.get(next),
        ) {
            (Some((from, left)), Some((to, right))) => {
                let share = (time - from).0 as f64 / (*to - from).0.max(1) as f64;
                left + share * (right - left)
            }
            (Some((_, x)), None) => x,
            (None, Some((_, x))) => *x,
            (None, None) => 0.0,
        }
    }
}

/// The ruler of a reading around its written place: a line as wide as the window, and a tick; beyond it an arrow.
pub(super) fn ruler(reading: &Reading, x: f64, window: Nanos, lean: Nanos) -> Vec<Item> {
    let note = Some(reading.note);
    let line = |from: Point, to: Point, thickness: f64| {
        let shape = Shape::Line {
            from,
            to,
            thickness,
        };
        Item::of(note, Role::Ruler, shape)
    };
    // The whole ruler lies within its room, wherever the window is.
    let scale = RULER / (window.0 + lean.abs().0).max(1) as f64;
    let place = |time: Nanos| x + time.0 as f64 * scale;
    let (left, right) = (place(lean - window), place(lean + window));
    let mut items = vec![
        line(at(left, 0.0), at(right, 0.0), 0.1),
        line(at(x, -0.4), at(x, 0.4), 0.1),
    ];
    let Some(partner) = reading
        .partner
        .filter(|partner| partner.timing != Timing::Unjudged)
    else {
        return items;
    };
    let arrow = |end: f64, point: f64| [at(end + point, 0.0), at(end, -0.5), at(end, 0.5)].to_vec();
    let (role, points) = match partner.timing {
        Timing::Early => (Role::Early, arrow(left, -0.6)),
        Timing::Late => (Role::Late, arrow(right, 0.6)),
        _ => {
            let x = place(partner.off_grid);
            (Role::Offset, block(x - 0.13, x + 0.13, 0.6, 0.0))
        }
    };
    items.push(Item::of(note, role, Shape::Polygon(points)));
    items
}

/// The length of a reading: a frame for what is expected, a bar in it for what was played; below both what rings over.
pub(super) fn length(source: Source<'_>, reading: &Reading, axis: &TimeAxis) -> Vec<Item> {
    let expected = &source.expected.notes[reading.note as usize];
    let note = Some(reading.note);
    let frame = Area {
        left: axis.start(expected.onset, expected.onset),
        right: axis.end(expected.end()),
        top: -ASKED,
        bottom: ASKED,
    };
    let mut items = vec![Item::of(note, Role::Asked, Shape::Frame(frame))];
    if let Some((partner, start, end)) = sounded(source, reading) {
        let rings = partner.length == Some(Length::Rings);
        let over = partner.ring_over.filter(|_| rings).unwrap_or(Nanos::ZERO);
        let from = axis.start(expected.onset, start);
        let stop = axis.end((end - over).max(start)).max(from);
        let shape = Shape::Polygon(block(from, stop, SOUNDED, 0.0));
        items.push(Item::of(note, role(partner.length), shape));
        if rings {
            let shape = Shape::Line {
                from: at(stop, RINGING),
                to: at(axis.end(end).max(stop + 0.3), RINGING),
                thickness: 2.0 * SOUNDED,
            };
            items.push(Item::of(note, Role::RingOver, shape));
        }
    }
    items
}

/// From when to when a note sounded, on the grid that its phrase is on.
fn sounded<'a>(source: Source<'_>, reading: &'a Reading) -> Option<(&'a Partner, Nanos, Nanos)> {
    let partner = reading.partner.as_ref()?;
    let played = source.judgement?.played.get(partner.played as usize)?;
    let start = source.expected.notes[reading.note as usize].onset + partner.off_grid;
    Some((partner, start, start + played.length?))
}

fn role(length: Option<Length>) -> Role {
    match length {
        Some(Length::Short) => Role::TooShort,
        Some(Length::Long) => Role::TooLong,
        _ => Role::Sounded,
    }
}

fn block(left: f64, right: f64, half: f64, y: f64) -> Vec<Point> {
    let right = right.max(left + 0.1);
    vec![
        at(left, y - half),
        at(right, y - half),
        at(right, y + half),
        at(left, y + half),
    ]
}

/// The reading of the notes of a figure, by how many of them are lower.
pub(super) fn reading<'a>(source: Source<'a>, figure: &Figure, lower: u8) -> Option<&'a Reading> {
    let first = figure.heads.iter().map(|head| head.note as usize).min()?;
    if usize::from(lower) >= figure.heads.len() {
        return None;
    }
    source.judgement?.readings.get(first + usize::from(lower))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_a_bar_line_a_note_ends_before_it_and_begins_behind_it() {
        let ms = Nanos::from_ms;
        let mut axis = TimeAxis { knots: Vec::new() };
        for (time, x) in [
            (0, 2.0),
            (500, 6.0),
            (1000, 10.0),
            (1000, 12.0),
            (2000, 20.0),
        ] {
            axis.push(ms(time), x);
        }
        let places = [-50, 0, 250, 1000, 1500, 2500].map(|time| axis.end(ms(time)));
        assert_eq!(places, [2.0, 2.0, 4.0, 10.0, 16.0, 20.0]);
        // What would lead back in time is left out.
        axis.push(ms(1900), 30.0);
        assert_eq!(axis.end(ms(3000)), 20.0);
        // Behind the bar line 8 spaces are a second, and an early note keeps to that.
        let starts = [1000, 1100, 900].map(|came| axis.start(ms(1000), ms(came)));
        assert_eq!(starts, [12.0, 12.8, 11.2]);
    }

    #[test]
    fn a_tick_is_left_of_the_written_place_when_early_and_an_arrow_beyond_the_window() {
        let reading = |off_grid: i64, timing: Timing| Reading {
            note: 0,
            is_unheard: false,
            partner: Some(Partner {
                played: 0,
                offset: Nanos::from_ms(off_grid),
                displaced: Ticks(0),
                off_grid: Nanos::from_ms(off_grid),
                length_ratio: None,
                ring_over: None,
                pitch: crate::judge::cost::Pitch::Right,
                timing,
                length: None,
            }),
        };
        let last = |off_grid, timing| {
            let items = ruler(
                &reading(off_grid, timing),
                10.0,
                Nanos::from_ms(30),
                Nanos::ZERO,
            );
            let item = items.last().expect("a tick");
            (item.role, item.shape.area())
        };
        let (role, area) = last(-15, Timing::In);
        assert_eq!(role, Role::Offset);
        assert!((area.left + area.right - 19.0).abs() < 1e-9, "{area:?}");
        let (role, area) = last(80, Timing::Late);
        assert_eq!((role, area.left, area.right), (Role::Late, 11.0, 11.6));
        assert_eq!(last(-31, Timing::Early).0, Role::Early);
    }
}
