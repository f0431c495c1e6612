//! To work on: what was heard, what to do, and the notes it comes from.

use super::bounds::{LINKED, ROWS};
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
        @if material.checked.summary.matched == 0 {
            p { "Nothing was played that could show a habit." }
        } @else if findings.is_empty() {
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
        h3 { (number) ". " (name(finding)) }
        p { (finding.text) }
        p { (finding.advice) }
        @if let Some(words) = certainty(finding) { p class="small" { (words) } }
        @if let Some(practice) = practice { p { "Next: " code { (command(&material.checked.line, practice)) } } }
        (places(material, finding))
    }
}

/// `Late entries`.
fn name(finding: &Finding) -> String {
    let words = finding.id.replace('-', " ");
    let (first, rest) = words.split_at(words.len().min(1));
    first.to_uppercase() + rest
}

/// How sure the mean is, where the sentence has not said it.
fn certainty(finding: &Finding) -> Option<String> {
    let [low, high] = finding.interval_ms?;
    let interval = format!("{low:+.0} to {high:+.0}");
    (!finding.text.contains(&interval))
        .then(|| format!("On average {interval} ms, with 95 % certainty."))
}

fn places(material: &Material, finding: &Finding) -> Markup {
    let notes: Vec<&Note> = finding
        .notes
        .iter()
        .filter_map(|note| material.notes.get(*note as usize))
        .collect();
    let (first, rest) = notes.split_at(notes.len().min(LINKED));
    let listed = &rest[..rest.len().min(ROWS)];
    html! {
        (by_stretch(material, first))
        @if !rest.is_empty() {
            details {
                summary { (rest.len()) " more places" }
                (by_stretch(material, listed))
                @if listed.len() < rest.len() { p { (rest.len() - listed.len()) " more are left out." } }
            }
        }
    }
}

/// `A pass 2: bar 2 beat 1, 1.5 · bar 3 beat 4`, a line a pass; each beat leads to its note.
fn by_stretch(material: &Material, notes: &[&Note]) -> Markup {
    let stretches = notes
        .chunk_by(|one, next| (one.bar.section, one.bar.pass) == (next.bar.section, next.bar.pass));
    html! {
        @for stretch in stretches {
            p class="places" {
                (stretch[0].place.rsplit_once(", bar ").map_or("", |place| place.0)) ": "
                @for (index, bar) in stretch.chunk_by(|one, next| one.note.bar == next.note.bar).enumerate() {
                    @if index > 0 { " · " }
                    span class="bar-places" { "bar " (bar[0].bar.number) " beat " (beats(material, bar)) }
                }
            }
        }
    }
}

fn beats(material: &Material, bar: &[&Note]) -> Markup {
    html! {
        @for (index, note) in bar.iter().enumerate() {
            @if index > 0 { ", " }
            (material.links.to_note(note.index, &shortest(note.bar.beat_number(note.note.at)), &note.place))
        }
    }
}
