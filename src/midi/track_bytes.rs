//! The bytes of a track as they are written: delta times, channel messages, meta events.
//!
//! Every event carries its status byte, so that a track that is cut anywhere reads right up to the cut.

use super::message::MessageBytes;
use super::vlq;

pub(super) const META_TEXT: u8 = 0x01;
pub(crate) const META_TRACK_NAME: u8 = 0x03;
pub(super) const META_MARKER: u8 = 0x06;
/// Sharps, negative for flats, and 1 for minor.
pub(super) const META_KEY_SIGNATURE: u8 = 0x59;
pub(super) const META_TEMPO: u8 = 0x51;
pub(super) const META_TIME_SIGNATURE: u8 = 0x58;
/// Delta 0 and the End of Track event.
pub(super) const END_OF_TRACK: [u8; 4] = [0x00, 0xFF, 0x2F, 0x00];

/// A sequencer-specific event without content: it fills a gap that no single delta time spans, and means nothing.
const FILLER: [u8; 3] = [0xFF, 0x7F, 0x00];

/// Events in the making, appended in time.
#[derive(Debug, Default)]
pub(crate) struct TrackBytes {
    /// What has been appended and not been taken away.
    pub(super) bytes: Vec<u8>,
    /// Of the last event.
    tick: u64,
}

impl TrackBytes {
    /// Appends a channel message at a tick, or at that of the last event if that is later. Returns the tick used.
    pub(crate) fn push_message(&mut self, tick: u64, message: &MessageBytes) -> u64 {
        self.push_delta(tick);
        self.bytes.extend_from_slice(message.as_slice());
        self.tick
    }

    /// Appends a meta event likewise. Its data must not be longer than [`vlq::MAX`].
    pub(crate) fn push_meta(&mut self, tick: u64, kind: u8, data: &[u8]) {
        self.push_delta(tick);
        self.bytes.extend([0xFF, kind]);
        vlq::push(&mut self.bytes, data.len() as u32);
        self.bytes.extend_from_slice(data);
    }

    /// The whole track, ended.
    pub(crate) fn into_chunk(mut self) -> Vec<u8> {
        self.bytes.extend(END_OF_TRACK);
        let mut chunk = b"MTrk".to_vec();
        chunk.extend((self.bytes.len() as u32).to_be_bytes());
        chunk.extend(self.bytes);
        chunk
    }

    fn push_delta(&mut self, tick: u64) {
        let tick = tick.max(self.tick);
        let mut delta = tick - self.tick;
        while delta > u64::from(vlq::MAX) {
            vlq::push(&mut self.bytes, vlq::MAX);
            self.bytes.extend(FILLER);
            delta -= u64::from(vlq::MAX);
        }
        vlq::push(&mut self.bytes, delta as u32);
        self.tick = tick;
    }
}
