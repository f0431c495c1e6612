//! Decimals with up to three places, kept exactly as whole thousandths.

use super::{Gate, SwingRatio, Swung, Tempo};
use std::fmt;
use std::str::FromStr;

/// Why a text is no such decimal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NotThousandths {
    /// More than three decimals; the nearest value that has three.
    TooFine(u32),
    /// Negative, too large, or not written as plain digits with a point.
    NoSuchNumber,
}

/// Reads `126`, `0.5` or `92.125`. Zeros at the end do not count as decimals.
pub(super) fn read(text: &str) -> Result<u32, NotThousandths> {
    let text = text.strip_prefix('+').unwrap_or(text);
    let (whole, decimals) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(decimals) || whole.len() > 6 {
        return Err(NotThousandths::NoSuchNumber);
    }
    let decimals = decimals.trim_end_matches('0');
    let kept = &decimals[..decimals.len().min(3)];
    let number = format!("{whole}{kept:0<3}")
        .parse::<u32>()
        .map_err(|_| NotThousandths::NoSuchNumber)?;
    match decimals.as_bytes().get(3) {
        None => Ok(number),
        Some(next) => Err(NotThousandths::TooFine(number + u32::from(*next >= b'5'))),
    }
}

/// Thousandths as a decimal without needless zeros.
pub(super) fn write(thousandths: u32) -> String {
    let (whole, rest) = (thousandths / 1000, thousandths % 1000);
    if rest == 0 {
        return whole.to_string();
    }
    let decimals = format!("{rest:03}");
    format!("{whole}.{}", decimals.trim_end_matches('0'))
}

impl fmt::Display for Tempo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&write(self.0))
    }
}

impl fmt::Display for Gate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&write(u32::from(self.0)))
    }
}

impl fmt::Display for SwingRatio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", write(self.long), write(self.short))
    }
}

/// The text is no swing ratio from 1:1 to 4:1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotASwingRatio;

impl FromStr for SwingRatio {
    type Err = NotASwingRatio;

    fn from_str(text: &str) -> Result<SwingRatio, NotASwingRatio> {
        let (long, short) = text.split_once(':').ok_or(NotASwingRatio)?;
        let half = |text: &str| read(text.trim()).map_err(|_| NotASwingRatio);
        let (long, short) = (half(long)?, half(short)?);
        // A hundred to a hundred is as far as a ratio is worth writing out; it keeps exact time in range.
        let is_ratio = (1..=100_000).contains(&short) && (short..=4 * short).contains(&long);
        if is_ratio && long <= 100_000 {
            Ok(SwingRatio { long, short })
        } else {
            Err(NotASwingRatio)
        }
    }
}

impl fmt::Display for Swung {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Swung::Eighth => "1/8",
            Swung::Sixteenth => "1/16",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_read_exactly() {
        assert_eq!(read("126"), Ok(126_000));
        assert_eq!(read("92.125"), Ok(92_125));
        assert_eq!(read("0.9"), Ok(900));
        assert_eq!(read("0.90000"), Ok(900));
        assert_eq!(read("1.0004"), Err(NotThousandths::TooFine(1000)));
        assert_eq!(read("1.9996"), Err(NotThousandths::TooFine(2000)));
    }

    #[test]
    fn other_spellings_are_refused() {
        for text in [
            "", "-1", "1e2", "inf", "nan", ".5", "1.", "1.2.3", "9999999", "१",
        ] {
            assert_eq!(read(text), Err(NotThousandths::NoSuchNumber), "{text}");
        }
    }

    #[test]
    fn what_is_written_reads_back() {
        for thousandths in [0, 1, 10, 500, 1000, 1500, 126_000, 92_125] {
            assert_eq!(read(&write(thousandths)), Ok(thousandths));
        }
    }
}
