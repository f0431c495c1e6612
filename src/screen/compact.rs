//! In a window that is too small for music: its substance in words.

use super::canvas::Canvas;
use super::frame::silence;
use super::look::Ink;
use super::view::{Over, State, View};
use crate::backend::Input;
use crate::page::offset;
use crate::units::shortest;

/// From 20 × 5 on.
pub(super) fn draw(canvas: &mut Canvas<'_>, view: &View) {
    let last = canvas.height() - 1;
    let mut y = canvas.paragraph(0, 0, last, &now(view), Ink::Strong);
    if let State::Between(between) = &view.state {
        y += canvas.paragraph(0, y, last - y, &between.next, Ink::Plain);
        if let Some(compared) = &between.compared {
            canvas.paragraph(0, y, last.saturating_sub(y), compared, Ink::Plain);
        }
    } else {
        let next = coming(view, 4).join(" ");
        y += canvas.paragraph(
            0,
            y,
            last.saturating_sub(y).min(1),
            &format!("next {next}"),
            Ink::Plain,
        );
        y += canvas.paragraph(
            0,
            y,
            last.saturating_sub(y).min(1),
            &latest(view),
            Ink::Strong,
        );
        let said = [view.announcement.as_deref(), silence(view)];
        for text in said.into_iter().flatten() {
            y += canvas.paragraph(0, y, last.saturating_sub(y), text, Ink::Notice);
        }
    }
    let foot = match view.notices.last() {
        _ if view.input == Input::Away => "bass unplugged",
        Some(notice) => notice,
        None => "? keys  q end",
    };
    let ink = match foot {
        "? keys  q end" => Ink::Plain,
        _ => Ink::Notice,
    };
    canvas.text(0, last, foot, ink);
}

/// In a smaller one.
pub(super) fn one_line(canvas: &mut Canvas<'_>, view: &View) {
    let text = match &view.state {
        _ if view.input == Input::Away => "bass unplugged".into(),
        State::Playing => format!("{} {}", latest(view), now(view)),
        _ => now(view),
    };
    canvas.text(0, 0, text.trim_start(), Ink::Strong);
}

/// Where the player is, in words.
fn now(view: &View) -> String {
    if let Over::Learn { command, said } = &view.over {
        let press = || format!("press the switch for {command}");
        return said.clone().unwrap_or_else(press);
    }
    match &view.state {
        State::CountIn { beat, .. } => format!("count-in {beat}"),
        State::Waiting => "waiting for your first note".into(),
        State::Between(between) => between.work_on.clone(),
        State::Playing => {
            let note = sounding(view).map(|note| &view.piece.expected().notes[note as usize]);
            let place = note.map(|note| (note.bar as usize, note.at));
            let bars = &view.piece.expected().bars;
            match place.and_then(|(bar, at)| Some((bars.get(bar)?, at))) {
                Some((bar, at)) => {
                    let beat = shortest(bar.beat_number(at));
                    format!("bar {} beat {beat}", bar.number)
                }
                None => String::new(),
            }
        }
    }
}

/// The expected note that began last, the first one before the line begins.
fn sounding(view: &View) -> Option<u32> {
    let notes = &view.piece.expected().notes;
    let after = notes.partition_point(|note| note.onset <= view.now);
    (!notes.is_empty()).then(|| after.saturating_sub(1) as u32)
}

/// The notes from the present one on.
fn coming(view: &View, most: usize) -> Vec<String> {
    let all = view.piece.expected().notes.len() as u32;
    let notes = view
        .piece
        .expected()
        .notes
        .partition_point(|note| note.onset <= view.now) as u32;
    let notes = (notes..all).take(most);
    notes.filter_map(|note| named(view, Some(note))).collect()
}

/// A note as the line file names one by its place: `D:3`; a dead one `D:x`.
pub(super) fn named(view: &View, note: Option<u32>) -> Option<String> {
    let index = note? as usize;
    let note = view.piece.expected().notes.get(index)?;
    let place = view.piece.fingering().places.get(index)?;
    let string = place.string.or(note.string);
    let fret = place.fret.or(note.fret).map(|fret| fret.to_string());
    let fret = if note.is.dead { Some("x".into()) } else { fret };
    let labels = &view.piece.expected().strings;
    match (
        string.and_then(|string| labels.get(usize::from(string) - 1)),
        fret,
    ) {
        (Some(label), Some(fret)) => Some(format!("{label}:{fret}")),
        _ => Some(note.name()),
    }
}

/// `-12 ms` of the note that was played last.
fn latest(view: &View) -> String {
    view.heard.latest().map_or_else(String::new, |reading| {
        match offset(view.piece.expected(), reading) {
            (text, None) => format!("{text} ms"),
            (text, Some(_)) => text,
        }
    })
}
