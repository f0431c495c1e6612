//! The statistics of progress against scipy and statsmodels (`tests/golden/progress.py`).

use leadsman::progress::figures::{Part, Scatter, TakeFigures, VERSION};
use leadsman::progress::history::Entry;
use leadsman::progress::measure::Measure;
use leadsman::progress::outcome::{Change, Curve, Fitted, Told};
use leadsman::progress::random_effects::{Fit, fit};
use leadsman::progress::{History, Progress};
use serde::Deserialize;

#[derive(Deserialize)]
struct Golden {
    metas: Vec<Meta>,
    regressions: Vec<Regression>,
    histories: Vec<Spreads>,
}

#[derive(Deserialize)]
struct Meta {
    values: Vec<f64>,
    variances: Vec<f64>,
    mean: f64,
    day_variance: f64,
    standard_error: f64,
}

#[derive(Deserialize)]
struct Regression {
    values: Vec<f64>,
    variances: Vec<f64>,
    columns: Vec<Vec<f64>>,
    means: Vec<f64>,
    standard_errors: Vec<f64>,
    day_variance: f64,
}

#[derive(Deserialize)]
struct Spreads {
    sds: Vec<f64>,
    freedoms: Vec<f64>,
    change: GoldenChange,
    curve: GoldenCurve,
}

#[derive(Deserialize)]
struct GoldenChange {
    from: f64,
    change: f64,
    interval: [f64; 2],
    chance: f64,
    detectable: [f64; 2],
    detectable_takes: f64,
}

#[derive(Deserialize)]
struct GoldenCurve {
    floor: GoldenFitted,
    halved: f64,
    ends: [f64; 2],
    levels: Vec<GoldenFitted>,
}

#[derive(Deserialize)]
struct GoldenFitted {
    best: f64,
    interval: [Option<f64>; 2],
}

fn golden() -> Golden {
    serde_json::from_str(include_str!("golden/progress.json")).expect("golden data")
}

#[track_caller]
fn assert_near(ours: f64, theirs: f64, share: f64, what: &str) {
    let off = (ours - theirs).abs();
    let allowed = share * theirs.abs().max(1e-3);
    assert!(off <= allowed, "{what}: {ours} against {theirs}");
}

fn fitted(values: &[f64], variances: &[f64], columns: &[Vec<f64>]) -> Fit {
    fit(values, variances, columns).expect("a fit")
}

#[test]
fn a_mean_of_sessions_is_the_random_effects_mean_of_studies() {
    for case in golden().metas {
        let ones = vec![1.0; case.values.len()];
        let fit = fitted(&case.values, &case.variances, &[ones]);
        let mean = fit.coefficients[0];
        assert_near(mean.mean, case.mean, 1e-6, "mean");
        assert_near(
            mean.standard_error,
            case.standard_error,
            1e-6,
            "standard error",
        );
        assert_near(
            fit.day_variance,
            case.day_variance,
            1e-6,
            "variance of days",
        );
    }
}

#[test]
fn a_line_through_sessions_is_weighted_least_squares() {
    for case in golden().regressions {
        let fit = fitted(&case.values, &case.variances, &case.columns);
        assert_near(
            fit.day_variance,
            case.day_variance,
            1e-6,
            "variance of days",
        );
        for (at, estimate) in fit.coefficients.iter().enumerate() {
            assert_near(estimate.mean, case.means[at], 1e-6, "coefficient");
            assert_near(
                estimate.standard_error,
                case.standard_errors[at],
                1e-6,
                "standard error",
            );
        }
    }
}

/// One take a session, one session a day, nothing heard but the spread.
fn history(case: &Spreads) -> History {
    const DAY_MS: i64 = 86_400_000;
    let spreads = std::iter::zip(&case.sds, &case.freedoms);
    let entry = |(day, (sd, freedom)): (i64, (&f64, &f64))| Entry {
        take: day + 1,
        session: day + 1,
        session_begun_ms: day * DAY_MS,
        begun_ms: day * DAY_MS,
        utc_offset_s: 0,
        speed: 100.0,
        bars: None,
        figures: TakeFigures {
            v: VERSION,
            whole: Part {
                expected: 100,
                spread: Some(Scatter {
                    sd: *sd,
                    freedom: *freedom,
                    alike: 0.0,
                }),
                ..Part::default()
            },
            ..TakeFigures::default()
        },
    };
    History::new((0..).zip(spreads).map(entry).collect())
}

fn change_of_spread(progress: &Progress) -> Change {
    let spread = progress
        .measures
        .iter()
        .find(|m| m.measure == Measure::Spread);
    match spread.expect("a spread").change {
        Told::Known(change) => change,
        Told::NotYet(why) => panic!("{why:?}"),
    }
}

#[test]
fn a_change_of_the_spread_is_that_of_its_logarithm() {
    for case in golden().histories {
        // Nine: sixteen or more are asked for runs of good days as well.
        let nine = history(&case).entries()[..9].to_vec();
        let (ours, theirs) = (
            change_of_spread(&Progress::of(&History::new(nine))),
            &case.change,
        );
        assert_near(ours.from, theirs.from, 1e-6, "from");
        assert_near(ours.change, theirs.change, 1e-6, "change");
        assert_near(ours.chance, theirs.chance, 1e-5, "chance");
        assert_near(
            ours.detectable_takes[1],
            theirs.detectable_takes,
            1e-6,
            "between takes",
        );
        for at in 0..2 {
            assert_near(ours.interval[at], theirs.interval[at], 1e-6, "interval");
            assert_near(
                ours.detectable[at],
                theirs.detectable[at],
                1e-6,
                "detectable",
            );
        }
    }
}

fn curve_of(progress: Progress) -> Curve {
    match progress.curve {
        Told::Known(curve) => curve,
        Told::NotYet(why) => panic!("{why:?}"),
    }
}

/// Edges are looked for among rates a twentieth apart: within two thousandths.
fn assert_fitted(ours: Fitted, theirs: &GoldenFitted, what: &str) {
    assert_near(ours.best, theirs.best, 1e-3, what);
    for at in 0..2 {
        match (ours.interval[at], theirs.interval[at]) {
            (Some(ours), Some(theirs)) => assert_near(ours, theirs, 2e-3, what),
            (ours, theirs) => assert_eq!(ours, theirs, "{what}"),
        }
    }
}

#[test]
fn the_learning_curve_and_its_intervals_are_those_of_general_minimisers() {
    for case in golden().histories {
        let curve = curve_of(Progress::of(&history(&case)));
        assert_fitted(curve.floor_ms, &case.curve.floor, "floor");
        assert_near(
            curve.halved_in_takes.best,
            case.curve.halved,
            2e-3,
            "halved",
        );
        for at in 0..2 {
            assert_near(curve.from_to_ms[at], case.curve.ends[at], 1e-3, "ends");
        }
        for (ours, theirs) in std::iter::zip(&curve.predictions, &case.curve.levels) {
            assert_fitted(ours.level_ms, theirs, "level");
        }
    }
}
