//! `leadsman progress`.

use super::logbook::{LogbookArgs, player};
use crate::commands::options;
use crate::expected::tempo_map::Speed;
use crate::line::bar_range::BarRange;
use clap::Args;
use std::path::PathBuf;

/// `leadsman progress`.
#[derive(Args, Debug)]
pub struct ProgressArgs {
    /// The line: its file or its title [default: all lines, a row each]
    #[arg(value_name = "LINE")]
    pub line: Option<String>,
    /// Whose progress [default: of whoever played last]
    #[arg(long, value_name = "NAME", value_parser = player())]
    pub player: Option<String>,
    /// Only takes at this speed, in percent of the written tempo
    #[arg(long, value_name = "PERCENT", value_parser = options::speed)]
    pub speed: Option<Speed>,
    /// Only takes of these bars, such as 5-8
    #[arg(long, value_name = "FIRST-LAST")]
    pub bars: Option<BarRange>,
    /// Tell it section by section and finding by finding as well
    #[arg(long)]
    pub all: bool,
    /// Print JSON (schema leadsman.progress/1) in place of text
    #[arg(long, group = "printed")]
    pub json: bool,
    /// Print a table, a row a measure and session, in place of text
    #[arg(long, group = "printed")]
    pub csv: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub logbook: LogbookArgs,
    /// Write a page to look at, in place of text
    #[arg(long, value_name = "FILE", group = "printed")]
    pub html: Option<PathBuf>,
    /// Replace a file that is there already
    #[arg(long, requires = "html")]
    pub force: bool,
}
