//! The page around its sections: head, way in, contents, foot.

use super::links::{finding_class, finding_id};
use super::{Head, Links, Section};
use crate::engraving::svg::{self, plain};
use crate::report::sums::start_in_words;
use crate::report::{Checked, text, words};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The page of a take.
pub(super) fn page(checked: &Checked, head: &Head, sections: &[Section], links: &Links) -> String {
    let document = Document {
        title: plain(&checked.line.title),
        what: "how it was played",
        style: lit(links.findings),
        facts: facts(checked, head),
        sections,
        foot: foot(checked),
    };
    document.written()
}

/// A whole page.
pub(super) struct Document<'a> {
    /// Its heading.
    pub(super) title: String,
    /// What the window's title adds to it.
    pub(super) what: &'a str,
    /// Rules beside those that all pages have.
    pub(super) style: String,
    /// What stands below the heading.
    pub(super) facts: Markup,
    pub(super) sections: &'a [Section],
    pub(super) foot: Markup,
}

impl Document<'_> {
    pub(super) fn written(&self) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    // No icon is asked for.
                    link rel="icon" href="data:,";
                    title { (self.title) " – " (self.what) }
                    style { (PreEscaped(svg::STYLE)) (PreEscaped(include_str!("page.css"))) (PreEscaped(&self.style)) }
                }
                body {
                    a class="skip" href="#main" { "To the report" }
                    header {
                        h1 { (self.title) }
                        (self.facts)
                    }
                    nav aria-label="Contents" {
                        ul { @for section in self.sections { li { a href={ "#" (section.id) } { (section.title) } } } }
                    }
                    main id="main" tabindex="-1" { @for section in self.sections { (section.markup()) } }
                    footer { (self.foot) }
                }
            }
        };
        page.into_string()
    }
}

impl Section {
    fn markup(&self) -> Markup {
        html! {
            section id=(self.id) aria-labelledby={ (self.id) "-title" } {
                h2 id={ (self.id) "-title" } { (self.title) }
                (self.content)
            }
        }
    }
}

/// What is known of a page's matter: names and facts; what is not known is left out.
pub(super) fn list<const N: usize>(rows: [(&str, Option<String>); N]) -> Markup {
    let rows = rows
        .into_iter()
        .filter_map(|(name, fact)| Some((name, fact?)));
    html! {
        dl class="facts" { @for (name, fact) in rows { div { dt { (name) } dd { (plain(&fact)) } } } }
    }
}

/// Where a page is from.
pub(super) fn made_by() -> Markup {
    html! { p { "Made by leadsman " (env!("CARGO_PKG_VERSION")) ". This page asks for nothing from anywhere." } }
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
    list([
        ("Line", Some(line)),
        ("Played", head.played.clone()),
        ("By", head.player.clone()),
        ("Take", (!of_take.is_empty()).then(|| of_take.join(" · "))),
        ("Note", head.note.clone()),
    ])
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
