//! The meter of a bar and the beat that it is counted in.

use crate::units::{TICKS_PER_WHOLE, Ticks};

/// The largest upper number of a meter.
pub const MOST_BEATS: u8 = 32;

/// Whether a beat is a dotted value: it is then no whole part of a whole note, and divides in three.
pub fn beat_is_dotted(beat: Ticks) -> bool {
    TICKS_PER_WHOLE % beat.0 != 0
}

/// A meter as written, such as 4/4 or 12/8.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    /// The upper number, 1 to 32.
    pub upper: u8,
    /// The lower number: 1, 2, 4, 8, 16 or 32.
    pub lower: u8,
}

impl Meter {
    /// The length of a whole bar.
    pub fn bar(self) -> Ticks {
        Ticks(i64::from(self.upper) * TICKS_PER_WHOLE / i64::from(self.lower))
    }

    /// Whether the beat is a dotted quarter: 6/8, 9/8 and 12/8.
    pub fn is_compound(self) -> bool {
        self.lower == 8 && matches!(self.upper, 6 | 9 | 12)
    }

    /// The length of a beat: the lower number, or the dotted quarter in compound meters.
    pub fn beat(self) -> Ticks {
        let lower = TICKS_PER_WHOLE / i64::from(self.lower);
        Ticks(if self.is_compound() { 3 * lower } else { lower })
    }
}

/// The text is not a meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a meter (such as `4/4` or `12/8`)")]
pub struct NotAMeter(pub String);

impl std::str::FromStr for Meter {
    type Err = NotAMeter;

    fn from_str(text: &str) -> Result<Meter, NotAMeter> {
        let number = |part: &str| -> Option<u8> {
            let digits = !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
            digits.then(|| part.parse().ok()).flatten()
        };
        text.split_once('/')
            .and_then(|(upper, lower)| Some((number(upper)?, number(lower)?)))
            .filter(|(upper, lower)| {
                (1..=MOST_BEATS).contains(upper) && matches!(lower, 1 | 2 | 4 | 8 | 16 | 32)
            })
            .map(|(upper, lower)| Meter { upper, lower })
            .ok_or_else(|| NotAMeter(text.to_owned()))
    }
}

impl std::fmt::Display for Meter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.upper, self.lower)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meters_read_back_as_they_are_written() {
        for text in ["4/4", "3/4", "5/4", "6/8", "12/8", "7/16"] {
            assert_eq!(text.parse::<Meter>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_no_meter_is_refused() {
        for text in [
            "", "4", "4/", "/4", "0/4", "4/5", "33/4", "+4/4", " 4/4", "4/4/4", "400/4",
        ] {
            assert!(text.parse::<Meter>().is_err(), "{text}");
        }
    }

    #[test]
    fn the_beat_of_a_compound_meter_is_the_dotted_quarter() {
        let twelve: Meter = "12/8".parse().unwrap();
        assert_eq!(twelve.bar(), Ticks(5760));
        assert_eq!(twelve.beat(), Ticks(1440));
        assert_eq!("5/4".parse::<Meter>().unwrap().beat(), Ticks(960));
    }
}
