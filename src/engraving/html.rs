//! The sheet as a page: one file that needs nothing else, to read on a screen and to print on A4.

use super::{Sheet, svg};
use crate::page::Sign;
use crate::page::text::of_strings;
use maud::{DOCTYPE, PreEscaped, html};

/// What stands around the systems.
#[derive(Clone, Copy, Debug)]
pub struct Head<'a> {
    /// The line's title.
    pub title: &'a str,
    /// Lines under it.
    pub facts: &'a [String],
    /// What the line's file says about it, paragraph by paragraph.
    pub comment: &'a [String],
}

/// The words above and below the systems.
pub(super) struct Around {
    pub(super) above: Vec<String>,
    pub(super) below: Vec<String>,
}

pub(super) fn words_around(head: &Head<'_>, sheet: &Sheet) -> Around {
    let strings = of_strings(sheet.strings).map(str::to_string);
    let word = |sign: &Sign| format!("{} {}", sign.shape(), sign.meaning());
    let signs: Vec<String> = sheet.signs.iter().map(word).collect();
    let legend = (!signs.is_empty()).then(|| signs.join(" · "));
    let comment = head
        .comment
        .iter()
        .flat_map(|text| textwrap::wrap(text, 110));
    Around {
        above: head.facts.iter().cloned().chain(strings).collect(),
        below: legend
            .into_iter()
            .chain(comment.map(|line| line.to_string()))
            .collect(),
    }
}

/// The page.
pub fn page(head: &Head<'_>, sheet: &Sheet) -> String {
    let legend = Head {
        comment: &[],
        ..*head
    };
    let around = words_around(&legend, sheet);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                // No icon is asked for.
                link rel="icon" href="data:,";
                title { (svg::plain(head.title)) }
                style { (PreEscaped(svg::STYLE)) (PreEscaped(include_str!("page.css"))) }
            }
            body {
                header {
                    h1 { (svg::plain(head.title)) }
                    @for text in &around.above { p { (svg::plain(text)) } }
                }
                main {
                    svg xmlns="http://www.w3.org/2000/svg" class="signs" aria-hidden="true" { (svg::outlines(sheet)) }
                    @for (order, system) in sheet.systems.iter().enumerate() { (svg::system(system, order)) }
                }
                @if !around.below.is_empty() || !head.comment.is_empty() {
                    footer {
                        @for text in &around.below { p { (svg::plain(text)) } }
                        @for text in head.comment { p { (svg::plain(text)) } }
                    }
                }
            }
        }
    };
    page.into_string()
}
