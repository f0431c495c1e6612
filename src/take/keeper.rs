//! Where a take is kept while it is played.

use crate::midi::take_writer::TakeWriter;
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::io;

/// Keeps a take as it happens. Belongs to an ordinary thread: it allocates and waits for the disk. Times are file time.
pub trait Keeper: Send {
    /// Adds an event, in memory.
    fn push(&mut self, event: TimedMessage);

    /// Adds what is noticed on the way, in memory: see [`TakeTrack::push_text`](crate::midi::take_track::TakeTrack).
    fn push_text(&mut self, at: Nanos, tag: &str, json: &str) -> io::Result<()>;

    /// Brings what was pushed to the disk. After an error it may be tried again; nothing is lost.
    fn flush(&mut self) -> io::Result<()>;

    /// The take is over: flushes, and waits until the disk has it all.
    fn finish(self: Box<Self>) -> io::Result<()>;
}

impl Keeper for TakeWriter {
    fn push(&mut self, event: TimedMessage) {
        TakeWriter::push(self, event);
    }

    fn push_text(&mut self, at: Nanos, tag: &str, json: &str) -> io::Result<()> {
        TakeWriter::push_text(self, at, tag, json)
    }

    fn flush(&mut self) -> io::Result<()> {
        TakeWriter::flush(self)
    }

    fn finish(self: Box<Self>) -> io::Result<()> {
        TakeWriter::finish(*self)
    }
}
