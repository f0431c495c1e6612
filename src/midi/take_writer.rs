//! The take as a Standard MIDI File of format 1, written while it happens.
//!
//! Track 1 is the [`Conductor`], whole from the start. Track 2, "bass", grows. After every [`TakeWriter::flush`] the file
//! on disk is whole. A flush is three writes in an order that loses nothing that an earlier flush wrote, wherever the
//! program is killed:
//!
//! 1. the new bytes from the fifth on, behind the present end: so far they belong to no track;
//! 2. the new length of the track: it now holds them, behind an End of Track that still stands;
//! 3. the first four new bytes, over that End of Track.
//!
//! Killed means that the program ends; against a power cut only [`TakeWriter::finish`] helps, which waits for the disk.

use super::conductor::Conductor;
use super::take_track::{TakeHeadBytes, TakeTrack, chunk_length};
use super::track_bytes::END_OF_TRACK;
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A take being written. Belongs to an ordinary thread: it allocates and waits for the disk.
#[derive(Debug)]
pub struct TakeWriter {
    file: File,
    track: GrowingTrack,
}

/// The bass track: how much of it is on disk, and what is not yet.
#[derive(Debug)]
struct GrowingTrack {
    /// Where its data begin in the file.
    start: u64,
    /// Where its data end on disk, after the End of Track.
    end: u64,
    new: TakeTrack,
}

/// Bytes and the place in the file where they go.
#[derive(Debug, PartialEq, Eq)]
struct Patch {
    at: u64,
    bytes: Vec<u8>,
}

impl TakeWriter {
    /// Begins a take at `path`. The file appears at once with its whole conductor track and an empty bass track.
    /// [`io::ErrorKind::AlreadyExists`] if there is a file of that name: a take never overwrites one.
    pub fn create(path: &Path, conductor: &Conductor) -> io::Result<TakeWriter> {
        let (head, track) = beginning(conductor)?;
        Ok(TakeWriter {
            file: create_whole(path, &head)?,
            track,
        })
    }

    /// Adds a message, in memory: see [`TakeTrack::push`].
    pub fn push(&mut self, message: TimedMessage) -> Option<TimedMessage> {
        self.track.new.push(message)
    }

    /// Adds a text, in memory: see [`TakeTrack::push_text`].
    pub fn push_text(&mut self, at: Nanos, tag: &str, json: &str) -> io::Result<()> {
        self.track.new.push_text(at, tag, json)
    }

    /// Brings the file on disk up to what was pushed. After an error it may be tried again; nothing is lost.
    pub fn flush(&mut self) -> io::Result<()> {
        for patch in self.track.patches()? {
            self.file.seek(SeekFrom::Start(patch.at))?;
            self.file.write_all(&patch.bytes)?;
        }
        self.track.settle();
        Ok(())
    }

    /// Flushes and waits until the disk has it all.
    pub fn finish(mut self) -> io::Result<()> {
        self.flush()?;
        self.file.sync_all()
    }
}

impl Drop for TakeWriter {
    /// Keeps what was pushed, as far as the disk lets it; to hear of errors, call [`TakeWriter::finish`].
    fn drop(&mut self) {
        let _ = self.flush();
    }
}

impl GrowingTrack {
    /// The writes of a flush, in order.
    fn patches(&self) -> io::Result<Vec<Patch>> {
        let pending = self.new.pending();
        if pending.is_empty() {
            return Ok(Vec::new());
        }
        // An event takes three bytes at least, so that with the End of Track there are more than four.
        let new = [pending, &END_OF_TRACK].concat();
        let (first, rest) = new.split_at(END_OF_TRACK.len());
        let length = chunk_length((self.end - self.start) as usize + rest.len())?;
        let patch = |at, bytes: &[u8]| Patch {
            at,
            bytes: bytes.to_vec(),
        };
        Ok(vec![
            patch(self.end, rest),
            patch(self.start - 4, &length),
            patch(self.end - END_OF_TRACK.len() as u64, first),
        ])
    }

    /// Takes what was pending as written.
    fn settle(&mut self) {
        self.end += self.new.pending().len() as u64;
        self.new.settle();
    }
}

/// The file before the first note, and where its bass track goes on.
fn beginning(conductor: &Conductor) -> io::Result<(Vec<u8>, GrowingTrack)> {
    let head = TakeHeadBytes::new(conductor);
    let file = head.with(&[])?;
    let track = GrowingTrack {
        start: head.track_start as u64,
        end: file.len() as u64,
        new: TakeTrack::new(conductor),
    };
    Ok((file, track))
}

/// Makes a file appear with its content, under a name that must be free: written under another name, then linked.
fn create_whole(path: &Path, content: &[u8]) -> io::Result<File> {
    let draft = draft_name(path)?;
    let file = written(&draft, content).map_err(|error| named(error, path))?;
    let linked = fs::hard_link(&draft, path);
    // A draft that cannot be removed is a nuisance, no loss.
    let _ = fs::remove_file(&draft);
    match linked {
        Ok(()) => Ok(file),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(named(error, path)),
        // Some file systems (FAT) have no links: the name is still taken only if it is free.
        Err(_) => written(path, content).map_err(|error| named(error, path)),
    }
}

/// A new file with its content, or none.
fn written(path: &Path, content: &[u8]) -> io::Result<File> {
    let mut file = new_file(path)?;
    match file.write_all(content) {
        Ok(()) => Ok(file),
        Err(error) => {
            let _ = fs::remove_file(path);
            Err(error)
        }
    }
}

fn new_file(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

fn draft_name(path: &Path) -> io::Result<PathBuf> {
    let Some(name) = path.file_name() else {
        return Err(named(io::ErrorKind::InvalidInput.into(), path));
    };
    let draft = format!(".{}.{}.part", name.to_string_lossy(), std::process::id());
    Ok(path.with_file_name(draft))
}

fn named(error: io::Error, path: &Path) -> io::Error {
    let reason = match error.kind() {
        io::ErrorKind::AlreadyExists => {
            "there is a file of that name already, and a take overwrites none".to_string()
        }
        _ => error.to_string(),
    };
    io::Error::new(error.kind(), format!("{}: {reason}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::midi::smf::damage::DamageKind;
    use crate::midi::smf::{self, SmfFile};
    use crate::played::MidiMessage;
    use crate::units::Key;

    fn conductor() -> Conductor {
        Conductor::new("Ferry Steps", "{}", vec![(0, 476_190)]).expect("a tempo")
    }

    fn note(index: i64) -> TimedMessage {
        let key = Key(28 + (index % 20) as u8);
        let message = match index % 2 {
            0 => MidiMessage::NoteOn {
                channel: 0,
                key,
                velocity: 90,
            },
            _ => MidiMessage::NoteOff { channel: 0, key },
        };
        let at = Nanos::from_ms(97 * index);
        TimedMessage { at, message }
    }

    /// What the disk holds after a write.
    fn apply(disk: &mut Vec<u8>, at: u64, bytes: &[u8]) {
        let at = at as usize;
        disk.resize(disk.len().max(at + bytes.len()), 0);
        disk[at..at + bytes.len()].copy_from_slice(bytes);
    }

    fn messages(disk: &[u8]) -> (SmfFile, Vec<TimedMessage>) {
        let file = smf::read(disk).expect("a take");
        let messages = file.messages();
        (file, messages)
    }

    #[test]
    fn wherever_a_flush_is_broken_off_the_flushed_messages_are_there() {
        let (mut disk, mut track) = beginning(&conductor()).expect("a short file");
        let mut flushed = Vec::new();
        let mut pushed = 0..200;
        for burst in [1, 3, 40, 1, 100] {
            for message in pushed.by_ref().take(burst).map(note) {
                track.new.push(message).expect("a message");
            }
            for patch in track.patches().expect("a short track") {
                // Between two writes any reader finds the flushed messages and an End of Track.
                let (file, between) = messages(&disk);
                assert_eq!(between, flushed);
                assert!(
                    file.damage.iter().all(|damage| matches!(
                        damage.kind,
                        DamageKind::Stray | DamageKind::AfterEnd
                    ))
                );
                for length in 0..patch.bytes.len() {
                    let mut killed = disk.clone();
                    apply(&mut killed, patch.at, &patch.bytes[..length]);
                    let (file, messages) = messages(&killed);
                    assert!(messages.starts_with(&flushed), "{burst} {length}");
                    assert_eq!(file.take_json(), Some("{}"));
                }
                apply(&mut disk, patch.at, &patch.bytes);
            }
            track.settle();
            let (file, messages) = messages(&disk);
            assert_eq!(file.damage, []);
            assert_eq!(messages.len(), flushed.len() + burst);
            flushed = messages;
        }
    }

    #[test]
    fn a_flush_without_anything_new_writes_nothing() {
        let (_, track) = beginning(&conductor()).expect("a short file");
        assert_eq!(track.patches().expect("a short track"), []);
    }
}
