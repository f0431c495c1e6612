//! When a held message is due, and what becomes of it then.

use super::held::What;
use super::voice::{Slot, Voice};
use super::{
    Cleanup, JOIN, Rule, bent_keys, ghost_triggers, missing_offs, slide_steps, string_overlaps,
};
use crate::played::{MidiMessage, TimedMessage};
use crate::units::Nanos;

impl Cleanup {
    /// Until when the message is held back, were it the first.
    pub(super) fn due(&self, number: u64, at: Nanos, what: What) -> Nanos {
        let voice = match what {
            What::On => self.beginning_at(number),
            What::Off => self.ending_at(number),
            What::Plain | What::AllOff => None,
        };
        let Some(voice) = voice.and_then(|slot| self.voices.get(slot)) else {
            return at;
        };
        if what == What::On {
            return voice.until;
        }
        // What began as it ended may be a fall from it.
        let fall = self
            .begun_after(voice)
            .and_then(|slot| self.voices.get(slot));
        fall.map_or(at + JOIN, |fall| fall.until.max(at + JOIN))
    }

    /// Decides about the first message.
    pub(super) fn pass_first(&mut self, sink: &mut dyn FnMut(TimedMessage)) {
        let Some((number, event, what)) = self.held.front() else {
            return;
        };
        self.held.pop();
        match what {
            What::Plain => sink(event),
            What::On => {
                if let Some(slot) = self.beginning_at(number) {
                    self.pass_on(slot, event.at, sink);
                }
            }
            What::Off => {
                if let Some(slot) = self.ending_at(number) {
                    self.pass_off(slot, event.at, sink);
                }
            }
            What::AllOff => {
                while let Some(slot) = self.ending_at(number) {
                    self.voices.remove(slot);
                }
                sink(event);
            }
        }
    }

    /// At the end of a take: ends the notes that were long left behind by others.
    pub(super) fn end_left(&mut self, sink: &mut dyn FnMut(TimedMessage)) {
        if !self.has(Rule::MissingOffs) {
            return;
        }
        for slot in self.voices.slots() {
            let left = self.voices.get(slot).copied();
            let end = left.and_then(|voice| missing_offs::end_of_left(&voice, self.last));
            if let Some(end) = end {
                self.set_end(slot, end, Rule::MissingOffs, sink);
            }
        }
    }

    fn beginning_at(&self, number: u64) -> Option<Slot> {
        self.voices
            .find(|voice| voice.held && voice.on_at == number)
    }

    fn ending_at(&self, number: u64) -> Option<Slot> {
        self.voices.find(|voice| voice.off_at == Some(number))
    }

    /// The note a semitone away, still held back, that began as this one ended.
    fn begun_after(&self, voice: &Voice) -> Option<Slot> {
        self.voices.find(|other| {
            other.held
                && other
                    .after
                    .is_some_and(|(first, _, _)| first == voice.serial)
        })
    }

    fn pass_on(&mut self, slot: Slot, at: Nanos, sink: &mut dyn FnMut(TimedMessage)) {
        let Some(mut voice) = self.voices.get(slot).copied() else {
            return;
        };
        if self.has(Rule::GhostTriggers) && ghost_triggers::is_ghost(&voice) {
            self.voices.remove(slot);
            return self.record(Rule::GhostTriggers, voice.onset, voice.key, None);
        }
        if self.has(Rule::BentKeys) {
            let wheel = &self.wheels[usize::from(voice.channel & 15)];
            if let Some(key) = bent_keys::sounding(&voice, wheel) {
                self.record(Rule::BentKeys, voice.onset, voice.out, Some(key));
                voice.out = key;
            }
        }
        if voice.sliding.is_some() {
            let into = Some(voice.out);
            self.record(Rule::SlideSteps, voice.onset, voice.first_key, into);
        }
        voice.held = false;
        if let Some(kept) = self.voices.get_mut(slot) {
            *kept = voice;
        }
        let others = self
            .voices
            .of_channel(voice.channel)
            .filter(|(other, _)| *other != slot);
        self.strings.hear(&voice, others.map(|(_, other)| other));
        self.end_earlier(&voice, sink);
        let message = MidiMessage::NoteOn {
            channel: voice.channel,
            key: voice.out,
            velocity: voice.velocity,
        };
        sink(TimedMessage { at, message });
    }

    fn pass_off(&mut self, slot: Slot, at: Nanos, sink: &mut dyn FnMut(TimedMessage)) {
        let Some(voice) = self.voices.get(slot).copied() else {
            return;
        };
        if let Some(fall) = self.begun_after(&voice)
            && let Some(part) = self.voices.get(fall).copied()
            && slide_steps::never_rests(&part)
        {
            self.voices.join(slot, fall);
            return self.record(
                Rule::SlideSteps,
                part.onset,
                part.first_key,
                Some(voice.out),
            );
        }
        self.voices.remove(slot);
        sink(off(&voice, at));
    }

    /// A note of the channel begins: ends what can no longer sound, and remembers where the others would have ended.
    fn end_earlier(&mut self, next: &Voice, sink: &mut dyn FnMut(TimedMessage)) {
        let one_string = self.has(Rule::StringOverlaps) && self.strings.is_string(next.channel);
        for slot in self.voices.slots() {
            let Some(earlier) = self.voices.get_mut(slot) else {
                continue;
            };
            let is_earlier = !earlier.held && earlier.onset < next.onset;
            if earlier.channel != next.channel || !is_earlier {
                continue;
            }
            if one_string && string_overlaps::overlaps(earlier, next.onset) {
                self.set_end(slot, next.onset, Rule::StringOverlaps, sink);
                continue;
            }
            if earlier.next.is_none() && missing_offs::is_next(earlier, next.onset) {
                earlier.next = Some(next.onset);
            }
            let struck_again = earlier.key == next.key && earlier.ended.is_none();
            let end = earlier.next.unwrap_or(next.onset);
            if struck_again && self.has(Rule::MissingOffs) {
                self.set_end(slot, end, Rule::MissingOffs, sink);
            }
        }
    }

    fn set_end(&mut self, slot: Slot, at: Nanos, rule: Rule, sink: &mut dyn FnMut(TimedMessage)) {
        if let Some(voice) = self.voices.remove(slot) {
            sink(off(&voice, at));
            self.record(rule, at, voice.out, Some(voice.out));
        }
    }
}

fn off(voice: &Voice, at: Nanos) -> TimedMessage {
    let message = MidiMessage::NoteOff {
        channel: voice.channel,
        key: voice.out,
    };
    TimedMessage { at, message }
}
