//! Sections and passes: where one begins, and what is one section played again.
//!
//! A section begins where the settings change, at a name, at a repeat or double bar, and where the player jumps back.
//! Neighbours that are the same, or the same in another key, become passes; so do passages written out several times
//! where that spares at least [`SPARED`] bars.

use super::alike::Bars;
use super::lost::{Losses, Spot};
use super::written::WrittenBar;
use crate::line::tuning::Tuning;
use crate::line::{Marks, Place};
use crate::units::Ticks;

/// How many bars a passage that recurs has to spare, so that phrases are not torn for it.
const SPARED: usize = 4;
/// The longest passage that is looked for inside a section.
const LONGEST_PASSAGE: usize = 64;
/// The shortest passage that is looked for in another key.
const SHORTEST_SHIFTED: usize = 4;

/// A section to be: a stretch of bars, and how it is played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// The first bar; for the first section that may be the pickup.
    pub start: usize,
    /// The bar after the last.
    pub end: usize,
    /// How many bars of it are a pickup: 0 or 1.
    pub pickup: usize,
    /// Semitones, one entry a pass.
    pub passes: Vec<i8>,
    /// Its name, where the source has one.
    pub mark: Option<String>,
}

/// Cuts the part into sections. `pickup` is how many bars of it are a pickup, 0 or 1.
pub fn cut(
    bars: &mut [WrittenBar],
    pickup: usize,
    tuning: &Tuning,
    losses: &mut Losses,
) -> Vec<Stretch> {
    let starts = starts(bars, pickup, losses);
    let ends = starts.iter().skip(1).copied().chain([bars.len()]);
    let stretches: Vec<Stretch> = starts
        .iter()
        .zip(ends)
        .map(|(start, end)| {
            let pickup = if *start == 0 { pickup } else { 0 };
            let named = |bar: &WrittenBar| bar.mark.clone();
            Stretch {
                start: *start,
                end,
                pickup,
                passes: vec![0],
                mark: bars[*start..=*start + pickup].iter().find_map(named),
            }
        })
        .collect();
    let compared = Bars::new(bars, tuning);
    let merged = merge(stretches, &compared);
    let over: Vec<bool> = bars.iter().map(WrittenBar::ties_over).collect();
    let split = merged
        .into_iter()
        .flat_map(|stretch| split(stretch, &compared, &over));
    // What was split may now be next to its like.
    merge(split.collect(), &compared)
}

/// Where sections begin. A tie cannot lead out of a section: where it would, the section does not end, or the note does.
fn starts(bars: &mut [WrittenBar], pickup: usize, losses: &mut Losses) -> Vec<usize> {
    let mut starts = vec![0];
    for index in 1 + pickup..bars.len() {
        let [before, bar] = &mut bars[index - 1..=index] else {
            continue;
        };
        let spot = || Spot::new(&bar.name, bar.settings.meter, Ticks(0));
        if before.settings != bar.settings {
            if before.ties_over() {
                losses.add(
                    "notes held over a change of tempo, meter or key (cut at the bar line)",
                    spot(),
                );
                cut_tie(bars, index);
            }
            starts.push(index);
        } else if bar.mark.is_some() || bar.begins {
            if !before.ties_over() {
                starts.push(index);
            } else if bar.mark.is_some() {
                losses.add("section names at a bar that a note is held into", spot());
            }
        }
    }
    starts
}

/// Ends a note at the bar line before `index`; what was tied to it becomes rests.
fn cut_tie(bars: &mut [WrittenBar], index: usize) {
    if let Some(note) = bars[index - 1].bar.notes.last_mut() {
        note.tie = false;
    }
    for bar in &mut bars[index..] {
        for note in &mut bar.bar.notes {
            let goes_on = note.tie;
            note.place = Place::Rest;
            note.marks = Marks::default();
            note.tie = false;
            if !goes_on {
                return;
            }
        }
    }
}

/// Makes passes of neighbours that are alike and not named apart.
fn merge(stretches: Vec<Stretch>, bars: &Bars<'_>) -> Vec<Stretch> {
    let mut merged: Vec<Stretch> = Vec::new();
    for stretch in stretches {
        let shift = merged.last().and_then(|last| again(last, &stretch, bars));
        match (shift, merged.last_mut()) {
            (Some(shift), Some(last)) => {
                let shifts = stretch.passes.iter().map(|pass| pass + shift);
                last.passes.extend(shifts);
            }
            _ => merged.push(stretch),
        }
    }
    merged
}

fn again(last: &Stretch, next: &Stretch, bars: &Bars<'_>) -> Option<i8> {
    let start = last.start + last.pickup;
    let count = last.end - start;
    let own_name = next.mark.is_some() && next.mark != last.mark;
    if own_name || count != next.end - next.start {
        return None;
    }
    let shift = bars.shift(start, next.start, count)?;
    let worth_it = shift == 0 || count >= SHORTEST_SHIFTED;
    let shift = i8::try_from(shift).ok().filter(|_| worth_it)?;
    let within = |pass: &i8| (i32::from(*pass) + i32::from(shift)).abs() <= 60;
    let reached = next.passes.iter().all(within) && (shift == 0 || next.passes == [0]);
    reached.then_some(shift)
}

/// Finds passages inside a section that are played several times in a row, from left to right.
fn split(stretch: Stretch, bars: &Bars<'_>, over: &[bool]) -> Vec<Stretch> {
    if stretch.passes != [0] {
        return vec![stretch];
    }
    let mut parts: Vec<Stretch> = Vec::new();
    let mut open = stretch.start;
    let mut at = stretch.start + stretch.pickup;
    let part = |start: usize, end: usize, passes: Vec<i8>| Stretch {
        start,
        end,
        pickup: if start == stretch.start {
            stretch.pickup
        } else {
            0
        },
        passes,
        mark: stretch.mark.clone().filter(|_| start == stretch.start),
    };
    while at < stretch.end {
        let Some((length, passes)) = best_passage(at, stretch.end, bars, over) else {
            at += 1;
            continue;
        };
        let first = open
            + if open == stretch.start {
                stretch.pickup
            } else {
                0
            };
        let begins_here = first == at;
        if !begins_here {
            parts.push(part(open, at, vec![0]));
        }
        let start = if begins_here { open } else { at };
        let end = at + length * passes.len();
        parts.push(part(start, at + length, passes));
        (open, at) = (end, end);
    }
    if open < stretch.end {
        parts.push(part(open, stretch.end, vec![0]));
    }
    parts
}

/// The passage from `at` on whose recurrences spare the most bars, and its passes.
fn best_passage(at: usize, end: usize, bars: &Bars<'_>, over: &[bool]) -> Option<(usize, Vec<i8>)> {
    let held_into = |bar: usize| bar > 0 && over[bar - 1];
    if held_into(at) {
        return None;
    }
    let longest = LONGEST_PASSAGE.min((end - at) / 2);
    let mut best: Option<(usize, usize, Vec<i8>)> = None;
    for length in 1..=longest {
        let mut passes = vec![0];
        loop {
            let next = at + length * passes.len();
            let whole = next + length <= end && !held_into(next);
            let shift = whole.then(|| bars.shift(at, next, length)).flatten();
            match shift.and_then(|shift| i8::try_from(shift).ok()) {
                Some(shift) if shift == 0 || length >= SHORTEST_SHIFTED => passes.push(shift),
                _ => break,
            }
        }
        // The last of them must not be held into what follows.
        while passes.len() > 1 && held_into(at + length * passes.len()) {
            passes.pop();
        }
        let spared = length * (passes.len() - 1);
        if spared >= SPARED && best.as_ref().is_none_or(|(most, ..)| spared > *most) {
            best = Some((spared, length, passes));
        }
    }
    best.map(|(_, length, passes)| (length, passes))
}
