//! `leadsman takes export`.

use super::super::line_file::{self, Existing};
use super::super::{Failure, Outcome};
use super::list::complete_or_say;
use super::show::judge_again;
use super::{each_once, failed, finished};
use crate::cli::takes::{ExportArgs, ExportFormat};
use crate::logbook::Logbook;
use crate::report::{json, takes_csv};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Runs the command.
pub fn run(args: &ExportArgs, mut logbook: Logbook) -> Outcome {
    let numbers = each_once(&args.takes);
    for number in &numbers {
        finished(&logbook, *number)?;
    }
    let place = Place::of(args, numbers.len())?;
    let format = format(args, &place)?;
    let files: Vec<PathBuf> = numbers
        .iter()
        .map(|number| place.file(*number, format))
        .collect();
    // All or none, as far as that can be known before.
    if let Some(there) = files.iter().find(|file| !args.force && is_there(file)) {
        return Err(Failure::input(format!(
            "{} is there already: --force replaces it",
            there.display()
        )));
    }
    if format != ExportFormat::Smf {
        complete_or_say(&mut logbook);
    }
    place.prepare()?;
    for (number, file) in numbers.iter().zip(&files) {
        let content = content(&logbook, *number, format)?;
        line_file::write(file, content, Existing::forced(args.force))?;
        writeln!(io::stdout(), "{} written", file.display())?;
    }
    Ok(())
}

/// Where takes are written.
enum Place {
    File(PathBuf),
    Folder(PathBuf),
}

impl Place {
    fn of(args: &ExportArgs, takes: usize) -> Result<Place, Failure> {
        let Some(output) = &args.output else {
            return Ok(Place::Folder(PathBuf::new()));
        };
        let is_named_so = output.as_os_str().as_encoded_bytes().ends_with(b"/");
        if output.is_dir() || is_named_so {
            return Ok(Place::Folder(output.clone()));
        }
        if takes == 1 {
            return Ok(Place::File(output.clone()));
        }
        if output.exists() || output.extension().is_some() {
            return Err(Failure::input(format!(
                "{} is one file, and there are {takes} takes: name a folder",
                output.display()
            )));
        }
        Ok(Place::Folder(output.clone()))
    }

    fn file(&self, take: i64, format: ExportFormat) -> PathBuf {
        let end = match format {
            ExportFormat::Smf => "mid",
            ExportFormat::Json => "json",
            ExportFormat::Csv => "csv",
        };
        match self {
            Place::File(file) => file.clone(),
            Place::Folder(folder) => folder.join(format!("take-{take}.{end}")),
        }
    }

    fn prepare(&self) -> Outcome {
        match self {
            Place::Folder(folder) if *folder != Path::new("") => fs::create_dir_all(folder)
                .map_err(|error| {
                    Failure::input(format!("cannot make {}: {error}", folder.display()))
                }),
            _ => Ok(()),
        }
    }
}

fn is_there(file: &Path) -> bool {
    fs::symlink_metadata(file).is_ok()
}

/// What is written: as asked for, else as the file's name ends.
fn format(args: &ExportArgs, place: &Place) -> Result<ExportFormat, Failure> {
    let (Some(file), None) = (place.as_file(), args.format) else {
        return Ok(args.format.unwrap_or(ExportFormat::Smf));
    };
    let extension = file.extension().unwrap_or_default().to_string_lossy();
    match extension.to_lowercase().as_str() {
        "mid" | "midi" => Ok(ExportFormat::Smf),
        "json" => Ok(ExportFormat::Json),
        "csv" => Ok(ExportFormat::Csv),
        _ => Err(Failure::input(format!(
            "{}: the end of the name says the format, .mid, .json or .csv; or --format does",
            file.display()
        ))),
    }
}

impl Place {
    fn as_file(&self) -> Option<&Path> {
        match self {
            Place::File(file) => Some(file),
            Place::Folder(_) => None,
        }
    }
}

fn content(logbook: &Logbook, take: i64, format: ExportFormat) -> Result<Vec<u8>, Failure> {
    if format == ExportFormat::Smf {
        let file = logbook.take_file(take);
        return file.map_err(|error| failed(logbook, error));
    }
    let judged = judge_again(logbook, take)?;
    let mut content = Vec::new();
    match format {
        ExportFormat::Csv => takes_csv::write(&judged.checked(), &mut content)?,
        ExportFormat::Json | ExportFormat::Smf => json::write(&judged.checked(), &mut content)?,
    }
    Ok(content)
}
