//! `leadsman report`.

use super::check::TakeHowArgs;
use super::logbook::{LogbookArgs, player};
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
    #[command(flatten)]
    #[allow(missing_docs)]
    pub how: TakeHowArgs,
}
