//! Nothing on the screen moves but what has to, and no view or size brings it down.

#[path = "screen/mod.rs"]
mod scene;

use leadsman::judge::Timing;
use leadsman::screen::{Between, Over, Size, State, View};
use leadsman::units::Nanos;
use proptest::prelude::*;
use ratatui::buffer::Buffer;
use ratatui::style::{Color, Modifier};
use scene::{
    BARE, BIG, CAR_DECK, SKIP, TWO, USUAL, buffer, hear, partner, picture, play_to, reading, view,
};
use std::collections::BTreeSet;

const SIZE: (u16, u16) = (80, 24);

/// The cells that have to be sent to get from one view to another.
fn changes(before: &View, after: &View) -> Vec<(u16, u16, String)> {
    let (before, after) = (buffer(before, SIZE, USUAL), buffer(after, SIZE, USUAL));
    let cells = before.diff(&after).into_iter();
    cells
        .map(|(x, y, cell)| (x, y, cell.symbol().to_string()))
        .collect()
}

fn ms(time: i64) -> Nanos {
    Nanos::from_ms(time)
}

#[test]
fn the_same_view_is_the_same_picture() {
    let mut view = view(SKIP, None);
    play_to(&mut view, 12);
    assert!(changes(&view, &view.clone()).is_empty());
}

#[test]
fn time_alone_moves_only_the_mark_of_the_present_note() {
    let mut before = view(TWO, None);
    play_to(&mut before, 1);
    let mut after = before.clone();
    after.now += ms(100);
    assert_eq!(changes(&before, &after), []);
    after.now = before.piece.expected().notes[2].onset;
    // From fret 5 of the A string to fret 3 of the D string, each with a bracket on either side.
    let cells: Vec<(u16, u16)> = changes(&before, &after)
        .iter()
        .map(|(x, y, _)| (*x, *y))
        .collect();
    let (d, a) = (5, 6);
    let (second, third) = (12, 16);
    let around = |x: u16, y: u16| (x - 1..=x + 1).map(move |x| (x, y));
    assert_eq!(
        cells,
        around(third, d)
            .chain(around(second, a))
            .collect::<Vec<_>>()
    );
}

#[test]
fn an_offset_touches_only_its_place() {
    let mut before = view(TWO, None);
    play_to(&mut before, 3);
    let mut after = before.clone();
    after.heard.reading(reading(3, Some(partner(-41))));
    let changed = changes(&before, &after);
    let columns: BTreeSet<u16> = changed.iter().map(|(x, _, _)| *x).collect();
    let rows: BTreeSet<u16> = changed.iter().map(|(_, y, _)| *y).collect();
    // The fourth note's column is 20: a tick left of it, its number, its length.
    assert!(columns.iter().all(|x| (19..24).contains(x)), "{columns:?}");
    assert_eq!(rows.into_iter().collect::<Vec<_>>(), [9, 10, 11]);
}

#[test]
fn a_corrected_reading_takes_the_place_of_the_one_before() {
    let mut corrected = view(TWO, None);
    play_to(&mut corrected, 3);
    let right = corrected.clone();
    corrected.heard.reading(reading(2, Some(partner(99))));
    hear(&mut corrected, 3);
    assert!(changes(&right, &corrected).is_empty());
    corrected.heard.reading(reading(3, Some(partner(99))));
    corrected.heard.forget(3);
    assert!(changes(&right, &corrected).is_empty());
}

/// The counts' labels that are seen: which bars begin the lines of music.
fn lines(view: &View) -> Vec<String> {
    let picture = picture(view, SIZE, USUAL);
    let labels = picture.lines().filter_map(|row| row.strip_prefix("|bar "));
    labels
        .map(|row| row.split(' ').next().unwrap_or("").to_string())
        .collect()
}

#[test]
fn the_page_turns_in_the_middle_of_a_line_and_each_line_stays_where_it_is() {
    let mut view = view(SKIP, None);
    let bars = view.piece.expected().bars.clone();
    let at = |bar: usize| bars[bar].onset;
    // Lines begin with bars 0, 2, 4 and 6.
    view.now = at(0);
    assert_eq!(lines(&view), ["0", "2"]);
    view.now = at(2);
    assert_eq!(lines(&view), ["0", "2"]);
    view.now = at(3) - ms(1);
    assert_eq!(lines(&view), ["0", "2"]);
    view.now = at(3) + ms(1);
    assert_eq!(lines(&view), ["4", "2"]);
    view.now = at(5) + ms(1);
    assert_eq!(lines(&view), ["4", "6"]);
    view.now = view.piece.expected().end + ms(5000);
    assert_eq!(lines(&view).len(), 2);
}

fn style_at(buffer: &Buffer, symbol: &str) -> (Color, Modifier) {
    let cell = buffer.content().iter().find(|cell| cell.symbol() == symbol);
    let cell = cell.unwrap_or_else(|| panic!("no {symbol}"));
    (cell.fg, cell.modifier)
}

#[test]
fn early_is_blue_late_is_orange_and_neither_is_said_by_colour_alone() {
    let mut view = view(TWO, None);
    play_to(&mut view, 6);
    let coloured = buffer(&view, SIZE, USUAL);
    let (blue, orange) = (Color::Indexed(32), Color::Indexed(166));
    assert_eq!(style_at(&coloured, "◂"), (blue, Modifier::BOLD));
    assert_eq!(style_at(&coloured, "▸"), (orange, Modifier::BOLD));
    assert_eq!(style_at(&coloured, "≈"), (orange, Modifier::BOLD));
    let here = (orange, Modifier::BOLD | Modifier::REVERSED);
    assert_eq!(style_at(&coloured, "["), here);
    assert_eq!(style_at(&coloured, "‹"), (Color::Reset, Modifier::empty()));
    let bare = buffer(&view, SIZE, BARE);
    assert!(
        bare.content()
            .iter()
            .all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset)
    );
    assert_eq!(style_at(&bare, "[").1, Modifier::BOLD | Modifier::REVERSED);
    assert_eq!(style_at(&bare, "<").1, Modifier::BOLD);
}

#[test]
fn a_note_out_of_a_lean_players_window_has_its_tick_on_its_side_of_the_grid() {
    let mut view = view(TWO, None);
    play_to(&mut view, 1);
    // The player leans 40 ms behind: on the grid is early for him, and still late of nothing.
    let early = leadsman::judge::Partner {
        timing: Timing::Early,
        ..partner(5)
    };
    view.heard.reading(reading(0, Some(early)));
    assert_eq!(
        style_at(&buffer(&view, SIZE, USUAL), "▸").0,
        Color::Indexed(32)
    );
}

fn states() -> impl Strategy<Value = State> {
    let sentence = ".{0,90}";
    prop_oneof![
        (0u32..9, 1u32..3).prop_map(|(beat, bars)| State::CountIn { beat, bar: 1, bars }),
        Just(State::Waiting),
        Just(State::Playing),
        (
            sentence,
            proptest::option::of(sentence),
            proptest::collection::vec(sentence, 0..3),
            sentence
        )
            .prop_map(|(work_on, compared, said, next)| {
                State::Between(Between {
                    work_on,
                    compared,
                    said,
                    next,
                })
            }),
    ]
}

fn over() -> impl Strategy<Value = Over> {
    prop_oneof![
        6 => Just(Over::Nothing),
        1 => (0usize..9).prop_map(Over::Help),
        1 => (".{0,40}", proptest::option::of(".{0,90}"))
            .prop_map(|(command, said)| Over::Learn { command, said }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn no_size_and_no_text_brings_it_down(
        size in (0u16..200, 0u16..80),
        (state, over) in (states(), over()),
        now in -4000i64..20_000,
        (announcement, notice) in (proptest::option::of(".{0,90}"), proptest::option::of(".{0,90}")),
        (text, heard, is_big) in (0usize..3, 0u32..12, any::<bool>()),
    ) {
        let mut view = view([SKIP, CAR_DECK, TWO][text], Some("2:1"));
        hear(&mut view, heard);
        view.heard.set_extra(vec![ms(now - 300), ms(-9000), ms(900_000)]);
        view.now = ms(now);
        view.announcement = announcement;
        view.notices = notice.into_iter().collect();
        (view.state, view.over) = (state, over);
        for look in [USUAL, BARE, BIG] {
            let look = leadsman::screen::Look { size: if is_big { Size::Big } else { look.size }, ..look };
            let drawn = buffer(&view, size, look);
            prop_assert_eq!(&drawn, &buffer(&view, size, look));
            if look.charset == BARE.charset {
                prop_assert!(drawn.content().iter().all(|cell| cell.symbol().is_ascii()));
            }
        }
    }
}
