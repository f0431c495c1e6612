//! From findings to notes and back.

use super::bounds::DRAWN_NOTES;
use crate::engraving::linked::note_id;
use crate::report::Checked;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// Which findings each note belongs to.
pub(super) struct Links {
    by_note: BTreeMap<u32, Vec<usize>>,
    /// How many findings there are.
    pub(super) findings: usize,
    /// Notes from here on are not drawn.
    drawn: u32,
}

impl Links {
    pub(super) fn of(checked: &Checked) -> Links {
        let mut by_note: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (number, finding) in (1..).zip(&checked.findings) {
            for note in &finding.notes {
                by_note.entry(*note).or_default().push(number);
            }
        }
        Links {
            by_note,
            findings: checked.findings.len(),
            drawn: drawn_notes(checked),
        }
    }

    /// How many notes are drawn, whole bars.
    pub(super) fn drawn(&self) -> u32 {
        self.drawn
    }

    /// The numbers of the findings that a note belongs to, rising.
    pub(super) fn of_note(&self, note: u32) -> &[usize] {
        self.by_note.get(&note).map_or(&[], Vec::as_slice)
    }

    /// A link to a note in the part; its words alone where it is not drawn.
    pub(super) fn to_note(&self, note: u32, words: &str, whole: &str) -> Markup {
        html! {
            @if note < self.drawn {
                a href={ "#" (note_id(note)) } aria-label=(whole) { (words) }
            } @else {
                (words)
            }
        }
    }

    /// A link to a finding.
    pub(super) fn to_finding(&self, number: usize) -> Markup {
        html! { a href={ "#" (finding_id(number)) } aria-label={ "finding " (number) } { (number) } }
    }
}

pub(super) fn finding_id(number: usize) -> String {
    format!("finding-{number}")
}

/// The class of what belongs to a finding.
pub(super) fn finding_class(number: usize) -> String {
    format!("of-{number}")
}

/// So many notes, from the first, that no bar is drawn by half.
fn drawn_notes(checked: &Checked) -> u32 {
    let notes = &checked.expected.notes;
    let Some(next) = notes.get(DRAWN_NOTES) else {
        return notes.len() as u32;
    };
    notes.partition_point(|note| note.bar < next.bar) as u32
}
