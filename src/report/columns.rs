//! Tables that fit: where a terminal is narrow, columns of text are cut, then columns go, the most expendable first.

use textwrap::core::display_width;

/// Between two columns.
const GAP: usize = 2;
/// What is left of a text that is cut.
const LEAST: usize = 4;

/// How the cells of a column stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cells {
    /// Numbers, at the right.
    Numbers,
    /// Text, at the left.
    Text,
    /// Text that may be cut, down to so many characters while another column can go in its place.
    Cut(usize),
}

/// A column. One without anything in its cells is not shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// What stands above it.
    pub head: &'static str,
    /// How its cells stand.
    pub cells: Cells,
    /// Where the terminal is too narrow, the highest goes first; 0 stays.
    pub expendable: u8,
    /// One cell a row.
    pub rows: Vec<String>,
}

impl Column {
    /// A column of the cells that are made of the rows.
    pub fn of<T>(
        head: &'static str,
        (cells, expendable): (Cells, u8),
        rows: &[T],
        cell: impl Fn(&T) -> String,
    ) -> Column {
        Column {
            head,
            cells,
            expendable,
            rows: rows.iter().map(cell).collect(),
        }
    }

    fn is_empty(&self) -> bool {
        self.rows.iter().all(String::is_empty)
    }

    fn width(&self) -> usize {
        let cells = self.rows.iter().map(String::as_str);
        cells
            .chain([self.head])
            .map(display_width)
            .max()
            .unwrap_or(0)
    }

    fn narrowest(&self) -> usize {
        match self.cells {
            Cells::Cut(narrowest) => narrowest.min(self.width()),
            Cells::Numbers | Cells::Text => self.width(),
        }
    }

    /// How far it is cut when no other column can go any more.
    fn least(&self) -> usize {
        match self.cells {
            Cells::Cut(_) => LEAST.min(self.width()),
            Cells::Numbers | Cells::Text => self.width(),
        }
    }

    fn cell(&self, row: usize, width: usize) -> String {
        self.stand(&self.rows[row], width)
    }

    fn stand(&self, text: &str, width: usize) -> String {
        let text = cut(text, width);
        let space = " ".repeat(width - display_width(&text));
        match self.cells {
            Cells::Numbers => space + &text,
            Cells::Text | Cells::Cut(_) => text + &space,
        }
    }
}

/// The table, a line a row under a line of heads, in at most `width` characters where the columns that stay allow it.
pub fn table(columns: &[Column], width: usize) -> String {
    let mut shown: Vec<&Column> = columns.iter().filter(|column| !column.is_empty()).collect();
    while total(&shown, Column::narrowest) > width {
        let Some(least) = most_expendable(&shown) else {
            break;
        };
        shown.remove(least);
    }
    let widths = widths(&shown, width);
    let line = |cell: &dyn Fn(&Column, usize) -> String| {
        let cells = shown.iter().zip(&widths);
        let cells: Vec<String> = cells.map(|(column, width)| cell(column, *width)).collect();
        cells.join(&" ".repeat(GAP)).trim_end().to_string() + "\n"
    };
    let rows = shown.first().map_or(0, |column| column.rows.len());
    let head = line(&|column, width| column.stand(column.head, width));
    let rows = (0..rows).map(|row| line(&|column, width| column.cell(row, width)));
    [head].into_iter().chain(rows).collect()
}

fn total(columns: &[&Column], width: fn(&Column) -> usize) -> usize {
    let gaps = GAP * columns.len().saturating_sub(1);
    columns.iter().map(|column| width(column)).sum::<usize>() + gaps
}

fn most_expendable(columns: &[&Column]) -> Option<usize> {
    let expendable = columns
        .iter()
        .enumerate()
        .filter(|(_, column)| column.expendable > 0);
    expendable
        .max_by_key(|(_, column)| column.expendable)
        .map(|(index, _)| index)
}

/// The columns' widths: what is too wide is taken from those that may be cut, the last first.
fn widths(columns: &[&Column], width: usize) -> Vec<usize> {
    let mut over = total(columns, Column::width).saturating_sub(width);
    let mut widths: Vec<usize> = columns.iter().map(|column| column.width()).collect();
    for bound in [Column::narrowest, Column::least] {
        for (column, width) in columns.iter().zip(&mut widths).rev() {
            let taken = over.min(width.saturating_sub(bound(column)));
            *width -= taken;
            over -= taken;
        }
    }
    widths
}

/// The text in `width` characters at the most; one that is cut ends with `…`.
pub fn cut(text: &str, width: usize) -> String {
    if display_width(text) <= width {
        return text.to_string();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        if display_width(&kept) + display_width(letter.encode_utf8(&mut [0; 4])) >= width {
            break;
        }
        kept.push(letter);
    }
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROWS: [(&str, &str, &str); 2] = [
        ("7", "Mooring Lines", "+12 ms"),
        ("12", "Überfahrt nach der anderen Seite", "–"),
    ];

    fn columns() -> [Column; 4] {
        [
            Column::of("take", (Cells::Numbers, 0), &ROWS, |row| row.0.into()),
            Column::of("line", (Cells::Cut(6), 0), &ROWS, |row| row.1.into()),
            Column::of("note", (Cells::Text, 1), &ROWS, |_| String::new()),
            Column::of("mean", (Cells::Numbers, 1), &ROWS, |row| row.2.into()),
        ]
    }

    #[test]
    fn numbers_stand_at_the_right_and_an_empty_column_is_left_out() {
        let expected = "\
take  line                                mean
   7  Mooring Lines                     +12 ms
  12  Überfahrt nach der anderen Seite       –
";
        assert_eq!(table(&columns(), 80), expected);
    }

    #[test]
    fn text_is_cut_before_a_column_goes() {
        let expected = "\
take  line        mean
   7  Mooring…  +12 ms
  12  Überfah…       –
";
        assert_eq!(table(&columns(), 22), expected);
        assert_eq!(
            table(&columns(), 19),
            "take  line\n   7  Mooring Lines\n  12  Überfahrt na…\n"
        );
    }

    #[test]
    fn every_line_fits_as_long_as_what_has_to_stay_does() {
        for width in 12..=80 {
            let table = table(&columns(), width);
            let widest = table.lines().map(display_width).max();
            assert!(widest <= Some(width), "{width}: {table}");
        }
    }
}
