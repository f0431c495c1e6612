//! What changed from the first take of a session to its last, in plain counts. Whether that is more than chance is for
//! `leadsman progress` to say.

use super::takes_list::Listed;
use super::words::{shortest, wrap};
use crate::expected::tempo_map::Speed;
use crate::logbook::sums::Sums;
use crate::logbook::takes::TakeRow;
use std::cmp::Ordering;

/// The first and the last of the takes of one line, the same bars at the same speed, that were played through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change<'a> {
    /// The first.
    pub first: &'a Listed,
    /// The last.
    pub last: &'a Listed,
    from: &'a Sums,
    to: &'a Sums,
    /// Takes that were played through, from the first to the last.
    takes: usize,
}

/// What can be compared of these takes, which are in order. Those that go less far than the longest of their like are left
/// out: fewer notes are no fewer mistakes.
pub fn changes(takes: &[Listed]) -> Vec<Change<'_>> {
    let is_first = |index: usize| {
        !takes[..index]
            .iter()
            .any(|other| is_alike(&other.take, &takes[index].take))
    };
    let firsts = (0..takes.len()).filter(|index| is_first(*index));
    firsts
        .filter_map(|first| change(takes, &takes[first].take))
        .collect()
}

fn is_alike(one: &TakeRow, other: &TakeRow) -> bool {
    one.notes_hash == other.notes_hash && one.bars == other.bars && one.speed == other.speed
}

fn change<'a>(takes: &'a [Listed], like: &TakeRow) -> Option<Change<'a>> {
    let judged = |listed: &'a Listed| Some((listed, listed.sums.as_ref()?));
    let alike: Vec<_> = takes
        .iter()
        .filter(|listed| is_alike(&listed.take, like))
        .filter_map(judged)
        .collect();
    let longest = alike.iter().map(|(_, sums)| sums.notes).max()?;
    let whole: Vec<_> = alike
        .into_iter()
        .filter(|(_, sums)| sums.notes == longest)
        .collect();
    let [(first, from), .., (last, to)] = whole.as_slice() else {
        return None;
    };
    Some(Change {
        first,
        last,
        from,
        to,
        takes: whole.len(),
    })
}

/// The changes in words, or why there are none.
pub fn told(changes: &[Change<'_>], width: usize) -> String {
    if changes.is_empty() {
        let none = "No line was played through twice at one speed, so there is nothing to compare.";
        return wrap(none, width, "", "") + "\n";
    }
    changes.iter().map(|change| one(change, width)).collect()
}

fn one(change: &Change<'_>, width: usize) -> String {
    let Change { from, to, .. } = change;
    let head = wrap(&named(change), width, "", "  ") + "\n";
    let rows = [
        Some(row("right", from.pitch_right, to.pitch_right)),
        Some(row("missed", from.missed, to.missed)),
        Some(row("extra", from.extra, to.extra)),
        // With another window the numbers say nothing about the player.
        (from.timing_window == to.timing_window)
            .then(|| row("in time", from.timing_in, to.timing_in)),
    ];
    let rows = rows.into_iter().flatten();
    let rows = rows.map(|row| wrap(&row, width, "  ", "    ") + "\n");
    [head].into_iter().chain(rows).collect()
}

/// `Gangway Skip, bars 5 to 8, at 90 %: take 3, then take 9 (216 notes, 5 takes)`.
fn named(change: &Change<'_>) -> String {
    let take = &change.first.take;
    let bars = take.bars.map_or(String::new(), |bars| format!(", {bars}"));
    let speed = match take.speed {
        Speed::WRITTEN => String::new(),
        speed => format!(", at {} %", shortest(speed.percent())),
    };
    format!(
        "{}{bars}{speed}: take {}, then take {} ({} notes, {} takes)",
        take.line, take.number, change.last.take.number, change.from.notes, change.takes
    )
}

/// `right: 196, then 208 (12 more)`.
fn row(what: &str, from: usize, to: usize) -> String {
    let by = from.abs_diff(to);
    let change = match to.cmp(&from) {
        Ordering::Greater => format!("{by} more"),
        Ordering::Less => format!("{by} fewer"),
        Ordering::Equal => "as many".into(),
    };
    format!("{what}: {from}, then {to} ({change})")
}
