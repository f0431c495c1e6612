//! Bars by their numbers in the line as written.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// From a bar to another, both inside. A pickup is bar 0, the first full bar of a line is bar 1.
///
/// As JSON: `[first, last]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "[u32; 2]", into = "[u32; 2]")]
pub struct BarRange {
    /// The first bar.
    pub first: u32,
    /// The last bar.
    pub last: u32,
}

/// The text names no bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotABarRange {
    /// Not two numbers with a hyphen, and not one.
    #[error("write the first and the last bar, such as 5-8, or one bar alone, such as 5")]
    Unreadable,
    /// The last bar comes before the first.
    #[error("the first bar comes first: {last}-{first}", last = .0.last, first = .0.first)]
    Backwards(BarRange),
}

impl BarRange {
    /// Whether all of `other` is inside.
    pub fn contains(self, other: BarRange) -> bool {
        self.first <= other.first && other.last <= self.last
    }
}

impl FromStr for BarRange {
    type Err = NotABarRange;

    fn from_str(text: &str) -> Result<BarRange, NotABarRange> {
        let number = |text: &str| {
            let text = text.trim();
            let plain = text.bytes().all(|byte| byte.is_ascii_digit());
            plain.then(|| text.parse().ok()).flatten()
        };
        let (first, last) = text.split_once('-').unwrap_or((text, text));
        let (first, last) = number(first)
            .zip(number(last))
            .ok_or(NotABarRange::Unreadable)?;
        let range = BarRange { first, last };
        if first > last {
            return Err(NotABarRange::Backwards(range));
        }
        Ok(range)
    }
}

impl fmt::Display for BarRange {
    /// `bars 5 to 8`, `bar 5`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.first == self.last {
            write!(f, "bar {}", self.first)
        } else {
            write!(f, "bars {} to {}", self.first, self.last)
        }
    }
}

impl From<[u32; 2]> for BarRange {
    fn from([first, last]: [u32; 2]) -> BarRange {
        BarRange { first, last }
    }
}

impl From<BarRange> for [u32; 2] {
    fn from(range: BarRange) -> [u32; 2] {
        [range.first, range.last]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_is_two_bars_or_one() {
        let read = |text: &str| text.parse::<BarRange>();
        assert_eq!(read("5-8"), Ok([5, 8].into()));
        assert_eq!(read("0 - 4"), Ok([0, 4].into()));
        assert_eq!(read("5"), Ok([5, 5].into()));
        assert_eq!(read("8-5"), Err(NotABarRange::Backwards([8, 5].into())));
        assert_eq!(
            read("8-5").unwrap_err().to_string(),
            "the first bar comes first: 5-8"
        );
        for wrong in ["", "-", "5-", "-5", "5-8-9", "+5", "five", "4294967296"] {
            assert_eq!(read(wrong), Err(NotABarRange::Unreadable), "{wrong}");
        }
    }

    #[test]
    fn a_range_is_said_in_words_and_kept_as_a_pair() {
        let range = BarRange::from([5, 8]);
        assert_eq!(range.to_string(), "bars 5 to 8");
        assert_eq!(BarRange::from([5, 5]).to_string(), "bar 5");
        let json = serde_json::to_string(&range).expect("JSON");
        assert_eq!(json, "[5,8]");
        assert_eq!(serde_json::from_str::<BarRange>(&json).ok(), Some(range));
    }
}
