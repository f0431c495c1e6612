//! The events of one track, one by one.
//!
//! Our own, because a take must not lose notes silently: the `midly` crate drops the running status after a meta or
//! SysEx event (SMF 1.0 asks writers to state it again, files in the wild do not) and then ends the track without a
//! word. Here the running status goes on, and what cannot be read is said with its place. The tests compare the two
//! readers on files that are whole.

use super::damage::DamageKind;
use crate::midi::message;
use crate::midi::vlq::{self, VlqError};
use crate::played::MidiMessage;

/// Reads events from `position` up to `end`.
pub(super) struct EventReader<'a> {
    bytes: &'a [u8],
    /// Of the next event, in the file.
    pub(super) position: usize,
    /// Where the track is taken to end; may be moved on.
    pub(super) end: usize,
    running: Option<u8>,
    /// Of the last event read.
    pub(super) tick: u64,
}

/// One event.
pub(super) enum TrackEvent<'a> {
    Message(MidiMessage),
    Meta {
        kind: u8,
        data: &'a [u8],
    },
    EndOfTrack,
    /// SysEx, escapes and system messages: nothing that bears on notes.
    Other,
}

/// A part that is being read: its bytes and how far in it is.
struct Cursor<'a> {
    bytes: &'a [u8],
    position: usize,
}

const META: u8 = 0xFF;
const META_END_OF_TRACK: u8 = 0x2F;

impl<'a> EventReader<'a> {
    /// `start..end` lies within `bytes`, which is the whole file.
    pub(super) fn new(bytes: &'a [u8], start: usize, end: usize) -> EventReader<'a> {
        EventReader {
            bytes,
            position: start,
            end,
            running: None,
            tick: 0,
        }
    }

    /// The next event. After an error the position is that of the event that could not be read, and the tick that of the
    /// event before.
    pub(super) fn next(&mut self) -> Result<TrackEvent<'a>, DamageKind> {
        if self.position >= self.end {
            return Err(DamageKind::NoEndOfTrack);
        }
        let mut cursor = Cursor {
            bytes: &self.bytes[..self.end],
            position: self.position,
        };
        let delta = cursor.number()?;
        let event = self.event(&mut cursor)?;
        self.tick += u64::from(delta);
        self.position = cursor.position;
        Ok(event)
    }

    fn event(&mut self, cursor: &mut Cursor<'a>) -> Result<TrackEvent<'a>, DamageKind> {
        let status = match cursor.peek()? {
            0x80.. => cursor.byte()?,
            _ => self.running.ok_or(DamageKind::NoStatus)?,
        };
        match status {
            META => return meta(cursor),
            0xF0 | 0xF7 => {
                let length = cursor.number()?;
                cursor.take(length as usize)?;
            }
            // Not allowed bare in a file, but harmless: their lengths are known.
            0xF1 | 0xF3 => drop(cursor.data(1)?),
            0xF2 => drop(cursor.data(2)?),
            0xF6 | 0xF8 | 0xFA..=0xFC | 0xFE => {}
            _ => return self.channel_message(status, cursor),
        }
        Ok(TrackEvent::Other)
    }

    fn channel_message(
        &mut self,
        status: u8,
        cursor: &mut Cursor<'a>,
    ) -> Result<TrackEvent<'a>, DamageKind> {
        let unknown = DamageKind::UnknownStatus(status);
        let length = message::data_length(status).ok_or(unknown)?;
        let data = cursor.data(length)?;
        self.running = Some(status);
        message::from_parts(status, data)
            .map(TrackEvent::Message)
            .ok_or(unknown)
    }
}

fn meta<'a>(cursor: &mut Cursor<'a>) -> Result<TrackEvent<'a>, DamageKind> {
    let kind = cursor.byte()?;
    let length = cursor.number()?;
    let data = cursor.take(length as usize)?;
    Ok(match kind {
        META_END_OF_TRACK => TrackEvent::EndOfTrack,
        _ => TrackEvent::Meta { kind, data },
    })
}

impl<'a> Cursor<'a> {
    fn peek(&self) -> Result<u8, DamageKind> {
        self.bytes
            .get(self.position)
            .copied()
            .ok_or(DamageKind::CutShort)
    }

    fn byte(&mut self) -> Result<u8, DamageKind> {
        let byte = self.peek()?;
        self.position += 1;
        Ok(byte)
    }

    fn take(&mut self, length: usize) -> Result<&'a [u8], DamageKind> {
        let rest = &self.bytes[self.position..];
        let taken = rest.get(..length).ok_or(DamageKind::CutShort)?;
        self.position += length;
        Ok(taken)
    }

    fn number(&mut self) -> Result<u32, DamageKind> {
        let (value, length) = match vlq::read(&self.bytes[self.position..]) {
            Ok(read) => read,
            Err(VlqError::Cut) => return Err(DamageKind::CutShort),
            Err(VlqError::TooLong) => return Err(DamageKind::LongNumber),
        };
        self.position += length;
        Ok(value)
    }

    /// Data bytes, which are below 128.
    fn data(&mut self, length: usize) -> Result<&'a [u8], DamageKind> {
        let rest = &self.bytes[self.position..];
        let seen = &rest[..rest.len().min(length)];
        match seen.iter().find(|&&byte| byte >= 0x80) {
            Some(&byte) => Err(DamageKind::NoData(byte)),
            None => self.take(length),
        }
    }
}
