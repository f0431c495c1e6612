//! Lengths that cannot be had: marks with nothing to cut to, jumps without a gap.

use super::{Ground, Remark, ms};
use crate::line::{Gate, Note};
use crate::units::Nanos;

/// No hand damps a string sooner after it has struck it; it is also the least length window of the judge.
const SOONEST_CUT: Nanos = Nanos::from_ms(50);

/// A gap that is none: the hand lifts while the other already strikes.
const NO_GAP: Nanos = Nanos::from_ms(10);

/// Strings crossed in a jump: over to the neighbour, the plucking finger comes to rest on the string that it leaves.
const JUMP: u8 = 2;

pub(super) fn advise(ground: &Ground<'_>) -> Vec<Remark> {
    let strikes: Vec<usize> = ground.strikes().collect();
    let mut remarks = tied_cuts(ground);
    remarks.extend(
        strikes
            .iter()
            .filter_map(|strike| cut_too_soon(ground, *strike)),
    );
    let pairs = strikes.windows(2);
    remarks.extend(pairs.filter_map(|pair| no_gap(ground, pair[0], pair[1])));
    remarks
}

/// How a note is marked that ends early.
fn cut_mark(note: &Note) -> Option<char> {
    match (note.marks.short, note.marks.muted) {
        (true, _) => Some('\''),
        (false, true) => Some('m'),
        (false, false) => None,
    }
}

fn tied_cuts(ground: &Ground<'_>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (section, written) in ground.line.sections.iter().enumerate() {
        for (bar, notes) in written.bars.iter().enumerate() {
            for (index, note) in notes.notes.iter().enumerate().filter(|(_, note)| note.tie) {
                let Some(mark) = cut_mark(note) else { continue };
                let text = format!(
                    "`{mark}` on a note that is tied on: the tie holds it, the mark cuts it"
                );
                let better = "write the length that sounds, then a rest";
                remarks.push(Remark::new(
                    "tied-cut",
                    ground.at_written(section, bar, index),
                    text,
                    better,
                ));
            }
        }
    }
    remarks
}

fn cut_too_soon(ground: &Ground<'_>, strike: usize) -> Option<Remark> {
    let note = &ground.expected.notes[strike];
    let (_, _, _, written) = ground.written(note)?;
    let mark = cut_mark(written).filter(|_| note.sounding < SOONEST_CUT)?;
    let text = format!(
        "`{mark}` leaves the note {}: no hand cuts it within {}",
        ms(note.sounding),
        ms(SOONEST_CUT)
    );
    let better = "leave the mark out, or write a longer note";
    Some(Remark::new(
        "cut-too-soon",
        ground.at_note(note),
        text,
        better,
    ))
}

/// `_` asks for it; a gate of the whole line or section seldom does.
fn no_gap(ground: &Ground<'_>, first: usize, second: usize) -> Option<Remark> {
    let note = &ground.expected.notes[first];
    let (section, _, _, written) = ground.written(note)?;
    let follows = note.rest_at.is_none();
    if !follows || written.marks.full || note.written - note.sounding >= NO_GAP {
        return None;
    }
    let crossing = ground.fingering.moves[second].crossing?.by.unsigned_abs();
    let gate = ground.line.sections[section]
        .gate
        .unwrap_or(ground.line.gate);
    if crossing < JUMP || gate <= Gate::DEFAULT {
        return None;
    }
    let text = format!(
        "a gate of {gate} leaves {} before a jump over {}: the string rings on",
        match note.written - note.sounding {
            Nanos::ZERO => "no gap".to_owned(),
            gap => ms(gap),
        },
        match crossing - 1 {
            1 => "a string".to_owned(),
            strings => format!("{strings} strings"),
        }
    );
    let better = format!("a gate of {} or less, or ' on this note", Gate::DEFAULT);
    Some(Remark::new("no-gap", ground.at_note(note), text, better))
}
