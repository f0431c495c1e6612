//! Pictures of the practice room, to be read: would a bassist a metre and a half away understand them at once?

#[path = "screen/mod.rs"]
mod scene;

use leadsman::backend::Input;
use leadsman::click::{ClickTrack, Pattern};
use leadsman::expected::tempo_map::Speed;
use leadsman::line::bar_range::BarRange;
use leadsman::screen::{Between, Look, Over, State, Turn, View};
use leadsman::units::Nanos;
use scene::{BARE, BIG, CAR_DECK, SKIP, TWO, USUAL, partner, picture, play_to, reading, view};

const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (40, 12)];

#[track_caller]
fn read(name: &str, view: &View, look: Look) {
    for size in SIZES {
        let name = format!("{name}-{}x{}", size.0, size.1);
        insta::assert_snapshot!(name, picture(view, size, look));
    }
}

fn between() -> View {
    let mut view = view(TWO, None);
    play_to(&mut view, 15);
    view.take = 4;
    view.bars = Some(BarRange { first: 1, last: 2 });
    view.turn = Turn::Over;
    view.speed = Speed(80_000);
    view.state = State::Between(Between {
        work_on: "Upbeats come early: 24 ms on average, 11 of 14.".into(),
        compared: Some("Better than the take before: 24 ms now, 38 ms then.".into()),
        said: vec!["80 % again: 72 % in time (±30 ms; 80 % needed).".into()],
        next: "bars 1 to 2 at 80 %, click on every beat.".into(),
    });
    view
}

#[test]
fn the_count_in_is_one_large_figure_below_the_music() {
    let mut view = view(SKIP, None);
    view.now = Nanos::from_ms(-900);
    view.state = State::CountIn {
        beat: 3,
        bar: 1,
        bars: 1,
    };
    read("count-in", &view, USUAL);
}

#[test]
fn offsets_stand_under_the_notes_while_the_line_is_played() {
    let mut view = view(SKIP, None);
    play_to(&mut view, 12);
    view.heard.set_extra(vec![
        view.piece.expected().notes[4].onset + Nanos::from_ms(180),
    ]);
    read("playing", &view, USUAL);
}

#[test]
fn a_bass_of_five_strings_fits() {
    let mut view = view(CAR_DECK, None);
    play_to(&mut view, 8);
    read("five-strings", &view, USUAL);
}

#[test]
fn a_change_of_section_and_tempo_is_announced_a_bar_ahead() {
    let mut view = view(TWO, None);
    play_to(&mut view, 9);
    view.announcement = Some("B · F major · quarter = 92 · from the next bar".into());
    read("change-ahead", &view, USUAL);
}

#[test]
fn a_silent_bar_says_who_keeps_the_time() {
    let mut view = view(TWO, Some("1:1"));
    play_to(&mut view, 9);
    view.click = Pattern::TwoAndFour;
    read("silent-bar", &view, USUAL);
}

#[test]
fn between_takes_one_thing_is_said() {
    read("between", &between(), USUAL);
}

#[test]
fn the_first_note_is_waited_for() {
    let mut view = view(TWO, None);
    view.now = Nanos::from_ms(-1);
    view.state = State::Waiting;
    read("waiting", &view, USUAL);
}

#[test]
fn an_unplugged_bass_is_said_where_changes_are() {
    let mut view = view(TWO, None);
    play_to(&mut view, 6);
    view.input = Input::Away;
    view.notices = vec!["25 minutes played: a rest would be good".into()];
    read("unplugged", &view, USUAL);
}

#[test]
fn the_keys_and_the_signs_are_shown_when_asked() {
    let mut view = view(TWO, None);
    view.over = Over::Help(0);
    read("help", &view, USUAL);
    view.over = Over::Help(1);
    insta::assert_snapshot!("help-signs-80x24", picture(&view, (80, 24), USUAL));
}

#[test]
fn a_foot_switch_is_learned_in_one_step() {
    let mut view = view(TWO, None);
    view.over = Over::Learn {
        command: "again".into(),
        said: None,
    };
    insta::assert_snapshot!("learn-80x24", picture(&view, (80, 24), USUAL));
}

#[test]
fn large_figures_can_be_read_from_further_away() {
    let mut view = view(TWO, None);
    play_to(&mut view, 5);
    read("big", &view, BIG);
    view.state = State::CountIn {
        beat: 2,
        bar: 1,
        bars: 1,
    };
    view.now = Nanos::from_ms(-1200);
    insta::assert_snapshot!("big-count-in-80x24", picture(&view, (80, 24), BIG));
    insta::assert_snapshot!("big-between-80x24", picture(&between(), (80, 24), BIG));
}

#[test]
fn without_colour_and_in_ascii_all_of_it_is_there() {
    let mut view = view(SKIP, None);
    play_to(&mut view, 12);
    view.heard.set_extra(vec![
        view.piece.expected().notes[4].onset + Nanos::from_ms(180),
    ]);
    view.announcement = Some("A again, pass 2 of 2 · Eb minor · from the next bar".into());
    for size in SIZES {
        assert!(picture(&view, size, BARE).is_ascii());
    }
    insta::assert_snapshot!("ascii-80x24", picture(&view, (80, 24), BARE));
    let big = Look {
        size: leadsman::screen::Size::Big,
        ..BARE
    };
    insta::assert_snapshot!("ascii-big-80x24", picture(&view, (80, 24), big));
}

#[test]
fn a_tiny_window_has_the_substance_in_words() {
    let mut view = view(TWO, None);
    play_to(&mut view, 9);
    view.announcement = Some("B · from the next bar".into());
    for size in [(20, 5), (39, 10), (19, 1), (80, 3)] {
        let name = format!("tiny-{}x{}", size.0, size.1);
        insta::assert_snapshot!(name, picture(&view, size, USUAL));
    }
    insta::assert_snapshot!("tiny-between-20x5", picture(&between(), (20, 5), USUAL));
}

#[test]
fn a_first_note_that_is_early_ends_the_count_in_so_that_its_mark_is_seen_at_once() {
    let mut view = view(TWO, None);
    let clicks = ClickTrack::new(view.piece.expected(), 1, Pattern::Beats);
    let at = |view: &View, ms| {
        let now = Nanos::from_ms(ms);
        State::of_take(&view.piece, &clicks, 1, now, &view.heard)
    };
    let counted_in = |state| {
        matches!(
            state,
            Some(State::CountIn {
                bar: 1,
                bars: 1,
                ..
            })
        )
    };
    assert!(counted_in(at(&view, -40)));
    // Noodling belongs nowhere.
    view.heard.set_extra(vec![Nanos::from_ms(-300)]);
    assert!(counted_in(at(&view, -40)));
    view.heard.reading(reading(0, Some(partner(-45))));
    assert_eq!(at(&view, -40), Some(State::Playing));
    assert_eq!(at(&view, 0), Some(State::Playing));
}
