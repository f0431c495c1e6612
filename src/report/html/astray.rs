//! What went astray, each time it happened.

use super::bounds::ROWS;
use super::{Material, Section};
use crate::report::astray;
use maud::html;

/// Nothing where nothing did.
pub(super) fn section(material: &Material) -> Option<Section> {
    let lists: Vec<(&str, Vec<String>)> = astray::all(material.checked)
        .filter(|list| !list.1.is_empty())
        .collect();
    if lists.is_empty() {
        return None;
    }
    let content = html! {
        @for (title, items) in &lists {
            h3 { (title) }
            details {
                summary { (items.len()) " in all" }
                ul { @for item in items.iter().take(ROWS) { li { (item) } } }
                @if items.len() > ROWS { p { (items.len() - ROWS) " more" } }
            }
        }
    };
    Some(Section::new("astray", "What went astray", content))
}
