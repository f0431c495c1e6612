//! What was heard, at its place: on which side of the grid, by how much, for how long, and where it rang on.

use super::canvas::Canvas;
use super::figures::{self, Squares};
use super::look::Ink;
use super::music::x_of;
use super::sheet::{Place, Sheet};
use super::view::View;
use crate::judge::cost::Pitch;
use crate::judge::{Length, Partner, Reading, Timing};
use crate::page::{Sign, offset};
use crate::units::{Nanos, TICKS_PER_QUARTER, Ticks};
use std::collections::BTreeSet;
use std::ops::Range;

/// Columns of a string on which a note rings on.
pub(super) struct Ring {
    pub(super) string: u8,
    pub(super) columns: Range<usize>,
}

/// A tick left (early) or right (late) of the grid's line: small inside the window, an arrow outside.
pub(super) fn sides(canvas: &mut Canvas<'_>, view: &View, sheet: &Sheet, line: usize, y: u16) {
    let system = &sheet.page.systems[line];
    canvas.text(0, y, "side", Ink::Plain);
    let mut taken = BTreeSet::new();
    for place in places(sheet, line) {
        let Some(partner) = reading(view, place).and_then(|reading| reading.partner) else {
            continue;
        };
        taken.extend((place.column - 1)..=(place.column + 1));
        let x = x_of(system, place.column);
        let grid = match partner.pitch {
            Pitch::Wrong => canvas.look.either('≠', 'X'),
            Pitch::Octave => '8',
            Pitch::Right | Pitch::Unjudged => canvas.look.charset.bar_line(),
        };
        let is_other = matches!(partner.pitch, Pitch::Wrong | Pitch::Octave);
        canvas.put(x, y, grid, if is_other { Ink::Astray } else { Ink::Plain });
        if let Some((side, tick)) = tick(&partner, canvas) {
            let x = if side == Timing::Early { x - 1 } else { x + 1 };
            canvas.put(x, y, tick, ink_of(&partner));
        }
    }
    extra(canvas, view, sheet, line, (y, taken));
}

/// Which side of the grid's line, and what stands there; nothing on it, to the millisecond.
fn tick(partner: &Partner, canvas: &Canvas<'_>) -> Option<(Timing, char)> {
    let whole_ms = partner.off_grid.ms().round();
    let is_early = whole_ms < 0.0;
    match partner.timing {
        Timing::Unjudged => None,
        _ if whole_ms == 0.0 => None,
        Timing::In if is_early => Some((Timing::Early, canvas.look.either('‹', '-'))),
        Timing::In => Some((Timing::Late, canvas.look.either('›', '-'))),
        // Out of the window around the player's own lean, on whichever side of the grid.
        Timing::Early | Timing::Late if is_early => {
            Some((Timing::Early, canvas.look.either('◂', '<')))
        }
        Timing::Early | Timing::Late => Some((Timing::Late, canvas.look.either('▸', '>'))),
    }
}

/// `!` where a note was played that belongs nowhere; beside a tick that is there already.
fn extra(
    canvas: &mut Canvas<'_>,
    view: &View,
    sheet: &Sheet,
    line: usize,
    (y, mut taken): (u16, BTreeSet<usize>),
) {
    let system = &sheet.page.systems[line];
    let end = system.spans.last().map_or(0, |span| span.columns.end);
    for onset in view.heard.extra() {
        let column = sheet.column_at(*onset).filter(|(at, _)| *at == line);
        let Some((_, column)) = column else { continue };
        if let Some(free) = (column..end).find(|column| !taken.contains(column)) {
            taken.insert(free);
            canvas.put(x_of(system, free), y, '!', Ink::Astray);
        }
    }
}

/// Signed milliseconds; `--` for a missed note.
pub(super) fn offsets(
    canvas: &mut Canvas<'_>,
    view: &View,
    sheet: &Sheet,
    line: usize,
    y: u16,
    squares: Option<Squares>,
) {
    let system = &sheet.page.systems[line];
    let middle = y + squares.map_or(0, |squares| squares.height() / 2);
    canvas.text(0, middle, "ms", Ink::Plain);
    for place in places(sheet, line) {
        let Some(reading) = reading(view, place) else {
            continue;
        };
        let (text, sign) = offset(view.piece.expected(), reading);
        let ink = match (&reading.partner, sign) {
            (_, Some(Sign::Missed)) => Ink::Astray,
            (Some(partner), _) => ink_of(partner),
            (None, _) => Ink::Plain,
        };
        let x = x_of(system, place.column);
        let figures = text.trim_start_matches(['+', '-']);
        let width = squares.map(|squares| (squares, 1 + squares.width(figures.chars().count())));
        match width.filter(|(_, width)| usize::from(*width) <= place.room) {
            Some((squares, _)) if sign.is_none() && figures::has_figures(figures) => {
                let signed = text.chars().next().filter(|c| !c.is_ascii_digit());
                canvas.put(x, middle, signed.unwrap_or(' '), ink);
                figures::draw(canvas, (x.saturating_add(1), y), figures, squares, ink);
            }
            _ => {
                // Apart from the digits before it.
                let x = x + u16::from(sign == Some(Sign::Missed) && place.room > 2);
                let text: String = text.chars().take(place.room).collect();
                canvas.text(x, middle, &text, ink);
            }
        }
    }
}

/// How long it sounded, as a bar against the expected one: `━━━` as expected, `━━┄` too short, `━━━╍` too long.
pub(super) fn lengths(canvas: &mut Canvas<'_>, view: &View, sheet: &Sheet, line: usize, y: u16) {
    let system = &sheet.page.systems[line];
    let label = if system.label_width > 6 {
        "length"
    } else {
        "len"
    };
    canvas.text(0, y, label, Ink::Plain);
    let (played, lacking, over) = (
        canvas.look.either('━', '='),
        canvas.look.either('┄', '.'),
        canvas.look.either('╍', '+'),
    );
    for place in places(sheet, line) {
        let partner = reading(view, place).and_then(|reading| reading.partner);
        let Some((partner, ratio)) = partner.and_then(|one| Some((one, one.length_ratio?))) else {
            continue;
        };
        let expected = place.sounding;
        let sounded = (expected as f64 * ratio).round() as usize;
        for into in 0..place.room {
            let (drawn, ink) = match partner.length {
                Some(Length::Short) if into < sounded.min(expected - 1) => (played, Ink::Plain),
                Some(Length::Short) if into < expected => (lacking, Ink::Early),
                Some(Length::Long | Length::Rings)
                    if into >= expected && into < sounded.max(expected + 1) =>
                {
                    (over, Ink::Late)
                }
                Some(Length::Short) => break,
                _ if into < expected => (played, Ink::Plain),
                _ => break,
            };
            canvas.put(x_of(system, place.column + into), y, drawn, ink);
        }
    }
}

/// Where notes ring on into a line: on their strings, from what stops them, for as long as they did.
pub(super) fn rings(view: &View, sheet: &Sheet, line: usize) -> Vec<Ring> {
    let expected = view.piece.expected();
    let from = sheet.places.partition_point(|place| place.line + 1 < line);
    let around = sheet.places[from..]
        .iter()
        .take_while(|place| place.line <= line);
    let mut rings = Vec::new();
    for index in around.flat_map(|place| place.first..place.first + place.notes) {
        let partner = view.heard.of(index).and_then(|reading| reading.partner);
        let Some(over) = partner
            .filter(|one| one.length == Some(Length::Rings))
            .and_then(|one| one.ring_over)
        else {
            continue;
        };
        let note = &expected.notes[index as usize];
        let stop = expected.bars[note.bar as usize].start + note.at + note.length;
        let at = sheet
            .column_of(&view.piece, stop)
            .filter(|(at, _)| *at == line);
        let string = sheet.steps.iter().find(|step| step.note == Some(index));
        if let (Some((_, column)), Some(string)) = (at, string) {
            let system = &sheet.page.systems[line];
            let end = system.spans.last().map_or(0, |span| span.columns.end);
            let beat = expected.bars[note.bar as usize].beat;
            let columns = columns(over, note.beat, beat, system.quarter);
            // A string that is struck again does not ring on.
            let struck = sheet
                .steps
                .iter()
                .filter(|step| step.line == line && step.string == string.string);
            let struck = struck.map(|step| step.column).filter(|at| *at >= column);
            let end = struck.min().unwrap_or(end).min(end);
            rings.push(Ring {
                string: string.string,
                columns: column..(column + columns).min(end),
            });
        }
    }
    rings
}

/// How many columns a time takes, 1 at the least.
fn columns(time: Nanos, beat: Nanos, beat_ticks: Ticks, quarter: usize) -> usize {
    let beats = time.0 as f64 / beat.0.max(1) as f64;
    let quarters = beats * beat_ticks.0 as f64 / TICKS_PER_QUARTER as f64;
    (quarters * quarter as f64).round().max(1.0) as usize
}

fn places(sheet: &Sheet, line: usize) -> &[Place] {
    let from = sheet.places.partition_point(|place| place.line < line);
    let to = sheet.places.partition_point(|place| place.line <= line);
    &sheet.places[from..to]
}

/// Of notes struck together one that is missed, else the one that is furthest from its place.
fn reading<'a>(view: &'a View, place: &Place) -> Option<&'a Reading> {
    let known = (place.first..place.first + place.notes).filter_map(|note| view.heard.of(note));
    known.max_by_key(|reading| reading.partner.map_or(i64::MAX, |one| one.off_grid.0.abs()))
}

fn ink_of(partner: &Partner) -> Ink {
    match partner.timing {
        Timing::Early => Ink::Early,
        Timing::Late => Ink::Late,
        Timing::In | Timing::Unjudged => Ink::Plain,
    }
}
