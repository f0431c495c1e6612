//! The statistics of the findings against scipy and statsmodels (`tests/golden/findings.py`).

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::findings::evidence::Evidence;
use leadsman::findings::model::Model;
use leadsman::findings::stats::discovery::standing;
use leadsman::findings::stats::estimate::Estimate;
use leadsman::findings::stats::slope_interval;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use serde::Deserialize;
use std::sync::Arc;

#[derive(Deserialize)]
struct Golden {
    slopes: Vec<SlopeCase>,
    discoveries: Vec<DiscoveryCase>,
    estimates: Vec<EstimateCase>,
    effects: Vec<EffectCase>,
}

#[derive(Deserialize)]
struct SlopeCase {
    x: Vec<f64>,
    y: Vec<f64>,
    beside: Vec<Vec<f64>>,
    slope: f64,
    half_width: f64,
}

#[derive(Deserialize)]
struct DiscoveryCase {
    chances: Vec<f64>,
    share: f64,
    standing: Vec<bool>,
}

#[derive(Deserialize)]
struct EstimateCase {
    mean: f64,
    standard_error: f64,
    freedom: f64,
    interval: [f64; 2],
    chance: f64,
}

#[derive(Deserialize)]
struct EffectCase {
    line: String,
    values: Vec<f64>,
    columns: Vec<Vec<f64>>,
    means: Vec<f64>,
    standard_errors: Vec<f64>,
    freedom: f64,
}

fn golden() -> Golden {
    let text = include_str!("golden/findings.json");
    serde_json::from_str(text).expect("golden data")
}

fn assert_near(ours: f64, theirs: f64, share: f64, what: &str) {
    let off = (ours - theirs).abs();
    assert!(
        off <= share * theirs.abs().max(1e-3),
        "{what}: {ours} against {theirs}"
    );
}

#[test]
fn slopes_and_their_intervals_are_those_of_least_squares() {
    for case in golden().slopes {
        let slope = slope_interval(&case.x, &case.y, &case.beside, 0.95).expect("a slope");
        assert_near(slope.mean, case.slope, 1e-8, "slope");
        assert_near(slope.half_width, case.half_width, 1e-6, "half width");
    }
}

#[test]
fn discoveries_are_those_of_benjamini_and_hochberg() {
    for case in golden().discoveries {
        assert_eq!(standing(&case.chances, case.share), case.standing);
    }
}

#[test]
fn intervals_and_chances_are_those_of_students_t() {
    for case in golden().estimates {
        let estimate = Estimate {
            mean: case.mean,
            standard_error: case.standard_error,
            freedom: case.freedom,
        };
        for (ours, theirs) in std::iter::zip(estimate.interval(), case.interval) {
            assert_near(ours, theirs, 1e-6, "interval");
        }
        // Beyond ten decimals a chance is none.
        assert!((estimate.chance() - case.chance).abs() <= 1e-6 * case.chance + 1e-10);
    }
}

#[test]
fn effects_beside_each_other_are_those_of_least_squares_without_the_moving_mean() {
    for case in golden().effects {
        let line = parse(&case.line, "line.toml").expect("a line");
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let settings = Settings::default();
        let played = play(&expected, &Habits::default(), 1).into_iter();
        let judgement = judge(Arc::clone(&expected), &settings, played);
        let evidence = Evidence::new(&expected, &judgement, &settings.windows);
        assert_eq!(evidence.heard.len(), case.values.len());
        for (index, column) in case.columns.iter().enumerate() {
            let mut model = Model::new(&case.values, &evidence.heard);
            let others = case
                .columns
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != index);
            others.for_each(|(_, other)| model.take(other));
            let estimate = model.ask(column).expect("an effect");
            assert_near(estimate.mean, case.means[index], 1e-6, "effect");
            assert_near(
                estimate.standard_error,
                case.standard_errors[index],
                1e-6,
                "standard error",
            );
            assert_near(estimate.freedom, case.freedom, 1e-9, "freedom");
        }
    }
}
