//! `leadsman listen`.

use super::{BackendName, ClickPattern};
use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options;
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `leadsman listen`.
#[derive(Args, Debug)]
pub struct ListenArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub excerpt: ExcerptOptions,
    /// Speed, in percent of the written tempo
    #[arg(long, value_name = "PERCENT", default_value = "100", value_parser = options::speed)]
    pub speed: Speed,
    /// Bars counted in
    #[arg(long, value_name = "BARS", default_value_t = 1, value_parser = clap::value_parser!(u32).range(0..=8))]
    pub count_in: u32,
    /// Where the click sounds
    #[arg(long, value_name = "PATTERN", value_enum, default_value_t = ClickPattern::Beats)]
    pub click: ClickPattern,
    /// Bars with the click and bars without, again and again after the count-in, such as 3:1
    #[arg(long, value_name = "ON:OFF")]
    pub silent: Option<SilentBars>,
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
