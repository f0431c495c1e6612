//! Reading the notes of a section: bars, their lengths, ties.

use super::length::NoteLength;
use super::meter::Meter;
use super::mistake::{BarMistake, NoteMistake};
use super::mistakes::Report;
use super::note::{self, DraftNote, Kind};
use super::piece::Piece;
use super::tuning::Tuning;
use super::{Bar, Note, Place, amount};
use crate::units::Ticks;

/// What the notes of a section are read against; `None` where that is wrong itself.
pub(super) struct Ground<'g> {
    pub tuning: Option<&'g Tuning>,
    pub meter: Option<Meter>,
    /// The number of the first bar; 0 when it is a pickup.
    pub first_bar: usize,
}

/// A bar as far as it could be read.
pub(super) struct DraftBar<'t> {
    pub notes: Vec<DraftNote<'t>>,
    pub number: usize,
}

impl DraftBar<'_> {
    /// Whether a pickup.
    fn is_pickup(&self) -> bool {
        self.number == 0
    }
}

/// The bars between the bar lines. A bar line may also stand before the first bar and after the last one.
pub(super) fn read<'t>(
    piece: Piece<'t>,
    ground: &Ground<'_>,
    report: &mut Report,
) -> Vec<DraftBar<'t>> {
    let mut cells: Vec<Piece<'t>> = piece.split('|').collect();
    let blank = |cell: Option<&Piece<'_>>| cell.is_some_and(|cell| cell.text.trim().is_empty());
    if cells.len() > 1 && blank(cells.last()) {
        cells.pop();
    }
    if cells.len() > 1 && blank(cells.first()) {
        cells.remove(0);
    }
    if cells.iter().all(|cell| blank(Some(cell))) {
        report.add(BarMistake::NoNotes, piece.span_with_neighbours());
        return Vec::new();
    }
    let mut bars: Vec<DraftBar<'t>> = Vec::new();
    for (index, cell) in cells.into_iter().enumerate() {
        let number = ground.first_bar + index;
        let words = cell.words();
        let notes = words
            .map(|word| note::read(word, ground.tuning, report))
            .collect();
        let bar = DraftBar { notes, number };
        check_length(cell, &bar, ground.meter, report);
        bars.push(bar);
    }
    if let [only] = &bars[..]
        && only.is_pickup()
    {
        report.add(BarMistake::NothingAfterPickup, piece.trimmed().span());
    }
    check_ties(&bars, ground.tuning, report);
    bars
}

fn check_length(cell: Piece<'_>, bar: &DraftBar<'_>, meter: Option<Meter>, report: &mut Report) {
    if bar.notes.is_empty() {
        let rest = meter.and_then(|meter| amount::exact(meter.bar()));
        let mistake = BarMistake::EmptyBar {
            bar: bar.number,
            rest: rest
                .filter(|rest| !rest.triplet)
                .map(|rest| format!("r/{rest}")),
        };
        report.add(mistake, cell.span_with_neighbours());
        return;
    }
    let lengths: Option<Vec<NoteLength>> = bar.notes.iter().map(|note| note.length).collect();
    let (Some(lengths), Some(meter)) = (lengths, meter) else {
        return;
    };
    let has = Ticks(lengths.iter().map(|length| length.ticks().0).sum());
    if let Some(mistake) = misfit(bar, has, meter) {
        report.add(mistake, cell.trimmed().span());
    }
}

fn misfit(bar: &DraftBar<'_>, ticks: Ticks, meter: Meter) -> Option<BarMistake> {
    let has = amount::amount(ticks);
    let difference = ticks - meter.bar();
    let (bar_number, meter) = (bar.number, meter.to_string());
    if bar.is_pickup() {
        return (difference.0 >= 0).then_some(BarMistake::PickupNotShorter { has, meter });
    }
    match difference.0 {
        0 => None,
        1.. => Some(BarMistake::BarTooLong {
            bar: bar_number,
            extra: amount::amount(difference),
            has,
            meter,
        }),
        _ => Some(BarMistake::BarTooShort {
            bar: bar_number,
            missing: amount::amount(-difference),
            has,
            meter,
        }),
    }
}

fn check_ties(bars: &[DraftBar<'_>], tuning: Option<&Tuning>, report: &mut Report) {
    let notes: Vec<&DraftNote<'_>> = bars.iter().flat_map(|bar| &bar.notes).collect();
    for (index, note) in notes.iter().enumerate() {
        let Some(tie) = note.tie.filter(|_| note.kind() == Kind::Struck) else {
            continue;
        };
        let from = shown(note);
        let Some(next) = notes.get(index + 1) else {
            report.add(NoteMistake::TieAtEnd { from }, tie.span());
            continue;
        };
        if let Some(mistake) = wrong_tie(note, next, tuning) {
            report.add(mistake, note.piece.span());
        } else if let Some((mark, piece)) = next.first_mark {
            report.add(NoteMistake::MarkOnTiedNote { mark }, piece.span());
        }
    }
}

fn wrong_tie(
    note: &DraftNote<'_>,
    next: &DraftNote<'_>,
    tuning: Option<&Tuning>,
) -> Option<NoteMistake> {
    let (from, to) = (shown(note), shown(next));
    match next.kind() {
        Kind::Rest => return Some(NoteMistake::TieToRest { from }),
        Kind::Dead => return Some(NoteMistake::TieToDeadNote { from }),
        Kind::Struck => {}
    }
    let (Some(Place::Struck(before)), Some(Place::Struck(after))) = (&note.place, &next.place)
    else {
        return None;
    };
    let tuning = tuning?;
    let keys = |stops: &[super::Stop]| -> Vec<_> {
        stops.iter().map(|stop| tuning.key_of(*stop)).collect()
    };
    if keys(before) != keys(after) {
        return Some(NoteMistake::TieToAnotherPitch { from, to });
    }
    let moved = before.iter().zip(after).any(|(before, after)| {
        let (before, after) = (before.string(), after.string());
        before.is_some() && after.is_some() && before != after
    });
    moved.then_some(NoteMistake::TieToAnotherString { from, to })
}

/// The place as written.
fn shown(note: &DraftNote<'_>) -> String {
    let place = note.piece.text.split('/').next();
    place.unwrap_or_default().to_owned()
}

/// The bars, where all of them could be read.
pub(super) fn finish(drafts: &[DraftBar<'_>]) -> Option<Vec<Bar>> {
    let bar = |draft: &DraftBar<'_>| {
        let notes: Option<Vec<Note>> = draft.notes.iter().map(finish_note).collect();
        Some(Bar { notes: notes? })
    };
    drafts.iter().map(bar).collect()
}

fn finish_note(draft: &DraftNote<'_>) -> Option<Note> {
    Some(Note {
        place: draft.place.clone()?,
        length: draft.length?,
        tie: draft.tie.is_some(),
        marks: draft.marks,
    })
}
