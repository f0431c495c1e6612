//! Simulated players with known truth: what is said of them is right as often as it claims. The tables over 1,000 months
//! are `cargo bench --bench progress`.

mod progress_players;

use leadsman::progress::outcome::{Told, Verdict, WhyNot};
use leadsman::progress::{History, Progress};
use progress_players::{Player, STEADY, Said, of_spread};
use rayon::prelude::*;

/// Of 100 months, fewer than 11 say "better" with 99 % where it is 5 %.
#[test]
fn a_month_in_which_nothing_changed_seldom_says_better() {
    for (player, sessions) in [
        (STEADY, 20),
        (
            Player {
                days: 2.5,
                takes: [1, 1],
                ..STEADY
            },
            10,
        ),
    ] {
        const MONTHS: u64 = 100;
        let said: Vec<Said> = (0..MONTHS)
            .into_par_iter()
            .map(|seed| Said::of(&Progress::of(&player.month(sessions, seed).history)))
            .collect();
        let better = said.iter().filter(|said| said.better()).count();
        let worse = said.iter().filter(|said| said.worse()).count();
        println!("{sessions} sessions: better {better}, worse {worse} of {MONTHS}");
        assert!(better < 11 && worse < 11, "better {better}, worse {worse}");
    }
}

/// From 30 to 15 ms, half, in twelve sessions.
#[test]
fn a_spread_that_is_halved_in_a_month_is_told() {
    let player = Player {
        spread_ms: |takes| 30.0 * (0.5f64).powf(takes / 36.0),
        takes: [3, 3],
        ..STEADY
    };
    const MONTHS: u64 = 50;
    let told = (0..MONTHS).into_par_iter().filter(|seed| {
        let change = of_spread(&Progress::of(&player.month(12, *seed).history));
        change.expect("twelve sessions").verdict == Verdict::Better
    });
    let told = told.count();
    assert!(told >= 44, "{told} of {MONTHS}");
}

/// A change is as large as it is said to be: the interval, which holds with 95 % for all questions together, holds the truth.
#[test]
fn the_interval_of_a_change_holds_the_true_one() {
    let player = Player {
        spread_ms: |takes| 30.0 * (0.7f64).powf(takes / 33.0),
        takes: [3, 3],
        ..STEADY
    };
    const MONTHS: u64 = 80;
    let held = (0..MONTHS).into_par_iter().filter(|seed| {
        let change = of_spread(&Progress::of(&player.month(12, *seed).history)).expect("sessions");
        (change.interval[0]..=change.interval[1]).contains(&0.7)
    });
    let held = held.count();
    assert!(held >= 74, "{held} of {MONTHS}");
}

const FLOOR_MS: f64 = 14.0;

#[test]
fn a_learning_curve_is_recovered_with_its_floor_and_what_comes_next() {
    let spread_ms = |takes: f64| FLOOR_MS + 20.0 * (-takes * 2f64.ln() / 15.0).exp();
    let player = Player {
        spread_ms,
        takes: [3, 3],
        ..STEADY
    };
    const SESSIONS: usize = 20;
    const MONTHS: u64 = 60;
    let (mut told, mut floors, mut levels, mut next) = (0, 0, 0, 0);
    for seed in 0..MONTHS {
        let month = player.month(SESSIONS + 10, seed);
        let entries = month.history.entries().iter();
        let known = entries
            .filter(|entry| entry.session <= SESSIONS as i64)
            .cloned();
        let Told::Known(curve) = Progress::of(&History::new(known.collect())).curve else {
            continue;
        };
        told += 1;
        let holds = |[low, high]: [Option<f64>; 2], truth: f64| {
            low.is_none_or(|low| low <= truth) && high.is_none_or(|high| truth <= high)
        };
        let level = spread_ms(month.practised[SESSIONS + 9]);
        let day = level * month.day_of_spread[SESSIONS + 9].exp();
        let [low, high] = curve.predictions[1].session_ms;
        floors += u32::from(holds(curve.floor_ms.interval, FLOOR_MS));
        levels += u32::from(holds(curve.predictions[1].level_ms.interval, level));
        next += u32::from((low..=high).contains(&day));
    }
    println!("told {told}, floors {floors}, levels {levels}, next {next} of {MONTHS}");
    assert!(told >= 57, "{told}");
    for held in [floors, levels, next] {
        assert!(
            f64::from(held) >= 0.88 * f64::from(told),
            "{held} of {told}"
        );
    }
}

#[test]
fn no_curve_is_drawn_of_a_player_who_stays_the_same() {
    const MONTHS: u64 = 100;
    let drawn = (0..MONTHS).into_par_iter().filter(|seed| {
        let told = Progress::of(&STEADY.month(20, *seed).history).curve;
        matches!(told, Told::Known(_))
    });
    let drawn = drawn.count();
    assert!(drawn <= 10, "{drawn} of {MONTHS}");
}

#[test]
fn a_week_is_too_short_for_a_curve_and_three_sessions_for_a_change() {
    let progress = Progress::of(&STEADY.month(3, 1).history);
    assert_eq!(
        progress.curve,
        Told::NotYet(WhyNot::FewSessions { have: 3, need: 8 })
    );
    for measure in &progress.measures {
        assert_eq!(
            measure.change,
            Told::NotYet(WhyNot::FewSessions { have: 3, need: 4 })
        );
        assert_eq!(measure.points.len(), 3);
    }
}

/// Sessions of four takes, in which the spread falls by a seventh over each night and not within a session: gains are found where
/// they are.
#[test]
fn gains_are_found_where_they_come() {
    let of = |within: f64, overnight: f64| {
        let month = Player {
            days: 0.0,
            takes: [4, 4],
            ..STEADY
        }
        .month(24, 5);
        let entries = month.history.entries().iter().cloned().enumerate();
        let moved = entries.map(|(at, mut entry)| {
            let (session, take) = (at / 4, at % 4);
            let steps = session as f64 * (overnight + 3.0 * within) + take as f64 * within;
            let spread = entry.figures.whole.spread.as_mut().expect("a spread");
            spread.sd *= (-steps).exp();
            entry
        });
        match Progress::of(&History::new(moved.collect())).gains {
            Told::Known(gains) => gains,
            Told::NotYet(why) => panic!("{why:?}"),
        }
    };
    let nights = of(0.0, 0.15);
    assert!(
        nights.overnight.interval[0] > 0.0 && nights.within.interval[0] < 0.0,
        "{nights:?}"
    );
    assert!(nights.difference.interval[0] > 0.0);
    let days = of(0.15, 0.0);
    assert!(
        days.within.interval[0] > 0.0 && days.overnight.interval[0] < 0.0,
        "{days:?}"
    );
    // Three steps of 0.15.
    let [low, high] = days.within.interval;
    assert!((low..=high).contains(&(100.0 * (1.0 - (-0.45f64).exp()))));
    assert_eq!((days.within.of, days.overnight.of), (24, 23));
}
