//! The take on disk: a Standard MIDI File with the player's raw events, and what it was played to.
//!
//! Events are kept as they came: octave, channel and latency are settings, applied again whenever the take is read.

use crate::clock::glitch::Glitch;
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use crate::judge::Settings;
use crate::line::bar_range::BarRange;
use crate::midi::smf::error::SmfError;
use crate::midi::smf::{self, SmfFile};
use crate::played::TimedMessage;
use crate::report::trust::{Measured, Way};
use crate::units::Nanos;
use serde::{Deserialize, Serialize};
use std::path::Path;

pub mod keeper;
pub mod place;
pub mod recording;

/// What a take says about itself, as JSON in a text event tagged [`smf::TAKE_TAG`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakeHead {
    /// Title of the line.
    pub line: String,
    /// Its file, as it was given.
    pub line_file: String,
    /// Thousandths of a percent.
    pub speed: u32,
    /// Bar 1 beat 1 in file time, nanoseconds.
    pub start_ns: i64,
    /// The bars of the line that were played, where it was not all of it; then `start_ns` is the first full one of them.
    #[serde(default)]
    pub bars: Option<BarRange>,
    /// Which bars went without the click.
    #[serde(default)]
    pub silent: Option<SilentBars>,
    /// What it was judged with.
    pub settings: Settings,
    /// Who played, and through what: a port's name, or the stand-in with its habits.
    pub player: String,
    /// Whether an instrument played, and not the stand-in. Of a take that does not say, the more doubtful is assumed.
    #[serde(default = "assumed")]
    pub has_port: bool,
    /// Whether there may have been a MIDI cable.
    #[serde(default = "assumed")]
    pub has_cable: bool,
    /// When it was begun, RFC 9557.
    pub begun: String,
}

fn assumed() -> bool {
    true
}

/// The tag of the text event at the end of a take.
pub const END_TAG: &str = "leadsman.end/1";

/// The tag of the text events that say where times were in doubt; a [`Glitch`] in file time. They are written as it
/// happens.
pub const GLITCH_TAG: &str = "leadsman.glitch/1";

/// The tag of the text event that says how a take was started, where it was not by counting in; a [`TakeStart`].
pub const START_TAG: &str = "leadsman.start/1";

/// What a take says about its start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TakeStart {
    /// What told when bar 1 is.
    pub by: StartedBy,
}

/// What tells when bar 1 is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StartedBy {
    /// The click, which was there before the player.
    #[default]
    Click,
    /// The player's first note, which has no offset therefore; the click came after it.
    FirstNote,
}

/// What a take says about its end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TakeEnd {
    /// When it was stopped before the line was over, in nanoseconds since bar 1 beat 1.
    pub stopped_ns: Option<i64>,
    /// How well the clocks knew the times of events: root mean square of one standard deviation each, in nanoseconds.
    pub residual_ns: i64,
    /// Audio blocks that came too late.
    pub xruns: u64,
    /// Events that were lost because a ring was full.
    pub overflows: u64,
    /// Events whose time was moved up because they came too late.
    pub moved: u64,
}

impl TakeEnd {
    /// What is kept of how a take ended.
    pub fn of(end: &crate::live::End) -> TakeEnd {
        TakeEnd {
            stopped_ns: end.stopped.map(|at| at.0),
            residual_ns: end.residual.0,
            xruns: end.counters.xruns,
            overflows: end.counters.overflows,
            moved: end.counters.moved,
        }
    }

    /// What is said of how well the take was measured.
    pub fn measured(&self) -> Measured {
        Measured {
            residual: Nanos(self.residual_ns),
            xruns: self.xruns,
            lost: self.overflows,
            moved: self.moved,
        }
    }
}

/// A take read back.
pub struct Take {
    /// Everything that came from the player, in file time, in order.
    pub events: Vec<TimedMessage>,
    /// What it says about itself, if leadsman made it.
    pub head: Option<TakeHead>,
    /// What it says about its start.
    pub start: TakeStart,
    /// What it says about its end, if it came to one.
    pub end: Option<TakeEnd>,
    /// Where times were in doubt, in file time, in the order in which it was noticed.
    pub glitches: Vec<Glitch>,
    /// What was lost of the file, in words.
    pub damage: Vec<String>,
    /// The file's own beats, for takes from elsewhere: see [`FileGrid`].
    pub grid: FileGrid,
}

/// The file's own tempo, where it states one throughout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FileGrid {
    /// Microseconds a quarter, if the file names exactly one tempo, from its start on.
    pub micros_per_quarter: Option<u32>,
}

impl Take {
    /// Reads a take, ours or from elsewhere.
    pub fn read(path: &Path) -> Result<Take, SmfError> {
        Ok(Take::of(&smf::read_file(path)?))
    }

    /// The take that a file holds.
    pub fn of(file: &SmfFile) -> Take {
        let head = file
            .take_json()
            .and_then(|json| serde_json::from_str(json).ok());
        let end = file
            .tagged(END_TAG)
            .and_then(|json| serde_json::from_str(json).ok());
        let start = file
            .tagged(START_TAG)
            .and_then(|json| serde_json::from_str(json).ok());
        Take {
            start: start.unwrap_or_default(),
            events: file.messages(),
            head,
            end,
            glitches: file
                .all_tagged(GLITCH_TAG)
                .filter_map(|json| serde_json::from_str(json).ok())
                .collect(),
            damage: damage(file),
            grid: FileGrid::of(file),
        }
    }
}

impl TakeHead {
    /// The speed it was played at.
    pub fn speed(&self) -> Speed {
        Speed(self.speed)
    }

    /// What came between the player and us.
    pub fn way(&self) -> Way {
        if self.has_port {
            Way::Port {
                has_cable: self.has_cable,
            }
        } else {
            Way::Direct
        }
    }

    /// Bar 1 beat 1 in file time.
    pub fn start(&self) -> Nanos {
        Nanos(self.start_ns)
    }
}

impl FileGrid {
    /// How close an estimated start must be to a beat of the file to be set on it.
    const NEAR: Nanos = Nanos::from_ms(50);

    fn of(file: &SmfFile) -> FileGrid {
        let named = file
            .tempi
            .iter()
            .filter(|change| change.source == smf::TempoSource::File);
        let mut values: Vec<u32> = named.map(|change| change.micros_per_quarter).collect();
        values.dedup();
        let from_start = file
            .tempi
            .first()
            .is_some_and(|first| first.source == smf::TempoSource::File);
        FileGrid {
            micros_per_quarter: (values.len() == 1 && from_start).then(|| values[0]),
        }
    }

    /// The beat of the file next to an estimated start, if the file's tempo is the line's and the beat is near. A
    /// take that was recorded to a grid keeps the player's lean that way.
    pub fn snap(&self, start: Nanos, quarters_per_minute: f64) -> Option<Nanos> {
        let quarter = f64::from(self.micros_per_quarter?) * 1000.0;
        let of_line = 60e9 / quarters_per_minute;
        if (quarter / of_line - 1.0).abs() > 5e-4 {
            return None;
        }
        let beat = Nanos(((start.0 as f64 / quarter).round() * quarter) as i64);
        ((beat - start).abs() <= FileGrid::NEAR).then_some(beat)
    }
}

fn damage(file: &SmfFile) -> Vec<String> {
    file.damage.iter().map(ToString::to_string).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_that_does_not_say_what_came_between_is_doubted() {
        let head = TakeHead {
            line: "Two Bells".into(),
            line_file: "two.toml".into(),
            speed: 100_000,
            start_ns: 0,
            bars: None,
            silent: None,
            settings: Settings::default(),
            player: "a port".into(),
            has_port: false,
            has_cable: false,
            begun: "2026-01-01T00:00:00Z".into(),
        };
        let mut json = serde_json::to_value(&head).expect("JSON");
        assert_eq!(head.way(), Way::Direct);
        let fields = json.as_object_mut().expect("an object");
        assert!(fields.remove("has_port").is_some() && fields.remove("has_cable").is_some());
        assert!(fields.remove("bars").is_some() && fields.remove("silent").is_some());
        let older: TakeHead = serde_json::from_value(json).expect("a head");
        assert_eq!(older.way(), Way::Port { has_cable: true });
        assert_eq!((older.bars, older.silent), (None, None));
    }
}
