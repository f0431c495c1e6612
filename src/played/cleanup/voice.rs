//! A note as it is being made out: one or more notes of the port that may turn out to be one.

use crate::units::{Key, Nanos};

/// How many are followed at once. A bass has four to six strings; what goes beyond passes as it came.
pub(super) const CAPACITY: usize = 64;

/// See the module's head.
#[derive(Clone, Copy, Debug)]
pub(super) struct Voice {
    /// Its number, never used again.
    pub(super) serial: u64,
    pub(super) channel: u8,
    /// The key of its latest part, as the port names it.
    pub(super) key: Key,
    /// The key of its first part.
    pub(super) first_key: Key,
    /// The key that it is passed on with.
    pub(super) out: Key,
    pub(super) velocity: u8,
    /// When its first part began, and its latest.
    pub(super) onset: Nanos,
    pub(super) since: Nanos,
    /// When its latest part ended.
    pub(super) ended: Option<Nanos>,
    /// Its on and its off among the held messages.
    pub(super) on_at: u64,
    pub(super) off_at: Option<u64>,
    /// Whether its on is still held back, and until when.
    pub(super) held: bool,
    pub(super) until: Nanos,
    /// The note a semitone away that ended as this one began: its number, the direction, whether it was a step.
    pub(super) after: Option<(u64, i8, bool)>,
    /// The direction in which it slides.
    pub(super) sliding: Option<i8>,
    /// Doubled ons whose offs may still come, and when the last of them came.
    pub(super) spare_offs: u8,
    pub(super) doubled_at: Nanos,
    /// Ended by an all-notes-off: nothing continues it.
    pub(super) cut: bool,
    /// When the next note of its channel began.
    pub(super) next: Option<Nanos>,
}

/// The voices that are followed.
#[derive(Clone, Debug)]
pub(super) struct Voices {
    slots: Box<[Option<Voice>]>,
    live: u64,
}

/// A voice's place.
pub(super) type Slot = usize;

impl Voices {
    pub(super) fn new() -> Voices {
        Voices {
            slots: vec![None; CAPACITY].into_boxed_slice(),
            live: 0,
        }
    }

    /// Takes a voice in. When there is no room the oldest one that has been passed on gives way: its note stays as it
    /// is, and its off will pass as it comes.
    pub(super) fn add(&mut self, voice: Voice) -> Option<Slot> {
        let free = (!self.live).trailing_zeros() as usize;
        let slot = if free < CAPACITY {
            free
        } else {
            let passed_on = self
                .iter()
                .filter(|(_, voice)| !voice.held && voice.ended.is_none());
            passed_on
                .min_by_key(|(_, voice)| (voice.onset, voice.serial))?
                .0
        };
        self.slots[slot] = Some(voice);
        self.live |= 1 << slot;
        Some(slot)
    }

    pub(super) fn remove(&mut self, slot: Slot) -> Option<Voice> {
        self.live &= !(1 << slot);
        self.slots.get_mut(slot).and_then(Option::take)
    }

    pub(super) fn get(&self, slot: Slot) -> Option<&Voice> {
        self.slots.get(slot)?.as_ref()
    }

    pub(super) fn get_mut(&mut self, slot: Slot) -> Option<&mut Voice> {
        self.slots.get_mut(slot)?.as_mut()
    }

    /// The places that are taken now, whatever happens to them meanwhile.
    pub(super) fn slots(&self) -> impl Iterator<Item = Slot> + use<> {
        Bits(self.live)
    }

    /// All of them, in no order that means anything.
    pub(super) fn iter(&self) -> impl Iterator<Item = (Slot, &Voice)> {
        Bits(self.live).filter_map(|slot| Some((slot, self.slots[slot].as_ref()?)))
    }

    pub(super) fn of_channel(&self, channel: u8) -> impl Iterator<Item = (Slot, &Voice)> {
        self.iter()
            .filter(move |(_, voice)| voice.channel == channel)
    }

    pub(super) fn find(&self, mut is: impl FnMut(&Voice) -> bool) -> Option<Slot> {
        self.iter()
            .find(|(_, voice)| is(voice))
            .map(|(slot, _)| slot)
    }

    /// A part that turned out to belong to `whole` becomes its latest part.
    pub(super) fn join(&mut self, whole: Slot, part: Slot) {
        let Some(part) = self.remove(part) else {
            return;
        };
        if let Some(whole) = self.get_mut(whole) {
            whole.key = part.key;
            whole.since = part.since;
            whole.ended = part.ended;
            whole.off_at = part.off_at;
            whole.velocity = whole.velocity.max(part.velocity);
            whole.cut = part.cut;
        }
    }
}

/// The places of the bits that are set, from the lowest.
struct Bits(u64);

impl Iterator for Bits {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        let bit = self.0.trailing_zeros() as usize;
        self.0 &= self.0.wrapping_sub(1);
        (bit < 64).then_some(bit)
    }
}
