//! `leadsman logbook` and `leadsman rejudge`, and what every command that has to do with the logbook takes.

use crate::commands::options::JudgingOptions;
use clap::{ArgGroup, Args, Subcommand};
use std::path::PathBuf;

/// Which logbook.
#[derive(Args, Clone, Debug, Default)]
pub struct LogbookArgs {
    /// The logbook [default: logbook.sqlite in leadsman's data folder]
    #[arg(long, value_name = "FILE", global = true)]
    pub logbook: Option<PathBuf>,
}

/// `leadsman logbook`.
#[derive(Args, Debug)]
pub struct LogbookCommandArgs {
    /// What to do with it; without this, say what is in it.
    #[command(subcommand)]
    pub command: Option<LogbookCommand>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub which: LogbookArgs,
}

/// What can be done with a logbook.
#[derive(Subcommand, Debug)]
pub enum LogbookCommand {
    /// Bring the takes of other logbooks into one, none of them twice
    Merge(MergeArgs),
    /// Add takes that leadsman kept in files
    Add(AddArgs),
}

/// `leadsman logbook merge`.
#[derive(Args, Debug)]
pub struct MergeArgs {
    /// The logbook that takes come into
    pub into: PathBuf,
    /// Logbooks that they come from; these stay as they are
    #[arg(required = true)]
    pub from: Vec<PathBuf>,
    /// Whose the new takes are [default: as the other logbooks say]
    #[arg(long, value_name = "NAME", value_parser = player())]
    pub player: Option<String>,
}

/// `leadsman logbook add`.
#[derive(Args, Debug)]
pub struct AddArgs {
    /// The takes: files that `play` kept (.mid)
    #[arg(required = true, value_name = "TAKE")]
    pub takes: Vec<PathBuf>,
    /// The line that they were played to [default: the file that each take names]
    #[arg(long, value_name = "LINE")]
    pub line: Option<PathBuf>,
    /// Who played [default: whoever played last]
    #[arg(long, value_name = "NAME", value_parser = player())]
    pub player: Option<String>,
}

/// `leadsman rejudge`.
#[derive(Args, Debug)]
#[command(group = ArgGroup::new("which").required(true).multiple(false))]
pub struct RejudgeArgs {
    /// Takes by their numbers
    #[arg(value_name = "NUMBER", group = "which")]
    pub takes: Vec<i64>,
    /// All takes of this line, its file or its title
    #[arg(long, value_name = "LINE", group = "which")]
    pub line: Option<String>,
    /// All takes of this session
    #[arg(long, value_name = "NUMBER", group = "which")]
    pub session: Option<i64>,
    /// All takes
    #[arg(long, group = "which")]
    pub all: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub which: LogbookArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub judging: JudgingOptions,
}

/// A player's name: anything but nothing.
pub fn player() -> impl clap::builder::TypedValueParser<Value = String> {
    use clap::builder::TypedValueParser;
    clap::builder::NonEmptyStringValueParser::new().try_map(|name: String| {
        let name = name.trim().to_string();
        if name.is_empty() {
            return Err("a name is needed");
        }
        Ok(name)
    })
}
