//! The latencies that are kept, one for each pair of MIDI port and audio output, in one TOML file in leadsman's data
//! folder.
//!
//! The file is written whole: to a new file beside it, which is brought to the disk and then takes its place. A file
//! that cannot be read in full is never written over.

use crate::backend::Connected;
use crate::draft::{self, Existing};
use crate::judge::settings::Latency;
use crate::units::Nanos;
use etcetera::BaseStrategy;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// What the file begins with.
const HEAD: &str = "# What stands between finger and number, for each MIDI port and audio output.\n\
                    # Written by `leadsman latency`; `leadsman latency show` reads it out.\n\n";
/// The only version there is.
const VERSION: u32 = 1;

/// All of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kept {
    version: u32,
    /// In the order in which they were first kept.
    #[serde(default, rename = "port")]
    pub ports: Vec<KeptLatency>,
}

/// One of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptLatency {
    /// Through which sound and MIDI system, by its name on the command line.
    pub backend: String,
    /// The MIDI port's name.
    pub midi: String,
    /// The audio output's name.
    pub audio: String,
    /// The part that is the same for every key, in ms.
    pub fixed_ms: f64,
    /// Its standard error, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixed_se_ms: Option<f64>,
    /// Periods of the fundamental.
    pub periods: f64,
    /// Its standard error, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub periods_se: Option<f64>,
    /// How it was come by.
    pub method: Method,
    /// When, RFC 9557.
    pub date: String,
    /// What was connected then: rate and block length matter to what a system adds.
    pub through: String,
}

/// How a latency was come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Method {
    /// Headphone on the pickup.
    Measured,
    /// Open strings on the click: the player's own lean is in it.
    Tapped,
    /// Typed in.
    Given,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Method::Measured => "measured",
            Method::Tapped => "tapped, the player's own lean included",
            Method::Given => "given",
        })
    }
}

/// Why the file cannot be used.
#[derive(Debug, Error)]
pub enum KeptError {
    /// There is no data folder, or it cannot be reached.
    #[error("the latencies cannot be kept in {path}: {reason}")]
    Unreachable {
        /// Where.
        path: String,
        /// The system's words.
        reason: io::Error,
    },
    /// It is damaged.
    #[error(
        "{path} cannot be read, and is left as it is: {reason}\nmend that place, or move the file away and measure \
         again with `leadsman latency measure`"
    )]
    Damaged {
        /// Where.
        path: String,
        /// What is wrong with it, and where.
        reason: String,
    },
}

impl Default for Kept {
    fn default() -> Kept {
        Kept {
            version: VERSION,
            ports: Vec::new(),
        }
    }
}

impl KeptLatency {
    /// What is kept of a latency. `date` is RFC 9557.
    pub fn new(
        connected: &Connected,
        backend: &str,
        latency: Latency,
        method: Method,
        through: String,
        date: String,
    ) -> KeptLatency {
        KeptLatency {
            backend: backend.to_string(),
            midi: connected.midi.clone(),
            audio: connected.audio.clone(),
            fixed_ms: thousandths(latency.fixed.ms()),
            fixed_se_ms: latency.fixed_se.map(|se| thousandths(se.ms())),
            periods: thousandths(latency.periods),
            periods_se: latency.periods_se.map(thousandths),
            method,
            date,
            through,
        }
    }

    /// As the judge takes it.
    pub fn latency(&self) -> Latency {
        Latency {
            fixed: Nanos::from_ms_f64(self.fixed_ms),
            periods: self.periods,
            fixed_se: self.fixed_se_ms.map(Nanos::from_ms_f64),
            periods_se: self.periods_se,
        }
    }

    fn is_of(&self, backend: &str, connected: &Connected) -> bool {
        self.backend == backend && self.midi == connected.midi && self.audio == connected.audio
    }

    /// What is wrong with its numbers.
    fn mistake(&self) -> Option<String> {
        let within = |name: &str, value: f64, low: f64, high: f64| {
            let is_out = !(low..=high).contains(&value);
            is_out.then(|| {
                format!(
                    "{name} of \"{}\" is {value}, not within {low} to {high}",
                    self.midi
                )
            })
        };
        within("fixed_ms", self.fixed_ms, -60_000.0, 60_000.0)
            .or_else(|| within("periods", self.periods, 0.0, 60_000.0))
            .or_else(|| {
                within(
                    "fixed_se_ms",
                    self.fixed_se_ms.unwrap_or(0.0),
                    0.0,
                    60_000.0,
                )
            })
            .or_else(|| within("periods_se", self.periods_se.unwrap_or(0.0), 0.0, 60_000.0))
    }
}

impl Kept {
    /// The place in leadsman's data folder.
    pub fn place() -> Result<PathBuf, KeptError> {
        let folders = etcetera::choose_base_strategy().map_err(|error| KeptError::Unreachable {
            path: "leadsman's data folder".into(),
            reason: io::Error::other(error),
        })?;
        Ok(folders.data_dir().join("leadsman").join("latency.toml"))
    }

    /// Reads the file; one that is not there holds nothing.
    pub fn read(path: &Path) -> Result<Kept, KeptError> {
        let text = match fs::read(path) {
            Ok(bytes) => String::from_utf8(bytes).map_err(|_| damaged(path, "it is not text"))?,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Kept::default()),
            Err(error) => return Err(unreachable(path, error)),
        };
        let kept: Kept = toml::from_str(&text).map_err(|error| damaged(path, error))?;
        if kept.version != VERSION {
            let reason = format!(
                "its version is {}, and this leadsman knows {VERSION}",
                kept.version
            );
            return Err(damaged(path, reason));
        }
        let twice = kept.ports.iter().enumerate().find(|(index, port)| {
            let same = |other: &KeptLatency| {
                (&other.backend, &other.midi, &other.audio)
                    == (&port.backend, &port.midi, &port.audio)
            };
            kept.ports[..*index].iter().any(same)
        });
        if let Some((_, port)) = twice {
            return Err(damaged(path, format!("\"{}\" is in it twice", port.midi)));
        }
        match kept.ports.iter().find_map(KeptLatency::mistake) {
            Some(mistake) => Err(damaged(path, mistake)),
            None => Ok(kept),
        }
    }

    /// What is kept for a pair of ports.
    pub fn of(&self, backend: &str, connected: &Connected) -> Option<&KeptLatency> {
        self.ports
            .iter()
            .find(|port| port.is_of(backend, connected))
    }

    /// Keeps one, in the place of an older one for the same ports.
    pub fn set(&mut self, latency: KeptLatency) {
        let same = |port: &&mut KeptLatency| {
            (&port.backend, &port.midi, &port.audio)
                == (&latency.backend, &latency.midi, &latency.audio)
        };
        match self.ports.iter_mut().find(same) {
            Some(port) => *port = latency,
            None => self.ports.push(latency),
        }
    }

    /// Writes the file whole, or leaves the old one.
    pub fn write(&self, path: &Path) -> Result<(), KeptError> {
        let failed = |error| unreachable(path, error);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(failed)?;
        }
        let text = toml::to_string(self).map_err(|error| failed(io::Error::other(error)))?;
        draft::write(path, format!("{HEAD}{text}"), Existing::Replaced).map_err(failed)
    }
}

fn damaged(path: &Path, reason: impl fmt::Display) -> KeptError {
    KeptError::Damaged {
        path: path.display().to_string(),
        reason: reason.to_string().trim_end().to_string(),
    }
}

fn unreachable(path: &Path, reason: io::Error) -> KeptError {
    KeptError::Unreachable {
        path: path.display().to_string(),
        reason,
    }
}

/// To the microsecond, or a thousandth of a period.
fn thousandths(number: f64) -> f64 {
    (1000.0 * number).round() / 1000.0
}
