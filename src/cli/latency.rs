//! `leadsman latency`.

use super::BackendName;
use crate::commands::options;
use crate::stand_in::Habits;
use crate::stand_in::converter::Law;
use clap::{Args, Subcommand};

/// `leadsman latency`.
#[derive(Args, Debug)]
pub struct LatencyArgs {
    /// What to do.
    #[command(subcommand)]
    pub command: LatencyCommand,
}

/// What `latency` does.
#[derive(Subcommand, Debug)]
pub enum LatencyCommand {
    /// Measure it with the headphone on the pickup: tone bursts go out, notes come back
    Measure(MeasureArgs),
    /// Play open strings on the click: gives the sum of latency and your own lean
    Tap(Box<TapArgs>),
    /// Keep what you know from elsewhere
    Given(GivenArgs),
    /// Read out what is kept
    Show(ShowArgs),
    /// Forget what is kept for a port
    Forget(ForgetArgs),
}

/// What to connect.
#[derive(Args, Debug)]
pub struct PortArgs {
    /// MIDI input: part of its name, in any case [default: the only one there is]
    #[arg(long, value_name = "NAME")]
    pub midi: Option<String>,
    /// Audio output: part of its name, in any case [default: the system's]
    #[arg(long, value_name = "NAME")]
    pub audio: Option<String>,
    /// Which sound and MIDI system
    #[arg(long, value_enum, default_value_t = BackendName::preferred())]
    pub backend: BackendName,
}

/// `leadsman latency measure`.
///
/// Lay the headphone on the pickup, OFF your ears. What is measured is output, input and converter together: just
/// what has to come off a take whose click you hear over the same output.
#[derive(Args, Debug)]
pub struct MeasureArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub ports: PortArgs,
    /// Peak level of the bursts in dB below full scale; -6 at the most
    #[arg(long, value_name = "DB", default_value_t = -18.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Bursts at the most; it ends sooner when the law is known to half a ms and a twentieth of a period
    #[arg(long, value_name = "BURSTS", default_value_t = 1800, value_parser = clap::value_parser!(u32).range(32..=10_000))]
    pub most: u32,
    /// Only this MIDI channel, 1 to 16 [default: all]
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=16))]
    pub channel: Option<u8>,
    /// Keep the result even when it is not plausible
    #[arg(long)]
    pub keep_anyway: bool,
    /// Seed of the shuffled order
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Let a stand-in converter answer, in virtual time, by a law such as fixed-ms=6,periods=1.5,jitter-ms=1;
    /// nothing is kept
    #[arg(long, value_name = "LAW", num_args = 0..=1, default_missing_value = Law::ORDINARY, conflicts_with = "midi")]
    pub stand_in: Option<Law>,
}

/// `leadsman latency tap`.
#[derive(Args, Debug)]
pub struct TapArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub ports: PortArgs,
    /// Peak level of the click in dB below full scale; -6 at the most
    #[arg(long, value_name = "DB", default_value_t = -18.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Only this MIDI channel, 1 to 16 [default: all]
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=16))]
    pub channel: Option<u8>,
    /// Keep the sum as the port's latency: your lean is then taken off every take as well
    #[arg(long)]
    pub keep: bool,
    /// Let a stand-in play, in virtual time: a player's name, habits, or both; nothing is kept
    #[arg(long, value_name = "HABITS", num_args = 0..=1, default_missing_value = "converter", conflicts_with = "midi")]
    pub stand_in: Option<Habits>,
    /// Seed of the stand-in's chances
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

/// `leadsman latency given`.
#[derive(Args, Debug)]
pub struct GivenArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub ports: PortArgs,
    /// What the port adds to every note, in ms
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = options::finite)]
    pub fixed: f64,
    /// Periods of the string that a pitch-to-MIDI converter waits for
    #[arg(long, value_name = "PERIODS", default_value_t = 0.0, allow_negative_numbers = true, value_parser = options::positive)]
    pub periods: f64,
}

/// `leadsman latency show`.
#[derive(Args, Debug)]
pub struct ShowArgs {
    /// Print JSON (schema leadsman.latency/1) in place of text
    #[arg(long)]
    pub json: bool,
}

/// `leadsman latency forget`.
#[derive(Args, Debug)]
pub struct ForgetArgs {
    /// MIDI input: part of its name, in any case
    #[arg(long, value_name = "NAME")]
    pub midi: Option<String>,
    /// Audio output: part of its name, in any case
    #[arg(long, value_name = "NAME")]
    pub audio: Option<String>,
    /// Which sound and MIDI system
    #[arg(long, value_enum)]
    pub backend: Option<BackendName>,
    /// Every one that fits, not only one
    #[arg(long)]
    pub all: bool,
}
