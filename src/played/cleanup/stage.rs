//! The stage: messages in, messages out.

use super::held::{Held, What};
use super::string_overlaps::Strings;
use super::voice::{Slot, Voice, Voices};
use super::wheel::Wheel;
use super::{Cleaned, HOLD, JOIN, Rule, Rules, doubled_notes};
use crate::played::{MidiMessage, PlayedNote, TimedMessage};
use crate::units::{Key, Nanos};

/// Room for this many cleaned things, besides what is asked for, before the list has to grow.
const ROOM: usize = 4096;

/// See the [module's head](super).
#[derive(Clone, Debug)]
pub struct Cleanup {
    pub(super) rules: Rules,
    pub(super) held: Held,
    pub(super) voices: Voices,
    pub(super) wheels: [Wheel; 16],
    pub(super) strings: Strings,
    next_serial: u64,
    /// When the latest message came.
    pub(super) last: Nanos,
    pub(super) cleaned: Vec<Cleaned>,
}

impl Cleanup {
    /// Before the first message.
    pub fn new(rules: Rules) -> Cleanup {
        Cleanup::for_notes(rules, 0)
    }

    /// The same for a take of about that many notes.
    pub fn for_notes(rules: Rules, notes: usize) -> Cleanup {
        let room = if rules == Rules::NONE {
            0
        } else {
            ROOM + notes
        };
        Cleanup {
            rules,
            held: Held::new(),
            voices: Voices::new(),
            wheels: [Wheel::default(); 16],
            strings: Strings::default(),
            next_serial: 0,
            last: Nanos(i64::MIN),
            cleaned: Vec::with_capacity(room),
        }
    }

    /// Takes the next message, at a time that never falls, and hands on what is known by now.
    pub fn push(&mut self, event: TimedMessage, sink: &mut dyn FnMut(TimedMessage)) {
        if self.rules == Rules::NONE {
            return sink(event);
        }
        self.release(Some(event.at), sink);
        while self.held.is_full() {
            self.pass_first(sink);
        }
        self.last = event.at;
        match event.message {
            MidiMessage::NoteOn {
                channel,
                key,
                velocity,
            } => self.begin(event, channel, key, velocity),
            MidiMessage::NoteOff { channel, key } => self.end(event, channel, key),
            MidiMessage::AllNotesOff { channel } => self.end_all(event, channel),
            MidiMessage::Other(bytes) => {
                self.wheels[usize::from(bytes[0] & 0x0F)].hear(event.at, bytes);
            }
        }
    }

    /// Says that no message before `now` will come any more.
    pub fn advance(&mut self, now: Nanos, sink: &mut dyn FnMut(TimedMessage)) {
        self.release(Some(now), sink);
    }

    /// Says that nothing more will come.
    pub fn finish(&mut self, sink: &mut dyn FnMut(TimedMessage)) {
        self.release(None, sink);
        self.end_left(sink);
    }

    /// The earliest time at which a note may still be handed on to begin, when everything before `now` has been pushed.
    pub fn horizon(&self, now: Nanos) -> Nanos {
        self.held
            .front()
            .map_or(now, |(_, first, _)| first.at.min(now))
    }

    /// The note that began last, if it is still held back, as things stand.
    pub fn latest(&self) -> Option<PlayedNote> {
        let held = self.voices.iter().filter(|(_, voice)| voice.held);
        let (_, voice) = held.max_by_key(|(_, voice)| voice.serial)?;
        Some(PlayedNote {
            key: voice.out,
            channel: voice.channel,
            onset: voice.onset,
            length: voice.ended.map(|end| end - voice.onset),
            velocity: voice.velocity,
        })
    }

    /// What was cleaned up so far, in the order in which it was decided.
    pub fn cleaned(&self) -> &[Cleaned] {
        &self.cleaned
    }

    pub(super) fn has(&self, rule: Rule) -> bool {
        self.rules.has(rule)
    }

    pub(super) fn record(&mut self, rule: Rule, at: Nanos, key: Key, into: Option<Key>) {
        self.cleaned.push(Cleaned {
            rule,
            at,
            key,
            into,
        });
    }

    /// Hands on the messages whose notes are made out before anything that comes at `until` or later. A message that
    /// is due at the very time of another waits for it.
    fn release(&mut self, until: Option<Nanos>, sink: &mut dyn FnMut(TimedMessage)) {
        while let Some((number, event, what)) = self.held.front() {
            let due = self.due(number, event.at, what);
            if until.is_some_and(|until| due >= until) {
                return;
            }
            self.pass_first(sink);
        }
    }

    fn begin(&mut self, event: TimedMessage, channel: u8, key: Key, velocity: u8) {
        let serial = self.next_serial;
        self.next_serial += 1;
        let voice = Voice {
            serial,
            channel,
            key,
            first_key: key,
            out: key,
            velocity,
            onset: event.at,
            since: event.at,
            ended: None,
            on_at: self.held.next_number(),
            off_at: None,
            held: true,
            until: event.at + HOLD,
            after: None,
            sliding: None,
            spare_offs: 0,
            doubled_at: event.at,
            cut: false,
            next: None,
        };
        match self.voices.add(voice) {
            Some(slot) => {
                self.held.push(event, What::On);
                self.join_to_earlier(slot);
            }
            None => self.held.push(event, What::Plain),
        }
    }

    fn end(&mut self, event: TimedMessage, channel: u8, key: Key) {
        if self.is_spare(event.at, channel, key) {
            return;
        }
        let Some(slot) = self.sounding(channel, key) else {
            // It must not end a note that only took this key here.
            let taken = self.voices.of_channel(channel).any(|(_, v)| v.out == key);
            if !taken {
                self.held.push(event, What::Plain);
            }
            return;
        };
        let number = self.held.next_number();
        if let Some(voice) = self.voices.get_mut(slot) {
            voice.ended = Some(event.at);
            voice.off_at = Some(number);
        }
        self.held.push(event, What::Off);
        self.join_later_to(slot, event.at);
    }

    /// Whether it is the second off of a note that was reported twice: soon after it was doubled, or as it ends.
    fn is_spare(&mut self, at: Nanos, channel: u8, key: Key) -> bool {
        let spare = self.voices.find(|voice| {
            let of_key = voice.channel == channel && voice.key == key && voice.spare_offs > 0;
            of_key
                && match voice.ended {
                    None => at - voice.doubled_at < doubled_notes::SOUNDING,
                    Some(end) => at - end <= JOIN,
                }
        });
        match spare.and_then(|slot| self.voices.get_mut(slot)) {
            Some(voice) => {
                voice.spare_offs -= 1;
                true
            }
            None => false,
        }
    }

    fn end_all(&mut self, event: TimedMessage, channel: u8) {
        let number = self.held.next_number();
        for slot in self.voices.slots() {
            let Some(voice) = self.voices.get_mut(slot) else {
                continue;
            };
            if voice.channel == channel && voice.ended.is_none() {
                voice.ended = Some(event.at);
                voice.off_at = Some(number);
                voice.cut = true;
            }
        }
        self.held.push(event, What::AllOff);
    }

    /// The note that an off ends. First in, first out, as the pairing has it, but on one string the latest; and a note that others have left behind has lost its end long ago, and
    /// what may be a step of a slide is over soon.
    fn sounding(&self, channel: u8, key: Key) -> Option<Slot> {
        let of_key = self
            .voices
            .of_channel(channel)
            .filter(|(_, voice)| voice.key == key && voice.ended.is_none());
        let likely = |voice: &Voice| {
            let may_slide = voice.held && (voice.after.is_some() || voice.sliding.is_some());
            match (may_slide, voice.next) {
                (true, _) => 0,
                (false, None) => 1,
                (false, Some(_)) => 2,
            }
        };
        if self.strings.is_string(channel) {
            return of_key
                .max_by_key(|(_, voice)| voice.serial)
                .map(|(slot, _)| slot);
        }
        of_key
            .min_by_key(|(_, voice)| (likely(voice), voice.since, voice.serial))
            .map(|(slot, _)| slot)
    }
}
