//! Where a take is kept while it is played: in the logbook, in a file of its own, or both.

use super::Failure;
use crate::cli::logbook::LogbookArgs;
use crate::line::Line;
use crate::logbook::entry::NewTake;
use crate::logbook::{self, Logbook};
use crate::midi::conductor::Conductor;
use crate::midi::take_writer::TakeWriter;
use crate::report::Checked;
use crate::take::TakeHead;
use crate::take::keeper::Keeper;
use crate::units::Nanos;
use std::io;
use std::path::{Path, PathBuf};

/// Where a take is to be kept.
#[derive(Default)]
pub struct Keeping {
    /// In this file, which must not be there yet.
    pub file: Option<PathBuf>,
    /// In the logbook.
    pub logbook: Option<InLogbook>,
}

/// What the logbook needs of a take besides its head.
pub struct InLogbook {
    /// The logbook.
    pub logbook: Logbook,
    /// Who plays.
    pub player: String,
    /// All of the line.
    pub line: Line,
    /// The text of its file.
    pub source: String,
}

/// A take that is being kept.
#[derive(Clone, Debug)]
pub struct Kept {
    /// Its file.
    pub file: Option<PathBuf>,
    /// Its place in the logbook, and its number there.
    pub entry: Option<(PathBuf, i64)>,
}

impl LogbookArgs {
    /// The logbook's file: that which is named, or the user's own.
    pub fn path(&self) -> Result<PathBuf, Failure> {
        match &self.logbook {
            Some(path) => Ok(path.clone()),
            None => logbook::place().map_err(Failure::input),
        }
    }

    /// Opens the logbook; without one, it begins.
    pub fn open(&self) -> Result<Logbook, Failure> {
        let path = self.path()?;
        Logbook::open(&path).map_err(|error| Failure::input(error.of(&path)))
    }

    /// Opens the logbook that there is.
    pub fn open_existing(&self) -> Result<Logbook, Failure> {
        let path = self.path()?;
        Logbook::open_existing(&path).map_err(|error| Failure::input(error.of(&path)))
    }
}

impl Keeping {
    /// Begins to keep a take that lasts so long.
    pub fn begin(
        self,
        conductor: &Conductor,
        head: &TakeHead,
        length: Nanos,
    ) -> Result<(Vec<Box<dyn Keeper>>, Kept), Failure> {
        let mut keepers: Vec<Box<dyn Keeper>> = Vec::new();
        if let Some(file) = &self.file {
            keepers.push(Box::new(create(file, conductor)?));
        }
        let mut entry = None;
        if let Some(into) = self.logbook {
            let path = into.logbook.path().to_path_buf();
            let new = NewTake {
                player: &into.player,
                line: &into.line,
                source: &into.source,
                head,
                length,
            };
            let begun = into
                .logbook
                .begin(&new, conductor)
                .map_err(|error| Failure::input(error.of(&path)))?;
            entry = Some((path, begun.take()));
            keepers.push(Box::new(begun));
        }
        let file = self.file;
        Ok((keepers, Kept { file, entry }))
    }
}

impl Kept {
    /// What is said of it at the start.
    pub fn lines(&self) -> impl Iterator<Item = String> {
        let in_file = self
            .file
            .as_ref()
            .map(|file| format!("The take is kept in {}", file.display()));
        let in_logbook = self
            .entry
            .as_ref()
            .map(|(_, number)| format!("In the logbook it is take {number}."));
        in_file.into_iter().chain(in_logbook)
    }

    /// Keeps what the take was judged to be.
    pub fn judged(&self, checked: &Checked<'_>) -> Result<(), String> {
        let Some((path, number)) = &self.entry else {
            return Ok(());
        };
        Logbook::open_existing(path)
            .and_then(|mut logbook| logbook.judged_first(*number, checked))
            .map_err(|error| error.of(path))
    }

    /// Takes a take in which nothing was heard out of the logbook's lists; it can be brought back.
    pub fn put_aside(&self) -> Result<(), String> {
        let Some((path, number)) = &self.entry else {
            return Ok(());
        };
        Logbook::open_existing(path)
            .and_then(|mut logbook| logbook.remove(&[*number]))
            .map_err(|error| error.of(path))
    }
}

fn create(path: &Path, conductor: &Conductor) -> Result<TakeWriter, Failure> {
    TakeWriter::create(path, conductor).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => Failure::input(format!(
            "{} is there already and is not written over: choose another --take",
            path.display()
        )),
        _ => Failure::input(format!("cannot keep the take: {error}")),
    })
}
