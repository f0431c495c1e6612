//! The one layout of a line file, which [`print`](super::print) and [`format`](super::format) share.
//!
//! - Keys stand in the order of [`Table::keys`](super::mistake::document::Table::keys), `=` in one column; every section
//!   is preceded by a blank line, and there is no other blank line but between comments.
//! - Bars stand on one line where that fits, else between `"""`, every line ended at a bar line. A line break that the
//!   author has put at a bar line stays. A line too wide, and bars that no author has grouped, are broken after every
//!   four bars, or two, or one: the most that fits. A pickup goes with the first of them.
//! - Comments behind the values of one table begin in one column.

/// The widest line of bars, in characters.
pub(super) const WIDEST: usize = 108;

/// The columns that keys are padded to: the longest has as many letters.
const KEY_COLUMNS: usize = 7;

/// How many bars make up a line, where nobody has grouped them.
const GROUPS: [usize; 3] = [4, 2, 1];

/// A file as it is to be written.
#[derive(Default)]
pub(super) struct Sheet {
    /// The comments at the head of the file, which belong to no key.
    pub head: Vec<Comment>,
    /// The head of the line, then its sections.
    pub tables: Vec<TableSheet>,
    /// The comments behind everything else.
    pub tail: Vec<Comment>,
}

/// A table: the keys of the line's head, or of a section.
#[derive(Default)]
pub(super) struct TableSheet {
    /// The header, `[[section]]`, which the head of the line does not have.
    pub header: Option<Remarks>,
    /// In the order in which they are written.
    pub entries: Vec<Entry>,
}

/// A key and its value.
pub(super) struct Entry {
    pub key: &'static str,
    pub value: Value,
    pub remarks: Remarks,
}

/// A value as it is written.
pub(super) enum Value {
    /// As it stands.
    Plain(String),
    /// Bars, line by line.
    Bars(Vec<Vec<String>>),
}

/// The comments of one key or header.
#[derive(Clone, Default)]
pub(super) struct Remarks {
    /// Above it.
    pub above: Vec<Comment>,
    /// Whether a blank line parts it from those.
    pub parted: bool,
    /// Behind it, on the same line.
    pub behind: Option<String>,
}

/// A comment on a line of its own, `#` included.
#[derive(Clone)]
pub(super) struct Comment {
    pub text: String,
    /// Whether a blank line stands before it.
    pub parted: bool,
}

/// The text of a file.
pub(super) fn write(sheet: &Sheet) -> String {
    let mut page = Page::default();
    page.comments(&sheet.head);
    page.blank_line();
    for table in &sheet.tables {
        page.table(table);
    }
    page.comments(&sheet.tail);
    page.text
}

/// Cells without author in lines of bars.
pub(super) fn grouped(cells: &[String], pickup: bool) -> Vec<Vec<String>> {
    if fits_one_line(cells) {
        return vec![cells.to_vec()];
    }
    let extra = usize::from(pickup && cells.len() > 1);
    let groups = GROUPS.iter().map(|bars| {
        let (first, rest) = cells.split_at((bars + extra).min(cells.len()));
        let mut lines = vec![first.to_vec()];
        lines.extend(rest.chunks(*bars).map(<[String]>::to_vec));
        lines
    });
    let mut fitting = groups.filter(|lines| lines.iter().all(|line| fits(line)));
    fitting
        .next()
        .unwrap_or_else(|| cells.iter().map(|cell| vec![cell.clone()]).collect())
}

/// The author's lines, those broken up that are too wide.
pub(super) fn regrouped(lines: Vec<Vec<String>>, pickup: bool) -> Vec<Vec<String>> {
    if let [line] = &lines[..] {
        return grouped(line, pickup);
    }
    let mut all: Vec<Vec<String>> = Vec::new();
    for (index, line) in lines.into_iter().enumerate() {
        if fits(&line) {
            all.push(line);
        } else {
            all.extend(grouped(&line, pickup && index == 0));
        }
    }
    // A last line without a character would not be seen to be one.
    while all.len() > 1
        && all
            .last()
            .is_some_and(|line| line.iter().all(String::is_empty))
    {
        let last = all.pop().unwrap_or_default();
        if let Some(line) = all.last_mut() {
            line.extend(last);
        }
    }
    all
}

fn fits(cells: &[String]) -> bool {
    // Every line but the last ends with its bar line.
    cells.len() == 1 || width(&joined(cells)) + " |".len() <= WIDEST
}

fn fits_one_line(cells: &[String]) -> bool {
    width(&joined(cells)) + KEY_COLUMNS + " = \"\"".len() <= WIDEST
}

fn width(text: &str) -> usize {
    text.chars().count()
}

/// Cells with bar lines between them.
fn joined(cells: &[String]) -> String {
    let mut text = String::new();
    for (index, cell) in cells.iter().enumerate() {
        if index > 0 {
            text.push_str(if text.is_empty() { "|" } else { " |" });
        }
        if !text.is_empty() && !cell.is_empty() {
            text.push(' ');
        }
        text.push_str(cell);
    }
    text
}

impl Value {
    fn text(&self) -> String {
        match self {
            Value::Plain(text) => text.clone(),
            Value::Bars(lines) => match &lines[..] {
                [line] if fits_one_line(line) => format!("\"{}\"", joined(line)),
                lines => {
                    let ended = |line: &Vec<String>| match joined(line) {
                        line if line.is_empty() => "|\n".to_owned(),
                        line => line + " |\n",
                    };
                    let (last, before) = lines.split_last().expect("a layer has a bar");
                    let before: String = before.iter().map(ended).collect();
                    format!("\"\"\"\n{before}{}\n\"\"\"", joined(last))
                }
            },
        }
    }
}

/// What has been written.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn table(&mut self, table: &TableSheet) {
        if let Some(header) = &table.header {
            let parted = header.parted || header.above.iter().any(|comment| comment.parted);
            if !parted {
                self.blank_line();
            }
            self.entry("[[section]]", header, 0);
        }
        let lines: Vec<String> = table
            .entries
            .iter()
            .map(|entry| format!("{:<KEY_COLUMNS$} = {}", entry.key, entry.value.text()))
            .collect();
        let commented = |(line, entry): &(&String, &Entry)| {
            entry.remarks.behind.is_some() && !line.contains('\n')
        };
        let pairs = lines.iter().zip(&table.entries);
        let column = pairs.filter(commented).map(|(line, _)| width(line)).max();
        for (index, (line, entry)) in lines.iter().zip(&table.entries).enumerate() {
            let mut remarks = entry.remarks.clone();
            // The first key follows its header.
            if let Some(first) = remarks.above.first_mut().filter(|_| index == 0) {
                first.parted = false;
            }
            self.entry(line, &remarks, column.unwrap_or(0));
        }
    }

    /// A key with its value, or a header, between its comments; one behind it begins two columns after `column`.
    fn entry(&mut self, line: &str, remarks: &Remarks, column: usize) {
        self.comments(&remarks.above);
        if remarks.parted {
            self.blank_line();
        }
        self.text.push_str(line);
        if let Some(comment) = &remarks.behind {
            let last = line.rsplit('\n').next().unwrap_or_default();
            let column = if line.contains('\n') { 0 } else { column };
            let spaces = column.saturating_sub(width(last)) + 2;
            self.text.push_str(&" ".repeat(spaces));
            self.text.push_str(comment);
        }
        self.text.push('\n');
    }

    fn comments(&mut self, comments: &[Comment]) {
        for comment in comments {
            if comment.parted {
                self.blank_line();
            }
            self.text.push_str(&comment.text);
            self.text.push('\n');
        }
    }

    /// One, and none at the head of the file.
    fn blank_line(&mut self) {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.text.push('\n');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(count: usize, width: usize) -> Vec<String> {
        vec!["n".repeat(width); count]
    }

    fn lengths(lines: &[Vec<String>]) -> Vec<usize> {
        lines.iter().map(Vec::len).collect()
    }

    #[test]
    fn bars_stand_on_one_line_or_in_the_largest_groups_that_fit() {
        assert_eq!(lengths(&grouped(&cells(8, 5), false)), [8]);
        assert_eq!(lengths(&grouped(&cells(10, 20), false)), [4, 4, 2]);
        assert_eq!(lengths(&grouped(&cells(5, 40), false)), [2, 2, 1]);
        assert_eq!(lengths(&grouped(&cells(3, 90), false)), [1, 1, 1]);
        assert_eq!(lengths(&grouped(&cells(2, 200), false)), [1, 1]);
    }

    #[test]
    fn a_pickup_goes_with_the_first_group() {
        assert_eq!(lengths(&grouped(&cells(9, 18), true)), [5, 4]);
        assert_eq!(lengths(&grouped(&cells(3, 90), true)), [1, 1, 1]);
    }

    #[test]
    fn only_lines_that_are_too_wide_are_broken() {
        let lines = vec![cells(1, 5), cells(5, 30), cells(3, 5)];
        assert_eq!(lengths(&regrouped(lines, false)), [1, 2, 2, 1, 3]);
    }

    #[test]
    fn an_empty_cell_has_one_space_between_its_bar_lines() {
        let cells = |text: &[&str]| text.iter().map(|cell| cell.to_string()).collect::<Vec<_>>();
        assert_eq!(joined(&cells(&["d", "", "u"])), "d | | u");
        assert_eq!(joined(&cells(&["", "u", ""])), "| u |");
    }
}
