//! What a player can ask for with both hands on the instrument.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A wish, whatever it came by: a key, a foot switch, two quick notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Command {
    /// The same once more, from the count-in; a take that is being played ends there.
    Again,
    /// On to the next part: see [`super::part::Route`].
    Next,
    /// A step slower, from the next take on.
    Slower,
    /// A step faster, from the next take on.
    Faster,
    /// The take ends there, and nothing begins by itself.
    Stop,
}

/// The text names no command.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("write again, next, slower, faster or stop")]
pub struct NotACommand;

impl Command {
    /// All of them.
    pub const ALL: [Command; 5] = [
        Command::Again,
        Command::Next,
        Command::Slower,
        Command::Faster,
        Command::Stop,
    ];

    /// What the settings file and the screen call it.
    pub fn name(self) -> &'static str {
        match self {
            Command::Again => "again",
            Command::Next => "next",
            Command::Slower => "slower",
            Command::Faster => "faster",
            Command::Stop => "stop",
        }
    }
}

impl fmt::Display for Command {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Command {
    type Err = NotACommand;

    fn from_str(text: &str) -> Result<Command, NotACommand> {
        let named = |command: &Command| command.name() == text.trim();
        Command::ALL.into_iter().find(named).ok_or(NotACommand)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_is_read_by_its_name_and_nothing_else_is() {
        for command in Command::ALL {
            assert_eq!(command.to_string().parse(), Ok(command));
            let json = serde_json::to_string(&command).expect("JSON");
            assert_eq!(json, format!("\"{command}\""));
        }
        assert_eq!("Again!".parse::<Command>(), Err(NotACommand));
    }
}
