//! The report of a take as one page: an HTML text that needs no script, no font and no other file.
//!
//! One file a part of the page, in the order in which they stand. The page is bounded: see [`bounds`].

mod astray;
mod beats;
pub mod bounds;
mod figure;
mod findings;
mod frame;
mod hands;
mod heard;
mod legend;
mod lengths;
mod links;
mod offsets;
mod part;
pub mod progress;
pub mod session;
mod spreads;
mod summary;
mod swing;
mod table;

use super::Checked;
use crate::expected::Expected;
use crate::findings::evidence::Evidence;
use crate::line::Line;
use heard::Note;
use links::Links;
use maud::Markup;

/// What a page is made from.
pub struct TakePage<'a> {
    /// The line that was played, or the excerpt of it.
    pub line: &'a Line,
    /// The same unrolled to its end, also where the take was stopped before.
    pub whole: &'a Expected,
    /// The take, judged, what it was stopped before left out.
    pub checked: &'a Checked<'a>,
    /// What else is known of it.
    pub head: Head,
    /// More sections, such as how the line went in earlier takes.
    pub more: Vec<Section>,
}

/// What stands at the head of a page, where it is known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Head {
    /// When it was played, in words.
    pub played: Option<String>,
    /// Who played, or through what.
    pub player: Option<String>,
    /// Its number, such as `take 12`; the file is told in any case.
    pub number: Option<String>,
    /// What the player wrote about it.
    pub note: Option<String>,
}

/// A section of the page; its heading is of level 2.
#[derive(Clone, Debug)]
pub struct Section {
    /// Its id, for links.
    pub id: &'static str,
    /// Its heading.
    pub title: String,
    /// What stands below it. Headings in it are of level 3.
    pub content: Markup,
}

impl Section {
    fn new(id: &'static str, title: &str, content: Markup) -> Section {
        Section {
            id,
            title: title.into(),
            content,
        }
    }
}

/// What all parts of a page look at.
struct Material<'a> {
    line: &'a Line,
    whole: &'a Expected,
    checked: &'a Checked<'a>,
    evidence: Evidence<'a>,
    notes: Vec<Note<'a>>,
    links: Links,
}

/// The page. Linear in the notes of the take, and no longer than [`bounds`] allow.
pub fn take_page(page: &TakePage<'_>) -> String {
    let checked = page.checked;
    let windows = &checked.settings.windows;
    let evidence = Evidence::new(checked.expected, checked.judgement, windows);
    let notes = heard::notes(checked, &evidence.fingering);
    let material = Material {
        line: page.line,
        whole: page.whole,
        checked,
        evidence,
        links: Links::of(checked),
        notes,
    };
    let parts = [
        summary::section,
        findings::section,
        part::section,
        offsets::section,
        beats::section,
        swing::section,
        lengths::section,
        hands::section,
        astray::section,
    ];
    let own = parts.into_iter().filter_map(|part| part(&material));
    let sections: Vec<Section> = own.chain(page.more.iter().cloned()).collect();
    frame::page(checked, &page.head, &sections, &material.links)
}
