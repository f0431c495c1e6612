//! The statistics of a comparison: against scipy (`tests/golden/compare.py`), worked by hand, and on players who do not
//! differ.

use leadsman::compare::difference::{Difference, FALSE_SHARE};
use leadsman::compare::measure::{Figure, Measure, Measured, TakeMeasured};
use leadsman::compare::{Part, Player, by_section, whole};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use serde::Deserialize;

#[derive(Deserialize)]
struct Golden {
    cases: Vec<Case>,
    adjusted: Vec<f64>,
}

#[derive(Deserialize)]
struct Case {
    ratio: bool,
    one: Vec<f64>,
    other: Vec<f64>,
    one_mean: f64,
    one_interval: [f64; 2],
    other_mean: f64,
    other_interval: [f64; 2],
    size: f64,
    interval: [f64; 2],
    chance: f64,
}

fn golden() -> Golden {
    serde_json::from_str(include_str!("golden/compare.json")).expect("golden values")
}

/// A take of one figure, its notes' own chance so small that the takes alone decide.
fn take(measure: Measure, mean: f64, variance: f64) -> TakeMeasured {
    let mut whole = Measured::default();
    let place = Measure::ALL.iter().position(|one| *one == measure);
    whole.figures[place.expect("a measure")] = Some(Figure { mean, variance });
    TakeMeasured {
        whole,
        sections: Vec::new(),
    }
}

fn player(name: &str, takes: Vec<TakeMeasured>) -> Player {
    Player {
        name: name.into(),
        takes,
    }
}

fn two(measure: Measure, one: &[f64], other: &[f64], variance: f64) -> Part {
    let takes = |values: &[f64]| {
        values
            .iter()
            .map(|mean| take(measure, *mean, variance))
            .collect()
    };
    whole(&[player("one", takes(one)), player("other", takes(other))])
}

fn is_near(found: f64, golden: f64) -> bool {
    (found - golden).abs() <= 1e-8 * golden.abs().max(1.0)
}

#[test]
fn means_intervals_and_welchs_test_are_those_of_scipy() {
    for case in golden().cases {
        let measure = if case.ratio {
            Measure::Spread
        } else {
            Measure::Lean
        };
        let on_scale = |values: &[f64]| -> Vec<f64> {
            let of = |value: &f64| if case.ratio { value.ln() } else { *value };
            values.iter().map(of).collect()
        };
        let part = two(measure, &on_scale(&case.one), &on_scale(&case.other), 0.0);
        let golden = [
            (case.one_mean, case.one_interval),
            (case.other_mean, case.other_interval),
        ];
        for (player, (mean, interval)) in std::iter::zip(&part.players, golden) {
            let found = player.of(measure).expect("a figure");
            assert!(is_near(found.value, mean), "{} {mean}", found.value);
            for (found, golden) in std::iter::zip(found.interval.expect("takes"), interval) {
                assert!(is_near(found, golden), "{found} {golden}");
            }
        }
        let [found] = part.differences.as_slice() else {
            panic!("one pair");
        };
        assert!(is_near(found.size, case.size) && is_near(found.chance, case.chance));
        for (found, golden) in std::iter::zip(found.interval, case.interval) {
            assert!(is_near(found, golden), "{found} {golden}");
        }
        assert_eq!((found.players, found.is_ratio()), ([0, 1], case.ratio));
    }
}

/// The golden pairs put into sections: judged together, those stand whose adjusted chance is no more than what may be false.
#[test]
fn what_stands_among_all_sections_is_what_scipy_keeps() {
    let golden = golden();
    let section = |place: usize, values: &[f64], take: usize| {
        let mut measured = Measured::default();
        let case = &golden.cases[place];
        let measure = if case.ratio {
            Measure::Swing
        } else {
            Measure::Entries
        };
        let slot = Measure::ALL
            .iter()
            .position(|one| *one == measure)
            .expect("a measure");
        measured.figures[slot] = values.get(take).map(|value| Figure {
            mean: if case.ratio { value.ln() } else { *value },
            variance: 0.0,
        });
        (place.to_string(), measured)
    };
    let takes = |values: &dyn Fn(&Case) -> Vec<f64>| -> Vec<TakeMeasured> {
        let of_take = |take: usize| TakeMeasured {
            whole: Measured::default(),
            sections: golden
                .cases
                .iter()
                .enumerate()
                .map(|(place, case)| section(place, &values(case), take))
                .collect(),
        };
        (0..40).map(of_take).collect()
    };
    let players = [
        player("one", takes(&|case| case.one.clone())),
        player("other", takes(&|case| case.other.clone())),
    ];
    let found: Vec<bool> = by_section(&players)
        .iter()
        .flat_map(|part| &part.differences)
        .map(|difference| difference.is_beyond_chance)
        .collect();
    let kept: Vec<bool> = golden
        .adjusted
        .iter()
        .map(|chance| *chance <= FALSE_SHARE)
        .collect();
    assert_eq!(found, kept);
    assert!(kept.contains(&true) && kept.contains(&false));
}

/// Three takes of 40 each: with 2.5 % of 3 · 40 + 4 · 3 cases... worked for one take: (40 + 2) / 44 = 0.9545, its variance
/// 0.9545 · 0.0455 / 44 = 9.861e-4; the mean of three has a standard error of √(9.861e-4 / 3) = 1.813 points, and t(2) is
/// 4.303: 7.80 points below 100.
#[test]
fn takes_without_a_mistake_do_not_say_that_there_never_will_be_one() {
    let variance = 1e4 * (42.0 / 44.0) * (2.0 / 44.0) / 44.0;
    let part = two(Measure::Pitch, &[100.0; 3], &[100.0; 3], variance);
    let [low, high] = part.players[0]
        .of(Measure::Pitch)
        .expect("a share")
        .interval
        .expect("three takes");
    assert!((low - 92.20).abs() < 0.01, "{low}");
    assert_eq!(high, 100.0);
    assert_eq!(part.differences[0].chance, 1.0);
}

/// Copies of a take differ by nothing; 20 ms of spread over 25 notes leave (20² / 25 / 3)^½ = 2.31 ms all the same.
#[test]
fn copies_of_a_take_are_no_surer_than_its_notes() {
    let part = two(Measure::Lean, &[5.0; 3], &[9.0; 3], 20.0 * 20.0 / 25.0);
    let [low, high] = part.players[0]
        .of(Measure::Lean)
        .expect("a lean")
        .interval
        .expect("takes");
    assert!(
        ((high - low) / 2.0 - 4.302_65 * 2.309_40).abs() < 1e-3,
        "{low} {high}"
    );
    assert!(!part.differences[0].is_beyond_chance);
}

#[test]
fn one_take_has_no_interval_and_two_stand_in_no_difference() {
    let part = two(Measure::Lean, &[5.0], &[9.0, 10.0], 0.1);
    let figure = |player: usize| {
        part.players[player]
            .of(Measure::Lean)
            .copied()
            .expect("a lean")
    };
    assert_eq!((figure(0).value, figure(0).interval), (5.0, None));
    assert!(figure(1).interval.is_some());
    assert!(part.differences.is_empty());
    let enough = two(Measure::Lean, &[5.0, 6.0, 5.5], &[9.0, 10.0, 9.5], 0.1);
    assert!(enough.differences[0].is_beyond_chance);
}

#[test]
fn nobody_and_nothing_have_a_defined_answer() {
    assert_eq!(whole(&[]).differences, []);
    let part = whole(&[player("one", Vec::new()), player("other", Vec::new())]);
    assert!(part.differences.is_empty() && by_section(&[]).is_empty());
    assert!(
        part.players
            .iter()
            .all(|player| player.of(Measure::Lean).is_none())
    );
}

/// Players whose takes are drawn from one and the same distribution, seven measures each: no more than [`FALSE_SHARE`] of
/// such comparisons may say anything at all. In 600 the standard error of 5 % is 0.9 %.
#[test]
fn of_players_who_do_not_differ_nothing_is_said_but_for_one_comparison_in_twenty() {
    let mut chance = ChaCha8Rng::seed_from_u64(6);
    for (players, takes) in [(2, 3), (2, 8), (5, 4)] {
        let mut wrong = 0;
        const COMPARISONS: usize = 600;
        for _ in 0..COMPARISONS {
            // Takes differ by 3, notes alone would make it 2.
            let normal = Normal::new(0.0, 3.0).expect("a spread");
            let mut drawn = || {
                let mut whole = Measured::default();
                for figure in &mut whole.figures {
                    *figure = Some(Figure {
                        mean: normal.sample(&mut chance),
                        variance: 4.0,
                    });
                }
                TakeMeasured {
                    whole,
                    sections: Vec::new(),
                }
            };
            let all: Vec<Player> = (0..players)
                .map(|place| player(&place.to_string(), (0..takes).map(|_| drawn()).collect()))
                .collect();
            wrong += usize::from(whole(&all).differences.iter().any(is_told));
        }
        let share = wrong as f64 / COMPARISONS as f64;
        println!(
            "{players} players of {takes} takes: {:.2} % say something",
            100.0 * share
        );
        assert!(
            share <= FALSE_SHARE + 3.0 * 0.009,
            "{players} of {takes}: {share}"
        );
    }
}

fn is_told(difference: &Difference) -> bool {
    difference.is_beyond_chance
}
