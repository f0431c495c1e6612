//! Reports: what was heard, for a musician ([`text`]) and for a program ([`json`]).

mod astray;
pub mod bar_line;
mod command;
pub mod json;
pub mod latency;
mod own_time;
pub mod page;
#[cfg(test)]
pub(crate) mod sample;
mod section_table;
pub mod text;
pub mod trust;
pub mod words;
mod work_on;

use crate::expected::Expected;
use crate::findings::Finding;
use crate::findings::lean::Lean;
use crate::findings::self_paced::{SelfPaced, WhyNot};
use crate::findings::tempo::SectionTempo;
use crate::judge::by_section::SectionSum;
use crate::judge::convention::Convention;
use crate::judge::summary::Summary;
use crate::judge::{Judgement, Settings};
use crate::line::bar_range::BarRange;
use crate::units::Nanos;
use serde::Serialize;
use trust::Trust;

/// Everything a report is made from.
pub struct Checked<'a> {
    /// The line that was played to.
    pub line: LineFacts,
    /// The take.
    pub take: TakeFacts,
    /// What was expected.
    pub expected: &'a Expected,
    /// What was read.
    pub judgement: &'a Judgement,
    /// The settings it was read with.
    pub settings: &'a Settings,
    /// Its sums.
    pub summary: Summary,
    /// The transcription field's measure.
    pub convention: Convention,
    /// Its sums by section.
    pub sections: Vec<SectionSum>,
    /// Where the player sits against the click, where that can be told.
    pub lean: Option<Lean>,
    /// How each section's tempo was kept, and a new one taken.
    pub tempi: Vec<SectionTempo>,
    /// Clock and hand without the click, or why they are not told apart; `None` without silent bars.
    pub self_paced: Option<Result<SelfPaced, WhyNot>>,
    /// What to work on.
    pub findings: Vec<Finding>,
}

/// The line's head.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineFacts {
    /// Its title.
    pub title: String,
    /// Its file.
    pub file: String,
    /// Quarter notes a minute as written.
    pub tempo: f64,
    /// Percent of the written tempo.
    pub speed: f64,
    /// The bars that were played, where it was not all of the line.
    pub bars: Option<BarRange>,
    /// Expected notes.
    pub notes: usize,
    /// Where it is from.
    #[serde(skip)]
    pub source: LineSource,
}

/// Where a line is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineSource {
    /// The user's file.
    File,
    /// It comes with the program, and `demo` plays it without being given a file.
    BuiltIn,
}

/// The take's head.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TakeFacts {
    /// Its file; none while it has not been saved.
    pub file: Option<String>,
    /// Where in the take bar 1 beat 1 falls, in seconds.
    pub start_s: f64,
    /// Played notes.
    pub played: usize,
    /// How the start is known.
    #[serde(skip)]
    pub start_from: StartFrom,
    /// How far its milliseconds can be trusted; none for a take from elsewhere.
    pub trust: Option<Trust>,
}

/// How it is known where bar 1 beat 1 falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartFrom {
    /// The take carries it.
    Take,
    /// The user gave it.
    Given,
    /// Estimated from the notes.
    Notes,
    /// Estimated from the notes, then moved to the file's own beat.
    FileGrid,
}

/// Milliseconds with their sign, as a player reads them: `+12`, `-3`, `0`.
pub fn signed_ms(time: Nanos) -> String {
    let rounded = time.ms().round();
    if rounded == 0.0 {
        "0".into()
    } else {
        format!("{rounded:+.0}")
    }
}
