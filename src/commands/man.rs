//! `leadsman man`: a manual page a command.

use super::{Failure, Outcome};
use crate::cli::Cli;
use crate::cli::settings::ManArgs;
use crate::draft::{self, Existing};
use clap::{Command, CommandFactory};
use clap_mangen::Man;
use std::io::{self, Write};
use std::path::Path;

/// Runs the command.
pub fn run(args: &ManArgs) -> Outcome {
    let mut program = Cli::command().disable_help_subcommand(true);
    // So that each command has its whole name, `leadsman latency measure`.
    program.build();
    match &args.output {
        Some(folder) => write_all(&program, folder),
        None => {
            let command = find(&program, &args.of)?;
            Ok(io::stdout().write_all(&page(command)?)?)
        }
    }
}

fn find<'c>(program: &'c Command, names: &[String]) -> Result<&'c Command, Failure> {
    let found = names.iter().try_fold(program, |command, name| {
        command.find_subcommand(name.as_str())
    });
    found.ok_or_else(|| Failure::input(format!("there is no command `{}`", names.join(" "))))
}

/// In roff.
fn page(command: &Command) -> io::Result<Vec<u8>> {
    let mut page = Vec::new();
    Man::new(command.clone()).render(&mut page)?;
    Ok(page)
}

fn write_all(program: &Command, folder: &Path) -> Outcome {
    let cannot = |path: &Path, error: io::Error| {
        Failure::input(format!("cannot write {}: {error}", path.display()))
    };
    std::fs::create_dir_all(folder).map_err(|error| cannot(folder, error))?;
    let mut pages = Vec::new();
    collect(program, &mut pages);
    for command in &pages {
        let path = folder.join(Man::new((*command).clone()).get_filename());
        page(command)
            .and_then(|page| draft::write(&path, page, Existing::Replaced))
            .map_err(|error| cannot(&path, error))?;
    }
    let (count, folder) = (pages.len(), folder.display());
    Ok(writeln!(io::stdout(), "{count} pages in {folder}")?)
}

fn collect<'c>(command: &'c Command, pages: &mut Vec<&'c Command>) {
    pages.push(command);
    let below = command
        .get_subcommands()
        .filter(|below| !below.is_hide_set());
    below.for_each(|below| collect(below, pages));
}
