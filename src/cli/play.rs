//! `leadsman play`.

use super::{TakeArgs, latency, logbook};
use crate::click::{Accent, ClickPitch, Pan, Subdivision};
use crate::practice::care::RestAfter;
use crate::practice::{Climb, Criteria, Guide, Repeat};
use crate::stand_in::Habits;
use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use std::path::PathBuf;

/// `leadsman play`.
#[derive(Args, Debug)]
pub struct PlayArgs {
    /// The line: a TOML file
    pub line: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub ports: latency::PortArgs,
    /// Let a stand-in play: a player's name, habits, or both, such as late-entries,spread-ms=8
    #[arg(long, value_name = "HABITS", num_args = 0..=1, default_missing_value = "steady", conflicts_with = "midi")]
    pub stand_in: Option<Habits>,
    /// Keep the take in this file as well; of several takes each in one of its own
    #[arg(long, value_name = "FILE")]
    pub take: Option<PathBuf>,
    /// Who plays [default: whoever played last]
    #[arg(long, value_name = "NAME", value_parser = logbook::player())]
    pub player: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub logbook: logbook::LogbookArgs,
    /// Keep the take out of the logbook, in a file: that of --take, or a new one in leadsman's data folder
    #[arg(long, conflicts_with_all = ["logbook", "player"])]
    pub no_logbook: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub shared: TakeArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub practice: PracticeArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub sound: SoundArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub screen: ScreenArgs,
}

/// How takes follow each other.
#[derive(Args, Debug)]
#[command(next_help_heading = "Practice")]
pub struct PracticeArgs {
    /// What follows a take, such as wait (nothing until you ask); loop: the next one by itself; once: the end [default: loop on the screen and in a climb, once in plain lines]
    #[arg(long, value_name = "WHAT", value_parser = named::<Repeat>(Repeat::NAMES.map(|(name, _)| name)))]
    pub repeat: Option<Repeat>,
    /// Climb in percent of the written tempo, such as "60-100 by 5": up a step after a take that meets --criteria, back one after two that do not
    #[arg(long, value_name = "CLIMB", conflicts_with_all = ["speed", "play_through"])]
    pub climb: Option<Climb>,
    /// What a take has to reach before a climb goes on: percent of the notes right, percent in time, spread in ms [default: right=95,in-time=80,spread=28]
    #[arg(long, value_name = "CRITERIA")]
    pub criteria: Option<Criteria>,
    /// The whole line, each section at its own tempo as it is written
    #[arg(long, conflicts_with_all = ["speed", "bars", "section"])]
    pub play_through: bool,
    /// Begin with your first note, without a count-in; the click joins in
    #[arg(long, conflicts_with = "count_in")]
    pub first_note: bool,
    /// Hear the line itself, softly: off, on, or in the first take only
    #[arg(long, value_name = "WHEN", default_value = "off", value_parser = named::<Guide>(Guide::NAMES.map(|(name, _)| name)))]
    pub guide: Guide,
    /// Minutes of playing after which a rest is suggested, or never
    #[arg(long, value_name = "MINUTES", default_value = "25")]
    pub rest_after: RestAfter,
}

/// How the click sounds.
#[derive(Args, Debug)]
#[command(next_help_heading = "Sound")]
pub struct SoundArgs {
    /// Peak level of the click in dB below full scale; -6 at the most
    #[arg(long, value_name = "DB", default_value_t = -18.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Softer clicks between the beats: none, halves (in swing where the second eighth falls), thirds, quarters
    #[arg(long, value_name = "PARTS", default_value = "none", value_parser = named::<Subdivision>(Subdivision::ALL.map(Subdivision::name)))]
    pub subdivide: Subdivision,
    /// By how many dB beat one stands out: 0 to 24, or none
    #[arg(long, value_name = "DB", default_value = "3")]
    pub accent: Accent,
    /// How high the click is: low, middle, high, or 200 to 4000 Hz
    #[arg(long, value_name = "TONE", default_value = "middle")]
    pub tone: ClickPitch,
    /// Where the click is: -100 (left) to 100 (right)
    #[arg(
        long,
        value_name = "PAN",
        default_value = "0",
        allow_negative_numbers = true
    )]
    pub pan: Pan,
    /// Frames a block of sound, such as 128: fewer, and the click is heard sooner; too few, and it crackles [default: as the device prefers; JACK's server decides alone]
    #[arg(long, value_name = "FRAMES", value_parser = clap::value_parser!(u32).range(16..=8192))]
    pub buffer: Option<u32>,
}

/// What is seen.
#[derive(Args, Debug)]
#[command(next_help_heading = "Screen")]
pub struct ScreenArgs {
    /// One line a bar in place of the screen: for a screen reader, or to keep what is said
    #[arg(long)]
    pub plain: bool,
    /// Large figures, to be read from two steps away
    #[arg(long, conflicts_with = "plain")]
    pub big: bool,
}

/// One of these words.
fn named<T>(names: impl IntoIterator<Item = &'static str>) -> impl TypedValueParser<Value = T>
where
    T: std::str::FromStr<Err: std::error::Error + Send + Sync + 'static>
        + Clone
        + Send
        + Sync
        + 'static,
{
    PossibleValuesParser::new(names.into_iter().collect::<Vec<_>>()).try_map(|text| text.parse())
}
