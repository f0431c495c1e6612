//! `leadsman export`: the line as a file for other programs.

use super::line_file::{self, Existing};
use super::shared::note;
use super::{Failure, Outcome};
use crate::cli::export::ExportArgs;
use crate::export::smf::Feel;
use crate::export::{Exported, musicxml, smf};
use std::io::{self, Write};
use std::path::Path;

/// What a file is, by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Format {
    Smf,
    MusicXml,
    CompressedMusicXml,
}

/// Runs the command.
pub fn run(args: &ExportArgs) -> Outcome {
    let format = format(&args.to)?;
    if args.straight && format != Format::Smf {
        return Err(Failure::input(
            "--straight is for MIDI files: MusicXML is written straight, with its swing as a mark",
        ));
    }
    let played = args.excerpt.read(&args.line, None)?;
    let feel = match args.straight {
        true => Feel::Straight,
        false => Feel::Swung,
    };
    let Exported { bytes, lost } = match format {
        Format::Smf => {
            smf::write(&played.line, played.bars, args.speed, feel).map_err(Failure::input)?
        }
        Format::MusicXml => musicxml::write(&played.line, args.speed),
        Format::CompressedMusicXml => {
            let score = musicxml::write(&played.line, args.speed);
            let bytes = musicxml::pack(&score.bytes);
            Exported { bytes, ..score }
        }
    };
    let existing = Existing::forced(args.force);
    line_file::write(&args.to, bytes, existing)?;
    for what in lost {
        note(format!("not carried over: {what}"));
    }
    Ok(writeln!(io::stdout(), "{} written", args.to.display())?)
}

fn format(path: &Path) -> Result<Format, Failure> {
    let extension = path.extension().unwrap_or_default().to_string_lossy();
    match extension.to_lowercase().as_str() {
        "mid" | "midi" => Ok(Format::Smf),
        "musicxml" | "xml" => Ok(Format::MusicXml),
        "mxl" => Ok(Format::CompressedMusicXml),
        _ => Err(Failure::input(format!(
            "{}: the end of the name says the format: .mid, .musicxml, .xml or .mxl",
            path.display()
        ))),
    }
}
