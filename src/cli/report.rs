//! `leadsman report`.

use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::tempo_map::Speed;
use crate::units::Nanos;
use clap::Args;
use std::path::PathBuf;

/// `leadsman report`.
#[derive(Args, Debug)]
pub struct ReportArgs {
    /// The take: a Standard MIDI File (.mid), judged as `check` does
    pub take: PathBuf,
    /// The line: a TOML file [default: the one that the take names]
    #[arg(long, value_name = "FILE")]
    pub line: Option<PathBuf>,
    /// Where to write the page [default: here, named after the take]
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the file that is there
    #[arg(long)]
    pub force: bool,
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
