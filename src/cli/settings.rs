//! `leadsman settings`, `leadsman completions` and `leadsman man`.

use clap::Args;
use clap_complete::Shell;
use std::path::PathBuf;

/// `leadsman settings`.
#[derive(Args, Debug)]
pub struct SettingsArgs {
    /// Only what is set for this command, such as play or latency measure [default: every command]
    #[arg(value_name = "COMMAND", conflicts_with = "write")]
    pub of: Vec<String>,
    /// Begin the file: every key with its help, commented out; one that is there is left alone
    #[arg(long)]
    pub write: bool,
}

/// `leadsman completions`.
#[derive(Args, Debug)]
pub struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    pub shell: Shell,
}

/// `leadsman man`.
#[derive(Args, Debug)]
pub struct ManArgs {
    /// The command, such as play or latency measure [default: leadsman itself]
    #[arg(value_name = "COMMAND", conflicts_with = "output")]
    pub of: Vec<String>,
    /// Write a page for each command into this folder, over those that are there
    #[arg(short, long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
}
