//! What readings put on the page, laid down by hand.

mod pages;

use leadsman::expected::Expected;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::fingering::Fingering;
use leadsman::judge::cost::Pitch;
use leadsman::judge::reading::Partner;
use leadsman::judge::{Judgement, Reading, Timing};
use leadsman::page::{Page, Passes, RowKind, Sign, Source};
use leadsman::units::{Nanos, Ticks};
use pages::{layout, line};
use std::cmp::Reverse;

const LINE: &str = "title = \"a\"\nmeter = \"2/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 | D2/4 G2/4 | E1/4 A1/4 | D2/4 r/4\"";

fn partner(off_grid_ms: i64, displaced: Ticks, timing: Timing) -> Partner {
    Partner {
        played: 0,
        offset: Nanos::from_ms(off_grid_ms + displaced.0 * 500 / 960),
        displaced,
        off_grid: Nanos::from_ms(off_grid_ms),
        length_ratio: None,
        ring_over: None,
        pitch: Pitch::Right,
        timing,
        length: None,
    }
}

/// The page of a take with these partners.
fn page(partners: &[Option<Partner>]) -> (Expected, Page) {
    let line = line(LINE);
    let expected = unroll(&line, Speed::WRITTEN);
    let reading = |(note, partner): (u32, &Option<Partner>)| Reading {
        note,
        partner: *partner,
        is_unheard: false,
    };
    let judgement = Judgement {
        readings: (0..).zip(partners).map(reading).collect(),
        played: Vec::new(),
        extra: Vec::new(),
        glitches: Vec::new(),
        cleaned: Vec::new(),
    };
    let source = Source {
        line: &line,
        expected: &expected,
        fingering: &Fingering::of(&expected),
        judgement: Some(&judgement),
    };
    let page = Page::of(source, &layout(80, Passes::All));
    (expected, page)
}

fn words(page: &Page, kind: RowKind) -> Vec<(Option<u32>, &str)> {
    let rows = page.systems.iter().flat_map(|system| &system.rows);
    let cells = rows
        .filter(|row| row.kind == kind)
        .flat_map(|row| &row.cells);
    cells.map(|cell| (cell.note, cell.text.as_str())).collect()
}

#[test]
fn a_phrase_away_from_its_place_is_said_once_where_it_begins_and_where_it_ends() {
    let there = |ms| Some(partner(ms, Ticks(960), Timing::In));
    let here = |ms| Some(partner(ms, Ticks(0), Timing::In));
    let partners = [
        here(1),
        there(-2),
        None,
        there(3),
        here(4),
        here(5),
        here(0),
    ];
    let (_, page) = page(&partners);
    let moved = [(Some(1), "a beat later"), (Some(4), "in place")];
    assert_eq!(words(&page, RowKind::Moved), moved);
    let offsets: Vec<&str> = words(&page, RowKind::Ms(Reverse(0)))
        .into_iter()
        .map(|(_, text)| text)
        .collect();
    assert_eq!(offsets, ["+1", "-2", "--", "+3", "+4", "+5", "0"]);
}

#[test]
fn what_was_out_of_time_through_no_fault_of_the_player_has_no_ms() {
    let mut partners = [Some(partner(9, Ticks(0), Timing::In)); 7];
    partners[3] = Some(partner(200, Ticks(0), Timing::Unjudged));
    let (_, page) = page(&partners);
    let offsets = words(&page, RowKind::Ms(Reverse(0)));
    assert_eq!(offsets[3], (Some(3), "?"));
    assert!(page.signs.contains(&Sign::Unjudged));
}

#[test]
fn a_take_that_was_stopped_is_shown_up_to_its_last_bar() {
    let (expected, page) = page(&[Some(partner(0, Ticks(0), Timing::In)); 3]);
    let bars = page.systems.iter().flat_map(|system| &system.spans);
    assert_eq!(bars.map(|span| span.bar).collect::<Vec<_>>(), [0, 1]);
    assert_eq!(words(&page, RowKind::Ms(Reverse(0))).len(), 3);
    assert_eq!(expected.notes[3].bar, 1);
}
