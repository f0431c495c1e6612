//! `leadsman learn`.

use super::latency::PortArgs;
use crate::practice::Command;
use crate::practice::control::mapping::string_label;
use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

/// `leadsman learn`.
///
/// What is learned stands in the table `control` of the settings; `leadsman settings learn` reads it out. No sound is
/// played.
#[derive(Args, Debug)]
pub struct LearnArgs {
    /// What the switch shall mean; several are learned one after the other [default: again]
    #[arg(value_name = "WHAT", value_parser = command())]
    pub what: Vec<Command>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub ports: PortArgs,
    /// No switch: two quick notes on this open string, its letter or its number, such as G
    #[arg(long, value_name = "STRING", value_parser = string_label, conflicts_with_all = ["midi", "audio", "backend"])]
    pub two_notes: Option<String>,
    /// Forget the switch and the two notes of what is named
    #[arg(long, requires = "what", conflicts_with_all = ["midi", "audio", "backend", "two_notes"])]
    pub forget: bool,
}

impl LearnArgs {
    /// What is to be learned.
    pub fn commands(&self) -> &[Command] {
        match &self.what[..] {
            [] => &[Command::Again],
            named => named,
        }
    }
}

fn command() -> impl TypedValueParser<Value = Command> {
    let named = Command::ALL.map(|command| PossibleValue::new(command.name()).help(help(command)));
    PossibleValuesParser::new(named).try_map(|name| name.parse::<Command>())
}

fn help(command: Command) -> &'static str {
    match command {
        Command::Again => "The same once more, from the count-in",
        Command::Next => "On to the next part",
        Command::Slower => "A step slower",
        Command::Faster => "A step faster",
        Command::Stop => "The take ends",
    }
}
