//! The chunks of a file: its header, its tracks, and what lies between them.

use super::damage::{Damage, DamageKind};
use super::error::{SmfError, looks_like};
use super::event_reader::{EventReader, TrackEvent};
use super::track_content::Content;
use crate::midi::tick_clock::Division;
use std::ops::Range;

const CHUNK_HEAD: usize = 8;
const TRACK: [u8; 4] = *b"MTrk";

/// The header chunk.
pub(super) struct Header {
    pub(super) format: u16,
    pub(super) tracks: u16,
    pub(super) division: Division,
    /// Where it ends in the file.
    end: usize,
}

/// Reads the header and every track.
pub(super) fn read(bytes: &[u8]) -> Result<(Header, Content), SmfError> {
    let body = body(bytes);
    let header = header(&bytes[..body.end], body.start)?;
    let mut content = Content::default();
    let mut position = header.end;
    while position < body.end {
        position = chunk(bytes, position, body.end, &mut content);
    }
    let found = content.tracks.len();
    if found < usize::from(header.tracks) {
        content.damage.push(Damage {
            track: None,
            byte: body.end,
            kind: DamageKind::MissingTracks {
                promised: header.tracks,
                found,
            },
            events_read: 0,
            unread: 0,
            missing: 0,
        });
    }
    Ok((header, content))
}

/// Where the MIDI file lies: all of `bytes`, or the data chunk of a RIFF file of kind RMID.
fn body(bytes: &[u8]) -> Range<usize> {
    if !bytes.starts_with(b"RIFF") || bytes.get(8..12) != Some(b"RMID") {
        return 0..bytes.len();
    }
    let mut position = 12;
    while let Some(head) = bytes.get(position..position + CHUNK_HEAD) {
        let length = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
        let start = position + CHUNK_HEAD;
        let end = start.saturating_add(length);
        if head.starts_with(b"data") {
            return start..end.min(bytes.len());
        }
        position = end.saturating_add(length % 2);
        if position >= bytes.len() {
            break;
        }
    }
    0..bytes.len()
}

fn header(bytes: &[u8], start: usize) -> Result<Header, SmfError> {
    let found = &bytes[start..];
    if bytes.is_empty() {
        return Err(SmfError::Empty);
    }
    if !found.starts_with(&b"MThd"[..found.len().min(4)]) {
        let looks_like = looks_like(found);
        return Err(SmfError::NotMidi { looks_like });
    }
    let Some(head) = found.get(..14) else {
        return Err(SmfError::HeaderCut { found: found.len() });
    };
    let word = |at: usize| u16::from_be_bytes([head[at], head[at + 1]]);
    let length = length(head);
    if length < 6 {
        return Err(SmfError::HeaderLength(length));
    }
    match word(8) {
        0 | 1 => {}
        2 => return Err(SmfError::IndependentSequences),
        other => return Err(SmfError::UnknownFormat(other)),
    }
    Ok(Header {
        format: word(8),
        tracks: word(10),
        division: Division::from_word(word(12)).ok_or(SmfError::Division(word(12)))?,
        end: (start + CHUNK_HEAD).saturating_add(length as usize),
    })
}

/// Reads the chunk at `position` and says where the next one is to be looked for.
fn chunk(bytes: &[u8], position: usize, end: usize, content: &mut Content) -> usize {
    let rest = &bytes[position..end];
    if is_chunk_head(rest) {
        let stated_end = (position + CHUNK_HEAD).saturating_add(length(rest) as usize);
        if rest.starts_with(&TRACK) {
            return track(bytes, position + CHUNK_HEAD, stated_end, end, content);
        }
        if stated_end <= end {
            return stated_end;
        }
    }
    let next = next_track(bytes, position + 1, end);
    content.damage.push(Damage {
        track: None,
        byte: position,
        kind: DamageKind::Stray,
        events_read: 0,
        unread: next - position,
        missing: 0,
    });
    next
}

/// Reads one track to its End of Track. Where that is not within the stated length and no chunk follows, the length is
/// not believed: recorders that were killed leave it too short.
fn track(
    bytes: &[u8],
    start: usize,
    stated_end: usize,
    end: usize,
    content: &mut Content,
) -> usize {
    let mut reader = EventReader::new(bytes, start, stated_end.min(end));
    content.begin_track();
    loop {
        match reader.next() {
            Ok(TrackEvent::EndOfTrack) => break,
            Ok(event) => content.add(event, reader.tick, reader.position),
            Err(kind) if is_too_short(kind, reader.end, bytes, end) => {
                reader.end = next_track(bytes, reader.end, end);
            }
            Err(kind) => return broken(&reader, kind, stated_end, content),
        }
    }
    ended(bytes, reader.position, stated_end, end, content)
}

/// Whether a track that stops at `stop` for this reason goes on behind it: no chunk begins there.
fn is_too_short(kind: DamageKind, stop: usize, bytes: &[u8], end: usize) -> bool {
    let stops = matches!(kind, DamageKind::NoEndOfTrack | DamageKind::CutShort);
    let rest = &bytes[stop..end];
    stops && !rest.is_empty() && !rest.starts_with(&TRACK) && !is_chunk_head(rest)
}

/// A track that could not be read to its end.
fn broken(
    reader: &EventReader,
    kind: DamageKind,
    stated_end: usize,
    content: &mut Content,
) -> usize {
    let resume = reader.end;
    let missing = stated_end.saturating_sub(resume);
    content.damage_track(reader.position, kind, resume - reader.position, missing);
    resume
}

/// A track whose End of Track has been read, just before `at`.
fn ended(bytes: &[u8], at: usize, stated_end: usize, end: usize, content: &mut Content) -> usize {
    let within = stated_end.min(end);
    if at < within && !bytes[at..end].starts_with(&TRACK) {
        content.damage_track(at, DamageKind::AfterEnd, within - at, stated_end - within);
        return within;
    }
    if at != stated_end {
        content.damage_track(at, DamageKind::WrongLength, 0, 0);
    }
    at
}

/// Whether a chunk can begin here: four printable letters and a length.
fn is_chunk_head(bytes: &[u8]) -> bool {
    bytes
        .get(..CHUNK_HEAD)
        .is_some_and(|head| head[..4].iter().all(|byte| (b' '..=b'~').contains(byte)))
}

fn length(chunk: &[u8]) -> u32 {
    u32::from_be_bytes([chunk[4], chunk[5], chunk[6], chunk[7]])
}

/// Where the next track's header is, from `position` on; `end` if there is none.
fn next_track(bytes: &[u8], position: usize, end: usize) -> usize {
    bytes[position..end]
        .windows(TRACK.len())
        .position(|window| window == TRACK)
        .map_or(end, |found| position + found)
}
