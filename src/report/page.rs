//! The page that a report is written on: how wide it is, and how much is told.

use super::words::wrap;

/// How much of a report is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// What matters most; the rest is counted.
    Brief,
    /// Everything.
    All,
    /// Everything but what each bar came to, which was told while it was played.
    AllButBars,
}

impl Detail {
    /// Whether nothing is only counted.
    pub fn is_all(self) -> bool {
        self != Detail::Brief
    }
}

/// What is printed of a take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Printed {
    /// The report for a musician.
    Text(Detail),
    /// The report as JSON, and nothing else.
    Json,
}

/// How a report is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Characters in a line.
    pub width: usize,
    /// How much is told.
    pub detail: Detail,
}

/// A report while it is written.
pub struct Page {
    /// How it is laid out.
    pub layout: Layout,
    text: String,
}

impl Page {
    /// An empty page.
    pub fn new(layout: Layout) -> Page {
        Page {
            layout,
            text: String::new(),
        }
    }

    /// One line as it stands, however wide.
    pub fn line(&mut self, line: &str) {
        self.text += line;
        self.text.push('\n');
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.line("");
    }

    /// Text in lines that fit, the first and the further ones indented so.
    pub fn paragraph(&mut self, first: &str, further: &str, text: &str) {
        let wrapped = wrap(text, self.layout.width, first, further);
        self.line(&wrapped);
    }

    /// What is written.
    pub fn into_text(self) -> String {
        self.text
    }
}
