//! Figures: a chart with its caption and the numbers behind it.

use super::table::Table;
use crate::chart::Drawing;
use maud::{Markup, PreEscaped, html};

/// A chart in the page.
pub(super) struct Figure {
    /// Its id; what belongs to it is named after it.
    pub(super) id: &'static str,
    /// What it shows, in a few words: what a screen reader calls the picture.
    pub(super) title: String,
    /// What it shows and how to read it.
    pub(super) caption: Markup,
    pub(super) drawing: Drawing,
    /// The same in numbers.
    pub(super) numbers: Table,
}

impl Figure {
    pub(super) fn markup(&self) -> Markup {
        let caption = format!("{}-caption", self.id);
        let Drawing {
            elements,
            width,
            height,
        } = &self.drawing;
        html! {
            figure id=(self.id) {
                div class="scroll" tabindex="0" role="region" aria-label=(self.title) {
                    svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" viewBox={ "0 0 " (width) " " (height) }
                        style={ "min-width:" (width) "px" } aria-label=(self.title) aria-describedby=(caption) {
                        (PreEscaped(elements))
                    }
                }
                figcaption id=(caption) { (self.caption) }
                (self.numbers.details("The numbers", &self.title))
            }
        }
    }
}
