//! The arguments of `leadsman check`.

use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::tempo_map::Speed;
use crate::report::page::Detail;
use crate::units::Nanos;
use clap::Args;
use std::path::PathBuf;

/// `leadsman check`.
#[derive(Args, Debug)]
pub struct CheckArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    /// The takes: Standard MIDI Files (.mid), or folders of them; several are told in a row each
    #[arg(required = true, value_name = "TAKE")]
    pub takes: Vec<PathBuf>,
    /// Print JSON (schema leadsman.check/1) in place of text; of several takes one document a line
    #[arg(long)]
    pub json: bool,
    /// With --json: leave out what is told of each single note (schema leadsman.check-summary/1)
    #[arg(long, requires = "json")]
    pub summary: bool,
    /// Print a table for a spreadsheet, one row a take, in place of text
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Print everything: every finding, each note that went astray, what each bar came to
    #[arg(long)]
    pub all: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub how: TakeHowArgs,
}

/// How a take in a file is judged.
#[derive(Args, Debug)]
pub struct TakeHowArgs {
    /// Where in the take bar 1 beat 1 falls, in seconds [default: as the take says, else estimated]
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true, value_parser = options::seconds)]
    pub start: Option<Nanos>,
    /// Speed it was played at, in percent of the written tempo [default: as the take says, else 100]
    #[arg(long, value_name = "PERCENT", value_parser = options::speed)]
    pub speed: Option<Speed>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub excerpt: ExcerptOptions,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub judging: JudgingOptions,
}

/// What `check` prints.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CheckFormat {
    /// For a musician.
    Text(Detail),
    /// Everything, for a program.
    Json,
    /// Everything but the single notes, for a program.
    JsonSummary,
    /// A row a take, for a spreadsheet.
    Csv,
}

impl CheckArgs {
    /// What is printed; JSON and CSV tell everything in any case.
    pub fn format(&self) -> CheckFormat {
        match (self.json, self.summary, self.csv) {
            (true, true, _) => CheckFormat::JsonSummary,
            (true, false, _) => CheckFormat::Json,
            (false, _, true) => CheckFormat::Csv,
            (false, _, false) if self.all => CheckFormat::Text(Detail::All),
            (false, _, false) => CheckFormat::Text(Detail::Brief),
        }
    }
}
