//! `leadsman takes` and `leadsman sessions`.

use super::logbook::LogbookArgs;
use crate::report::page::{Detail, Printed};
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// How many are listed where nothing else is asked for.
const LATEST: usize = 20;

/// `leadsman takes`.
#[derive(Args, Debug)]
pub struct TakesArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub logbook: LogbookArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub list: ListArgs,
    /// What to do [default: list]
    #[command(subcommand)]
    pub command: Option<TakesCommand>,
}

/// What `takes` does.
#[derive(Subcommand, Debug)]
pub enum TakesCommand {
    /// List takes, the latest last
    List(ListArgs),
    /// Read the report of a take, judged again from what was played
    Show(ShowArgs),
    /// Write a note about a take, or read it
    Note(NoteArgs),
    /// Write takes as files: MIDI, JSON or CSV
    Export(ExportArgs),
    /// Remove takes; `restore` brings them back
    Remove(RemoveArgs),
    /// Bring removed takes back
    Restore(RestoreArgs),
    /// Throw away for good what was removed, and give its room back
    Tidy(TidyArgs),
}

/// How many of a list.
#[derive(Args, Clone, Debug, Default, PartialEq, Eq)]
pub struct LatestArgs {
    /// Only the latest so many [default: 20; all of them with --json]
    #[arg(long, value_name = "COUNT", value_parser = count, conflicts_with = "all")]
    pub latest: Option<usize>,
    /// All of them
    #[arg(long)]
    pub all: bool,
}

impl LatestArgs {
    /// How many, where it is not all: a list that a program reads is whole unless it is asked for less.
    fn limit(&self, json: bool) -> Option<usize> {
        let usual = (!self.all && !json).then_some(LATEST);
        self.latest.or(usual)
    }
}

impl ListArgs {
    /// How many, where it is not all.
    pub fn limit(&self) -> Option<usize> {
        self.latest.limit(self.json)
    }
}

impl SessionListArgs {
    /// How many, where it is not all.
    pub fn limit(&self) -> Option<usize> {
        self.latest.limit(self.json)
    }
}

fn count(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(0) | Err(_) => Err("write a whole number from 1 on".into()),
        Ok(count) => Ok(count),
    }
}

/// `leadsman takes list`.
#[derive(Args, Clone, Debug, Default, PartialEq, Eq)]
pub struct ListArgs {
    /// Only takes of this line: its file, its title, or a piece of its title
    #[arg(long, value_name = "LINE")]
    pub line: Option<String>,
    /// Only takes of this player
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// Only takes of this session
    #[arg(long, value_name = "NUMBER", value_parser = number())]
    pub session: Option<i64>,
    /// The takes that were removed, in place of those that are there
    #[arg(long)]
    pub removed: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub latest: LatestArgs,
    /// Print JSON (schema leadsman.takes/1) in place of text
    #[arg(long)]
    pub json: bool,
}

/// `leadsman takes show`.
#[derive(Args, Debug)]
pub struct ShowArgs {
    /// The take's number
    #[arg(value_name = "TAKE", value_parser = number())]
    pub take: i64,
    /// Print everything: every finding, each note that went astray, what each bar came to
    #[arg(long)]
    pub all: bool,
    /// Print JSON (schema leadsman.check/1) in place of text
    #[arg(long)]
    pub json: bool,
}

impl ShowArgs {
    /// What is printed: JSON tells everything in any case.
    pub fn printed(&self) -> Printed {
        match (self.json, self.all) {
            (true, _) => Printed::Json,
            (false, true) => Printed::Text(Detail::All),
            (false, false) => Printed::Text(Detail::Brief),
        }
    }
}

/// `leadsman takes note` and `leadsman sessions note`.
#[derive(Args, Debug)]
pub struct NoteArgs {
    /// Its number
    #[arg(value_parser = number())]
    pub number: i64,
    /// What to write [default: read out what is written]
    #[arg(value_name = "TEXT")]
    pub text: Vec<String>,
    /// Take the note away
    #[arg(long, conflicts_with = "text")]
    pub remove: bool,
}

/// `leadsman takes export`.
#[derive(Args, Debug)]
pub struct ExportArgs {
    /// The takes' numbers
    #[arg(required = true, value_name = "TAKE", value_parser = number())]
    pub takes: Vec<i64>,
    /// The file to write, or for several takes the folder to write them into [default: take-NUMBER in the current folder]
    #[arg(short, long, value_name = "PATH")]
    pub output: Option<PathBuf>,
    /// What to write [default: as the file's name ends; else smf]
    #[arg(long, value_enum)]
    pub format: Option<ExportFormat>,
    /// Replace files that are there
    #[arg(long)]
    pub force: bool,
}

/// What a take is written as.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExportFormat {
    /// Standard MIDI File, byte for byte what a recording into a file would have been (.mid)
    Smf,
    /// What it was judged to be: schema leadsman.check/1 (.json)
    Json,
    /// The same as a table, a row for each expected note (.csv)
    Csv,
}

/// `leadsman takes remove`.
#[derive(Args, Debug)]
pub struct RemoveArgs {
    /// The takes' numbers
    #[arg(required = true, value_name = "TAKE", value_parser = number())]
    pub takes: Vec<i64>,
    /// Do not ask
    #[arg(long)]
    pub yes: bool,
}

/// `leadsman takes restore`.
#[derive(Args, Debug)]
pub struct RestoreArgs {
    /// The takes' numbers
    #[arg(required = true, value_name = "TAKE", value_parser = number())]
    pub takes: Vec<i64>,
}

/// `leadsman takes tidy`.
#[derive(Args, Debug)]
pub struct TidyArgs {
    /// Do not ask
    #[arg(long)]
    pub yes: bool,
}

/// `leadsman sessions`.
#[derive(Args, Debug)]
pub struct SessionsArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub logbook: LogbookArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub list: SessionListArgs,
    /// What to do [default: list]
    #[command(subcommand)]
    pub command: Option<SessionsCommand>,
}

/// What `sessions` does.
#[derive(Subcommand, Debug)]
pub enum SessionsCommand {
    /// List sessions, the latest last
    List(SessionListArgs),
    /// List a session's takes, and say what changed from the first to the last
    Show(SessionShowArgs),
    /// Write a note about a session, or read it
    Note(NoteArgs),
}

/// `leadsman sessions list`.
#[derive(Args, Clone, Debug, Default, PartialEq, Eq)]
pub struct SessionListArgs {
    /// Only sessions of this player
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub latest: LatestArgs,
    /// Print JSON (schema leadsman.sessions/1) in place of text
    #[arg(long)]
    pub json: bool,
}

/// `leadsman sessions show`.
#[derive(Args, Debug)]
pub struct SessionShowArgs {
    /// The session's number
    #[arg(value_name = "SESSION", value_parser = number())]
    pub session: i64,
    /// Print JSON (schema leadsman.sessions/1) in place of text
    #[arg(long)]
    pub json: bool,
}

/// Takes and sessions are counted from 1.
fn number() -> clap::builder::RangedI64ValueParser<i64> {
    clap::value_parser!(i64).range(1..)
}
