//! A take that is over.

use super::sheet::Sheet;
use crate::commands::keeping::Kept;
use crate::commands::shared;
use crate::expected::Expected;
use crate::judge::{Judgement, Settings};
use crate::live::{End, Over};
use crate::practice::How;
use crate::report::trust::{Trust, Way};
use crate::report::{Checked, LineFacts, StartFrom, TakeFacts};
use crate::take::TakeEnd;
use crate::units::Nanos;
use std::rc::Rc;

/// A take while it is played: what is known of it besides what is heard.
pub struct OnStage {
    /// What is played.
    pub sheet: Rc<Sheet>,
    /// How it is judged.
    pub settings: Settings,
    /// Bar 1 beat 1 in file time.
    pub start: Nanos,
    /// The way notes come.
    pub way: Way,
    /// Where it is kept.
    pub kept: Kept,
    /// Whether bar 1 has its place.
    pub is_begun: bool,
}

/// A take that was played, whole or up to where it was stopped.
pub struct PlayedTake {
    /// Where it is kept.
    pub kept: Kept,
    /// How it ended.
    pub end: End,
    /// Whether all of it is on the disk; else why not.
    pub whole: Result<(), String>,
    line: LineFacts,
    take: TakeFacts,
    expected: Expected,
    judgement: Judgement,
    settings: Settings,
}

impl PlayedTake {
    /// Adds up what came of it.
    pub fn of(stage: OnStage, over: Over) -> PlayedTake {
        let (mut judgement, end) = (over.played.judgement, over.played.end);
        let mut expected = (*stage.sheet.expected).clone();
        if let Some(stopped) = end.stopped {
            shared::end_at(stopped, &mut expected, &mut judgement);
        }
        let measured = Some(TakeEnd::of(&end).measured());
        let latency = &stage.settings.latency;
        let take = TakeFacts {
            file: stage
                .kept
                .file
                .as_ref()
                .map(|file| file.display().to_string()),
            start_s: stage.start.seconds(),
            played: judgement.played.len(),
            start_from: StartFrom::Take,
            trust: Some(Trust::new(
                measured, stage.way, latency, &expected, &judgement,
            )),
        };
        PlayedTake {
            line: LineFacts {
                notes: expected.notes.len(),
                ..stage.sheet.facts.clone()
            },
            take,
            expected,
            judgement,
            settings: stage.settings,
            kept: stage.kept,
            end,
            whole: over.kept,
        }
    }

    /// Everything that is said of it.
    pub fn checked(&self) -> Checked<'_> {
        let (line, take) = (self.line.clone(), self.take.clone());
        shared::check(line, take, &self.expected, &self.judgement, &self.settings)
    }

    /// How it ended.
    pub fn how(&self) -> How {
        match self.end.stopped {
            None => How::Whole,
            Some(_) => How::Stopped,
        }
    }

    /// Whether nothing was heard.
    pub fn is_silent(&self) -> bool {
        self.judgement.played.is_empty()
    }

    /// Whether it was stopped before anything was heard: it is no take at all.
    pub fn is_nothing(&self) -> bool {
        self.is_silent() && self.how() == How::Stopped
    }

    /// What it was judged to be.
    pub fn judged(&self) -> (&Expected, &Judgement, &Settings) {
        (&self.expected, &self.judgement, &self.settings)
    }
}
