//! What is real: change beyond the noise of notes, takes and days.
//!
//! Sessions are the units, since takes of one day are alike. The change is that of a straight line through the latest [`SESSIONS`]
//! of them, from the first to the last ([`super::random_effects`]). However it went in between, a line rises or falls
//! only if something changed; and its noise is measured on all sessions, not on two.
//!
//! Many questions are asked at once. They are two families: the whole line, and its parts (sections, findings). In each the
//! level is divided by the number of questions (Bonferroni), so that a family in which nothing changed says so with 95 %
//! whatever goes together with what; half of the 5 % is for the better. Intervals are as wide, so that they leave out "no change" if and
//! only if a change is told.

use super::basis::{FEWEST_MODELLED, FEWEST_SESSIONS};
use super::measure::{Aim, Scale, share};
use super::outcome::{Change, SpeedBasis, Told, Verdict, WhyNot};
use super::random_effects::fit;
use super::series::{Series, SessionValue};
use crate::findings::stats::estimate::{Estimate, LEVEL};
use crate::findings::stats::trend;

/// Changes are told of so many sessions at most: a month of playing on most days. What was long before says nothing about
/// the present practice.
pub const SESSIONS: usize = 20;
/// Time and speed are not told apart when they share more than this of each other (squared correlation).
const TOLD_APART: f64 = 0.8;

/// Fewer sessions do not tell runs of good days from chance.
const TELL_RUNS: usize = 16;

/// A question about a series.
pub(super) struct Question<'a> {
    pub series: &'a Series,
    pub scale: Scale,
    pub aim: Aim,
}

/// The answers to a family of questions, in their order.
pub(super) fn tell(family: &[Question<'_>], speed: SpeedBasis) -> Vec<Told<Change>> {
    let asked: Vec<Result<Line, WhyNot>> = family
        .iter()
        .map(|question| Line::through(&question.series.values, speed))
        .collect();
    let questions = asked.iter().filter(|line| line.is_ok()).count().max(1);
    let level = 1.0 - (1.0 - LEVEL) / questions as f64;
    std::iter::zip(family, asked)
        .map(|(question, line)| match line {
            Ok(line) => Told::Known(line.tell(question, level)),
            Err(why) => Told::NotYet(why),
        })
        .collect()
}

/// A straight line through sessions.
struct Line {
    /// At the first session.
    start: f64,
    /// From the first session to the last.
    change: Estimate,
    values: Vec<SessionValue>,
}

impl Line {
    fn through(values: &[SessionValue], speed: SpeedBasis) -> Result<Line, WhyNot> {
        if values.is_empty() {
            return Err(WhyNot::NothingHeard);
        }
        let values = &values[values.len().saturating_sub(SESSIONS)..];
        let beside = speeds(values, speed);
        let need = match beside {
            Some(_) => FEWEST_MODELLED,
            None => FEWEST_SESSIONS,
        };
        let have = values.len();
        if have < need {
            return Err(WhyNot::FewSessions { have, need });
        }
        let time: Vec<f64> = (0..have).map(|at| at as f64 / (have - 1) as f64).collect();
        let mut columns = vec![vec![1.0; have], time];
        if let Some(beside) = beside {
            if shared(&columns[1], &beside) > TOLD_APART {
                return Err(WhyNot::SpeedRoseWithTime);
            }
            columns.push(beside);
        }
        let of = |of: fn(&SessionValue) -> f64| -> Vec<f64> { values.iter().map(of).collect() };
        let fit = fit(
            &of(|value| value.value),
            &of(|value| value.variance),
            &columns,
        )
        .ok_or(WhyNot::SpeedRoseWithTime)?;
        let mut change = fit.coefficients[1];
        if have >= TELL_RUNS {
            change.standard_error *= runs(values, columns).sqrt();
        }
        Ok(Line {
            start: fit.coefficients[0].mean,
            change,
            values: values.to_vec(),
        })
    }

    fn tell(&self, question: &Question<'_>, level: f64) -> Change {
        let (start, end) = (self.start, self.start + self.change.mean);
        let interval = self.change.interval_at(level);
        let is_real = interval[0] > 0.0 || interval[1] < 0.0;
        let half = interval[1] - self.change.mean;
        let told = |change: f64| told(question.scale, start, change);
        let takes = question.series.between_takes;
        Change {
            scale: question.scale,
            from: shown(question.scale, start),
            to: shown(question.scale, end),
            change: told(self.change.mean),
            interval: interval.map(told),
            chance: self.change.chance(),
            verdict: match is_real {
                true => verdict(question.aim, start, end),
                false => Verdict::NoChange,
            },
            detectable: [told(-half), told(half)],
            detectable_takes: [told(-takes), told(takes)],
            sessions: self.values.len(),
            takes: self.values.iter().map(|value| value.takes).sum(),
            from_ms: self.values[0].begun_ms,
            to_ms: self.values[self.values.len() - 1].begun_ms,
        }
    }
}

/// By how much more a slow change varies when good and bad days come in runs: `(1 + r) / (1 − r)`, r the correlation of
/// neighbouring sessions in what is left, with what the fit took off it put back ([`trend::measure`]). A bend is taken out first:
/// who learns fast and then slowly has no runs of days.
fn runs(values: &[SessionValue], mut columns: Vec<Vec<f64>>) -> f64 {
    let squared = columns[1].iter().map(|time| (time - 0.5).powi(2)).collect();
    columns.push(squared);
    let of = |of: fn(&SessionValue) -> f64| -> Vec<f64> { values.iter().map(of).collect() };
    let (own, variances) = (of(|value| value.value), of(|value| value.variance));
    let Some(fit) = fit(&own, &variances, &columns) else {
        return 1.0;
    };
    let standardised: Vec<f64> = std::iter::zip(&fit.left, &variances)
        .map(|(left, variance)| left / (variance + fit.day_variance).sqrt())
        .collect();
    let one_run = 0..values.len();
    let measured = trend::measure(&standardised, std::slice::from_ref(&one_run), columns.len());
    measured.map_or(1.0, |(alike, _)| {
        (1.0 + alike.correlation) / (1.0 - alike.correlation)
    })
}

/// The logarithm of each session's speed over the one that values are told for; `None` where they are all the same.
fn speeds(values: &[SessionValue], speed: SpeedBasis) -> Option<Vec<f64>> {
    let SpeedBasis::Modelled { speed, .. } = speed else {
        return None;
    };
    let told_for = f64::from(speed.max(1)).ln();
    let logs: Vec<f64> = values.iter().map(|v| v.log_speed - told_for).collect();
    const SAME: f64 = 1e-6;
    let is_moved = logs.iter().any(|log| (log - logs[0]).abs() > SAME);
    is_moved.then_some(logs)
}

/// The squared correlation of two columns.
fn shared(one: &[f64], other: &[f64]) -> f64 {
    let centred = |column: &[f64]| -> Vec<f64> {
        let mean = column.iter().sum::<f64>() / column.len() as f64;
        column.iter().map(|value| value - mean).collect()
    };
    let dot = |a: &[f64], b: &[f64]| std::iter::zip(a, b).map(|(a, b)| a * b).sum::<f64>();
    let (one, other) = (centred(one), centred(other));
    let lengths = dot(&one, &one) * dot(&other, &other);
    dot(&one, &other).powi(2) / lengths.max(f64::MIN_POSITIVE)
}

fn verdict(aim: Aim, start: f64, end: f64) -> Verdict {
    // From one side to the other it is better or worse only if it is twice as near, or as far.
    let times = if start * end < 0.0 { 2.0 } else { 1.0 };
    let is_better = match aim {
        Aim::Low => Some(end < start),
        Aim::High => Some(end > start),
        Aim::Nowhere => None,
        Aim::Zero if times * end.abs() < start.abs() => Some(true),
        Aim::Zero if times * start.abs() < end.abs() => Some(false),
        Aim::Zero => None,
    };
    match is_better {
        Some(true) => Verdict::Better,
        Some(false) => Verdict::Worse,
        None => Verdict::Moved,
    }
}

fn shown(scale: Scale, value: f64) -> f64 {
    match scale {
        Scale::Factor => value.exp(),
        Scale::DifferenceMs => value,
        Scale::DifferenceOfShares => share(value),
    }
}

/// A change from `start`, as it is told.
fn told(scale: Scale, start: f64, change: f64) -> f64 {
    match scale {
        Scale::Factor => change.exp(),
        Scale::DifferenceMs => change,
        Scale::DifferenceOfShares => share(start + change) - share(start),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(values: &[f64], log_speeds: Option<&[f64]>) -> Series {
        let value = |(at, value): (usize, &f64)| SessionValue {
            session: at as i64,
            begun_ms: at as i64,
            takes: 1,
            value: *value,
            variance: 0.01,
            log_speed: log_speeds.map_or(0.0, |speeds| speeds[at]),
            practised: at as f64,
        };
        Series {
            values: values.iter().enumerate().map(value).collect(),
            between_takes: 0.3,
        }
    }

    fn ask(series: &Series, speed: SpeedBasis) -> Told<Change> {
        let (scale, aim) = (Scale::DifferenceMs, Aim::Zero);
        let question = Question { series, scale, aim };
        tell(&[question], speed).remove(0)
    }

    const SAME: SpeedBasis = SpeedBasis::Same { speed: 100 };

    #[test]
    fn a_change_is_real_if_and_only_if_it_is_beyond_what_is_detectable() {
        for slope in 0..60 {
            let values: Vec<f64> = (0..8)
                .map(|at| 9.0 + f64::from(at * slope) / 50.0 + f64::from(at * 5 % 8) / 4.0)
                .collect();
            let Told::Known(change) = ask(&series(&values, None), SAME) else {
                panic!("eight sessions");
            };
            let is_beyond =
                change.change < change.detectable[0] || change.change > change.detectable[1];
            assert_eq!(change.verdict != Verdict::NoChange, is_beyond, "{change:?}");
            assert_eq!(
                is_beyond,
                change.interval[0] > 0.0 || change.interval[1] < 0.0
            );
        }
    }

    #[test]
    fn three_sessions_are_too_few_and_none_says_nothing() {
        let few = ask(&series(&[1.0, 2.0, 3.0], None), SAME);
        assert_eq!(few, Told::NotYet(WhyNot::FewSessions { have: 3, need: 4 }));
        assert_eq!(
            ask(&series(&[], None), SAME),
            Told::NotYet(WhyNot::NothingHeard)
        );
    }

    /// The value follows the speed alone; the speed goes up and down, or up with the time.
    #[test]
    fn what_the_speed_did_is_not_taken_for_progress() {
        let modelled = SpeedBasis::Modelled {
            slowest: 70,
            fastest: 100,
            speed: 100,
        };
        let told_for = 100f64.ln();
        let speeds = [0.7f64, 0.8, 1.0, 0.9, 0.7, 1.0, 0.8, 1.0].map(|s| told_for + s.ln());
        let values = speeds.map(|speed| 5.0 + 40.0 * (speed - told_for));
        let Told::Known(change) = ask(&series(&values, Some(&speeds)), modelled) else {
            panic!("eight sessions");
        };
        assert!(
            change.change.abs() < 1e-6 && (change.from - 5.0).abs() < 1e-6,
            "{change:?}"
        );
        assert_eq!(change.verdict, Verdict::NoChange);
        let mut rising = speeds;
        rising.sort_by(f64::total_cmp);
        let told = ask(&series(&values, Some(&rising)), modelled);
        assert_eq!(told, Told::NotYet(WhyNot::SpeedRoseWithTime));
    }

    #[test]
    fn more_questions_take_more_to_answer() {
        let one = series(&[9.0, 8.0, 8.5, 7.0, 7.4, 6.5], None);
        let family = |count: usize| {
            let question = |_| Question {
                series: &one,
                scale: Scale::DifferenceMs,
                aim: Aim::Zero,
            };
            let family: Vec<Question<'_>> = (0..count).map(question).collect();
            tell(&family, SAME).remove(0)
        };
        let detectable = |told: Told<Change>| match told {
            Told::Known(change) => change.detectable[1],
            Told::NotYet(why) => panic!("{why:?}"),
        };
        assert!(detectable(family(8)) > 1.5 * detectable(family(1)));
    }

    #[test]
    fn from_too_early_to_as_much_too_late_is_neither_better_nor_worse() {
        assert_eq!(verdict(Aim::Zero, -20.0, 18.0), Verdict::Moved);
        assert_eq!(verdict(Aim::Zero, -20.0, 9.0), Verdict::Better);
        assert_eq!(verdict(Aim::Zero, 5.0, 20.0), Verdict::Worse);
        assert_eq!(verdict(Aim::Nowhere, 5.0, 20.0), Verdict::Moved);
        assert_eq!(verdict(Aim::Low, 3.0, 2.9), Verdict::Better);
        assert_eq!(verdict(Aim::High, 1.2, 1.3), Verdict::Better);
    }

    #[test]
    fn shares_are_told_as_notes_of_a_hundred() {
        let angle = |share: f64| share.sqrt().asin();
        let scale = Scale::DifferenceOfShares;
        let change = told(scale, angle(0.90), angle(0.95) - angle(0.90));
        assert!((change - 0.05).abs() < 1e-12);
        // Beyond all of them there is nothing.
        assert!((told(scale, angle(0.99), 1.0) - 0.01).abs() < 1e-12);
    }
}
