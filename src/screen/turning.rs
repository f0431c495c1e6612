//! The turn of the page.
//!
//! Every line of music has one place on the screen and stays there: line `n` of the part is in place `n` modulo the number
//! of places. What was played last stays until the middle of the line that follows, so that its offsets can be read; then
//! the line after next takes its place, so that the eye can read ahead for half a line. With one place only a line comes
//! when the one before is over. Nothing else moves.

use super::sheet::Sheet;
use crate::units::Nanos;

/// For each place from top to bottom the line that it shows.
pub(super) fn lines(sheet: &Sheet, now: Nanos, places: usize) -> Vec<Option<usize>> {
    let all = sheet.times.len();
    let current = sheet.line_at(now);
    let first = match places {
        0 => return Vec::new(),
        1 => current,
        places => {
            let is_past_middle = sheet
                .times
                .get(current)
                .is_some_and(|(from, to)| now.0 >= from.0 / 2 + to.0 / 2);
            let first = if is_past_middle {
                current
            } else {
                current.saturating_sub(1)
            };
            first.min(all.saturating_sub(places))
        }
    };
    let mut shown = vec![None; places];
    for line in (first..all).take(places) {
        shown[line % places] = Some(line);
    }
    shown
}
