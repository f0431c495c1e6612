//! What a take says as bytes of a Standard MIDI File: a head that is known before the first note, and the track of what
//! was played, which grows. [`TakeWriter`](super::take_writer::TakeWriter) keeps them in a file, the logbook in a table.

use super::conductor::{Conductor, DIVISION};
use super::message;
use super::smf::TAKE_TAG;
use super::tick_clock::TickClock;
use super::track_bytes::{END_OF_TRACK, META_TEXT, META_TRACK_NAME, TrackBytes};
use super::vlq;
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::io;

/// The name of the track that holds what was played.
pub const BASS_TRACK: &str = "bass";

/// What a track's chunk begins with: its type and its length.
const CHUNK_HEAD: usize = 8;

/// The track of what is played: what has been pushed and not been taken yet.
#[derive(Debug)]
pub struct TakeTrack {
    clock: TickClock,
    pub(super) pending: TrackBytes,
}

impl TakeTrack {
    /// Before the first event.
    pub fn new(conductor: &Conductor) -> TakeTrack {
        TakeTrack {
            clock: conductor.clock().clone(),
            pending: TrackBytes::default(),
        }
    }

    /// Adds a message; its time is since the start of the file. Messages come in time: one that is earlier than the last
    /// is put at the time of the last. Returns the message as it will be read from the file, or `None` when it is no
    /// message that a file can hold (see [`message::encode`]).
    pub fn push(&mut self, message: TimedMessage) -> Option<TimedMessage> {
        let bytes = message::encode(message.message)?;
        let tick = self.clock.tick_of(message.at);
        let tick = self.pending.push_message(tick, &bytes);
        Some(TimedMessage {
            at: self.clock.time_of(tick),
            message: message.message,
        })
    }

    /// Adds a text `tag`, a space, `json` likewise, for what is only known during the take or after it;
    /// [`SmfFile::tagged`](super::smf::SmfFile::tagged) finds it.
    /// [`io::ErrorKind::InvalidInput`] for a text longer than 268 MB, or with the tag of the settings, which are final.
    pub fn push_text(&mut self, at: Nanos, tag: &str, json: &str) -> io::Result<()> {
        let text = format!("{tag} {json}");
        if text.len() > vlq::MAX as usize || tag == TAKE_TAG {
            return Err(io::ErrorKind::InvalidInput.into());
        }
        let tick = self.clock.tick_of(at);
        self.pending.push_meta(tick, META_TEXT, text.as_bytes());
        Ok(())
    }

    /// What has been pushed since [`TakeTrack::settle`].
    pub fn pending(&self) -> &[u8] {
        &self.pending.bytes
    }

    /// Takes what was pending as kept.
    pub fn settle(&mut self) {
        self.pending.bytes.clear();
    }
}

/// A take without events: the conductor's track whole, and of the bass track its chunk's head and its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakeHeadBytes {
    /// A file up to where the events go.
    pub bytes: Vec<u8>,
    /// Where the data of the bass track begin.
    pub track_start: usize,
}

impl TakeHeadBytes {
    /// The head of a take with this conductor.
    pub fn new(conductor: &Conductor) -> TakeHeadBytes {
        let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x02".to_vec();
        bytes.extend(DIVISION.get().to_be_bytes());
        bytes.extend(conductor.chunk());
        bytes.extend(b"MTrk\0\0\0\0");
        let track_start = bytes.len();
        bytes.extend(name());
        TakeHeadBytes { bytes, track_start }
    }

    /// A head that was kept; `None` where it is none.
    pub fn kept(bytes: Vec<u8>) -> Option<TakeHeadBytes> {
        let track_start = bytes.len().checked_sub(name().len())?;
        let chunk = track_start.checked_sub(CHUNK_HEAD)?;
        let is_head = bytes[chunk..].starts_with(b"MTrk") && bytes[track_start..] == name();
        is_head.then_some(TakeHeadBytes { bytes, track_start })
    }

    /// The head and the events of a file that leadsman wrote, as far as the file goes; `None` for any other.
    pub fn split(file: &[u8]) -> Option<(TakeHeadBytes, Vec<u8>)> {
        const HEADER: usize = 14;
        let conductor = chunk(file, HEADER)?;
        let data = chunk(file, HEADER + CHUNK_HEAD + conductor.len())?;
        let events = data.strip_prefix(&name()[..])?;
        let events = events.strip_suffix(&END_OF_TRACK).unwrap_or(events);
        let track_start = HEADER + 2 * CHUNK_HEAD + conductor.len();
        let mut bytes = file[..track_start + name().len()].to_vec();
        bytes[track_start - 4..track_start].fill(0);
        Some((TakeHeadBytes { bytes, track_start }, events.to_vec()))
    }

    /// The whole file with these events; [`io::ErrorKind::FileTooLarge`] from 4 GB on.
    pub fn with(&self, events: &[u8]) -> io::Result<Vec<u8>> {
        let mut file = self.bytes.clone();
        file.extend(events);
        file.extend(END_OF_TRACK);
        let length = chunk_length(file.len() - self.track_start)?;
        file[self.track_start - 4..self.track_start].copy_from_slice(&length);
        Ok(file)
    }
}

/// The length of a track's data as its chunk says it.
pub(super) fn chunk_length(length: usize) -> io::Result<[u8; 4]> {
    u32::try_from(length)
        .map(u32::to_be_bytes)
        .map_err(|_| io::Error::new(io::ErrorKind::FileTooLarge, "a track ends at 4 GB"))
}

/// The data of the track's chunk at this place, as far as they go.
fn chunk(file: &[u8], at: usize) -> Option<&[u8]> {
    let data = file.get(at..)?.strip_prefix(b"MTrk")?;
    let (length, data) = data.split_first_chunk::<4>()?;
    let length = u32::from_be_bytes(*length) as usize;
    Some(&data[..length.min(data.len())])
}

fn name() -> Vec<u8> {
    let mut name = TrackBytes::default();
    name.push_meta(0, META_TRACK_NAME, BASS_TRACK.as_bytes());
    name.bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kept_head_is_known_again_and_anything_else_is_none() {
        let conductor = Conductor::new("Ferry Steps", "{}", vec![(0, 476_190)]).expect("a tempo");
        let head = TakeHeadBytes::new(&conductor);
        assert_eq!(TakeHeadBytes::kept(head.bytes.clone()), Some(head.clone()));
        let events = [0, 0x90, 40, 90, 0x87, 0x40, 0x80, 40, 0];
        let file = head.with(&events).expect("a short file");
        assert_eq!(
            TakeHeadBytes::split(&file),
            Some((head.clone(), events.to_vec()))
        );
        let cut = TakeHeadBytes::split(&file[..file.len() - 6]);
        assert_eq!(cut, Some((head.clone(), events[..7].to_vec())));
        for cut in 0..head.bytes.len() {
            assert_eq!(TakeHeadBytes::split(&head.bytes[..cut]), None);
            assert_eq!(TakeHeadBytes::kept(head.bytes[..cut].to_vec()), None);
        }
    }
}
