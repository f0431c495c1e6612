//! What a way of playing costs the hands. The unit is one string crossed, or one fret further up the neck.
//!
//! The terms are those of the shortest-path models (Sayegh 1989, "Fingering for string instruments with the optimum
//! path paradigm", Computer Music Journal 13:3; Radicioni & Lombardo 2005, on segmentation and finger costs of the
//! guitar; both from memory): a cost for the place, a cost for the way between two places, the cheapest sum wins.
//! The weights are common practice on the bass, set so that plain cases come out as a bassist plays them (see the
//! tests of [`super`]); they were not fitted to data.

use super::grip::{Grip, Hold};

/// The hand takes one finger a fret: this many frets from its first finger to its fourth (common practice).
pub const SPAN: u8 = 4;

/// Frets of four fingers' reach are wide near the nut: fret n to n + 3 of an 864 mm (34 in) string takes
/// `864 · 2^(−n/12) · (1 − 2^(−3/12))` mm, which is 130 mm in position 1, 122 in position 2, 103 in position 5. In the
/// first position the fourth finger takes the third fret too, so that 1-2-4 serve three frets (common practice).
const WIDE: u8 = 1;

/// A string crossed by the plucking hand.
const CROSSING: u32 = 1;

/// From a stopped note to an open one or back, or the two together: the open string rings on while the hand is
/// elsewhere, and sounds brighter than its neighbours.
pub(super) const OPEN_CHANGE: u32 = 3;

/// One finger takes two places in a row: it rolls or jumps, and the first note ends early.
const SAME_FINGER: u32 = 2;

/// The hand leaves its position at all; Sayegh: a shift costs more than any change inside the position.
const SHIFT: u32 = 4;

/// Each fret that it moves.
const SHIFT_FRET: u32 = 2;

/// The hand in a place for one note: low positions are preferred, where tone is fullest and the way back short.
pub(super) fn position(position: u8) -> u32 {
    u32::from(position) - 1
}

/// The finger `reach` frets above the first one.
pub(super) fn finger(position: u8, reach: u8, finger: u8) -> u32 {
    let low = position <= WIDE;
    match (reach, finger) {
        // The weak third finger, spread; the fourth where the third would lie at ease.
        (2, 3) => u32::from(low),
        (2, 4) => u32::from(!low),
        (3, 4) if low => 2,
        (3, 4) => u32::from(position <= 3),
        _ => 0,
    }
}

/// What lies between two notes.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Between {
    /// Nothing: the next note follows at once.
    Nothing,
    /// A rest, or a note that no finger holds.
    Time,
}

/// The way from one grip to the next; `None` where there is none: under a note that no finger holds, the hand stays.
pub(super) fn way(from: &Grip, to: &Grip, between: Between) -> Option<u32> {
    let crossing = CROSSING * u32::from(from.string.abs_diff(to.string));
    let moved = from.position.abs_diff(to.position);
    if to.hold != Hold::Stopped && moved > 0 {
        return None;
    }
    let time = between == Between::Time || from.hold != Hold::Stopped;
    let change = match (from.hold, to.hold) {
        (Hold::Stopped, Hold::Open) | (Hold::Open, Hold::Stopped) => OPEN_CHANGE,
        _ => 0,
    };
    let hand = if moved > 0 {
        let cost = SHIFT + SHIFT_FRET * u32::from(moved);
        if time { cost / 2 } else { cost }
    } else if !time && from.slides_finger(to) {
        SAME_FINGER
    } else {
        0
    };
    Some(crossing + change + hand)
}
