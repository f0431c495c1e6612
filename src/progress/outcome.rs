//! All that is said of a history: the shape of `leadsman.progress/1`.
//!
//! Values are as they are shown: ms, ratios, shares from 0 to 1, percent for speeds. Times are ms since 1970, UTC.

use super::history::Footing;
use super::measure::{Measure, Scale};
use crate::line::bar_range::BarRange;
use serde::Serialize;

/// Progress on one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Progress {
    /// Takes of the line, on all footings.
    pub takes: usize,
    /// Sessions in which it was played.
    pub sessions: usize,
    /// Bars and speeds that it was played at, the one played last first.
    pub footings: Vec<FootingSum>,
    /// What everything below rests on; null where there are no takes.
    pub basis: Option<Basis>,
    /// The whole of what was played.
    pub measures: Vec<MeasureProgress>,
    /// By section of the line.
    pub sections: Vec<SectionProgress>,
    /// Findings that were told in any of the takes, the one that hurts most lately first.
    pub findings: Vec<FindingProgress>,
    /// The highest speed held clean, by bars: all of the line first.
    pub clean: Vec<CleanSpeed>,
    /// What came over a night against what came within a session, for the spread.
    pub gains: Told<Gains>,
    /// The learning curve of the spread, and what it predicts.
    pub curve: Told<Curve>,
}

/// Something that can be said, or why it cannot.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Told<T> {
    /// It can.
    Known(T),
    /// It cannot.
    NotYet(WhyNot),
}

/// Why something cannot be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum WhyNot {
    /// No take says anything about it: no entries in the line, no swing.
    NothingHeard,
    /// Too few sessions say something about it.
    FewSessions {
        /// There are so many.
        have: usize,
        /// It takes so many.
        need: usize,
    },
    /// Too few sessions have two takes or more.
    FewLongSessions {
        /// There are so many.
        have: usize,
        /// It takes so many.
        need: usize,
    },
    /// Speed and time rose together: what is owed to which cannot be told.
    SpeedRoseWithTime,
    /// It is told of one speed only.
    SeveralSpeeds,
    /// The spread shows no fall that stands out from its chance: there is no curve to draw.
    NoFall,
    /// It falls in as good as a straight line so far: where it will level off cannot be told.
    NoBendYet,
}

/// One footing, and how much was played on it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FootingSum {
    /// Bars and speed.
    #[serde(flatten)]
    pub footing: Footing,
    /// Its takes.
    pub takes: usize,
    /// Its sessions.
    pub sessions: usize,
    /// When it was played last.
    pub last_ms: i64,
}

/// What the statements rest on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Basis {
    /// The bars; null: all of the line.
    pub bars: Option<BarRange>,
    /// The speed, or the speeds.
    #[serde(flatten)]
    pub speed: SpeedBasis,
    /// Takes.
    pub takes: usize,
    /// Sessions; changes are told of the latest [`super::change::SESSIONS`] of them at most.
    pub sessions: usize,
    /// Takes that were left out: they ended before half of the notes.
    pub left_out: usize,
}

/// How the speed is dealt with.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "how")]
pub enum SpeedBasis {
    /// All takes are at one speed.
    Same {
        /// Percent of the written tempo.
        speed: u32,
    },
    /// The logarithm of the speed stands beside the time in the model; values are told for one speed.
    Modelled {
        /// The slowest, percent.
        slowest: u32,
        /// The fastest, percent.
        fastest: u32,
        /// The speed that values are told for, percent: that of the latest take.
        speed: u32,
    },
}

/// One measure from session to session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasureProgress {
    /// Which.
    pub measure: Measure,
    /// One point a session that says something about it, the earliest first.
    pub points: Vec<Point>,
    /// What became of it.
    pub change: Told<Change>,
}

/// One session's value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// The session's number.
    pub session: i64,
    /// When it began.
    pub begun_ms: i64,
    /// Takes behind it.
    pub takes: usize,
    /// The value.
    pub value: f64,
    /// 95 % interval of what the player did in this session, from notes and takes; the day's own chance is not in it.
    pub interval: [f64; 2],
}

/// A change over time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Change {
    /// How much is a factor or a difference.
    pub scale: Scale,
    /// The value at the first session, by the line through all of them.
    pub from: f64,
    /// The value at the last session, by the same line.
    pub to: f64,
    /// How much it changed.
    pub change: f64,
    /// The 95 % interval of that.
    pub interval: [f64; 2],
    /// How likely chance alone shows as much when nothing changes (p, for this question alone).
    pub chance: f64,
    /// What is to be said.
    pub verdict: Verdict,
    /// The smallest change that would have stood out, better and worse: the minimal detectable change at 95 %, of one
    /// question, over so many sessions with this noise.
    pub detectable: [f64; 2],
    /// The smallest change between two takes that means more than chance: [`super::detectable`].
    pub detectable_takes: [f64; 2],
    /// Sessions it rests on.
    pub sessions: usize,
    /// Takes it rests on.
    pub takes: usize,
    /// When the first of them began.
    pub from_ms: i64,
    /// When the last of them began.
    pub to_ms: i64,
}

/// What is to be said of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It changed beyond chance, for the better.
    Better,
    /// It changed beyond chance, for the worse.
    Worse,
    /// It changed beyond chance, to something neither better nor worse: a lean, or from too early to as much too late.
    Moved,
    /// No change stands out from the chance of takes and days.
    NoChange,
}

/// A section from session to session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionProgress {
    /// Its name.
    pub name: String,
    /// Its bars.
    pub bars: BarRange,
    /// Its measures, those that anything was heard of.
    pub measures: Vec<MeasureProgress>,
}

/// A finding from session to session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingProgress {
    /// Its id.
    pub id: String,
    /// One point a session, also of those in which it was not told.
    pub points: Vec<FindingPoint>,
    /// How the share of takes in which it was told changed.
    pub change: Told<Change>,
}

/// A finding in one session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FindingPoint {
    /// The session's number.
    pub session: i64,
    /// When it began.
    pub begun_ms: i64,
    /// Takes in which it was told.
    pub told: usize,
    /// Takes.
    pub takes: usize,
    /// Notes that showed it, of those that could, in the takes that told it.
    pub notes: [u32; 2],
    /// The mean of its size in ms, where it has one.
    pub mean_ms: Option<f64>,
}

/// The highest speed that bars were held clean at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CleanSpeed {
    /// The bars; null: all of the line.
    pub bars: Option<BarRange>,
    /// The highest speed at which two takes in a row were clean, percent of the written tempo.
    pub held: Option<u32>,
    /// When it was held first.
    pub since_ms: Option<i64>,
    /// The highest speed at which any take was clean.
    pub once: Option<u32>,
    /// The highest speed tried.
    pub tried: u32,
    /// The highest speed of a clean take, session by session, and how many takes there were.
    pub points: Vec<CleanPoint>,
}

/// The highest clean speed of one session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CleanPoint {
    /// The session's number.
    pub session: i64,
    /// When it began.
    pub begun_ms: i64,
    /// Takes of these bars.
    pub takes: usize,
    /// The highest speed of a clean one, percent.
    pub clean: Option<u32>,
}

/// Gains of the spread: how many percent of it went. Negative where it grew.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gains {
    /// From the first take of a session to its last.
    pub within: Gain,
    /// From the last take of a session to the first of the next, a night between.
    pub overnight: Gain,
    /// How much more came overnight than within a session.
    pub difference: Gain,
}

/// How much came, on average.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gain {
    /// Percent of the spread that went; negative: it grew.
    pub percent: f64,
    /// The 95 % interval.
    pub interval: [f64; 2],
    /// How many sessions or nights say so.
    pub of: usize,
}

/// A learning curve `floor + gap · exp(−rate · takes)`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Curve {
    /// What the spread comes down to in the end, ms.
    pub floor_ms: Fitted,
    /// Takes in which half of what is left to gain goes.
    pub halved_in_takes: Fitted,
    /// The spread by the curve at the first session and at the last one, ms.
    pub from_to_ms: [f64; 2],
    /// Takes a session, lately: what the predictions go by.
    pub takes_a_session: f64,
    /// What it predicts, the nearest first.
    pub predictions: Vec<Prediction>,
    /// Sessions that it rests on.
    pub sessions: usize,
    /// Takes before each session and the curve there, to be drawn: (session, takes, ms).
    pub points: Vec<(i64, f64, f64)>,
}

/// A number of the curve with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fitted {
    /// The best one.
    pub best: f64,
    /// The interval; null at an end that the takes leave open.
    pub interval: [Option<f64>; 2],
}

/// What the curve says of later.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Prediction {
    /// In so many sessions.
    pub sessions: u32,
    /// The spread that the curve comes to, ms.
    pub level_ms: Fitted,
    /// The interval that a session's own spread falls into with 95 %: the day's chance is in it.
    pub session_ms: [f64; 2],
}
