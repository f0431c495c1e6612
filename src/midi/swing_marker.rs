//! How a MIDI file with straight notes says that they swing: a marker such as `swing 2:1 of 1/8`, which holds until the next
//! (`straight` ends it). Written by the export, read by the import.

use crate::line::{SwingRatio, Swung};
use std::fmt;
use std::str::FromStr;

/// From here on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwingMarker {
    /// Nothing swings.
    Straight,
    /// These pairs have this ratio.
    Swung(SwingRatio, Swung),
}

/// The text is no such marker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotASwingMarker;

impl SwingMarker {
    /// The ratio and what swings.
    pub fn swing(self) -> Option<(SwingRatio, Swung)> {
        match self {
            SwingMarker::Straight => None,
            SwingMarker::Swung(ratio, swung) => Some((ratio, swung)),
        }
    }
}

impl fmt::Display for SwingMarker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SwingMarker::Straight => f.write_str("straight"),
            SwingMarker::Swung(ratio, swung) => write!(f, "swing {ratio} of {swung}"),
        }
    }
}

impl FromStr for SwingMarker {
    type Err = NotASwingMarker;

    fn from_str(text: &str) -> Result<SwingMarker, NotASwingMarker> {
        if text == "straight" {
            return Ok(SwingMarker::Straight);
        }
        let said = text.strip_prefix("swing ").ok_or(NotASwingMarker)?;
        let (ratio, swung) = said.split_once(" of ").ok_or(NotASwingMarker)?;
        let swung = match swung {
            "1/8" => Swung::Eighth,
            "1/16" => Swung::Sixteenth,
            _ => return Err(NotASwingMarker),
        };
        let ratio = ratio.parse().map_err(|_| NotASwingMarker)?;
        Ok(SwingMarker::Swung(ratio, swung))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markers_read_back_as_they_are_written() {
        for text in [
            "straight",
            "swing 2:1 of 1/8",
            "swing 3:2 of 1/16",
            "swing 1.5:1 of 1/8",
        ] {
            let marker: SwingMarker = text.parse().unwrap();
            assert_eq!(marker.to_string(), text);
        }
        for text in [
            "Swing",
            "swing 2:1",
            "swing 9:1 of 1/8",
            "swing x of 1/8",
            "A",
        ] {
            assert_eq!(text.parse::<SwingMarker>(), Err(NotASwingMarker), "{text}");
        }
    }
}
