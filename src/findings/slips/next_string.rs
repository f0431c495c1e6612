//! The strings beside: what the same fret sounds there.

use crate::expected::Expected;
use crate::findings::evidence::Heard;
use crate::fingering::{Fingering, Placed, Source};
use crate::units::Key;

/// Which of the strings beside the right one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The next higher sounding one.
    Higher,
    /// The next lower sounding one.
    Lower,
}

/// Where the notes of a line are played.
pub(super) struct Board<'a> {
    /// The open strings, highest first.
    open: &'a [Key],
    places: &'a [Placed],
}

impl<'a> Board<'a> {
    pub(super) fn of(expected: &'a Expected, fingering: &'a Fingering) -> Board<'a> {
        Board {
            open: &expected.open,
            places: &fingering.places,
        }
    }

    /// On which side of the right string the right fret sounds what was played, and how the place is known.
    pub(super) fn side(&self, heard: &Heard) -> Option<(Side, Source)> {
        let place = &self.places[heard.index as usize];
        let fret = place.fret?;
        let sounds = |string: usize| {
            let open = self.open.get(string)?;
            Some(Key(open.0 + fret))
        };
        // String n has index n − 1, and higher strings have lower numbers.
        let here = usize::from(place.string?) - 1;
        let higher = here.checked_sub(1).and_then(sounds);
        match heard.played {
            played if higher == Some(played) => Some((Side::Higher, place.source)),
            played if sounds(here + 1) == Some(played) => Some((Side::Lower, place.source)),
            _ => None,
        }
    }
}
