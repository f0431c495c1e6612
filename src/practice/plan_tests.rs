//! The plan, event by event.

use super::super::criteria::Criteria;
use super::super::sample::{line, section, take};
use super::*;
use crate::practice::setup::Start;
use proptest::prelude::*;

fn plan(setup: Setup) -> Plan {
    Plan::new(setup, &line()).expect("a part of the line")
}

fn steady(part: Part) -> Setup {
    Setup {
        part,
        ..Setup::default()
    }
}

fn climbing() -> Setup {
    let climb = "60-70 by 5".parse().expect("a climb");
    Setup {
        method: Method::Climb(climb, Criteria::default()),
        part: section("A", [1, 4]),
        ..Setup::default()
    }
}

fn good() -> Event {
    Event::Over(take(20, 20))
}

fn rough() -> Event {
    Event::Over(take(20, 10))
}

fn stopped() -> Event {
    let mut sum = take(5, 5);
    sum.how = How::Stopped;
    Event::Over(sum)
}

fn with_practice(bars: [u32; 2]) -> Event {
    let mut sum = take(20, 10);
    sum.practice = Some(Practice {
        bars,
        speed: 80.0,
        click: Pattern::Upbeats,
    });
    Event::Over(sum)
}

fn wish(command: Command) -> Event {
    Event::Command(command)
}

/// The take that is asked for: `bars 3 to 6 at 80 %`.
fn asked(step: &Step) -> String {
    match &step.now {
        Now::Take(take) => take.to_string(),
        other => panic!("{other:?}"),
    }
}

/// The takes that events lead to, or what is done instead.
fn takes(plan: &mut Plan, events: impl IntoIterator<Item = Event>) -> Vec<String> {
    let done = |step: Step| match step.now {
        Now::Take(_) => asked(&step),
        other => format!("{other:?}"),
    };
    let events = events.into_iter();
    events.map(|event| done(plan.next(event))).collect()
}

#[test]
fn a_loop_goes_on_until_it_is_stopped_and_again_begins_it_anew() {
    let mut plan = plan(steady(Part::Bars([3, 4].into())));
    let take = "bars 3 to 4 at 100 %";
    let events = [Event::Begin, good(), wish(Command::Stop), stopped()];
    let done = takes(&mut plan, events);
    assert_eq!(done, [take, take, "EndTake", "Wait"]);
    let events = [
        wish(Command::Stop),
        wish(Command::Again),
        wish(Command::Again),
        stopped(),
    ];
    let done = takes(&mut plan, events);
    assert_eq!(done, ["Wait", take, "EndTake", take]);
    assert_eq!(plan.coming().number, 5);
}

#[test]
fn once_and_wait_do_what_they_say() {
    let with = |repeat: Repeat| {
        let mut plan = plan(Setup {
            repeat,
            ..Setup::default()
        });
        takes(&mut plan, [Event::Begin, good(), Event::Begin])
    };
    let whole = "the whole line at 100 %";
    assert_eq!(with(Repeat::Once), [whole, "Leave", "Leave"]);
    assert_eq!(with(Repeat::Wait), [whole, "Wait", "Wait"]);
    assert_eq!(with(Repeat::Loop), [whole, whole, "PlayOn"]);
}

#[test]
fn a_climb_goes_up_stays_steps_back_and_waits_where_it_arrives() {
    let mut plan = plan(climbing());
    let at = |speed: u32| format!("section A (bars 1 to 4) at {speed} %");
    let events = [
        Event::Begin,
        good(),
        rough(),
        rough(),
        good(),
        good(),
        good(),
    ];
    let done = takes(&mut plan, events);
    let expected = [
        at(60),
        at(65),
        at(65),
        at(60),
        at(65),
        at(70),
        "Wait".into(),
    ];
    assert_eq!(done, expected);
    // At the goal for as long as one likes.
    assert_eq!(takes(&mut plan, [wish(Command::Again)]), [at(70)]);
}

#[test]
fn a_speed_that_is_asked_for_during_a_take_is_not_moved_by_it() {
    let mut plan = plan(climbing());
    plan.next(Event::Begin);
    plan.next(good());
    let step = plan.next(wish(Command::Slower));
    assert_eq!(step.now, Now::PlayOn);
    assert_eq!(step.said.as_deref(), Some("The next take is at 60 %."));
    let step = plan.next(good());
    assert_eq!(asked(&step), "section A (bars 1 to 4) at 60 %");
    assert_eq!(step.said, None);
}

#[test]
fn next_drills_once_goes_back_and_then_goes_on() {
    let mut plan = plan(steady(section("A", [1, 4])));
    let a = "section A (bars 1 to 4) at 100 %";
    let drill = "bars 2 to 3 at 80 %, the click between the beats";
    let next = || wish(Command::Next);
    let events = [Event::Begin, with_practice([2, 3]), next(), stopped()];
    assert_eq!(
        takes(&mut plan, events),
        [a, a, "EndTake", "section B (bars 5 to 8) at 100 %"]
    );
    plan.next(Event::Change(Change::Part(section("A", [1, 4]))));
    plan.next(stopped());
    let waiting = Event::Change(Change::Repeat(Repeat::Wait));
    let events = [waiting, wish(Command::Again), with_practice([2, 3])];
    assert_eq!(takes(&mut plan, events), ["Wait", a, "Wait"]);
    let step = plan.next(next());
    assert_eq!(asked(&step), drill);
    let words = "Next: bars 2 to 3 at 80 %, the click between the beats.";
    assert_eq!(step.said.as_deref(), Some(words));
    assert_eq!(plan.setup().click, Pattern::Upbeats);
    // Whatever the drill shows, it leads back; and then on, although the same stands out.
    let events = [with_practice([2, 2]), next(), with_practice([2, 3]), next()];
    let done = takes(&mut plan, events);
    assert_eq!(
        done,
        ["Wait", a, "Wait", "section B (bars 5 to 8) at 100 %"]
    );
    assert_eq!(plan.setup().click, Pattern::Beats);
}

#[test]
fn the_click_of_a_drill_goes_with_it_wherever_one_goes() {
    let part = || Change::Part(section("B", [5, 8]));
    let method = || Change::Method(Method::PlayThrough);
    for change in [part(), method()] {
        let mut plan = plan(Setup {
            repeat: Repeat::Wait,
            ..Setup::default()
        });
        let events = [Event::Begin, with_practice([3, 6]), wish(Command::Next)];
        takes(&mut plan, events);
        assert_eq!(plan.setup().click, Pattern::Upbeats);
        plan.next(Event::Change(change));
        assert_eq!(plan.setup().click, Pattern::Beats);
    }
}

#[test]
fn a_stopped_take_still_says_what_to_work_on() {
    let mut plan = plan(steady(Part::Whole));
    plan.next(Event::Begin);
    plan.next(wish(Command::Next));
    let Event::Over(mut sum) = with_practice([3, 6]) else {
        unreachable!("a take that is over")
    };
    sum.how = How::Stopped;
    let drill = "bars 3 to 6 at 80 %, the click between the beats";
    assert_eq!(asked(&plan.next(Event::Over(sum))), drill);
}

#[test]
fn a_drill_is_no_slower_than_the_climb_and_the_climb_goes_on_after_it() {
    let climb = "90-100 by 5".parse().expect("a climb");
    let mut plan = plan(Setup {
        method: Method::Climb(climb, Criteria::default()),
        repeat: Repeat::Wait,
        ..Setup::default()
    });
    let events = [
        Event::Begin,
        good(),
        wish(Command::Again),
        with_practice([3, 6]),
    ];
    takes(&mut plan, events);
    let events = [wish(Command::Next), good(), wish(Command::Next)];
    let done = takes(&mut plan, events);
    assert_eq!(
        done,
        [
            "bars 3 to 6 at 90 %, the click between the beats",
            "Wait",
            "the whole line at 95 %"
        ]
    );
    // The next part climbs from the start.
    let events = [good(), wish(Command::Next)];
    assert_eq!(
        takes(&mut plan, events)[1],
        "section A (bars 1 to 4) at 90 %"
    );
}

#[test]
fn a_play_through_is_the_whole_line_at_its_own_tempi() {
    let mut plan = plan(Setup {
        method: Method::PlayThrough,
        part: section("B", [5, 8]),
        ..Setup::default()
    });
    let whole = "the whole line at 100 %";
    let events = [Event::Begin, wish(Command::Slower), good()];
    assert_eq!(takes(&mut plan, events), [whole, "PlayOn", whole]);
}

#[test]
fn the_guide_part_goes_after_one_whole_take_of_each_part() {
    let mut plan = plan(Setup {
        guide: Guide::FirstTake,
        ..Setup::default()
    });
    let mut guides = |events: Vec<Event>| {
        events.into_iter().for_each(|event| drop(plan.next(event)));
        plan.coming().guide
    };
    assert_eq!(guides(vec![Event::Begin]), Sounds::Yes);
    assert_eq!(guides(vec![wish(Command::Again), stopped()]), Sounds::Yes);
    assert_eq!(guides(vec![good()]), Sounds::No);
    assert_eq!(guides(vec![wish(Command::Next), stopped()]), Sounds::Yes);
}

#[test]
fn nobody_is_clicked_at_for_ever() {
    let mut plan = plan(steady(Part::Whole));
    plan.next(Event::Begin);
    let mut silent = take(0, 0);
    (silent.heard, silent.timed) = (0, 0);
    let step = plan.next(Event::Over(silent));
    assert_eq!(
        (step.now, step.said.as_deref()),
        (Now::Wait, Some(NOTHING_HEARD))
    );
}

#[test]
fn who_leaves_has_left_and_a_part_that_is_not_there_is_refused() {
    let mut plan = plan(steady(Part::Whole));
    plan.next(Event::Begin);
    let wrong = Event::Change(Change::Part(Part::Bars([8, 9].into())));
    let step = plan.next(wrong);
    assert_eq!(step.now, Now::PlayOn);
    assert!(step.said.expect("why").starts_with("there is no bar 9"));
    let events = [
        Event::Leave,
        wish(Command::Again),
        stopped(),
        wish(Command::Again),
    ];
    let done = takes(&mut plan, events);
    assert_eq!(done, ["EndTake", "EndTake", "Leave", "Leave"]);
    assert!(Plan::new(steady(Part::Bars([9, 9].into())), &line()).is_err());
}

#[test]
fn what_is_set_up_anew_is_said_and_holds_from_the_next_take() {
    let mut plan = plan(steady(Part::Whole));
    plan.next(Event::Begin);
    let step = plan.next(Event::Change(Change::Start(Start::WithFirstNote)));
    assert_eq!(step.now, Now::PlayOn);
    let words = "Next: the whole line at 100 %, from your first note.";
    assert_eq!(step.said.as_deref(), Some(words));
}

fn events() -> impl Strategy<Value = Event> {
    let sums = prop_oneof![
        Just(good()),
        Just(rough()),
        Just(stopped()),
        Just(with_practice([2, 3])),
        Just(with_practice([0, 9])),
    ];
    let changes = prop_oneof![
        (0u32..12, 0u32..12).prop_map(|bars| Change::Part(Part::Bars([bars.0, bars.1].into()))),
        Just(Change::Part(Part::Whole)),
        Just(Change::Repeat(Repeat::Wait)),
        Just(Change::Repeat(Repeat::Loop)),
        Just(Change::Guide(Guide::FirstTake)),
    ];
    prop_oneof![
        1 => Just(Event::Begin),
        6 => sums,
        6 => prop::sample::select(Command::ALL.to_vec()).prop_map(Event::Command),
        2 => changes.prop_map(Event::Change),
    ]
}

proptest! {
    #[test]
    fn whatever_happens_takes_and_their_ends_alternate_and_every_take_can_be_played(
        events in prop::collection::vec(events(), 0..120),
    ) {
        let line = line();
        let mut plan = plan(climbing());
        let mut is_playing = false;
        for event in events {
            let is_over = matches!(event, Event::Over(_));
            let step = plan.next(event);
            match &step.now {
                Now::Take(take) => {
                    prop_assert!(!is_playing || is_over, "a take in a take");
                    prop_assert!(take.unrolled(&line).is_ok());
                    // A drill is at a speed of its own, which the player may change.
                    let is_drill = plan.left.is_some();
                    prop_assert!(is_drill || (60_000..=70_000).contains(&take.speed.0));
                    is_playing = true;
                }
                Now::EndTake | Now::PlayOn => prop_assert!(is_playing && !is_over),
                Now::Wait => is_playing = false,
                Now::Leave => prop_assert!(false, "nobody left"),
            }
            prop_assert_eq!(plan.is_playing(), is_playing);
        }
        let done = plan.next(Event::Leave).now;
        let left = if is_playing { Now::EndTake } else { Now::Leave };
        prop_assert_eq!(done, left);
        prop_assert_eq!(plan.next(stopped()).now, Now::Leave);
    }
}

#[test]
fn a_take_that_was_not_begun_counts_for_nothing_and_is_as_it_is_set_up_by_now() {
    let mut plan = plan(steady(Part::Bars([3, 4].into())));
    takes(&mut plan, [Event::Begin, good()]);
    assert_eq!(plan.next(wish(Command::Slower)).now, Now::PlayOn);
    let renewed = plan.renewed().expect("it was asked for");
    assert_eq!(
        (renewed.number, renewed.to_string()),
        (2, "bars 3 to 4 at 95 %".into())
    );
    let events = [wish(Command::Again), Event::GivenUp];
    assert_eq!(takes(&mut plan, events), ["EndTake", "bars 3 to 4 at 95 %"]);
    assert_eq!(plan.coming().number, 3);
    let events = [wish(Command::Stop), Event::GivenUp, Event::GivenUp];
    assert_eq!(takes(&mut plan, events), ["EndTake", "Wait", "Wait"]);
    assert_eq!((plan.coming().number, plan.renewed()), (2, None));
    let events = [wish(Command::Again), Event::Leave, Event::GivenUp];
    assert_eq!(
        takes(&mut plan, events),
        ["bars 3 to 4 at 95 %", "EndTake", "Leave"]
    );
}

#[test]
fn a_speed_set_by_hand_holds_for_other_bars_but_that_of_a_drill_does_not() {
    let mut plan = plan(Setup {
        repeat: Repeat::Wait,
        ..Setup::default()
    });
    takes(&mut plan, [Event::Begin, good(), wish(Command::Faster)]);
    let bars = |bars: [u32; 2]| Event::Change(Change::Part(Part::Bars(bars.into())));
    plan.next(bars([1, 2]));
    assert_eq!(plan.coming().to_string(), "bars 1 to 2 at 105 %");
    let events = [
        wish(Command::Again),
        with_practice([1, 2]),
        wish(Command::Next),
    ];
    assert_eq!(
        takes(&mut plan, events).last().map(String::as_str),
        Some("bars 1 to 2 at 80 %, the click between the beats")
    );
    plan.next(bars([3, 4]));
    assert_eq!(plan.coming().to_string(), "bars 3 to 4 at 105 %");
}
