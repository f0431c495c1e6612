//! The part: staff and tablature with what was played for each note, and under each system the same in numbers.

use super::heard::Note;
use super::legend;
use super::links::finding_class;
use super::table::{Table, text};
use super::{Material, Section};
use crate::engraving::linked::{self, NoteLabel};
use crate::engraving::{Part, Sheet, Sounding, System, svg};
use crate::judge::Judgement;
use crate::page::text::of_strings;
use crate::page::{Passes, Source, Strings};
use crate::report::words::bar_name;
use maud::{Markup, html};

pub(super) fn section(material: &Material) -> Option<Section> {
    let drawn = material.links.drawn();
    let all = material.notes.len() as u32;
    let judgement = Judgement {
        readings: material.checked.judgement.readings[..drawn as usize].to_vec(),
        ..material.checked.judgement.clone()
    };
    let sheet = sheet(material, &judgement);
    let content = html! {
        (reading_it(material, sheet.strings))
        svg xmlns="http://www.w3.org/2000/svg" class="signs" aria-hidden="true" { (svg::outlines(&sheet)) }
        @for (order, system) in sheet.systems.iter().enumerate() { (one(material, system, order)) }
        @if drawn < all {
            p {
                "The part is drawn up to its note " (drawn) "; " (all - drawn) " more are in the charts below. "
                "For a part of them say which bars: " code { "--bars 5-8" } "."
            }
        }
        @if !sheet.signs.is_empty() {
            p class="small" {
                @for (index, sign) in sheet.signs.iter().enumerate() {
                    @if index > 0 { " · " }
                    (sign.shape()) " " (sign.meaning())
                }
            }
        }
    };
    Some(Section::new("part", "The part, as you played it", content))
}

fn sheet(material: &Material, judgement: &Judgement) -> Sheet {
    let windows = &material.checked.settings.windows;
    let whole = crate::fingering::Fingering::of(material.whole);
    let source = Source {
        line: material.line,
        expected: material.whole,
        fingering: &whole,
        judgement: Some(judgement),
    };
    let part = Part {
        passes: Passes::All,
        bars: None,
        without: Default::default(),
        sounding: Sounding::Drawn {
            window: windows.timing,
            lean: windows.lean,
        },
    };
    Sheet::of(source, &part)
}

fn reading_it(material: &Material, strings: Strings) -> Markup {
    let windows = &material.checked.settings.windows;
    html! {
        p {
            "Under each note: its offset in ms; a ruler as wide as the window of ±" (format!("{:.0}", windows.timing.ms()))
            " ms with a tick where you were, left is early; a frame as long as the note should sound, and in it a bar as long as it did."
        }
        p {
            (legend::signs(&[
                ("early", "◀", "earlier than the window"),
                ("late", "▶", "later than the window"),
                ("short", "▭", "short"),
                ("long", "▬", "too long"),
                ("late", "▪▪▪", "rings on into what follows"),
                ("missed", "--", "not played"),
            ]))
        }
        @if let Some(words) = of_strings(strings) { p class="small" { "Tablature: " (words) "." } }
    }
}

fn one(material: &Material, system: &System, order: usize) -> Markup {
    let name = |bar: u32| bar_name(material.whole, &material.whole.bars[bar as usize]);
    let first = system
        .bars
        .first()
        .map_or_else(String::new, |bar| name(bar.bar));
    let notes = notes_of(material, system);
    let label = |note: u32| {
        let classes: Vec<String> = material
            .links
            .of_note(note)
            .iter()
            .map(|number| finding_class(*number))
            .collect();
        let title = material.notes.get(note as usize);
        NoteLabel {
            title: title.map_or_else(String::new, |note| sentence(material, note)),
            class: classes.join(" "),
        }
    };
    html! {
        div class="system-block" {
            div class="scroll" tabindex="0" role="region" aria-label={ "Part from " (first) } {
                (linked::system(system, order, label))
            }
            (back(material, notes))
            @if !notes.is_empty() { (numbers(material, notes).details(&format!("Numbers from {first}"), &format!("From {first}"))) }
        }
    }
}

/// What shows where a note is pointed at.
fn sentence(material: &Material, note: &Note) -> String {
    let numbers: Vec<String> = material
        .links
        .of_note(note.index)
        .iter()
        .map(ToString::to_string)
        .collect();
    match numbers.as_slice() {
        [] => note.sentence(),
        numbers => format!("{} · to work on: {}", note.sentence(), numbers.join(", ")),
    }
}

fn notes_of<'a>(material: &'a Material, system: &System) -> &'a [Note<'a>] {
    let (Some(first), Some(last)) = (system.bars.first(), system.bars.last()) else {
        return &[];
    };
    let at = |bar: u32| material.notes.partition_point(|note| note.note.bar < bar);
    &material.notes[at(first.bar)..at(last.bar + 1)]
}

/// Which findings have notes here.
fn back(material: &Material, notes: &[Note]) -> Markup {
    let numbers = notes
        .iter()
        .flat_map(|note| material.links.of_note(note.index));
    let mut numbers: Vec<usize> = numbers.copied().collect();
    numbers.sort_unstable();
    numbers.dedup();
    html! {
        @if !numbers.is_empty() {
            p class="back small" {
                "To work on here: "
                @for (index, number) in numbers.iter().enumerate() {
                    @if index > 0 { ", " }
                    (material.links.to_finding(*number))
                }
            }
        }
    }
}

fn numbers(material: &Material, notes: &[Note]) -> Table {
    let mut table = Table::new(&[
        "place",
        "note",
        "offset, ms",
        "sounded, ms",
        "should sound, ms",
        "rings over, ms",
        "heard as",
        "findings",
    ]);
    for note in notes {
        let whole_ms = |ms: Option<f64>| ms.map_or_else(String::new, |ms| format!("{ms:.0}"));
        let findings = html! {
            @for (index, number) in material.links.of_note(note.index).iter().enumerate() {
                @if index > 0 { ", " }
                (material.links.to_finding(*number))
            }
        };
        table.row(vec![
            text(&note.place),
            text(note.note.name()),
            text(note.offset_words()),
            text(whole_ms(note.sounded_ms())),
            text(whole_ms(Some(note.asked_ms()))),
            text(whole_ms(note.ring_ms())),
            text(note.verdict()),
            findings,
        ]);
    }
    table
}
