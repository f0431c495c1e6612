//! `leadsman listen`.

use super::{BackendName, ClickArgs};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `leadsman listen`.
#[derive(Args, Debug)]
pub struct ListenArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub to: ClickArgs,
    /// Peak level of an accented note or click in dB below full scale; -6 at the most
    #[arg(long, value_name = "DB", default_value_t = -18.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Audio output: part of its name, in any case [default: the system's]
    #[arg(long, value_name = "NAME", conflicts_with = "wav")]
    pub audio: Option<String>,
    /// Which sound system
    #[arg(long, value_enum, default_value_t = BackendName::preferred(), conflicts_with = "wav")]
    pub backend: BackendName,
    /// Write a WAV file (mono, 48 kHz) in place of playing; it begins with the first click or note
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// Bits a sample of the WAV file
    #[arg(long, value_enum, default_value_t = Bits::Sixteen, requires = "wav")]
    pub bits: Bits,
    /// Replace a WAV file that is there already
    #[arg(long, requires = "wav")]
    pub force: bool,
}

/// Bits a sample.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bits {
    /// For any player
    #[value(name = "16")]
    Sixteen,
    /// As many as the sound has; not every program reads it
    #[value(name = "24")]
    TwentyFour,
}
