//! To work on: what was heard, what to do, and the notes it comes from.

use super::bounds::LINKED;
use super::heard::Note;
use super::links::finding_id;
use super::{Material, Section};
use crate::findings::Finding;
use crate::report::command::command;
use crate::report::words::shortest;
use maud::{Markup, html};

pub(super) fn section(material: &Material) -> Option<Section> {
    let findings = &material.checked.findings;
    let content = html! {
        @if findings.is_empty() {
            p { "Nothing stands out as a habit to work on." }
        } @else {
            p class="small" { "What hurts most comes first. A place leads to its note in the part, and the numbers there lead back." }
            ol class="findings" {
                @for (number, finding) in (1..).zip(findings) {
                    li id=(finding_id(number)) { (one(material, number, finding)) }
                }
            }
        }
    };
    Some(Section::new("findings", "To work on", content))
}

fn one(material: &Material, number: usize, finding: &Finding) -> Markup {
    let practice = finding.practice.as_ref();
    html! {
        h3 { (number) ". " (finding.id.replace('-', " ")) }
        p { (finding.text) }
        p { (finding.advice) }
        p class="small" { (evidence(finding)) }
        @if let Some(practice) = practice { p { "Next: " code { (command(&material.checked.line, practice)) } } }
        (places(material, finding))
    }
}

/// `5 of 12 notes · +31 ms on average, +22 to +40 with 95 % certainty`.
fn evidence(finding: &Finding) -> String {
    let mut text = format!("{} of {} notes", finding.count, finding.of);
    if let Some(mean) = finding.mean_ms {
        text += &format!(" · {mean:+.0} ms");
    }
    if let Some([low, high]) = finding.interval_ms {
        text += &format!(", {low:+.0} to {high:+.0} ms with 95 % certainty");
    }
    text
}

fn places(material: &Material, finding: &Finding) -> Markup {
    let notes: Vec<&Note> = finding
        .notes
        .iter()
        .filter_map(|note| material.notes.get(*note as usize))
        .collect();
    let (first, rest) = notes.split_at(notes.len().min(LINKED));
    html! {
        @if !first.is_empty() { p class="places" { "Where: " (by_bar(material, first)) } }
        @if !rest.is_empty() {
            details {
                summary { (rest.len()) " more places" }
                p class="places" { (by_bar(material, rest)) }
            }
        }
    }
}

/// `A, bar 2: 1, 1.5 · A, bar 3: 4`; each beat leads to its note.
fn by_bar(material: &Material, notes: &[&Note]) -> Markup {
    let bars = notes.chunk_by(|one, next| one.note.bar == next.note.bar);
    html! {
        @for (index, bar) in bars.enumerate() {
            @if index > 0 { " · " }
            span class="bar-places" {
                (bar[0].place.rsplit_once(" beat ").map_or("", |place| place.0)) " beat "
                @for (index, note) in bar.iter().enumerate() {
                    @if index > 0 { ", " }
                    (material.links.to_note(note.index, &shortest(note.bar.beat_number(note.note.at)), &note.place))
                }
            }
        }
    }
}
