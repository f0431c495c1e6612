//! The strings of a bar: frets, dead notes, what is held, and rests.

use super::content::{Hold, Mark, Writer};
use super::{RowKind, Sign};
use crate::expected::ExpectedNote;
use crate::fingering::Placed;
use crate::units::Ticks;
use std::ops::Range;

impl Writer<'_> {
    /// The string of each note of a group, all different.
    pub(super) fn strings(&mut self, first: usize, group: &[ExpectedNote]) -> Vec<u8> {
        let places = &self.source.fingering.places[first..];
        let known = |(note, place): (&ExpectedNote, &Placed)| place.string.or(note.string);
        let mut strings: Vec<Option<u8>> = group.iter().zip(places).map(known).collect();
        for index in 0..strings.len() {
            if strings[index].is_none() {
                let lowest = self.source.expected.strings.len() as u8;
                let wished = [self.string].into_iter().chain((1..=lowest).rev());
                let free = wished.into_iter().find(|n| !strings.contains(&Some(*n)));
                strings[index] = free.or(Some(self.string));
            }
        }
        let strings: Vec<u8> = strings.into_iter().flatten().collect();
        self.string = strings.first().copied().unwrap_or(self.string);
        strings
    }

    pub(super) fn fret(&mut self, index: usize, note: &ExpectedNote, string: u8) {
        let fret = self.source.fingering.places[index].fret.or(note.fret);
        let content = &mut self.bars[note.bar as usize];
        let mut text = match (note.is.dead, fret) {
            (true, _) => Sign::Dead.shape().to_string(),
            (false, Some(fret)) => fret.to_string(),
            (false, None) => Sign::NoPlace.shape().to_string(),
        };
        let sign = match (note.is.dead, fret) {
            (true, _) => Some(Sign::Dead),
            (false, fret) => fret.is_none().then_some(Sign::NoPlace),
        };
        content.signs.extend(sign);
        if note.is.optional {
            text = format!("({text})");
            content.signs.insert(Sign::Ghost);
        }
        let is_named = note.string.is_some();
        content.names_strings |= is_named;
        content.has_likely |= !is_named;
        content.marks.push(Mark {
            at: note.at,
            row: RowKind::String(string),
            text,
            note: Some(index as u32),
        });
    }

    /// Strings sound for the written length; for half of it where the note is short.
    pub(super) fn hold(&mut self, group: &[ExpectedNote], strings: &[u8]) {
        let lead = &group[0];
        let is_short = lead.is.short || lead.is.muted || lead.is.dead;
        let length = Ticks(lead.length.0 / if is_short { 2 } else { 1 });
        let start = self.start(group);
        for (bar, at) in self.by_bar(&(start..start + length)) {
            let holds = strings.iter().map(|string| Hold {
                string: *string,
                at: at.clone(),
                is_tied: bar != lead.bar,
            });
            self.bars[bar as usize].holds.extend(holds);
            self.bars[bar as usize].signs.insert(Sign::Held);
        }
    }

    /// A sign at the start of the rest, in each bar, and at each beat in it.
    pub(super) fn rests(&mut self, span: Range<Ticks>) {
        let strings = self.source.expected.strings.len() as u8;
        let middle = strings.div_ceil(2).max(1);
        for (index, within) in self.by_bar(&span) {
            let bar = self.bar(index);
            let content = &mut self.bars[index as usize];
            let mut at = within.start;
            while at < within.end {
                content.places.insert(at);
                content.signs.insert(Sign::Rest);
                content.marks.push(Mark {
                    at,
                    row: RowKind::String(middle),
                    text: Sign::Rest.shape().into(),
                    note: None,
                });
                let next_beat = ((at + bar.offset).0 / bar.beat.0 + 1) * bar.beat.0;
                at = Ticks(next_beat) - bar.offset;
            }
        }
    }
}
