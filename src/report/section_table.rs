//! The table by section: a row for each, its passes pooled. A line of one section has a row for each pass in its place.

use super::page::Page;
use super::table::{self, Align, Table, cut_end, percent, widest};
use super::{Checked, signed_ms};
use crate::judge::by_section::{SectionSum, by_pass};
use crate::units::Nanos;
use std::fmt::Display;

/// A column but the first, which has the names.
struct Column {
    head: &'static str,
    cell: fn(&SectionSum) -> Option<String>,
    /// Where a terminal is too narrow, the highest goes first.
    expendable: usize,
}

const COLUMNS: [Column; 6] = [
    Column {
        head: "played",
        cell: |sum| Some(format!("{}/{}", sum.matched, sum.expected)),
        expendable: 0,
    },
    Column {
        head: "pitch",
        cell: |sum| percent(sum.pitch_right, sum.pitch_judged),
        expendable: 3,
    },
    Column {
        head: "mean",
        cell: |sum| Some(format!("{} ms", signed_ms(ms(sum.offset_mean_ms?)))),
        expendable: 1,
    },
    Column {
        head: "spread",
        cell: |sum| Some(format!("{:.0} ms", sum.offset_sd_ms?)),
        expendable: 2,
    },
    Column {
        head: "tempo",
        cell: |sum| sum.tempo_drift_pct.map(signed_percent),
        expendable: 4,
    },
    Column {
        head: "length",
        cell: |sum| percent(sum.length_in, sum.matched),
        expendable: 5,
    },
];

/// A longer name is cut.
const LONGEST_NAME: usize = 20;
const NOT_KNOWN: &str = "–";

/// The table; nothing for a line of one section that is played once. On request the passes of several sections, too.
pub fn section_table(checked: &Checked, page: &mut Page) {
    let sections = &checked.sections;
    let several_passes = sections.iter().any(|sum| sum.passes > 1);
    if sections.len() > 1 {
        let named = |sum: &SectionSum| sum.name.clone();
        table("By section", sections, named, page);
        let note = if several_passes {
            "passes pooled; "
        } else {
            ""
        };
        legend(note, page);
    }
    if several_passes && (sections.len() == 1 || page.layout.detail.is_all()) {
        let passes = by_pass(checked.expected, checked.judgement);
        table("By pass", &passes, pass_name, page);
        legend("", page);
    }
}

/// The heads of its columns.
pub fn heads() -> [&'static str; 6] {
    COLUMNS.map(|column| column.head)
}

/// Its rows with their names: by section, or by pass for a line of one section; none for one that is played once.
pub fn rows(checked: &Checked) -> Vec<(String, [String; 6])> {
    let cells = |sum: &SectionSum| {
        COLUMNS.map(|column| (column.cell)(sum).unwrap_or_else(|| NOT_KNOWN.into()))
    };
    match checked.sections.as_slice() {
        [one] if one.passes > 1 => {
            let passes = by_pass(checked.expected, checked.judgement);
            passes
                .iter()
                .map(|sum| (pass_name(sum), cells(sum)))
                .collect()
        }
        [] | [_] => Vec::new(),
        sections => sections
            .iter()
            .map(|sum| (sum.name.clone(), cells(sum)))
            .collect(),
    }
}

fn legend(first: &str, page: &mut Page) {
    let text = format!("({first}spread: standard deviation; tempo: plus is faster)");
    page.paragraph("", "", &text);
    page.gap();
}

fn pass_name(sum: &SectionSum) -> String {
    format!("{}, pass {}", sum.name, sum.first_pass)
}

fn table(title: &str, sums: &[SectionSum], name: impl Fn(&SectionSum) -> String, page: &mut Page) {
    let names: Vec<String> = sums
        .iter()
        .map(|sum| cut_end(&name(sum), LONGEST_NAME))
        .collect();
    let cells: Vec<Vec<String>> = sums
        .iter()
        .map(|sum| {
            let cell = |column: &Column| (column.cell)(sum).unwrap_or_else(|| NOT_KNOWN.into());
            COLUMNS.iter().map(cell).collect()
        })
        .collect();
    let columns: Vec<table::Column> = COLUMNS
        .iter()
        .enumerate()
        .map(|(place, column)| table::Column {
            head: column.head,
            width: widest(cells.iter().map(|row| row[place].as_str())),
            expendable: column.expendable,
            align: Align::Right,
        })
        .collect();
    let name_width = widest(names.iter().map(String::as_str).chain([title]));
    let table = Table::new(name_width, &columns, page.layout.width);
    page.line(&table.head(title));
    for (name, cells) in std::iter::zip(&names, &cells) {
        page.line(&table.row(name, cells));
    }
}

fn ms(ms: f64) -> Nanos {
    Nanos::from_ms_f64(ms)
}

/// `+0.4 %`, `0.0 %`.
fn signed_percent(percent: f64) -> String {
    let tenths = (10.0 * percent).round();
    if tenths == 0.0 {
        with_sign("0.0")
    } else {
        with_sign(format!("{:+.1}", tenths / 10.0))
    }
}

fn with_sign(number: impl Display) -> String {
    format!("{number} %")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::page::{Detail, Layout};
    use crate::report::sample::Sample;
    use textwrap::core::display_width;

    const TWO: &str = "[[section]]\nname = \"Up\"\npasses = [0, 0]\nnotes = \"A1/4 A1/4 D2/4 E2/4 | A1/1\"\n\
         [[section]]\nname = \"Überfahrt nach der anderen Seite\"\nnotes = \"x/4 x/4 r/2\"";
    const ONE: &str =
        "[[section]]\nname = \"Up\"\npasses = [0, 0]\nnotes = \"A1/4 A1/4 D2/4 E2/4 | A1/1\"";

    fn told(sample: &Sample, width: usize, detail: Detail) -> String {
        let mut page = Page::new(Layout { width, detail });
        section_table(&sample.checked(), &mut page);
        page.into_text()
    }

    #[test]
    fn a_row_a_section_with_what_is_not_known_left_open() {
        let table = told(&Sample::new(TWO, "mean-ms=12"), 80, Detail::Brief);
        let expected = "\
By section           played  pitch    mean  spread  tempo  length
Up                    10/10  100 %  +12 ms    0 ms  0.0 %   100 %
Überfahrt nach der…     2/2      –  +12 ms    0 ms      –   100 %
(passes pooled; spread: standard deviation; tempo: plus is faster)

";
        assert_eq!(table, expected);
    }

    #[test]
    fn every_line_fits_however_narrow_the_terminal_is() {
        let sample = Sample::new(TWO, "unsteady");
        for width in 30..=80 {
            let table = told(&sample, width, Detail::All);
            let widest = table.lines().map(display_width).max();
            assert!(widest <= Some(width), "{width}: {table}");
            assert!(table.contains("played"), "{width}: {table}");
        }
    }

    #[test]
    fn one_section_has_a_row_a_pass_and_one_pass_has_no_table() {
        let table = told(&Sample::new(ONE, "steady"), 80, Detail::Brief);
        assert!(table.starts_with("By pass"), "{table}");
        assert!(table.contains("Up, pass 1") && table.contains("Up, pass 2"));
        let once = ONE.replace("[0, 0]", "[0]");
        assert_eq!(told(&Sample::new(&once, "steady"), 80, Detail::All), "");
    }

    #[test]
    fn zero_percent_has_no_sign() {
        assert_eq!(signed_percent(-0.04), "0.0 %");
        assert_eq!(signed_percent(0.36), "+0.4 %");
    }
}
