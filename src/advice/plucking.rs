//! What the plucking hand cannot do: notes that follow too fast, strokes with no time to come back.

use super::{Ground, Remark, ms};
use crate::line::{Stroke, Tempo};
use crate::units::Nanos;

/// Two fingers in turn pluck no faster: one finger taps up to 7 times a second (the 150 ms between taps of Repp 2005,
/// "Sensorimotor synchronization", Psychonomic Bulletin & Review 12:969).
const TWO_FINGERS: Nanos = Nanos::from_ms(70);

/// How many notes make a run: two or three can be had by raking over strings.
const RUN: usize = 4;

/// A hand that strikes in one direction comes back in between: 8 times a second is fast (common practice).
const ONE_WAY: Nanos = Nanos::from_ms(120);

pub(super) fn advise(ground: &Ground<'_>) -> Vec<Remark> {
    let strikes: Vec<usize> = ground.strikes().collect();
    let mut remarks = fast_notes(ground, &strikes);
    let pairs = strikes.windows(2);
    remarks.extend(pairs.filter_map(|pair| same_stroke(ground, pair[0], pair[1])));
    remarks
}

fn fast_notes(ground: &Ground<'_>, strikes: &[usize]) -> Vec<Remark> {
    let notes = &ground.expected.notes;
    let onset = |at: usize| notes[strikes[at]].onset;
    // The mean over a run, so that the short halves of a swing are not taken for it.
    let is_fast = |at: usize| {
        let last = at + RUN - 1;
        last < strikes.len() && onset(last) - onset(at) < Nanos(TWO_FINGERS.0 * (RUN as i64 - 1))
    };
    let mut remarks = Vec::new();
    let mut at = 0;
    while at < strikes.len() {
        if !is_fast(at) {
            at += 1;
            continue;
        }
        let mut last = at;
        while is_fast(last) {
            last += 1;
        }
        let end = last + RUN - 2;
        let interval = Nanos((onset(end) - onset(at)).0 / (end - at) as i64);
        remarks.push(fast_run(ground, strikes[at], end - at + 1, interval));
        at = end + 1;
    }
    remarks
}

fn fast_run(ground: &Ground<'_>, strike: usize, count: usize, interval: Nanos) -> Remark {
    let note = &ground.expected.notes[strike];
    let section = &ground.line.sections[usize::from(note.section)];
    let Tempo(tempo) = section.tempo.unwrap_or(ground.line.tempo);
    let playable = i64::from(tempo) * interval.0 / TWO_FINGERS.0 / 1000;
    let text = format!(
        "{count} notes follow one another every {}: two fingers pluck no faster than every {}",
        ms(interval),
        ms(TWO_FINGERS)
    );
    let better = format!("a tempo of {playable} or less, or fewer notes");
    Remark::new("fast-notes", ground.at_note(note), text, better)
}

/// Over to another string the hand may rake on in the same direction.
fn same_stroke(ground: &Ground<'_>, first: usize, second: usize) -> Option<Remark> {
    let (before, note) = (
        &ground.expected.notes[first],
        &ground.expected.notes[second],
    );
    let stroke = note
        .stroke
        .filter(|stroke| before.stroke == Some(*stroke))?;
    let apart = note.onset - before.onset;
    let same_string = ground.fingering.moves[second].crossing?.by == 0;
    if apart >= ONE_WAY || !same_string {
        return None;
    }
    let (name, other) = match stroke {
        Stroke::Down => ("down", "u"),
        Stroke::Up => ("up", "d"),
    };
    let text = format!("two {name} strokes {} apart on one string", ms(apart));
    let better = format!("write {other} for one of them: the hand has to come back anyway");
    Some(Remark::new(
        "same-stroke",
        ground.at_note(note),
        text,
        better,
    ))
}
