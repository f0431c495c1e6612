//! A table whose rows come one by one, so that its widths are known before they are: a first column of names, further
//! columns that go one after the other where a terminal is too narrow.

use textwrap::core::display_width;

/// Between two columns.
const GAP: usize = 2;

/// A column but the first.
#[derive(Clone, Copy, Debug)]
pub struct Column<'a> {
    /// What stands above it.
    pub head: &'a str,
    /// Characters of its widest cell; the head may be wider.
    pub width: usize,
    /// Where a terminal is too narrow, the highest goes first; 0 stays.
    pub expendable: usize,
    /// Where the cells stand in it.
    pub align: Align,
}

/// On which side of its column a cell stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A table, row by row.
pub struct Table<'a> {
    names: usize,
    /// With their places among all columns.
    shown: Vec<(usize, Column<'a>)>,
}

impl<'a> Table<'a> {
    /// With names of up to so many characters, in pages of so many.
    pub fn new(names: usize, columns: &[Column<'a>], page: usize) -> Table<'a> {
        let mut shown: Vec<(usize, Column)> = columns.iter().copied().enumerate().collect();
        let wide = |shown: &[(usize, Column)]| {
            names
                + shown
                    .iter()
                    .map(|(_, column)| GAP + column.width())
                    .sum::<usize>()
        };
        while wide(&shown) > page {
            let most = shown.iter().map(|(_, column)| column.expendable).max();
            let Some(most) = most.filter(|most| *most > 0) else {
                break;
            };
            shown.retain(|(_, column)| column.expendable < most);
        }
        Table { names, shown }
    }

    /// The row of heads.
    pub fn head(&self, names: &str) -> String {
        self.laid_out(names, |_, column| column.head)
    }

    /// A row; `cells` are those of all columns, shown or not.
    pub fn row(&self, name: &str, cells: &[impl AsRef<str>]) -> String {
        self.laid_out(name, |place, _| cells[place].as_ref())
    }

    fn laid_out<'b>(
        &'b self,
        name: &str,
        cell: impl Fn(usize, &'b Column<'a>) -> &'b str,
    ) -> String {
        let mut row = padded(name, self.names, Align::Left);
        for (place, column) in &self.shown {
            row += &" ".repeat(GAP);
            row += &padded(cell(*place, column), column.width(), column.align);
        }
        row.truncate(row.trim_end().len());
        row
    }
}

impl Column<'_> {
    fn width(&self) -> usize {
        self.width.max(display_width(self.head))
    }
}

fn padded(text: &str, width: usize, align: Align) -> String {
    let space = " ".repeat(width.saturating_sub(display_width(text)));
    match align {
        Align::Left => format!("{text}{space}"),
        Align::Right => format!("{space}{text}"),
    }
}

/// Characters of the widest text.
pub fn widest<'a>(texts: impl IntoIterator<Item = &'a str>) -> usize {
    texts.into_iter().map(display_width).max().unwrap_or(0)
}

/// A name in `most` characters, its end cut off.
pub fn cut_end(name: &str, most: usize) -> String {
    if display_width(name) <= most {
        return name.to_string();
    }
    format!("{}…", start_of(name.chars(), most).trim_end())
}

/// A name in `most` characters, its beginning cut off: of a path the end says more.
pub fn cut_start(name: &str, most: usize) -> String {
    if display_width(name) <= most {
        return name.to_string();
    }
    let backwards = start_of(name.chars().rev(), most);
    format!("…{}", backwards.chars().rev().collect::<String>())
}

/// As many letters as leave room for one more in `most` characters.
fn start_of(letters: impl Iterator<Item = char>, most: usize) -> String {
    let mut kept = String::new();
    for letter in letters {
        if display_width(&kept) + display_width(letter.encode_utf8(&mut [0; 4])) >= most {
            break;
        }
        kept.push(letter);
    }
    kept
}

/// A share without rounding up to all of it: `99 %` for 199 of 200; `None` of nothing.
pub fn percent(part: usize, of: usize) -> Option<String> {
    let share = (100 * part).checked_div(of)?;
    Some(format!("{share} %"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: [Column; 3] = [
        Column {
            head: "one",
            width: 5,
            expendable: 0,
            align: Align::Right,
        },
        Column {
            head: "second",
            width: 2,
            expendable: 2,
            align: Align::Right,
        },
        Column {
            head: "three",
            width: 8,
            expendable: 1,
            align: Align::Left,
        },
    ];

    #[test]
    fn columns_go_one_after_the_other_where_there_is_no_room() {
        let rows = |page: usize| {
            let table = Table::new(4, &COLUMNS, page);
            [table.head("Name"), table.row("Ü", &["1", "22", "words"])]
        };
        assert_eq!(
            rows(29),
            ["Name    one  second  three", "Ü         1      22  words"]
        );
        assert_eq!(rows(28), ["Name    one  three", "Ü         1  words"]);
        assert_eq!(rows(20), ["Name    one", "Ü         1"]);
        assert_eq!(rows(5), rows(20));
    }

    #[test]
    fn names_are_cut_where_they_say_least() {
        assert_eq!(cut_end("Überfahrt nach drüben", 10), "Überfahrt…");
        assert_eq!(cut_start("takes/march/anna.mid", 10), "…/anna.mid");
        assert_eq!(cut_start("anna.mid", 8), "anna.mid");
    }

    #[test]
    fn percents_are_not_rounded_up_to_all() {
        assert_eq!(percent(199, 200).as_deref(), Some("99 %"));
        assert_eq!(percent(0, 0), None);
    }
}
