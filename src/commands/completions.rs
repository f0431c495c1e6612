//! `leadsman completions`: what a shell needs to complete commands and options.

use super::Outcome;
use crate::cli::Cli;
use crate::cli::settings::CompletionsArgs;
use clap::CommandFactory;
use std::io::{self, Write};

/// Runs the command.
pub fn run(args: &CompletionsArgs) -> Outcome {
    // Written at once: the generator itself would panic where nobody reads on.
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "leadsman", &mut script);
    Ok(io::stdout().write_all(&script)?)
}
