//! `leadsman export`.

use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options;
use crate::expected::tempo_map::Speed;
use clap::Args;
use std::path::PathBuf;

/// `leadsman export`.
#[derive(Args, Debug)]
pub struct ExportArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    /// The file to write: MIDI (.mid) or MusicXML (.musicxml, .xml; compressed: .mxl)
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub excerpt: ExcerptOptions,
    /// Speed, in percent of the written tempo
    #[arg(long, value_name = "PERCENT", default_value = "100", value_parser = options::speed)]
    pub speed: Speed,
    /// In a MIDI file: notes as written, with the swing as a marker [default: swung]
    #[arg(long)]
    pub straight: bool,
    /// Replace the file that is there
    #[arg(long)]
    pub force: bool,
}
