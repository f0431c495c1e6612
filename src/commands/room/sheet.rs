//! A take as it lies on the stand: the bars, the click, how it begins.

use crate::click::ClickTrack;
use crate::commands::excerpting::Played;
use crate::commands::{Failure, shared};
use crate::expected::Expected;
use crate::judge::Settings;
use crate::line::Line;
use crate::midi::conductor::Conductor;
use crate::practice::announce::{Announcement, announcements};
use crate::practice::{NextTake, Start};
use crate::report::{LineFacts, LineSource};
use crate::take::recording::conduct;
use crate::take::{StartedBy, TakeHead};
use crate::units::Nanos;
use std::sync::Arc;

/// Silence before the first click: time to let go of the keyboard.
pub const LEAD: Nanos = Nanos::from_ms(1000);

/// The line that is practised.
pub struct About {
    /// All of it.
    pub line: Line,
    /// Its file, as it was given.
    pub file: String,
    /// Where it comes from.
    pub source: LineSource,
    /// How takes of it are judged.
    pub settings: Settings,
}

/// See the module's head.
pub struct Sheet {
    /// What was asked for.
    pub take: NextTake,
    /// The bars, as a line of their own.
    pub line: Arc<Line>,
    /// What is expected.
    pub expected: Arc<Expected>,
    /// Where the click sounds, count-in included.
    pub clicks: ClickTrack,
    /// What changes on the way.
    pub announcements: Vec<Announcement>,
    /// The head of its report.
    pub facts: LineFacts,
}

impl Sheet {
    /// Lays a take out.
    pub fn of(take: NextTake, about: &About) -> Result<Sheet, Failure> {
        let (line, expected) = take.unrolled(&about.line).map_err(Failure::input)?;
        let bars = take.part.bars();
        let clicks =
            ClickTrack::subdivided(&expected, count_in(take.start), take.click, take.between);
        let played = Played { line, bars };
        let facts = LineFacts {
            source: about.source,
            ..shared::line_facts(&played, &about.file, take.speed, &expected)
        };
        Ok(Sheet {
            announcements: announcements(&played.line, &expected),
            line: Arc::new(played.line),
            expected: Arc::new(expected),
            clicks,
            facts,
            take,
        })
    }

    /// Whether the same is played, as fast, with the click in the same bars.
    pub fn is_same_music(&self, other: &Sheet) -> bool {
        let all = |sheet: &Sheet| (sheet.take.part.clone(), sheet.take.speed, sheet.take.silent);
        all(self) == all(other)
    }

    /// Bars counted in.
    pub fn count_in(&self) -> u32 {
        count_in(self.take.start)
    }

    /// What tells when bar 1 is.
    pub fn started_by(&self) -> StartedBy {
        match self.take.start {
            Start::CountedIn(_) => StartedBy::Click,
            Start::WithFirstNote => StartedBy::FirstNote,
        }
    }

    /// From the first sound to the last, about.
    pub fn length(&self) -> Nanos {
        LEAD - self.clicks.start().min(Nanos::ZERO) + self.expected.end
    }

    /// Lays the take's file out, and completes its head.
    pub fn conducted(&self, head: &mut TakeHead) -> Result<Conductor, Failure> {
        conduct(&self.expected, self.count_in(), head).map_err(Failure::input)
    }
}

fn count_in(start: Start) -> u32 {
    match start {
        Start::CountedIn(bars) => bars,
        Start::WithFirstNote => 0,
    }
}
