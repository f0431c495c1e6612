//! In short: the sums, the sections, and how far the numbers can be trusted.

use super::table::{Table, text};
use super::{Material, Section};
use crate::report::page::{Detail, Layout, Page};
use crate::report::{own_time, section_table, sums};
use maud::{Markup, html};

/// A longer table is shut until it is asked for.
const SHOWN: usize = 12;

pub(super) fn section(material: &Material) -> Option<Section> {
    let checked = material.checked;
    let cleaned = sums::cleaned(checked);
    let content = html! {
        @if checked.summary.matched == 0 { p { strong { "Nothing was heard that belongs to the line." } } }
        dl class="sums" {
            @for (head, words) in sums::sums(checked) { div { dt { (head) } dd { (words) } } }
        }
        @if !cleaned.is_empty() { p { "Cleaned up before judging: " (cleaned.join(", ")) "." } }
        @for line in own_time(material) { p { (line) } }
        @if let Some(trust) = &checked.take.trust { p class="trust" { (trust.in_words()) } }
        (by_section(material))
    };
    Some(Section::new("short", "In short", content))
}

/// New tempi and silent bars, as the report in the terminal says them.
fn own_time(material: &Material) -> Vec<String> {
    let layout = Layout {
        width: usize::MAX / 2,
        detail: Detail::All,
    };
    let mut page = Page::new(layout);
    own_time::new_tempi(material.checked, &mut page);
    own_time::silent_bars(material.checked, &mut page);
    let said = page.into_text();
    let lines = said.lines().filter(|line| !line.is_empty());
    lines.map(str::to_string).collect()
}

fn by_section(material: &Material) -> Markup {
    let rows = section_table::rows(material.checked);
    if rows.is_empty() {
        return Markup::default();
    }
    let heads: Vec<&str> = ["section"]
        .into_iter()
        .chain(section_table::heads())
        .collect();
    let mut table = Table::new(&heads);
    for (name, cells) in rows {
        table.row(std::iter::once(name).chain(cells).map(text).collect());
    }
    let title = match material.checked.sections.len() {
        1 => "By pass",
        _ => "By section",
    };
    html! {
        h3 { (title) }
        @if table.rows.len() > SHOWN {
            (table.details(&format!("All {}", table.rows.len()), title))
        } @else {
            (table.markup(title))
        }
        p class="small" { "Spread: standard deviation. Tempo: plus is faster than the line." }
    }
}
