//! How the rows of a line of music share a height.

use super::figures::Squares;
use super::look::{Look, Size};
use crate::page::text::Charset;

/// Rows that belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Band {
    Chord,
    Count,
    Mark,
    Strings,
    Note,
    /// On which side of the grid notes sat.
    Side,
    Ms,
    Length,
}

/// The bands of a line from top to bottom, the same for each line on the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Plan {
    pub(super) bands: Vec<Band>,
    strings: u16,
    /// How a string is drawn: in one row, or with large frets.
    pub(super) frets: Option<Squares>,
    pub(super) offsets: Option<Squares>,
}

/// What a line cannot do without, and what it has as well where there is room, what matters most first.
const NEEDED: [Band; 3] = [Band::Count, Band::Strings, Band::Ms];
const WISHED: [Band; 5] = [
    Band::Side,
    Band::Note,
    Band::Length,
    Band::Chord,
    Band::Mark,
];

impl Plan {
    /// The rows that a line takes at the least in the usual size.
    pub(super) fn least(strings: usize) -> u16 {
        strings as u16 + 2
    }

    /// What a line cannot do without, as large as the look has it.
    pub(super) fn largest(strings: usize, look: Look) -> Plan {
        let (frets, offsets) = match (look.size, look.charset) {
            (Size::Usual, _) => (None, None),
            (Size::Big, Charset::Unicode) => (Some(Squares::Half), Some(Squares::Half)),
            (Size::Big, Charset::Ascii) => (Some(Squares::Whole(1)), Some(Squares::Whole(1))),
        };
        Plan {
            bands: NEEDED.to_vec(),
            strings: strings as u16,
            frets,
            offsets,
        }
    }

    /// For a line in so many rows, at least [`Plan::least`].
    pub(super) fn of(strings: usize, height: u16, look: Look) -> Plan {
        let largest = Plan::largest(strings, look);
        let small = Plan {
            frets: None,
            ..largest.clone()
        };
        let smallest = Plan {
            offsets: None,
            ..small.clone()
        };
        let plans = [largest, small, smallest];
        let fitting = plans.iter().find(|plan| plan.height() <= height);
        let mut plan = fitting.unwrap_or(&plans[2]).clone();
        for band in WISHED {
            if plan.height() + plan.height_of(band) <= height {
                plan.bands.push(band);
            }
        }
        plan.bands.sort();
        plan
    }

    pub(super) fn height(&self) -> u16 {
        self.bands.iter().map(|band| self.height_of(*band)).sum()
    }

    /// Rows of a band.
    pub(super) fn height_of(&self, band: Band) -> u16 {
        match band {
            Band::Strings => self.strings * self.height_of_string(),
            Band::Ms => self.offsets.map_or(1, Squares::height),
            _ => 1,
        }
    }

    /// Rows of a string.
    pub(super) fn height_of_string(&self) -> u16 {
        self.frets.map_or(1, Squares::height)
    }

    /// The same without what is heard: the music alone.
    pub(super) fn written(&self) -> Plan {
        let is_written = |band: &&Band| **band <= Band::Note;
        Plan {
            bands: self.bands.iter().filter(is_written).copied().collect(),
            ..self.clone()
        }
    }
}
