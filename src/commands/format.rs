//! `leadsman format`: line files in the one layout.

use super::shared::mistakes_shown;
use super::{Failure, Outcome};
use crate::cli::FormatArgs;
use crate::draft::{self, Existing};
use crate::line::format::{FormatError, format};
use crate::line::read::read_text;
use std::io::{self, Read, Write};
use std::path::Path;

/// Runs the command. With `--check`, what is not in the layout is named and exit code 1 follows.
pub fn run(args: &FormatArgs) -> Outcome {
    let mut wrong = Vec::new();
    let mut untidy = Vec::new();
    for file in &args.files {
        match format_file(file, args.check) {
            Ok(Change::None) => {}
            Ok(Change::Wanted) => untidy.push(file.display().to_string()),
            Ok(Change::Made) => writeln!(io::stdout(), "formatted {}", file.display())?,
            Err(Failure::WrongInput(why)) => wrong.push(why),
            Err(other) => return Err(other),
        }
    }
    for file in &untidy {
        writeln!(io::stdout(), "not formatted: {file}")?;
    }
    if !wrong.is_empty() {
        return Err(Failure::WrongInput(wrong.join("\n\n")));
    }
    if !untidy.is_empty() {
        return Err(Failure::Untidy(format!(
            "{} not in the layout of leadsman format",
            match untidy.len() {
                1 => "1 file is".to_owned(),
                count => format!("{count} files are"),
            }
        )));
    }
    Ok(())
}

enum Change {
    None,
    Wanted,
    Made,
}

fn format_file(file: &Path, check: bool) -> Result<Change, Failure> {
    let stdin = file == Path::new("-");
    let (text, name) = if stdin {
        (read_stdin()?, "standard input".to_owned())
    } else {
        (
            read_text(file).map_err(Failure::input)?,
            file.display().to_string(),
        )
    };
    let formatted = format(&text, &name).map_err(|error| match error {
        FormatError::Mistakes(mistakes) => Failure::WrongInput(mistakes_shown(&mistakes)),
        other => Failure::input(other),
    })?;
    if stdin && !check {
        io::stdout().write_all(formatted.as_bytes())?;
        return Ok(Change::None);
    }
    match (formatted == text, check) {
        (true, _) => Ok(Change::None),
        (false, true) => Ok(Change::Wanted),
        (false, false) => {
            draft::write(file, &formatted, Existing::Replaced).map_err(|error| {
                Failure::input(format!("cannot write {}: {error}", file.display()))
            })?;
            Ok(Change::Made)
        }
    }
}

fn read_stdin() -> Result<String, Failure> {
    let mut bytes = Vec::new();
    io::stdin().read_to_end(&mut bytes)?;
    String::from_utf8(bytes).map_err(|_| Failure::input("standard input is not UTF-8 text"))
}
