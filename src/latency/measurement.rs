//! From delays to a law, and whether it can be believed.

use super::answers::{Answer, Answers};
use super::robust_line::{Point, RobustLine, robust_line};
use crate::judge::settings::Latency;
use crate::units::Nanos;
use std::fmt;

/// A frame at 48 kHz, in ms: finer than this no delay is known.
const FINEST_MS: f64 = 0.02;
/// Three standard errors: a law that is implausible by less may be a plausible one.
const ERRORS: f64 = 3.0;
/// The longest fixed part that is believed. A sound system with blocks of 2048 frames and three of them in a row adds
/// 128 ms at 48 kHz; what is more is no latency that anyone plays with.
const LONGEST_FIXED_MS: f64 = 150.0;
/// Pitch estimation needs one to two periods (Fonseca & Tavares 2020, RITA 27(4):79); twice that is not believed.
const MOST_PERIODS: f64 = 4.0;
/// Jitter of 3 ms is heard (Jack et al. 2018, Music Perception 36); where it is more than this, the answers are not
/// those of a converter that can be played.
const WIDEST_SCATTER_MS: f64 = 8.0;
/// A pitch counts as heard from this many answers on.
const FEWEST_OF_KEY: usize = 3;
const FEWEST_KEYS: usize = 3;
/// Lowest to highest pitch heard, at the least.
const FEWEST_SEMITONES: u8 = 12;
/// So many answers, and this share of the bursts, at the least.
const FEWEST_ANSWERS: usize = 24;
const FEWEST_SHARE: f64 = 0.5;
/// More of the answers off the line than this, and the line is not what they follow.
const MOST_OUTLIERS: f64 = 0.2;

/// Measuring goes on for so many bursts, half a minute, at the least.
const FEWEST_BURSTS: usize = 96;
/// A standard error that puts three of them inside half a ms.
const PRECISE_FIXED_MS: f64 = 0.5 / ERRORS;
/// A standard error that puts three of them inside a twentieth of a period.
const PRECISE_PERIODS: f64 = 0.05 / ERRORS;

/// `fixed + periods / f0`, as measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// The same for every pitch, in ms.
    pub fixed_ms: f64,
    /// Its standard error.
    pub fixed_se_ms: f64,
    /// Periods of the fundamental.
    pub periods: f64,
    /// Its standard error.
    pub periods_se: f64,
    /// Scatter of the delays about the law, in ms, as a standard deviation.
    pub scatter_ms: f64,
    /// Answers that were set aside because they lie off the law by far.
    pub outliers: usize,
    /// Answers that the law rests on.
    pub used: usize,
    /// Why it should not be believed; empty when it may.
    pub doubts: Vec<Doubt>,
}

/// Why a measurement should not be believed.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// Too few to say anything, or so few that something is wrong.
    TooFewAnswers {
        /// Bursts answered by their own pitch.
        answers: usize,
        /// Bursts played.
        bursts: usize,
    },
    /// Answered pitches are too few or too close to tell periods from the fixed part.
    TooFewPitches(usize),
    /// Low notes come sooner than high ones.
    FallsWithPeriod(f64),
    /// More than a converter can need.
    TooManyPeriods(f64),
    /// An answer before the burst.
    BeforeTheSound(f64),
    /// Beyond what can be played with.
    TooLong(f64),
    /// The delays do not follow a law.
    Scattered(f64),
    /// The delays follow several.
    ManyOutliers {
        /// Off the law.
        outliers: usize,
        /// Of so many.
        answers: usize,
    },
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::TooFewAnswers { answers, bursts } => write!(
                f,
                "only {answers} of {bursts} bursts were answered by their own pitch: lay the headphone flat on the pickup, \
                 and raise the level (--level) a little"
            ),
            Doubt::TooFewPitches(pitches) => write!(
                f,
                "only {pitches} pitches were heard, or pitches less than an octave apart: periods cannot be told from the \
                 fixed part"
            ),
            Doubt::FallsWithPeriod(periods) => write!(
                f,
                "low notes come sooner than high ones ({periods:+.2} periods): no converter does that"
            ),
            Doubt::TooManyPeriods(periods) => {
                write!(
                    f,
                    "{periods:.2} periods: no converter needs more than {MOST_PERIODS}"
                )
            }
            Doubt::BeforeTheSound(ms) => write!(
                f,
                "the fixed part is {ms:+.1} ms: an answer cannot come before its burst"
            ),
            Doubt::TooLong(ms) => write!(
                f,
                "the fixed part is {ms:.0} ms, more than {LONGEST_FIXED_MS} ms: answers may belong to other sounds"
            ),
            Doubt::Scattered(ms) => write!(
                f,
                "the delays scatter by {ms:.1} ms about the law, more than {WIDEST_SCATTER_MS} ms"
            ),
            Doubt::ManyOutliers { outliers, answers } => write!(
                f,
                "{outliers} of {answers} answers lie far off the law that the others follow"
            ),
        }
    }
}

impl Measurement {
    /// Fits the law. Without enough answers for any, the doubt says so.
    pub fn of(answers: &Answers) -> Result<Measurement, Doubt> {
        let too_few = Doubt::TooFewAnswers {
            answers: answers.right.len(),
            bursts: answers.bursts,
        };
        if answers.right.len() < FEWEST_ANSWERS {
            return Err(too_few);
        }
        let points: Vec<Point> = answers.right.iter().map(point).collect();
        let heard = pitches_heard(answers);
        let line = robust_line(&points, FINEST_MS).ok_or(Doubt::TooFewPitches(heard.len()))?;
        let mut doubts = doubts(&line, points.len());
        if (answers.right.len() as f64) < FEWEST_SHARE * answers.bursts as f64 {
            doubts.push(too_few);
        }
        let apart = heard.last().unwrap_or(&0) - heard.first().unwrap_or(&0);
        if heard.len() < FEWEST_KEYS || apart < FEWEST_SEMITONES {
            doubts.push(Doubt::TooFewPitches(heard.len()));
        }
        Ok(Measurement::new(&line, points.len(), doubts))
    }

    fn new(line: &RobustLine, answers: usize, doubts: Vec<Doubt>) -> Measurement {
        // A slope below 0 by chance is a MIDI bass, which waits for no period.
        let waits = line.slope >= 0.0 || !doubts.is_empty();
        let (fixed_ms, fixed_se_ms) = if waits {
            (line.intercept, line.intercept_se)
        } else {
            line.centre
        };
        Measurement {
            fixed_ms,
            fixed_se_ms,
            periods: if waits { line.slope } else { 0.0 },
            periods_se: line.slope_se,
            scatter_ms: line.scale,
            outliers: line.rejected.len(),
            used: answers - line.rejected.len(),
            doubts,
        }
    }

    /// Whether measuring may end: after so many bursts, three standard errors lie within half a ms and a twentieth of
    /// a period.
    pub fn is_enough(&self, bursts: usize) -> bool {
        bursts >= FEWEST_BURSTS
            && self.fixed_se_ms <= PRECISE_FIXED_MS
            && self.periods_se <= PRECISE_PERIODS
    }

    /// What the judge takes off.
    pub fn latency(&self) -> Latency {
        Latency {
            fixed: Nanos::from_ms_f64(self.fixed_ms),
            periods: self.periods,
            fixed_se: Some(Nanos::from_ms_f64(self.fixed_se_ms)),
            periods_se: Some(self.periods_se),
        }
    }
}

fn point(answer: &Answer) -> Point {
    Point {
        x: 1000.0 / answer.key.frequency_hz(),
        y: answer.delay.ms(),
    }
}

/// Keys with enough answers, from the lowest.
fn pitches_heard(answers: &Answers) -> Vec<u8> {
    let heard = answers
        .by_key
        .iter()
        .filter(|of| of.answered >= FEWEST_OF_KEY);
    heard.map(|of| of.key.0).collect()
}

fn doubts(line: &RobustLine, answers: usize) -> Vec<Doubt> {
    let slope_below = line.slope + ERRORS * line.slope_se;
    let slope_above = line.slope - ERRORS * line.slope_se;
    let fixed_below = line.intercept + ERRORS * line.intercept_se;
    let fixed_above = line.intercept - ERRORS * line.intercept_se;
    let outliers = line.rejected.len();
    [
        (slope_below < 0.0, Doubt::FallsWithPeriod(line.slope)),
        (
            slope_above > MOST_PERIODS,
            Doubt::TooManyPeriods(line.slope),
        ),
        (fixed_below < 0.0, Doubt::BeforeTheSound(line.intercept)),
        (
            fixed_above > LONGEST_FIXED_MS,
            Doubt::TooLong(line.intercept),
        ),
        (line.scale > WIDEST_SCATTER_MS, Doubt::Scattered(line.scale)),
        (
            outliers as f64 > MOST_OUTLIERS * answers as f64,
            Doubt::ManyOutliers { outliers, answers },
        ),
    ]
    .into_iter()
    .filter_map(|(is_so, doubt)| is_so.then_some(doubt))
    .collect()
}
