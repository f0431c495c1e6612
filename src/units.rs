//! Units of measurement as types: a number that carries its unit cannot be added to the wrong one.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

/// Ticks in a whole note. 3840 keeps every length of the line format a whole number of ticks: a double-dotted
/// thirty-second triplet is `3840 / 32 · 7/4 · 2/3 = 140`.
pub const TICKS_PER_WHOLE: i64 = 3840;
/// Ticks in a quarter note, the unit that a tempo counts.
pub const TICKS_PER_QUARTER: i64 = TICKS_PER_WHOLE / 4;

/// Written time or a written length, before swing and tempo: [`TICKS_PER_WHOLE`] ticks to the whole note.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
pub struct Ticks(pub i64);

/// Nanoseconds, a point (which origin: see the crate's head) or a span. Negative is before the origin, or early.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
pub struct Nanos(pub i64);

/// A MIDI key, 0 to 127, as it **sounds**: 60 is C4, 28 the open E string of a bass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Key(pub u8);

impl Nanos {
    /// The origin, or no time at all.
    pub const ZERO: Nanos = Nanos(0);
    /// Later than anything that is played.
    pub const MAX: Nanos = Nanos(i64::MAX);

    /// A whole number of milliseconds.
    pub const fn from_ms(ms: i64) -> Nanos {
        Nanos(ms * 1_000_000)
    }

    /// The nearest nanosecond to `ms` milliseconds.
    pub fn from_ms_f64(ms: f64) -> Nanos {
        Nanos((ms * 1e6).round() as i64)
    }

    /// The nearest nanosecond to `seconds`.
    pub fn from_seconds(seconds: f64) -> Nanos {
        Nanos((seconds * 1e9).round() as i64)
    }

    /// Milliseconds, exact to the nanosecond for any span under 100 days.
    pub fn ms(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// Seconds, exact to the nanosecond for any span under 100 days.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// The size without its sign.
    pub const fn abs(self) -> Nanos {
        Nanos(self.0.abs())
    }
}

impl Key {
    /// The fundamental frequency in Hz in equal temperament at A4 = 440 Hz: `440 · 2^((key − 69) / 12)`.
    pub fn frequency_hz(self) -> f64 {
        440.0 * 2f64.powf((f64::from(self.0) - 69.0) / 12.0)
    }
}

impl fmt::Display for Key {
    /// The key's name with flats, as a bassist without a key signature would say it: `Eb3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const NAMES: [&str; 12] = [
            "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
        ];
        write!(
            f,
            "{}{}",
            NAMES[usize::from(self.0 % 12)],
            i16::from(self.0 / 12) - 1
        )
    }
}

/// Division rounded to the nearest, halves away from zero; the divisor is positive.
pub fn divide_rounded(over: i128, under: i128) -> i128 {
    let half = under / 2;
    if over >= 0 {
        (over + half) / under
    } else {
        (over - half) / under
    }
}

macro_rules! additive {
    ($unit:ident) => {
        impl Add for $unit {
            type Output = $unit;
            fn add(self, other: $unit) -> $unit {
                $unit(self.0 + other.0)
            }
        }
        impl Sub for $unit {
            type Output = $unit;
            fn sub(self, other: $unit) -> $unit {
                $unit(self.0 - other.0)
            }
        }
        impl Neg for $unit {
            type Output = $unit;
            fn neg(self) -> $unit {
                $unit(-self.0)
            }
        }
        impl AddAssign for $unit {
            fn add_assign(&mut self, other: $unit) {
                self.0 += other.0;
            }
        }
        impl SubAssign for $unit {
            fn sub_assign(&mut self, other: $unit) {
                self.0 -= other.0;
            }
        }
    };
}

additive!(Ticks);
additive!(Nanos);

/// A number with two decimals at the most.
pub fn shortest(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// How many beats a span of written time is, whichever way: `a beat`, `half a beat`, `2.5 beats`.
pub fn beats_in_words(span: Ticks, beat: Ticks) -> String {
    match shortest(span.0.abs() as f64 / beat.0 as f64).as_str() {
        "0.33" => "a third of a beat".into(),
        "0.5" => "half a beat".into(),
        "0.67" => "two thirds of a beat".into(),
        "1" => "a beat".into(),
        more => format!("{more} beats"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// f = 440·2^((m−69)/12), the table of open strings from B0 to G2.
    #[test]
    fn open_strings_sound_at_their_published_frequencies() {
        for (key, hz) in [
            (23, 30.868),
            (28, 41.203),
            (33, 55.000),
            (38, 73.416),
            (43, 97.999),
        ] {
            assert!((Key(key).frequency_hz() - hz).abs() < 5e-4, "key {key}");
        }
    }

    #[test]
    fn keys_are_named_in_scientific_notation() {
        assert_eq!(Key(60).to_string(), "C4");
        assert_eq!(Key(28).to_string(), "E1");
        assert_eq!(Key(0).to_string(), "C-1");
    }
}
