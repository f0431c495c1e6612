//! The check as a musician reads it: what was played, what to work on, how the sections went, and what went astray.

use super::page::{Layout, Page};
use super::words;
use super::{Checked, astray, own_time, section_table, sums, work_on};
use crate::expected::Expected;
use crate::judge::summary::written_swing;
use crate::units::Ticks;

/// The whole report, laid out so.
pub fn report(checked: &Checked, layout: Layout) -> String {
    let mut page = Page::new(layout);
    let parts = [
        head,
        summed_up,
        cleaned_up,
        work_on::work_on,
        section_table::section_table,
        own_time::new_tempi,
        own_time::silent_bars,
        astray::astray,
        pairs,
        astray::bars,
        trust,
    ];
    for part in parts {
        part(checked, &mut page);
    }
    page.into_text()
}

fn head(checked: &Checked, page: &mut Page) {
    let line = &checked.line;
    let text = format!("{} · {} notes", words::line(line), line.notes);
    page.paragraph("", "  ", &text);
    if let Some(file) = &checked.take.file {
        let how = sums::start_in_words(checked.take.start_from);
        let text = format!(
            "take {file} · bar {} starts at {:.3} s ({how})",
            first_full_bar(checked.expected),
            checked.take.start_s
        );
        page.paragraph("", "  ", &text);
    }
    page.gap();
}

pub(super) fn first_full_bar(expected: &Expected) -> u32 {
    let full = expected.bars.iter().find(|bar| bar.start >= Ticks(0));
    full.map_or(1, |bar| bar.number)
}

fn summed_up(checked: &Checked, page: &mut Page) {
    for (head, text) in sums::sums(checked) {
        page.paragraph(&format!("{head:<9}"), "         ", &text);
    }
    page.gap();
}

/// What was done to the notes before they were judged: `Cleaned up: 3 octave glitches, 1 doubled note`.
fn cleaned_up(checked: &Checked, page: &mut Page) {
    let counts = sums::cleaned(checked);
    if counts.is_empty() {
        return;
    }
    let text = format!(
        "Cleaned up: {} (all of them: --json; --keep leaves them as they came)",
        counts.join(", ")
    );
    page.paragraph("", "  ", &text);
    page.gap();
}

/// Pairs of a line that is not swung: something to look at, on request.
fn pairs(checked: &Checked, page: &mut Page) {
    let is_told = page.layout.detail.is_all() && written_swing(checked.expected).is_none();
    if let Some(ratio) = checked.summary.swing_ratio.filter(|_| is_told) {
        let text = format!("Pairs of beat and upbeat as played: {ratio:.2} : 1, even as written");
        page.paragraph("", "", &text);
        page.gap();
    }
}

fn trust(checked: &Checked, page: &mut Page) {
    if let Some(trust) = &checked.take.trust {
        page.paragraph("", "", &trust.in_words());
    }
}
