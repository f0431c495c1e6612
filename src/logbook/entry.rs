//! A take entered in the logbook while it is played.
//!
//! Before the first click the take is there with its line and everything that is known of it. From then on each flush
//! adds what was played since, in one transaction that is on the disk when it is done. When the take is over its pieces
//! become one, in one transaction as well.

use super::{Logbook, LogbookError, Result, lines, new_uid, now_ms, sessions};
use crate::line::Line;
use crate::midi::conductor::Conductor;
use crate::midi::take_track::{TakeHeadBytes, TakeTrack};
use crate::played::TimedMessage;
use crate::take::TakeHead;
use crate::take::keeper::Keeper;
use crate::units::Nanos;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use sha2::{Digest, Sha256};
use std::io;
use std::path::PathBuf;

/// What is known of a take before it is played.
pub struct NewTake<'a> {
    /// Who plays.
    pub player: &'a str,
    /// All of the line.
    pub line: &'a Line,
    /// The text of its file.
    pub source: &'a str,
    /// What the take says of itself.
    pub head: &'a TakeHead,
    /// How long there is to play, count-in included.
    pub length: Nanos,
}

impl NewTake<'_> {
    /// When it began, ms since 1970.
    fn begun_ms(&self) -> i64 {
        let begun = self.head.begun.parse::<jiff::ZonedDateTime>();
        begun.map_or_else(|_| now_ms(), |begun| begun.timestamp().as_millisecond())
    }
}

/// See the module's head.
pub struct Entry {
    db: Connection,
    path: PathBuf,
    take: i64,
    track: TakeTrack,
    /// The number of the next chunk.
    next: i64,
}

impl Logbook {
    /// Begins a take; the logbook belongs to it until it is over.
    pub fn begin(mut self, new: &NewTake<'_>, conductor: &Conductor) -> Result<Entry> {
        let take = self.insert_take(new, &new_uid(), &TakeHeadBytes::new(conductor), None)?;
        Ok(Entry {
            db: self.db,
            path: self.path,
            take,
            track: TakeTrack::new(conductor),
            next: 0,
        })
    }

    /// Adds a take that was kept in a file: its number, and whether it is new here.
    ///
    /// # Errors
    /// [`LogbookError::NotATake`] for a file that leadsman did not write.
    pub fn add(&mut self, new: &NewTake<'_>, file: &[u8]) -> Result<(i64, bool)> {
        let (head, track) = TakeHeadBytes::split(file).ok_or(LogbookError::NotATake)?;
        // The same file is the same take in every logbook.
        let digest = Sha256::digest([&head.bytes[..], &track].concat());
        let uid = format!("{:032x}", u128::from_be_bytes(first_16(&digest)));
        let known = "SELECT id FROM take WHERE uid = ?";
        let known = self.db.query_row(known, [&uid], |row| row.get(0));
        match known.optional()? {
            Some(take) => Ok((take, false)),
            None => Ok((self.insert_take(new, &uid, &head, Some(&track))?, true)),
        }
    }

    /// Adds a take with its events, or without where they are still to come.
    fn insert_take(
        &mut self,
        new: &NewTake<'_>,
        uid: &str,
        head: &TakeHeadBytes,
        track: Option<&[u8]>,
    ) -> Result<i64> {
        let adding = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let line = lines::keep(&adding, new.line, &new.head.line_file, new.source)?;
        let session = sessions::at(&adding, new.player, new.begun_ms())?;
        adding
            .prepare_cached(
                "INSERT INTO take (uid, session, line, begun_ms, begun, length_ms, speed, first_bar, last_bar, head, track)
                 VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            )?
            .execute(params![
                uid,
                session,
                line,
                new.begun_ms(),
                new.head.begun,
                new.length.0 / 1_000_000,
                new.head.speed,
                new.head.bars.map(|bars| bars.first),
                new.head.bars.map(|bars| bars.last),
                head.bytes,
                track,
            ])?;
        let take = adding.last_insert_rowid();
        adding.commit()?;
        Ok(take)
    }
}

fn first_16(digest: &[u8]) -> [u8; 16] {
    std::array::from_fn(|byte| digest[byte])
}

impl Entry {
    /// The take's number.
    pub fn take(&self) -> i64 {
        self.take
    }

    fn add_chunk(&mut self) -> rusqlite::Result<()> {
        if self.track.pending().is_empty() {
            return Ok(());
        }
        self.db
            .prepare_cached("INSERT INTO chunk (take, number, track) VALUES (?, ?, ?)")?
            .execute(params![self.take, self.next, self.track.pending()])?;
        self.next += 1;
        self.track.settle();
        Ok(())
    }

    fn join_chunks(&mut self) -> Result<()> {
        let joining = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let track = chunks(&joining, self.take)?;
        joining.execute(
            "UPDATE take SET track = ? WHERE id = ?",
            params![track, self.take],
        )?;
        joining.execute("DELETE FROM chunk WHERE take = ?", [self.take])?;
        joining.commit()?;
        Ok(())
    }

    fn named(&self, error: impl Into<LogbookError>) -> io::Error {
        io::Error::other(error.into().of(&self.path))
    }
}

/// The events of a take that is not over, as far as they are kept.
pub(super) fn chunks(db: &Connection, take: i64) -> rusqlite::Result<Vec<u8>> {
    let mut query = db.prepare_cached("SELECT track FROM chunk WHERE take = ? ORDER BY number")?;
    let chunks = query.query_map([take], |row| row.get::<_, Vec<u8>>(0))?;
    Ok(chunks.collect::<rusqlite::Result<Vec<_>>>()?.concat())
}

impl Keeper for Entry {
    fn push(&mut self, event: TimedMessage) {
        self.track.push(event);
    }

    fn push_text(&mut self, at: Nanos, tag: &str, json: &str) -> io::Result<()> {
        self.track.push_text(at, tag, json)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.add_chunk().map_err(|error| self.named(error))
    }

    fn finish(mut self: Box<Self>) -> io::Result<()> {
        self.flush()?;
        self.join_chunks().map_err(|error| self.named(error))
    }
}
