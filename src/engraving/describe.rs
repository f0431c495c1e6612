//! A system in words, for those who hear the page read out.

use super::figures::Figure;
use super::system::Draft;
use crate::line::length::NoteLength;
use crate::page::Source;

/// `Bars 1 to 4`.
pub(super) fn title(source: Source<'_>, drafts: &[Draft<'_>]) -> String {
    let number = |draft: &Draft<'_>| source.expected.bars[draft.figured.bar as usize].number;
    match (drafts.first().map(number), drafts.last().map(number)) {
        (Some(first), Some(last)) if first != last => format!("Bars {first} to {last}"),
        (Some(first), _) => format!("Bar {first}"),
        _ => String::new(),
    }
}

/// `Bar 1: D2 quarter, rest eighth. Bar 2: …`
pub(super) fn system(source: Source<'_>, drafts: &[Draft<'_>]) -> String {
    let bar = |draft: &Draft<'_>| {
        let number = source.expected.bars[draft.figured.bar as usize].number;
        if draft.figured.silent {
            return format!("Bar {number}: rest.");
        }
        let figures = draft.figured.figures.iter();
        let words: Vec<String> = figures.map(|one| figure(source, one)).collect();
        format!("Bar {number}: {}.", words.join(", "))
    };
    drafts.iter().map(bar).collect::<Vec<_>>().join(" ")
}

fn figure(source: Source<'_>, figure: &Figure) -> String {
    let length = length(figure.length);
    if figure.is_rest() {
        return format!("rest {length}");
    }
    let names = figure.heads.iter();
    let names = names.map(|head| source.expected.notes[head.note as usize].name());
    let held = if figure.tied_in { " held on" } else { "" };
    format!("{} {length}{held}", names.collect::<Vec<_>>().join(" and "))
}

fn length(length: NoteLength) -> String {
    let dots = ["", "dotted ", "double-dotted "][usize::from(length.dots.min(2))];
    let name = match length.value {
        1 => "whole",
        2 => "half",
        4 => "quarter",
        8 => "eighth",
        16 => "sixteenth",
        _ => "thirty-second",
    };
    let triplet = if length.triplet { " triplet" } else { "" };
    format!("{dots}{name}{triplet}")
}
