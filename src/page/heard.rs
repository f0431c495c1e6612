//! What a take adds to the page.

use super::content::Mark;
use super::{RowKind, Sign};
use crate::expected::{Degree, Expected, ExpectedNote};
use crate::judge::cost::Pitch;
use crate::judge::{Judgement, Reading, Timing};
use crate::report::signed_ms;
use crate::report::words::{self, is_missed};
use crate::units::{Key, Ticks};
use std::cmp::Reverse;

/// The readings beside what was expected.
pub(crate) struct Heard<'a> {
    expected: &'a Expected,
    judgement: &'a Judgement,
}

impl<'a> Heard<'a> {
    pub(crate) fn new(expected: &'a Expected, judgement: &'a Judgement) -> Heard<'a> {
        Heard {
            expected,
            judgement,
        }
    }

    /// What is said of the notes struck together from index `first` on.
    pub(crate) fn marks(&self, first: usize, group: &[ExpectedNote]) -> (Vec<Mark>, Vec<Sign>) {
        let last = (first + group.len()).min(self.judgement.readings.len());
        let readings = self.judgement.readings.get(first..last).unwrap_or_default();
        let (mut marks, mut signs) = (Vec::new(), Vec::new());
        let mut add = |row, text: String, note: u32| {
            marks.push(Mark {
                at: group[0].at,
                row,
                text,
                note: Some(note),
            });
        };
        for (reading, lower) in readings.iter().zip(0..) {
            let (text, sign) = offset(self.expected, reading);
            add(RowKind::Ms(Reverse(lower)), text, reading.note);
            signs.extend(sign);
        }
        let names: Vec<String> = readings
            .iter()
            .filter_map(|one| self.other_note(one))
            .collect();
        if !names.is_empty() {
            add(RowKind::Played, names.join("+"), first as u32);
        }
        if let Some(text) = self.moved(first, group) {
            add(RowKind::Moved, text, first as u32);
        }
        (marks, signs)
    }

    /// What was played where it is not what is written.
    fn other_note(&self, reading: &Reading) -> Option<String> {
        let partner = reading.partner.as_ref()?;
        let is_other = matches!(partner.pitch, Pitch::Wrong | Pitch::Octave);
        let played = self.judgement.played.get(partner.played as usize)?;
        let note = &self.expected.notes[reading.note as usize];
        is_other.then(|| named(note, played.key))
    }

    /// `a beat later`, where a phrase begins that is away from its place; `in place` where one is back.
    fn moved(&self, first: usize, group: &[ExpectedNote]) -> Option<String> {
        let displaced = |reading: &Reading| Some(reading.partner?.displaced);
        let readings = &self.judgement.readings;
        let now = displaced(readings.get(first)?)?;
        let before = readings[..first].iter().rev().find_map(displaced);
        let beat = self.expected.bars[group[0].bar as usize].beat;
        match before.unwrap_or(Ticks(0)) {
            before if before == now => None,
            _ if now == Ticks(0) => Some("in place".into()),
            _ => Some(words::displacement(now, beat)),
        }
    }
}

/// A note's offset, without what the whole phrase is away by; or the sign that stands for it.
pub(crate) fn offset(expected: &Expected, reading: &Reading) -> (String, Option<Sign>) {
    let sign = match &reading.partner {
        Some(partner) if partner.timing != Timing::Unjudged => {
            return (signed_ms(partner.off_grid), None);
        }
        Some(_) => Sign::Unjudged,
        None if reading.is_unheard => Sign::Unjudged,
        None if is_missed(expected, reading) => Sign::Missed,
        None => Sign::LeftOut,
    };
    (sign.shape().into(), Some(sign))
}

/// The name of another key in the place of a note, as its section's key spells it.
fn named(note: &ExpectedNote, key: Key) -> String {
    let spelled = note
        .signature
        .and_then(|signature| Degree::of_key(key, signature).above(signature.tonic));
    let other = ExpectedNote {
        key: Some(key),
        spelled,
        ..note.clone()
    };
    other.name()
}
