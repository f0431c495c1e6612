//! Pages to be read: two lines of the house and an awkward one, at three widths.

mod pages;

use leadsman::page::text::Charset;
use pages::drawn;

const SKIP: &str = include_str!("../lines/gangway_skip.toml");
const CAR_DECK: &str = include_str!("../lines/under_the_car_deck.toml");
const AWKWARD: &str = include_str!("pages/awkward.toml");

#[track_caller]
fn read(name: &str, text: &str) {
    for width in [40, 80, 120] {
        insta::assert_snapshot!(
            format!("{name}-{width}"),
            drawn(text, width, Charset::Unicode)
        );
    }
}

#[test]
fn a_swung_line_reads_at_each_width() {
    read("skip", SKIP);
}

#[test]
fn a_line_for_five_strings_reads_at_each_width() {
    read("car-deck", CAR_DECK);
}

#[test]
fn an_awkward_line_reads_at_each_width() {
    read("awkward", AWKWARD);
}

#[test]
fn a_page_in_ascii_has_nothing_else_in_it_and_the_same_columns() {
    let ascii = drawn(AWKWARD, 80, Charset::Ascii);
    assert!(ascii.is_ascii(), "{ascii}");
    let unicode = drawn(AWKWARD, 80, Charset::Unicode);
    let redrawn = unicode
        .replace('─', "-")
        .replace('═', "=")
        .replace('│', "|");
    assert_eq!(redrawn.replace('·', "-"), ascii);
}
