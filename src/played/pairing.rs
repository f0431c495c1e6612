//! Note-ons and note-offs to notes, as they come.
//!
//! Notes are paired by (channel, key): converters with a channel a string may sound one key on two strings. When a key is
//! struck again before its off, its offs end the notes in the order in which they began (first in, first out).
//!
//! [`Pairing::push`] may be called from a real-time thread: all memory is taken in [`Pairing::new`].

use super::{MidiMessage, PlayedNote, TimedMessage};
use crate::units::{Key, Nanos};

/// How many notes can sound at once. No bass comes near; a device that never sends offs does, and then the notes beyond
/// begin but never end.
pub const CAPACITY: usize = 4096;

const CHANNELS: usize = 16;
const KEYS: usize = 128;
/// No slot.
const NONE: u16 = u16::MAX;

/// A note's number, in the order of onsets, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteId(pub u32);

/// What a message does to the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteEvent {
    /// A note begins.
    Started {
        /// Its number.
        id: NoteId,
        /// The note, its length still unknown.
        note: PlayedNote,
    },
    /// A note ends.
    Ended {
        /// Its number.
        id: NoteId,
        /// When it ends.
        at: Nanos,
        /// How long it sounded, 0 or more.
        length: Nanos,
    },
}

/// The notes that sound, and what pairs their ends with them.
#[derive(Clone, Debug)]
pub struct Pairing {
    queues: Box<[Queue]>,
    slots: Box<[Slot]>,
    /// The first slot that holds no note; the others follow by `next`.
    free: u16,
    sounding: usize,
    next_id: u32,
    stray_offs: u64,
    endless: u64,
}

/// The sounding notes of one (channel, key), as a list through the slots.
#[derive(Clone, Copy, Debug)]
struct Queue {
    oldest: u16,
    newest: u16,
}

#[derive(Clone, Copy, Debug)]
struct Slot {
    id: NoteId,
    onset: Nanos,
    next: u16,
}

impl Default for Pairing {
    fn default() -> Pairing {
        Pairing::new()
    }
}

impl Pairing {
    /// With nothing sounding. Takes all the memory that will ever be needed.
    pub fn new() -> Pairing {
        let slot = |index| Slot {
            id: NoteId(0),
            onset: Nanos::ZERO,
            next: if index + 1 < CAPACITY {
                index as u16 + 1
            } else {
                NONE
            },
        };
        let empty = Queue {
            oldest: NONE,
            newest: NONE,
        };
        Pairing {
            queues: vec![empty; CHANNELS * KEYS].into_boxed_slice(),
            slots: (0..CAPACITY).map(slot).collect(),
            free: 0,
            sounding: 0,
            next_id: 0,
            stray_offs: 0,
            endless: 0,
        }
    }

    /// Takes the next message and hands what it does to `sink`: nothing, one event, or the end of many notes. Messages
    /// come in the order of time; an end before its onset gives length 0.
    pub fn push(&mut self, message: TimedMessage, mut sink: impl FnMut(NoteEvent)) {
        let at = message.at;
        match message.message {
            MidiMessage::NoteOn {
                channel,
                key,
                velocity,
            } => {
                let note = PlayedNote {
                    key,
                    channel,
                    onset: at,
                    length: None,
                    velocity,
                };
                let id = self.start(&note);
                sink(NoteEvent::Started { id, note });
            }
            MidiMessage::NoteOff { channel, key } => match self.end_oldest(channel, key, at) {
                Some(event) => sink(event),
                None => self.stray_offs += 1,
            },
            MidiMessage::AllNotesOff { channel } => self.end_channel(channel, at, &mut sink),
            MidiMessage::Other(_) => {}
        }
    }

    /// Ends every sounding note, as when the instrument is unplugged.
    pub fn end_all(&mut self, at: Nanos, mut sink: impl FnMut(NoteEvent)) {
        for channel in 0..CHANNELS as u8 {
            self.end_channel(channel, at, &mut sink);
        }
    }

    /// How many notes sound.
    pub fn sounding(&self) -> usize {
        self.sounding
    }

    /// How many note-offs had no note to end.
    pub fn stray_offs(&self) -> u64 {
        self.stray_offs
    }

    /// How many notes will never end because [`CAPACITY`] others were sounding when they began.
    pub fn endless(&self) -> u64 {
        self.endless
    }

    fn start(&mut self, note: &PlayedNote) -> NoteId {
        let id = NoteId(self.next_id);
        self.next_id = self.next_id.wrapping_add(1);
        let (Some(queue), false) = (queue_index(note.channel, note.key), self.free == NONE) else {
            self.endless += 1;
            return id;
        };
        let taken = self.free;
        let slot = &mut self.slots[usize::from(taken)];
        self.free = slot.next;
        *slot = Slot {
            id,
            onset: note.onset,
            next: NONE,
        };
        let queue = &mut self.queues[queue];
        match queue.newest {
            NONE => queue.oldest = taken,
            newest => self.slots[usize::from(newest)].next = taken,
        }
        queue.newest = taken;
        self.sounding += 1;
        id
    }

    fn end_oldest(&mut self, channel: u8, key: Key, at: Nanos) -> Option<NoteEvent> {
        let queue = &mut self.queues[queue_index(channel, key)?];
        let freed = queue.oldest;
        if freed == NONE {
            return None;
        }
        let slot = &mut self.slots[usize::from(freed)];
        queue.oldest = slot.next;
        if queue.oldest == NONE {
            queue.newest = NONE;
        }
        slot.next = self.free;
        self.free = freed;
        self.sounding -= 1;
        Some(NoteEvent::Ended {
            id: slot.id,
            at,
            length: Nanos(at.0.saturating_sub(slot.onset.0).max(0)),
        })
    }

    fn end_channel(&mut self, channel: u8, at: Nanos, sink: &mut impl FnMut(NoteEvent)) {
        for key in 0..KEYS as u8 {
            while let Some(event) = self.end_oldest(channel, Key(key), at) {
                sink(event);
            }
        }
    }
}

/// The notes of a whole take in the order of their onsets: [`Pairing`] over every message. `events` come in time.
pub fn pair(events: impl Iterator<Item = TimedMessage>) -> Vec<PlayedNote> {
    let mut pairing = Pairing::new();
    let mut notes: Vec<PlayedNote> = Vec::new();
    for event in events {
        pairing.push(event, |event| match event {
            NoteEvent::Started { note, .. } => notes.push(note),
            NoteEvent::Ended { id, length, .. } => notes[id.0 as usize].length = Some(length),
        });
    }
    notes
}

fn queue_index(channel: u8, key: Key) -> Option<usize> {
    let (channel, key) = (usize::from(channel), usize::from(key.0));
    (channel < CHANNELS && key < KEYS).then_some(channel * KEYS + key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn on(ms: i64, channel: u8, key: u8) -> TimedMessage {
        TimedMessage {
            at: Nanos::from_ms(ms),
            message: MidiMessage::NoteOn {
                channel,
                key: Key(key),
                velocity: 80,
            },
        }
    }

    fn off(ms: i64, channel: u8, key: u8) -> TimedMessage {
        TimedMessage {
            at: Nanos::from_ms(ms),
            message: MidiMessage::NoteOff {
                channel,
                key: Key(key),
            },
        }
    }

    fn all_off(ms: i64, channel: u8) -> TimedMessage {
        TimedMessage {
            at: Nanos::from_ms(ms),
            message: MidiMessage::AllNotesOff { channel },
        }
    }

    fn lengths_ms(events: &[TimedMessage]) -> Vec<Option<i64>> {
        let notes = pair(events.iter().copied());
        notes
            .iter()
            .map(|note| note.length.map(|length| length.0 / 1_000_000))
            .collect()
    }

    #[test]
    fn a_key_struck_again_ends_first_in_first_out() {
        let events = [on(0, 0, 40), on(10, 0, 40), off(15, 0, 40), off(40, 0, 40)];
        assert_eq!(lengths_ms(&events), [Some(15), Some(30)]);
    }

    #[test]
    fn the_same_key_on_two_channels_is_two_strings() {
        let events = [on(0, 0, 40), on(10, 1, 40), off(15, 1, 40), off(40, 0, 40)];
        assert_eq!(lengths_ms(&events), [Some(40), Some(5)]);
    }

    #[test]
    fn all_notes_off_ends_the_notes_of_its_channel_only() {
        let events = [on(0, 0, 40), on(1, 0, 41), on(2, 1, 40), all_off(10, 0)];
        assert_eq!(lengths_ms(&events), [Some(10), Some(9), None]);
    }

    #[test]
    fn a_note_that_ends_at_once_is_kept_with_length_zero() {
        assert_eq!(lengths_ms(&[on(5, 0, 40), off(5, 0, 40)]), [Some(0)]);
    }

    #[test]
    fn offs_without_a_note_are_counted() {
        let mut pairing = Pairing::new();
        pairing.push(off(0, 0, 40), |event| panic!("{event:?}"));
        assert_eq!(pairing.stray_offs(), 1);
    }

    #[test]
    fn more_notes_than_can_sound_still_begin_and_the_others_still_end() {
        let mut pairing = Pairing::new();
        let (mut started, mut ended) = (0, 0);
        for _ in 0..CAPACITY + 10 {
            pairing.push(on(0, 3, 40), |_| started += 1);
        }
        pairing.end_all(Nanos::from_ms(1), |_| ended += 1);
        assert_eq!((started, ended), (CAPACITY + 10, CAPACITY));
        assert_eq!((pairing.endless(), pairing.sounding()), (10, 0));
        pairing.push(on(2, 3, 40), |_| {});
        assert_eq!((pairing.endless(), pairing.sounding()), (10, 1));
    }

    /// The rule again with a queue a key and no fixed memory.
    fn by_queues(events: &[TimedMessage]) -> Vec<PlayedNote> {
        use std::collections::{BTreeMap, VecDeque};
        let mut notes: Vec<PlayedNote> = Vec::new();
        let mut sounding: BTreeMap<(u8, Key), VecDeque<usize>> = BTreeMap::new();
        for event in events {
            let ended: Vec<usize> = match event.message {
                MidiMessage::NoteOn {
                    channel,
                    key,
                    velocity,
                } => {
                    sounding
                        .entry((channel, key))
                        .or_default()
                        .push_back(notes.len());
                    notes.push(PlayedNote {
                        key,
                        channel,
                        onset: event.at,
                        length: None,
                        velocity,
                    });
                    Vec::new()
                }
                MidiMessage::NoteOff { channel, key } => sounding
                    .get_mut(&(channel, key))
                    .and_then(VecDeque::pop_front)
                    .into_iter()
                    .collect(),
                MidiMessage::AllNotesOff { channel } => sounding
                    .iter_mut()
                    .filter(|entry| entry.0.0 == channel)
                    .flat_map(|entry| entry.1.drain(..))
                    .collect(),
                MidiMessage::Other(_) => Vec::new(),
            };
            for index in ended {
                notes[index].length = Some(event.at - notes[index].onset);
            }
        }
        notes
    }

    proptest! {
        #[test]
        fn pairing_agrees_with_plain_queues(steps in prop::collection::vec((0u8..8, 0u8..3, 40u8..44), 0..200)) {
            let events: Vec<TimedMessage> = steps
                .iter()
                .zip(0..)
                .map(|(&(kind, channel, key), ms)| match kind {
                    0..=3 => on(ms, channel, key),
                    4..=6 => off(ms, channel, key),
                    _ => all_off(ms, channel),
                })
                .collect();
            prop_assert_eq!(pair(events.iter().copied()), by_queues(&events));
        }
    }
}
