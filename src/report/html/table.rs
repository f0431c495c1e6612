//! Tables: the numbers behind a figure.

use super::bounds::ROWS;
use maud::{Markup, html};

/// A table with a head; the first cell of a row is its name.
pub(super) struct Table {
    pub(super) heads: Vec<String>,
    pub(super) rows: Vec<Vec<Markup>>,
}

impl Table {
    pub(super) fn new(heads: &[&str]) -> Table {
        Table {
            heads: heads.iter().map(ToString::to_string).collect(),
            rows: Vec::new(),
        }
    }

    pub(super) fn row(&mut self, cells: Vec<Markup>) {
        self.rows.push(cells);
    }

    /// The first rows of it, in a region of its own that scrolls where it is wide.
    pub(super) fn markup(&self, caption: &str) -> Markup {
        let left = self.rows.len().saturating_sub(ROWS);
        html! {
            div class="scroll" tabindex="0" role="region" aria-label=(caption) {
                table {
                    caption { (caption) }
                    thead { tr { @for head in &self.heads { th scope="col" { (head) } } } }
                    tbody {
                        @for row in self.rows.iter().take(ROWS) {
                            tr {
                                @for (index, cell) in row.iter().enumerate() {
                                    @if index == 0 { th scope="row" { (cell) } } @else { td { (cell) } }
                                }
                            }
                        }
                    }
                }
            }
            @if left > 0 { p { (left) " more rows are left out; " code { "leadsman check --json" } " has them all." } }
        }
    }

    /// The same, shut until it is asked for.
    pub(super) fn details(&self, summary: &str, caption: &str) -> Markup {
        html! {
            details {
                summary { (summary) }
                (self.markup(caption))
            }
        }
    }
}

/// A cell of plain text.
pub(super) fn text(words: impl Into<String>) -> Markup {
    let words: String = words.into();
    html! { (words) }
}
