//! `leadsman show`.

use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::tempo_map::Speed;
use crate::page::{Passes, RowKind};
use crate::units::Nanos;
use clap::{ArgGroup, Args, ValueEnum};
use std::path::PathBuf;
use std::str::FromStr;

/// `leadsman show`.
#[derive(Args, Debug)]
#[command(group = ArgGroup::new("file").multiple(true))]
pub struct ShowArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    /// A take of it: a Standard MIDI File (.mid), judged as `check` does
    #[arg(long, value_name = "FILE")]
    pub take: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub excerpt: ExcerptOptions,
    /// Which time through repeated sections, or all [default: 1; with a take all]
    #[arg(long, value_name = "N|all")]
    pub pass: Option<PassChoice>,
    /// Speed, in percent of the written tempo [default: 100; as the take says]
    #[arg(long, value_name = "PERCENT", value_parser = options::speed)]
    pub speed: Option<Speed>,
    /// Rows to leave out, such as degree,stroke
    #[arg(long, value_name = "ROWS", value_enum, value_delimiter = ',')]
    pub without: Vec<RowName>,
    /// Write a page to print, staff notation with tablature, in place of showing it here
    #[arg(long, value_name = "FILE", group = "file")]
    pub html: Option<PathBuf>,
    /// Write the same as a drawing
    #[arg(long, value_name = "FILE", group = "file")]
    pub svg: Option<PathBuf>,
    /// Replace a file that is there already
    #[arg(long, requires = "file")]
    pub force: bool,
    /// Where in the take bar 1 beat 1 falls, in seconds [default: as the take says, else estimated]
    #[arg(long, value_name = "SECONDS", requires = "take", allow_negative_numbers = true, value_parser = options::seconds)]
    pub start: Option<Nanos>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub judging: JudgingOptions,
}

/// [`Passes`] as they are typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PassChoice(pub Passes);

impl FromStr for PassChoice {
    type Err = String;

    fn from_str(text: &str) -> Result<PassChoice, String> {
        if text == "all" {
            return Ok(PassChoice(Passes::All));
        }
        let number = text.parse().ok().filter(|pass| *pass > 0);
        let pass = number.ok_or("must be the number of a pass, from 1, or all")?;
        Ok(PassChoice(Passes::One(pass)))
    }
}

/// Rows that can be left out.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum RowName {
    Chord,
    Count,
    Mark,
    Note,
    Degree,
    Finger,
    Stroke,
}

impl RowName {
    /// What it names.
    pub fn kind(self) -> RowKind {
        match self {
            RowName::Chord => RowKind::Chord,
            RowName::Count => RowKind::Count,
            RowName::Mark => RowKind::Mark,
            RowName::Note => RowKind::Note,
            RowName::Degree => RowKind::Degree,
            RowName::Finger => RowKind::Finger,
            RowName::Stroke => RowKind::Stroke,
        }
    }
}
