//! The stand-in for a pitch-to-MIDI converter: it answers tones after a known law.

use super::chance::{Chance, Stream};
use crate::played::{MidiMessage, TimedMessage};
use crate::units::{Key, Nanos};
use std::fmt;
use std::str::FromStr;

/// A tone that the converter hears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tone {
    /// When it begins.
    pub at: Nanos,
    /// Its pitch.
    pub key: Key,
    /// How long it sounds.
    pub length: Nanos,
}

/// How it answers. The default answers at once.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Law {
    /// The part of the delay that is the same for every pitch, in ms.
    pub fixed_ms: f64,
    /// Periods of the tone that it has to hear.
    pub periods: f64,
    /// Standard deviation of the delay about the law, in ms.
    pub jitter_ms: f64,
    /// Share of tones whose octave is mistaken, two thirds of them for the one above. It waits for the periods of the
    /// pitch that it takes the tone for.
    pub octave_errors: f64,
    /// Share of tones without an answer.
    pub dropped: f64,
    /// Share of tones that are answered a second time, 15 to 75 ms later.
    pub doubled: f64,
    /// Share of tones for which it hesitates for one further period.
    pub hesitates: f64,
}

/// A share or span of a law by name, with its highest value.
type Named = (&'static str, f64, fn(&mut Law) -> &mut f64);

const NAMED: [Named; 7] = [
    ("fixed-ms", 1000.0, |law| &mut law.fixed_ms),
    ("periods", 20.0, |law| &mut law.periods),
    ("jitter-ms", 100.0, |law| &mut law.jitter_ms),
    ("octave-errors", 1.0, |law| &mut law.octave_errors),
    ("dropped", 1.0, |law| &mut law.dropped),
    ("doubled", 1.0, |law| &mut law.doubled),
    ("hesitates", 1.0, |law| &mut law.hesitates),
];

impl Law {
    /// A converter of the ordinary kind: one and a half periods, a ms of jitter, and its share of slips.
    pub const ORDINARY: &str =
        "fixed-ms=8,periods=1.5,jitter-ms=1,octave-errors=0.03,dropped=0.03,doubled=0.03";

    /// The law's delay for a pitch, in ms, jitter aside.
    pub fn delay_ms(&self, key: Key) -> f64 {
        self.fixed_ms + 1000.0 * self.periods / key.frequency_hz()
    }
}

impl FromStr for Law {
    type Err = String;

    /// `name=value` pairs, separated by commas: `fixed-ms=6,periods=1.5`.
    fn from_str(text: &str) -> Result<Law, String> {
        let mut law = Law::default();
        for part in text
            .split(',')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let (name, value) = part.split_once('=').unwrap_or((part, ""));
            let named = NAMED.iter().find(|(known, ..)| *known == name.trim());
            let (_, highest, place) = named.ok_or_else(|| {
                let names: Vec<&str> = NAMED.iter().map(|(name, ..)| *name).collect();
                format!(
                    "\"{name}\" is not known: the parts are {}",
                    names.join(", ")
                )
            })?;
            let number: Option<f64> = value.trim().parse().ok();
            *place(&mut law) = number
                .filter(|number| (0.0..=*highest).contains(number))
                .ok_or_else(|| format!("{name} has to be a number from 0 to {highest}"))?;
        }
        Ok(law)
    }
}

impl fmt::Display for Law {
    /// The parts that are not 0, as [`FromStr`] reads them.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut own = *self;
        let mut comma = "";
        for (name, _, place) in &NAMED {
            let value = *place(&mut own);
            if value != 0.0 {
                write!(f, "{comma}{name}={value}")?;
                comma = ",";
            }
        }
        f.write_str(if comma.is_empty() { "none" } else { "" })
    }
}

/// Answers tones on channel 0, in order of time. The same seed gives the same answers.
pub fn answer(tones: &[Tone], law: &Law, seed: u64) -> Vec<TimedMessage> {
    let mut chance = Chance::new(seed, Stream::Converter);
    let mut events = Vec::with_capacity(2 * tones.len());
    for tone in tones {
        // All chances are drawn for every tone, so that changing one share does not move the others.
        let jitter = law.jitter_ms * chance.normal();
        let (is_dropped, is_mistaken) = (
            chance.happens(law.dropped),
            chance.happens(law.octave_errors),
        );
        let octave = if chance.happens(2.0 / 3.0) { 12 } else { -12 };
        let (hesitates, is_doubled) = (chance.happens(law.hesitates), chance.happens(law.doubled));
        let later = Nanos::from_ms_f64(15.0 + 60.0 * chance.even());
        if is_dropped {
            continue;
        }
        let heard = tone
            .key
            .0
            .checked_add_signed(octave)
            .filter(|_| is_mistaken);
        let key = heard.filter(|key| *key < 128).map_or(tone.key, Key);
        let further = if hesitates {
            1000.0 / key.frequency_hz()
        } else {
            0.0
        };
        let delay = Nanos::from_ms_f64(law.delay_ms(key) + further + jitter);
        let (on, off) = (tone.at + delay, tone.at + tone.length + delay);
        events.push(begins(on, key));
        if is_doubled {
            events.push(ends(on + later, key));
            events.push(begins(on + later, key));
        }
        events.push(ends(off.max(on + later), key));
    }
    // Ends first, and in order.
    events.sort_by_key(|event| {
        let begins = matches!(event.message, MidiMessage::NoteOn { .. });
        (event.at, begins)
    });
    events
}

fn begins(at: Nanos, key: Key) -> TimedMessage {
    let message = MidiMessage::NoteOn {
        channel: 0,
        key,
        velocity: 80,
    };
    TimedMessage { at, message }
}

fn ends(at: Nanos, key: Key) -> TimedMessage {
    let message = MidiMessage::NoteOff { channel: 0, key };
    TimedMessage { at, message }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tones(count: i64) -> Vec<Tone> {
        let tone = |n: i64| Tone {
            at: Nanos::from_ms(400 * n),
            key: Key(28),
            length: Nanos::from_ms(160),
        };
        (0..count).map(tone).collect()
    }

    /// One period of E1 is 24.27 ms.
    #[test]
    fn it_answers_after_its_law() {
        let law: Law = "fixed-ms=6,periods=2".parse().unwrap();
        let events = answer(&tones(1), &law, 1);
        assert_eq!(events.len(), 2);
        assert!((events[0].at.ms() - 54.54).abs() < 0.01, "{events:?}");
        assert!((events[1].at.ms() - 214.54).abs() < 0.01, "{events:?}");
    }

    #[test]
    fn its_slips_come_at_their_rates() {
        let law: Law = "octave-errors=0.1,dropped=0.2,doubled=0.3".parse().unwrap();
        let events = answer(&tones(4000), &law, 2);
        let on = |event: &&TimedMessage| matches!(event.message, MidiMessage::NoteOn { .. });
        let wrong = |event: &&TimedMessage| matches!(event.message, MidiMessage::NoteOn { key, .. } if key != Key(28));
        let (notes, wrong) = (
            events.iter().filter(on).count() as f64,
            events.iter().filter(wrong).count() as f64,
        );
        assert!((notes / 4000.0 - 0.8 * 1.3).abs() < 0.03, "{notes}");
        assert!((wrong / notes - 0.1).abs() < 0.02, "{wrong}");
    }

    #[test]
    fn a_law_is_shown_as_it_is_read() {
        let law: Law = Law::ORDINARY.parse().unwrap();
        assert_eq!(law.to_string(), Law::ORDINARY);
        assert_eq!(Law::default().to_string(), "none");
        assert!("periods=x".parse::<Law>().unwrap_err().contains("0 to 20"));
        assert!("speed=1".parse::<Law>().unwrap_err().contains("fixed-ms"));
    }
}
