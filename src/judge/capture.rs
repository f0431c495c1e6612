//! How far from its place each expected note listens for a partner.

use crate::expected::{Expected, ExpectedNote};
use crate::units::Nanos;

/// The widest capture window, on either side.
pub const WIDEST: Nanos = Nanos::from_ms(250);

/// The offsets at which a played note may be the partner of an expected one, both edges inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Capture {
    /// How early, as a positive span.
    before: u32,
    /// How late.
    after: u32,
}

impl Capture {
    /// Whether a note at this offset may be the partner.
    pub fn holds(self, offset: Nanos) -> bool {
        -i64::from(self.before) <= offset.0 && offset.0 <= i64::from(self.after)
    }

    /// How late a partner may come.
    pub fn after(self) -> Nanos {
        Nanos(i64::from(self.after))
    }
}

/// Half a beat or [`WIDEST`], whichever is smaller, and never across the midpoint to a neighbour of the same pitch.
/// A note that falls exactly on a midpoint belongs to the later neighbour. Dead notes count as one pitch.
pub fn captures(expected: &Expected) -> Vec<Capture> {
    let mut captures: Vec<Capture> = expected.notes.iter().map(widest).collect();
    let mut last_of_key: [Option<usize>; 129] = [None; 129];
    for (index, note) in expected.notes.iter().enumerate() {
        let slot = note.key.map_or(128, |key| usize::from(key.0));
        if let Some(previous) = last_of_key[slot].replace(index) {
            let apart = note.onset - expected.notes[previous].onset;
            if apart > Nanos::ZERO {
                captures[previous].after = captures[previous].after.min(clip((apart.0 - 1) / 2));
                captures[index].before = captures[index].before.min(clip(apart.0 / 2));
            }
        }
    }
    captures
}

fn widest(note: &ExpectedNote) -> Capture {
    let side = clip(WIDEST.0.min(note.beat.0 / 2));
    Capture {
        before: side,
        after: side,
    }
}

fn clip(nanos: i64) -> u32 {
    nanos.clamp(0, WIDEST.0) as u32
}
