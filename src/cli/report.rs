//! `leadsman report`.

use super::logbook::{LogbookArgs, player};
use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::tempo_map::Speed;
use crate::units::Nanos;
use clap::Args;
use std::path::PathBuf;

/// `leadsman report`.
#[derive(Args, Debug)]
pub struct ReportArgs {
    /// The take: its number in the logbook, or a Standard MIDI File (.mid) [default: the latest in the logbook]
    #[arg(value_name = "TAKE")]
    pub take: Option<PathBuf>,
    /// A session in place of a take: its takes side by side
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["take", "line"])]
    pub session: Option<i64>,
    /// Without a take, the progress of this line: its file or its title. With a take in a file, the line that it is of
    /// [default: the one that the take names]
    #[arg(long, value_name = "LINE")]
    pub line: Option<String>,
    /// Whose [default: of whoever played last]
    #[arg(long, value_name = "NAME", value_parser = player())]
    pub player: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub logbook: LogbookArgs,
    /// Where to write the page [default: here, named after what it is of]
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
