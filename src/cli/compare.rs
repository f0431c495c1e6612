//! The arguments of `leadsman compare`.

use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::tempo_map::Speed;
use clap::Args;
use std::path::PathBuf;

/// `leadsman compare`.
#[derive(Args, Debug)]
pub struct CompareArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    /// The players: a folder is a player with all takes in it, a single MIDI file one with one take
    #[arg(required = true, value_name = "PLAYER")]
    pub players: Vec<PathBuf>,
    /// Also compare section by section
    #[arg(long)]
    pub sections: bool,
    /// Print JSON (schema leadsman.compare/1) in place of text
    #[arg(long)]
    pub json: bool,
    /// Print a table for a spreadsheet, one row a player, in place of text
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Compare takes at this speed, in percent of the written tempo; takes from elsewhere count as played at it [default:
    /// the speed that most players have takes at; takes from elsewhere count as 100]
    #[arg(long, value_name = "PERCENT", value_parser = options::speed)]
    pub speed: Option<Speed>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub excerpt: ExcerptOptions,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub judging: JudgingOptions,
}
