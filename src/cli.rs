//! The command line.

use crate::backend::Backend;
use crate::click::Pattern;
use crate::commands::excerpting::ExcerptOptions;
use crate::commands::options::{self, JudgingOptions};
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use crate::import::smf::feel::SwingChoice;
use crate::import::smf::grid::Grid;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::line::tuning::Tuning;
use crate::report::page::Detail;
use crate::stand_in::Habits;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

pub mod check;
pub mod compare;
pub mod export;
pub mod latency;
pub mod learn;
pub mod listen;
pub mod logbook;
pub mod play;
pub mod progress;
pub mod report;
pub mod settings;
pub mod show;
pub mod takes;

pub use check::CheckArgs;
pub use play::PlayArgs;
pub use report::ReportArgs;
pub use show::ShowArgs;

/// Plays a click, listens to your bass over MIDI, and says how every note sat against the written line.
///
/// Offsets are in milliseconds; minus is early, plus is late.
#[derive(Parser, Debug)]
#[command(name = "leadsman", version, max_term_width = 100)]
pub struct Cli {
    /// The settings [default: settings.toml in leadsman's config folder]
    #[arg(long, value_name = "FILE", global = true)]
    pub settings: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Subcommand, Debug)]
pub enum Command {
    /// Play a line to the click and hear how it sat, bar by bar
    Play(Box<PlayArgs>),
    /// Read a take again: a Standard MIDI File of the line being played; or many takes at once
    Check(Box<CheckArgs>),
    /// Set players side by side on one line: what each does, and which differences are beyond chance
    Compare(Box<compare::CompareArgs>),
    /// Show the part: counts, tablature, notes and degrees; with a take also each note's ms
    Show(Box<ShowArgs>),
    /// Write what was heard in a take as a page to read and to print: the part with each note's ms and length, charts, what to work on
    Report(Box<ReportArgs>),
    /// Watch a stand-in play a line with habits of your choice, without an instrument or a sound card
    Demo(Box<DemoArgs>),
    /// Hear how a line should sound, with the click; or write it as a WAV file
    Listen(listen::ListenArgs),
    /// Learn a foot switch by one press, or two quick notes, for what you ask for with both hands on the bass
    Learn(learn::LearnArgs),
    /// Say what is wrong with a line, or what a teacher would change
    Lint(LintArgs),
    /// Begin a line: a file with comments to fill in
    New(NewArgs),
    /// Bring line files into one layout; comments stay
    Format(FormatArgs),
    /// List the MIDI inputs and audio outputs there are
    Ports(PortsArgs),
    /// Measure what stands between finger and number, and keep it for each port
    Latency(latency::LatencyArgs),
    /// List the takes of the logbook; show, note, export or remove them
    Takes(takes::TakesArgs),
    /// List sessions; show what changed in one, or note something about it
    Sessions(takes::SessionsArgs),
    /// Say what became of a line from session to session, what of it is real, and what to play today
    Progress(progress::ProgressArgs),
    /// Say what is in the logbook, or bring takes into it
    Logbook(logbook::LogbookCommandArgs),
    /// Judge old takes again with other windows or another latency; what was said before is kept
    Rejudge(Box<logbook::RejudgeArgs>),
    /// Make a line of a part written elsewhere: a MusicXML file (.musicxml, .xml, .mxl)
    Import(ImportArgs),
    /// Write a line as a MIDI or MusicXML file, for a notation editor or another player
    Export(export::ExportArgs),
    /// Say what is set, and from where; or begin a file of settings
    Settings(settings::SettingsArgs),
    /// Print what a shell needs to complete commands and options
    Completions(settings::CompletionsArgs),
    /// Print the manual page of a command, or write those of all
    Man(settings::ManArgs),
}

impl TakeArgs {
    /// How much is told when the take is over.
    pub fn detail(&self) -> Detail {
        if self.all {
            Detail::AllButBars
        } else {
            Detail::Brief
        }
    }
}

/// What of a line sounds, how fast, and to which click.
#[derive(Args, Debug)]
pub struct ClickArgs {
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
}

/// What `play` and `demo` share.
#[derive(Args, Debug)]
pub struct TakeArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub to: ClickArgs,
    /// Print everything at the end: every finding, each note that went astray
    #[arg(long)]
    pub all: bool,
    /// Seed of the stand-in's chances
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub judging: JudgingOptions,
}

/// `leadsman demo`.
#[derive(Args, Debug)]
pub struct DemoArgs {
    /// The line: a TOML file [default: one that comes with leadsman]
    pub line: Option<PathBuf>,
    /// What the stand-in does: a player's name, habits, or both, such as late-entries,spread-ms=8
    #[arg(
        long,
        value_name = "HABITS",
        default_value = "late-entries,missed-muting"
    )]
    pub habits: Habits,
    /// Print JSON (schema leadsman.check/1) in place of text
    #[arg(long)]
    pub json: bool,
    /// Keep the take in this file
    #[arg(long, value_name = "FILE")]
    pub take: Option<PathBuf>,
    /// Keep it in this logbook, under the player "stand-in"
    #[arg(long, value_name = "FILE")]
    pub logbook: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub shared: TakeArgs,
}

/// `leadsman lint`.
#[derive(Args, Debug)]
pub struct LintArgs {
    /// The lines: TOML files
    #[arg(required = true, value_name = "LINE")]
    pub lines: Vec<PathBuf>,
    /// Print JSON (schema leadsman.lint/1) in place of text
    #[arg(long)]
    pub json: bool,
}

/// `leadsman new`.
#[derive(Args, Debug)]
pub struct NewArgs {
    /// The file to begin, such as lines/night_crossing.toml
    pub file: PathBuf,
    /// What the line is called [default: made from the file's name]
    #[arg(long)]
    pub title: Option<String>,
    /// Its meter
    #[arg(long, default_value = "4/4")]
    pub meter: Meter,
    /// Its tempo in quarter notes a minute
    #[arg(long, default_value_t = 100, value_parser = clap::value_parser!(u32).range(20..=400))]
    pub tempo: u32,
    /// Its key: a tonic and major, minor or a church mode
    #[arg(long, default_value = "E minor")]
    pub key: KeySignature,
}

/// `leadsman format`.
#[derive(Args, Debug)]
pub struct FormatArgs {
    /// The lines: TOML files; - is standard input, written to standard output
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Change nothing; name the files that are not in the layout, and end with 1 if there are any
    #[arg(long)]
    pub check: bool,
}

/// `leadsman ports`.
#[derive(Args, Debug)]
pub struct PortsArgs {
    /// Which sound and MIDI system [default: all in this build]
    #[arg(long, value_enum)]
    pub backend: Option<BackendName>,
}

/// `leadsman import`.
#[derive(Args, Debug)]
pub struct ImportArgs {
    /// The file to read
    pub file: PathBuf,
    /// Where to write the line [default: print it]
    #[arg(short, long, value_name = "LINE")]
    pub output: Option<PathBuf>,
    /// Replace the file that is there
    #[arg(long)]
    pub force: bool,
    /// Which part, by its name, a piece of its name, or its number [default: the only bass, else it is asked for]
    #[arg(long, value_name = "PART")]
    pub part: Option<String>,
    /// Which voice of the part, as the file numbers them [default: the first]
    #[arg(long, value_name = "VOICE")]
    pub voice: Option<String>,
    /// Move every note by so many octaves
    #[arg(long, value_name = "OCTAVES", default_value_t = 0, allow_negative_numbers = true, value_parser = clap::value_parser!(i32).range(-8..=8))]
    pub octave: i32,
    /// The open strings as they sound, such as "B0 E1 A1 D2 G2" [default: as the file says, else as few as reach all notes]
    #[arg(long, value_name = "STRINGS", value_parser = options::tuning)]
    pub tuning: Option<Tuning>,
    /// What is only for MIDI files.
    #[command(flatten)]
    pub midi: MidiImportArgs,
}

/// What `leadsman import` takes of a MIDI file, and how.
#[derive(Args, Debug)]
pub struct MidiImportArgs {
    /// MIDI files: which track, by its number, its name or a piece of its name [default: the only bass, else the lowest of a single voice]
    #[arg(long, value_name = "TRACK")]
    pub track: Option<String>,
    /// MIDI files: which channel, 1 to 16
    #[arg(long, value_name = "CHANNEL", value_parser = clap::value_parser!(u8).range(1..=16))]
    pub channel: Option<u8>,
    /// MIDI files: the grid that notes are moved to, such as 1/16, 1/8t (triplets) or 1/16+1/8t [default: the coarsest that explains them]
    #[arg(long, value_name = "GRID")]
    pub grid: Option<Grid>,
    /// MIDI files: how eighths are swung, `straight` or a ratio such as 2:1 [default: what is found]
    #[arg(long, value_name = "RATIO")]
    pub swing: Option<SwingChoice>,
}

impl MidiImportArgs {
    /// Which of them were given.
    pub fn given(&self) -> [(&'static str, bool); 4] {
        [
            ("--track", self.track.is_some()),
            ("--channel", self.channel.is_some()),
            ("--grid", self.grid.is_some()),
            ("--swing", self.swing.is_some()),
        ]
    }
}

/// [`Backend`] by name.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum BackendName {
    /// The system's own: ALSA, CoreMIDI, WinMM
    #[cfg(feature = "native")]
    Native,
    /// JACK, or PipeWire through it
    #[cfg(feature = "jack")]
    Jack,
    /// No sound, in real time: only a stand-in can play
    Silent,
}

impl BackendName {
    /// The first of [`Backend::built`].
    fn preferred() -> BackendName {
        BackendName::value_variants()[0]
    }
}

impl From<BackendName> for Backend {
    fn from(name: BackendName) -> Backend {
        match name {
            #[cfg(feature = "native")]
            BackendName::Native => Backend::Native,
            #[cfg(feature = "jack")]
            BackendName::Jack => Backend::Jack,
            BackendName::Silent => Backend::Silent,
        }
    }
}

/// [`Pattern`] by name.
#[derive(ValueEnum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClickPattern {
    /// Every beat
    Beats,
    /// Beats two and four
    TwoAndFour,
    /// Beat one only
    Bar,
    /// Between the beats
    Upbeats,
}

impl From<ClickPattern> for Pattern {
    fn from(name: ClickPattern) -> Pattern {
        match name {
            ClickPattern::Beats => Pattern::Beats,
            ClickPattern::TwoAndFour => Pattern::TwoAndFour,
            ClickPattern::Bar => Pattern::Bar,
            ClickPattern::Upbeats => Pattern::Upbeats,
        }
    }
}
