//! A take in one row of text, for looking over many.

use super::table::{Align, Column, Table, cut_start, percent, widest};
use super::words::wrap;
use super::{Checked, signed_ms};
use crate::judge::cost::Pitch;
use crate::units::Nanos;

/// In the order of the row: what a teacher looks for, and what is left where there is little room.
const COLUMNS: [Column; 6] = [
    column("notes", 7, 0, Align::Right),
    column("right", 5, 2, Align::Right),
    column("in time", 5, 4, Align::Right),
    column("lean", 6, 3, Align::Right),
    column("spread", 6, 5, Align::Right),
    column("to work on", LONGEST_ID, 1, Align::Left),
];
/// `string-crossings`.
const LONGEST_ID: usize = 16;
/// A name is not cut below this for the sake of a column.
const SHORTEST_NAME: usize = 12;
const HEAD: &str = "take";
const NOT_KNOWN: &str = "–";

const fn column(
    head: &'static str,
    width: usize,
    expendable: usize,
    align: Align,
) -> Column<'static> {
    Column {
        head,
        width,
        expendable,
        align,
    }
}

/// Rows of takes, laid out before the first is known.
pub struct Rows {
    names: usize,
    width: usize,
    table: Table<'static>,
}

impl Rows {
    /// For takes of these names, on a page of so many characters.
    pub fn new(names: impl Iterator<Item = String>, width: usize) -> Rows {
        let longest = names.map(|name| widest([name.as_str()])).max().unwrap_or(0);
        let beside: usize = COLUMNS
            .iter()
            .map(|column| 2 + column.width.max(column.head.len()))
            .sum();
        let room = width.saturating_sub(beside).max(SHORTEST_NAME);
        let names = longest.max(HEAD.len()).min(room);
        Rows {
            names,
            width,
            table: Table::new(names, &COLUMNS, width),
        }
    }

    /// The row of heads.
    pub fn head(&self) -> String {
        self.table.head(HEAD) + "\n"
    }

    /// The row of a take.
    pub fn row(&self, checked: &Checked) -> String {
        let sum = &checked.summary;
        let partners = checked.judgement.readings.iter().filter_map(|r| r.partner);
        let pitched = partners.filter(|partner| partner.pitch != Pitch::Unjudged);
        let or_not_known = |cell: Option<String>| cell.unwrap_or_else(|| NOT_KNOWN.into());
        let cells = [
            format!("{}/{}", sum.matched, sum.expected),
            or_not_known(percent(sum.pitch_right, pitched.count())),
            or_not_known(percent(sum.timing_in, sum.matched - sum.timing_unjudged)),
            or_not_known(checked.lean.map(|lean| ms(lean.mean_ms))),
            or_not_known(sum.offset_sd_ms.map(|sd| format!("{sd:.0} ms"))),
            or_not_known(
                checked
                    .findings
                    .first()
                    .map(|first| first.id.replace('-', " ")),
            ),
        ];
        let file = checked.take.file.as_deref().unwrap_or_default();
        self.table.row(&cut_start(file, self.names), &cells) + "\n"
    }

    /// The row of a take that could not be judged.
    pub fn failure(&self, take: &str, why: &str) -> String {
        let first = format!("{}  ", cut_start(take, self.names));
        wrap(why, self.width, &first, "    ") + "\n"
    }

    /// What stands below all rows.
    pub fn legend(&self, takes: usize) -> String {
        let takes = match takes {
            1 => "1 take".to_string(),
            some => format!("{some} takes"),
        };
        let text = format!(
            "{takes}. Lean: where the player sits against the click, minus is ahead of it; {NOT_KNOWN} where that is \
             nothing steady. Spread: standard deviation. To work on: what hurts most; for more check one take alone."
        );
        format!("\n{}\n", wrap(&text, self.width, "", ""))
    }
}

fn ms(ms: f64) -> String {
    format!("{} ms", signed_ms(Nanos::from_ms_f64(ms)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::Sample;
    use textwrap::core::display_width;

    const LINE: &str =
        "[[section]]\nname = \"A\"\npasses = [0, 0]\nnotes = \"A1/4 A1/4 D2/4 E2/4 | A1/1\"";

    fn told(file: &str, width: usize) -> String {
        let sample = Sample::new(LINE, "mean-ms=12");
        let mut checked = sample.checked();
        checked.take.file = Some(file.into());
        let rows = Rows::new([file.to_string()].into_iter(), width);
        let why = "the take has no notes in it";
        rows.head() + &rows.row(&checked) + &rows.failure(file, why) + &rows.legend(2)
    }

    #[test]
    fn a_take_is_a_row_and_one_that_could_not_be_judged_says_why() {
        let told = told("anna.mid", 80);
        let rows: Vec<&str> = told.lines().take(3).collect();
        let expected = [
            "take      notes  right  in time    lean  spread  to work on",
            "anna.mid  10/10  100 %    100 %       –    0 ms  –",
            "anna.mid  the take has no notes in it",
        ];
        // The counts have room for as many notes as a line may have.
        let squeezed = |row: &str| row.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(rows.len(), expected.len());
        for (row, expected) in std::iter::zip(rows, expected) {
            assert_eq!(squeezed(row), squeezed(expected));
        }
    }

    #[test]
    fn rows_fit_however_narrow_the_terminal_is_and_long_or_short_the_name() {
        for file in [
            "a.mid",
            "takes/of/the/whole/winter/anna-on-the-early-ferry.mid",
        ] {
            for width in 30..=80 {
                let told = told(file, width);
                let widest = told.lines().map(display_width).max();
                assert!(widest <= Some(width), "{width}: {told}");
                assert!(
                    told.contains(".mid") && told.contains("10/10"),
                    "{width}: {told}"
                );
            }
        }
    }
}
