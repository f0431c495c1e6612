//! The page around its sections: head, way in, contents, foot.

use super::links::{finding_class, finding_id};
use super::{Head, Links, Section};
use crate::engraving::svg::{self, plain};
use crate::report::sums::start_in_words;
use crate::report::{Checked, text, words};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The whole page.
pub(super) fn page(checked: &Checked, head: &Head, sections: &[Section], links: &Links) -> String {
    let title = plain(&checked.line.title);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                // No icon is asked for.
                link rel="icon" href="data:,";
                title { (title) " – how it was played" }
                style {
                    (PreEscaped(svg::STYLE)) (PreEscaped(include_str!("page.css"))) (PreEscaped(lit(links.findings)))
                }
            }
            body {
                a class="skip" href="#main" { "To the report" }
                header {
                    h1 { (title) }
                    (facts(checked, head))
                }
                nav aria-label="Contents" {
                    ul { @for section in sections { li { a href={ "#" (section.id) } { (section.title) } } } }
                }
                main id="main" tabindex="-1" {
                    @for section in sections {
                        section id=(section.id) aria-labelledby={ (section.id) "-title" } {
                            h2 id={ (section.id) "-title" } { (section.title) }
                            (section.content)
                        }
                    }
                }
                footer { (foot(checked)) }
            }
        }
    };
    page.into_string()
}

fn facts(checked: &Checked, head: &Head) -> Markup {
    let notes = match checked.line.notes {
        1 => "1 note".to_string(),
        notes => format!("{notes} notes"),
    };
    let line = format!("{} · {notes}", words::line(&checked.line));
    let take = checked.take.file.as_ref();
    let of_take = [head.number.clone(), take.cloned()];
    let of_take: Vec<String> = of_take.into_iter().flatten().collect();
    let rows = [
        ("Line", Some(line)),
        ("Played", head.played.clone()),
        ("By", head.player.clone()),
        ("Take", (!of_take.is_empty()).then(|| of_take.join(" · "))),
        ("Note", head.note.clone()),
    ];
    let rows = rows
        .into_iter()
        .filter_map(|(name, fact)| Some((name, fact?)));
    html! {
        dl class="facts" { @for (name, fact) in rows { div { dt { (name) } dd { (plain(&fact)) } } } }
    }
}

fn foot(checked: &Checked) -> Markup {
    let bar = text::first_full_bar(checked.expected);
    html! {
        p {
            "Milliseconds count from the written place: minus is early, plus is late. Bar " (bar) " begins at "
            (format!("{:.3}", checked.take.start_s)) " s of the take (" (start_in_words(checked.take.start_from)) ")."
        }
        @if let Some(trust) = &checked.take.trust { p { (trust.in_words()) } }
        p { "Made by leadsman " (env!("CARGO_PKG_VERSION")) " from " (plain(&checked.line.file)) ". This page asks for nothing from anywhere." }
    }
}

/// One rule a finding: its notes light up in the part while it is pointed at, or was followed. A browser that does not know `:has`
/// leaves the rule out.
fn lit(findings: usize) -> String {
    let rule = |number: usize| {
        let (id, class) = (finding_id(number), finding_class(number));
        format!(
            "main:has(#{id}:hover) .{class} .frame,main:has(#{id}:focus-within) .{class} .frame,\
             main:has(#{id}:target) .{class} .frame{{fill:var(--lit);stroke:var(--focus);stroke-dasharray:8 5}}\n"
        )
    };
    (1..=findings).map(rule).collect()
}
