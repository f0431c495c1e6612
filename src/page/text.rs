//! The page in characters.

use super::{Page, Row, RowKind, Sign, Strings, System};
use crate::report::words::wrap;
use std::collections::BTreeSet;

/// A space at which no line breaks; printed as any other.
const UNBROKEN: char = '\u{a0}';

/// Which characters a terminal can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Charset {
    /// Lines are drawn as lines.
    Unicode,
    /// Only ASCII.
    Ascii,
}

impl Charset {
    pub(crate) fn string(self) -> char {
        match self {
            Charset::Unicode => '─',
            Charset::Ascii => '-',
        }
    }

    pub(crate) fn held(self) -> char {
        match self {
            Charset::Unicode => '═',
            Charset::Ascii => '=',
        }
    }

    pub(crate) fn bar_line(self) -> char {
        match self {
            Charset::Unicode => '│',
            Charset::Ascii => '|',
        }
    }

    /// Text as the terminal can show it, in one line.
    pub(crate) fn plain(self, text: &str) -> String {
        let shown = text.chars().map(|c| match c {
            c if c.is_control() => ' ',
            c if c.is_ascii() || c == UNBROKEN || self == Charset::Unicode => c,
            '·' => '-',
            '°' => 'o',
            'ø' => '0',
            'Δ' => '^',
            _ => '?',
        });
        shown.collect()
    }
}

/// The page below a head of one or more lines, with the meaning of its signs at the end; no line is longer than `width`
/// characters.
pub fn draw(head: &[String], page: &Page, width: usize, charset: Charset) -> String {
    let mut lines: Vec<String> = Vec::new();
    let say = |lines: &mut Vec<String>, text: &str| {
        let text = wrap(&charset.plain(text), width, "", "  ");
        let text = text.replace(UNBROKEN, " ");
        lines.extend(text.lines().map(|line| line.trim_end().to_string()));
    };
    head.iter().for_each(|text| say(&mut lines, text));
    if let Some(text) = of_strings(page.strings) {
        say(&mut lines, text);
    }
    for system in &page.systems {
        lines.push(String::new());
        if let Some(heading) = &system.heading {
            say(&mut lines, heading);
        }
        lines.extend(system.rows.iter().map(|row| draw_row(system, row, charset)));
    }
    if !page.signs.is_empty() {
        lines.push(String::new());
        say(&mut lines, &legend(&page.signs, charset));
    }
    lines.join("\n") + "\n"
}

/// What is to be said of where the strings come from.
pub(crate) fn of_strings(strings: Strings) -> Option<&'static str> {
    match strings {
        Strings::Written => None,
        Strings::SomeLikely => {
            Some("the line names some strings; likely ones are shown for the rest")
        }
        Strings::Likely => Some("no strings in this line: likely ones are shown"),
    }
}

/// One row with its label.
pub fn draw_row(system: &System, row: &Row, charset: Charset) -> String {
    let end = system.spans.last().map_or(0, |span| span.columns.end);
    // The bar line after the last bar.
    let mut line = vec![' '; end + 1];
    if matches!(row.kind, RowKind::String(_)) {
        line[..end].fill(charset.string());
        for hold in &row.holds {
            line[hold.clone()].fill(charset.held());
        }
        for span in &system.spans {
            if span.begins {
                line[span.columns.start] = charset.bar_line();
            }
            if span.ends {
                line[span.columns.end] = charset.bar_line();
            }
        }
    }
    for cell in &row.cells {
        for (place, c) in line[cell.column..]
            .iter_mut()
            .zip(charset.plain(&cell.text).chars())
        {
            *place = c;
        }
    }
    let drawn: String = line.into_iter().collect();
    let drawn = format!("{:<width$}{drawn}", row.label, width = system.label_width);
    drawn.trim_end().to_string()
}

/// `* entry · ' short · r rest`.
fn legend(signs: &BTreeSet<Sign>, charset: Charset) -> String {
    let word = |sign: &Sign| {
        let shape = match sign {
            Sign::Held => charset.held().to_string(),
            sign => sign.shape().to_string(),
        };
        // A sign stays with its meaning where the line breaks.
        format!("{shape} {}", sign.meaning()).replace(' ', &UNBROKEN.to_string())
    };
    let words: Vec<String> = signs.iter().map(word).collect();
    words.join(" · ")
}
