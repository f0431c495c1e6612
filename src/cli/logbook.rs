//! What every command that has to do with the logbook takes.

use clap::Args;
use std::path::PathBuf;

/// Which logbook.
#[derive(Args, Clone, Debug, Default)]
pub struct LogbookArgs {
    /// The logbook [default: logbook.sqlite in leadsman's data folder]
    #[arg(long, value_name = "FILE")]
    pub logbook: Option<PathBuf>,
}
