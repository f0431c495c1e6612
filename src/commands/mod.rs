//! One function per command: it reads, calls the pure parts, and prints.

pub mod check;
pub mod colour;
pub mod compare;
pub mod completions;
pub mod control;
pub mod demo;
pub mod excerpting;
pub mod export;
mod fitting;
pub mod format;
pub mod import;
mod in_order;
pub mod judging;
mod keeping;
pub mod kept_take;
pub mod latency;
pub mod learn;
mod line_file;
pub mod lint;
pub mod listen;
pub mod logbook;
pub mod man;
pub mod new_line;
pub mod options;
pub mod play;
pub mod ports;
pub mod progress;
mod progress_bar;
pub mod reference;
pub mod rejudge;
pub mod report;
mod room;
pub mod sessions;
pub mod settings;
mod shared;
pub mod show;
mod take_files;
pub mod takes;

use std::fmt::Display;
use std::io;

/// Why a command ended without doing what it was asked.
#[derive(Debug)]
pub enum Failure {
    /// The input is wrong: exit code 2.
    WrongInput(String),
    /// The take could not be judged: exit code 1.
    NotJudged(String),
    /// Files are not as they were asked to be: exit code 1.
    Untidy(String),
    /// Whoever read our output has gone: nothing to say, exit code 0.
    NobodyListens,
}

impl Failure {
    /// What went wrong, in words.
    fn into_text(self) -> String {
        match self {
            Failure::WrongInput(why) | Failure::NotJudged(why) | Failure::Untidy(why) => why,
            Failure::NobodyListens => String::new(),
        }
    }

    /// Wrong input, in words.
    pub fn input(why: impl Display) -> Failure {
        Failure::WrongInput(why.to_string())
    }

    /// The same with what can be done about it.
    fn with_hint(self, hint: &str) -> Failure {
        match self {
            Failure::WrongInput(why) => Failure::WrongInput(format!("{why}; {hint}")),
            other => other,
        }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Failure {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Failure::NobodyListens,
            _ => Failure::WrongInput(error.to_string()),
        }
    }
}

/// What a command comes to.
pub type Outcome = Result<(), Failure>;
