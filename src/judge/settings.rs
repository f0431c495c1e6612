//! What the judge is told: tolerance windows, the target lean, and what stands between finger and number.

use crate::played::cleanup::Rules;
use crate::played::{MidiMessage, TimedMessage};
use crate::units::{Key, Nanos};
use serde::{Deserialize, Serialize};

/// Everything that readings depend on besides the line and the events; kept with a take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Tolerances.
    pub windows: Windows,
    /// What stands between finger and number.
    pub latency: Latency,
    /// Which events count, and how their keys are read.
    pub intake: Intake,
    /// Which rules clean up after a converter; a take that does not say is cleaned by all of them.
    #[serde(default)]
    pub cleanup: Rules,
}

/// Which events count, and how their keys are read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Intake {
    /// Only this channel, 0 to 15; `None`: every channel.
    pub channel: Option<u8>,
    /// Added to every key: an instrument that sends written pitch sends an octave too high, and takes −1.
    pub octaves: i8,
}

impl Intake {
    /// The event as it counts, or `None` when it does not.
    pub fn admit(&self, event: TimedMessage) -> Option<TimedMessage> {
        let wanted = |channel: u8| self.channel.is_none_or(|only| only == channel);
        let message = match event.message {
            MidiMessage::NoteOn {
                channel,
                key,
                velocity,
            } if wanted(channel) => MidiMessage::NoteOn {
                channel,
                key: self.transpose(key)?,
                velocity,
            },
            MidiMessage::NoteOff { channel, key } if wanted(channel) => MidiMessage::NoteOff {
                channel,
                key: self.transpose(key)?,
            },
            MidiMessage::AllNotesOff { channel } if wanted(channel) => event.message,
            // The clean-up stage hears the pitch wheel.
            MidiMessage::Other([status, ..]) if wanted(status & 0x0F) => event.message,
            _ => return None,
        };
        Some(TimedMessage { message, ..event })
    }

    fn transpose(&self, key: Key) -> Option<Key> {
        let moved = i16::from(key.0) + 12 * i16::from(self.octaves);
        u8::try_from(moved).ok().filter(|key| *key < 128).map(Key)
    }
}

/// Tolerances. All edges count as inside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Windows {
    /// Half width of the timing window; default 30 ms.
    pub timing: Nanos,
    /// Where the timing window is centred: the offset the player aims for; default 0.
    pub lean: Nanos,
    /// Smallest half width of the length window; default 50 ms.
    pub length: Nanos,
    /// Half width of the length window as a share of the expected sounding length; default 0.2. The larger of the
    /// two holds, as in the published transcription convention (`mir_eval.transcription`).
    pub length_share: f64,
    /// How far a note may outlast the start of the next one, or of a rest, before it rings over; default 30 ms.
    pub ring: Nanos,
}

impl Default for Windows {
    fn default() -> Windows {
        Windows {
            timing: Nanos::from_ms(30),
            lean: Nanos::ZERO,
            length: Nanos::from_ms(50),
            length_share: 0.2,
            ring: Nanos::from_ms(30),
        }
    }
}

/// What the port adds to every event: `fixed + periods / f0`. A pitch-to-MIDI converter has to hear whole periods of
/// the string, so a low E comes later than a high G; a MIDI bass has `periods` 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Latency {
    /// The part that is the same for every key.
    pub fixed: Nanos,
    /// How many periods of the fundamental are waited for.
    pub periods: f64,
    /// Standard error of the fixed part; `None`: not measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fixed_se: Option<Nanos>,
    /// Standard error of the periods; `None`: not measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub periods_se: Option<f64>,
}

impl Latency {
    /// How well the latency of a key is known, one standard deviation; `None`: it was not measured. The errors of the
    /// two parts are taken as independent, which is on the safe side: in a fit over 1/f0 they go against each other.
    pub fn standard_error(&self, key: Key) -> Option<Nanos> {
        let of_periods = self.periods_se.map(|se| se / key.frequency_hz() * 1e9);
        let of_fixed = self.fixed_se.map(|se| se.0 as f64);
        if of_fixed.is_none() && of_periods.is_none() {
            return None;
        }
        let both = of_fixed.unwrap_or(0.0).hypot(of_periods.unwrap_or(0.0));
        Some(Nanos(both.round() as i64))
    }
}

/// Latency by key, looked up without arithmetic in floats while notes arrive.
#[derive(Clone, Debug)]
pub struct LatencyTable {
    by_key: [Nanos; 128],
    longest: Nanos,
}

impl LatencyTable {
    /// Keys below `lowest` count as `lowest`: no string sounds there, so a glitch must not be moved further than
    /// any real note (which also bounds how long a live event has to be held back).
    pub fn new(latency: Latency, lowest: Key) -> LatencyTable {
        let of = |key: u8| {
            let f0 = Key(key.max(lowest.0)).frequency_hz();
            latency.fixed + Nanos::from_seconds(latency.periods / f0)
        };
        let by_key = std::array::from_fn(|key| of(key as u8));
        let longest = by_key.iter().copied().max().unwrap_or_default();
        LatencyTable { by_key, longest }
    }

    /// What to take off the time of an event of this key.
    pub fn of(&self, key: Key) -> Nanos {
        self.by_key[usize::from(key.0 & 127)]
    }

    /// By how much notes can change places: the spread between the longest latency and the shortest.
    pub fn longest(&self) -> Nanos {
        self.longest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One period of the open strings in ms: E1 24.3, A1 18.2, D2 13.6, G2 10.2 (1 / f0).
    #[test]
    fn a_converter_that_waits_one_period_is_slower_on_low_strings() {
        let latency = Latency {
            fixed: Nanos::from_ms(2),
            periods: 1.0,
            ..Latency::default()
        };
        let table = LatencyTable::new(latency, Key(28));
        for (key, ms) in [(28, 26.3), (33, 20.2), (38, 15.6), (43, 12.2)] {
            assert!((table.of(Key(key)).ms() - ms).abs() < 0.05, "key {key}");
        }
        assert_eq!(table.of(Key(5)), table.of(Key(28)));
        assert_eq!(table.longest(), table.of(Key(28)));
    }

    /// At A1, 55 Hz, a tenth of a period is 1.818 ms; with 0.5 ms more, √(1.818² + 0.5²) = 1.886 ms.
    #[test]
    fn the_error_of_a_latency_is_that_of_both_parts_at_the_key() {
        let mut latency = Latency::default();
        assert_eq!(latency.standard_error(Key(33)), None);
        latency.periods_se = Some(0.1);
        latency.fixed_se = Some(Nanos(500_000));
        let error = latency.standard_error(Key(33)).unwrap();
        assert!((error.ms() - 1.886).abs() < 5e-4, "{error:?}");
    }

    #[test]
    fn settings_of_older_takes_are_read() {
        let old = r#"{"fixed":2000000,"periods":1.5}"#;
        let latency: Latency = serde_json::from_str(old).unwrap();
        assert_eq!((latency.fixed_se, latency.periods_se), (None, None));
        assert_eq!(serde_json::to_string(&latency).unwrap(), old);
    }
}
