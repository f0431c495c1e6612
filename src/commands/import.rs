//! `leadsman import`: a part written elsewhere becomes a line.

use super::line_file::{self, Existing};
use super::shared::note;
use super::{Failure, Outcome};
use crate::cli::ImportArgs;
use crate::import::{musicxml, smf};
use crate::line::parse::parse;
use crate::line::print::print;
use crate::score::Score;
use crate::score::lost::{Losses, Lost};
use crate::score::tidy::{Wishes, tidy};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

/// The most bytes that are read of any file.
const MOST_BYTES: u64 = musicxml::guard::LARGEST_BYTES + 1;

/// A part of any format, ready to be tidied.
struct Source {
    /// What the part was, for the head of the line: `MusicXML, part "Bass", voice 1`.
    is: String,
    /// What was chosen, and how to choose otherwise.
    said: Vec<String>,
    score: Score,
}

/// Runs the command.
pub fn run(args: &ImportArgs) -> Outcome {
    let bytes = bytes(&args.file)?;
    let source = source(args, &bytes)?;
    drop(bytes);
    source.said.iter().for_each(note);
    let stem = args.file.file_stem().unwrap_or_default();
    let title = one_line(&stem.to_string_lossy());
    let wishes = Wishes {
        octaves: args.octave,
        tuning: args.tuning.clone(),
        title: if title.is_empty() {
            "Imported".into()
        } else {
            title
        },
    };
    let in_file =
        |why: &dyn std::fmt::Display| Failure::input(format!("{}: {why}", args.file.display()));
    let (line, losses) = tidy(&source.score, &wishes).map_err(|error| in_file(&error))?;
    let text = format!("{}\n{}", head(args, &source, &losses), print(&line));
    // What is handed out can be read back, or it is not handed out.
    match parse(&text, "the line") {
        Ok(read) if read == line => {}
        Ok(_) => {
            return Err(in_file(
                &"the line made of it reads back as another one (a fault of leadsman)",
            ));
        }
        Err(mistakes) => {
            let why = format!(
                "no valid line comes of it (a fault of leadsman):\n{}",
                mistakes.render(false)
            );
            return Err(in_file(&why));
        }
    }
    losses
        .list
        .iter()
        .for_each(|lost| note(format!("not carried over: {lost}")));
    match &args.output {
        Some(path) => {
            let existing = Existing::forced(args.force);
            line_file::write(path, &text, existing)
        }
        None => {
            let mut out = io::stdout().lock();
            out.write_all(text.as_bytes())?;
            Ok(out.flush()?)
        }
    }
}

fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let failed =
        |error: io::Error| Failure::input(format!("cannot read {}: {error}", path.display()));
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    file.take(MOST_BYTES)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    Ok(bytes)
}

/// Reads the part in whatever format the file has, which its first bytes tell.
fn source(args: &ImportArgs, bytes: &[u8]) -> Result<Source, Failure> {
    let in_file =
        |why: &dyn std::fmt::Display| Failure::input(format!("{}: {why}", args.file.display()));
    if musicxml::is_musicxml(bytes) {
        only_for("MIDI files", &args.midi.given()).map_err(|why| in_file(&why))?;
        return musicxml_source(args, bytes).map_err(|error| in_file(&error));
    }
    if smf::is_smf(bytes) {
        let musicxml = [
            ("--part", args.part.is_some()),
            ("--voice", args.voice.is_some()),
        ];
        only_for("MusicXML", &musicxml).map_err(|why| in_file(&why))?;
        return smf_source(args, bytes).map_err(|error| in_file(&error));
    }
    let why = if bytes.is_empty() {
        "the file is empty"
    } else {
        "this is neither a MusicXML file (.musicxml, .xml or .mxl) nor a MIDI file (.mid)"
    };
    Err(in_file(&why))
}

fn musicxml_source(args: &ImportArgs, bytes: &[u8]) -> Result<Source, musicxml::error::Unreadable> {
    let choice = musicxml::Choice {
        part: args.part.clone(),
        voice: args.voice.clone(),
    };
    let read = musicxml::read(bytes, &choice)?;
    Ok(Source {
        is: format!("MusicXML, part \"{}\", voice {}", read.part, read.voice),
        said: read.said,
        score: read.score,
    })
}

fn smf_source(args: &ImportArgs, bytes: &[u8]) -> Result<Source, smf::error::Unreadable> {
    let choice = smf::Choice {
        track: args.midi.track.clone(),
        channel: args.midi.channel,
        grid: args.midi.grid,
        swing: args.midi.swing,
    };
    let read = smf::read(bytes, &choice)?;
    Ok(Source {
        is: format!("MIDI file, {}, grid {}", read.part, read.moves.grid),
        said: read.said,
        score: read.score,
    })
}

/// Options that another format has are a mistake, not a wish that can be passed over.
fn only_for(format: &str, given: &[(&str, bool)]) -> Result<(), String> {
    match given.iter().find(|(_, given)| *given) {
        Some((option, _)) => Err(format!("{option} is for {format}")),
        None => Ok(()),
    }
}

/// The comment at the head of the line: where it came from, and what was lost.
fn head(args: &ImportArgs, source: &Source, losses: &Losses) -> String {
    let file = args.file.file_name().unwrap_or_default();
    let from = one_line(&format!("From {} ({}).", file.to_string_lossy(), source.is));
    let mut head = format!("# {from}\n");
    let measures = &source.score.measures;
    if measures.iter().all(|measure| measure.tempo.is_none()) {
        head.push_str("# It names no tempo: 120 is a guess.\n");
    }
    if args.octave != 0 {
        head.push_str(&format!("# Moved by octaves: {:+}.\n", args.octave));
    }
    if !losses.is_empty() {
        head.push_str("# Not carried over:\n");
    }
    let entry = |lost: &Lost| format!("#   {}\n", one_line(&lost.to_string()));
    head.extend(losses.list.iter().map(entry));
    head
}

/// A comment ends with its line, whatever a file is called.
fn one_line(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    text.chars()
        .map(plain)
        .collect::<String>()
        .trim()
        .to_owned()
}
