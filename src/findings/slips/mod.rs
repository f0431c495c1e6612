//! Why notes are of the wrong pitch: each one has exactly one cause.
//!
//! The causes are tried in this order, those that explain most with one thing first: a shift that was missed (one thing
//! for a whole passage, whatever its notes look like one by one), an octave (the right name: nothing else is wrong), a degree
//! that is wrong again and again (the player believes it), then what the hand does on the way to one note: the
//! neighbouring string, the neighbouring fret.

mod next_string;
mod old_key;
mod wrong_degree;

use next_string::Board;
pub use next_string::Side;
pub use old_key::{FEWEST as FEWEST_IN_OLD_KEY, Moved, OldKey, could as could_be_in_old_key};
pub use wrong_degree::WrongDegree;

use super::evidence::Evidence;
use crate::fingering::Source;
use crate::judge::cost::Pitch;

/// Of all notes that are heard, the share that ordinarily slips in one way or the other. Our choice: enough that one or
/// two in a short take say nothing, few enough that every tenth note does.
pub const ORDINARY: f64 = 0.01;

/// Why a note is of the wrong pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slip {
    /// The passage had moved, and was played on where it had been.
    OldKey,
    /// The right note in another octave.
    Octave,
    /// A degree of the chord or the key that is taken for another one throughout.
    WrongDegree,
    /// The right fret on the string beside the right one.
    NextString(Side, Source),
    /// One fret up or down.
    NextFret,
    /// Nothing that can be told.
    Other,
}

/// Why the notes of a take are of the wrong pitch.
#[derive(Clone, Debug)]
pub struct Slips {
    /// The cause for each heard note that is of the wrong pitch.
    causes: Vec<Option<Slip>>,
    /// The shifts that were missed, in order.
    pub old_keys: Vec<OldKey>,
    /// The degrees that are wrong throughout, those of most notes first.
    pub wrong_degrees: Vec<WrongDegree>,
}

impl Slips {
    /// Linear in the notes.
    pub(super) fn of(evidence: &Evidence) -> Slips {
        let mut causes = vec![None; evidence.heard.len()];
        let old_keys = old_key::find(evidence);
        let moved = old_keys.iter().flat_map(|old| &old.heard);
        moved.for_each(|at| causes[*at] = Some(Slip::OldKey));
        let wrong_degrees = wrong_degree::find(evidence, &causes);
        let degrees = wrong_degrees.iter().flat_map(|wrong| &wrong.heard);
        degrees.for_each(|at| causes[*at] = Some(Slip::WrongDegree));
        let board = Board::of(evidence.expected, &evidence.fingering);
        for (cause, heard) in causes.iter_mut().zip(&evidence.heard) {
            *cause = cause.or(match heard.partner.pitch {
                Pitch::Right | Pitch::Unjudged => None,
                Pitch::Octave => Some(Slip::Octave),
                Pitch::Wrong => Some(match board.side(heard) {
                    Some((side, source)) => Slip::NextString(side, source),
                    None if heard.semitones().is_some_and(|by| by.abs() == 1) => Slip::NextFret,
                    None => Slip::Other,
                }),
            });
        }
        Slips {
            causes,
            old_keys,
            wrong_degrees,
        }
    }

    /// The cause for each note of [`Evidence::heard`]; `None` for one that is right or has no pitch.
    pub fn causes(&self) -> &[Option<Slip>] {
        &self.causes
    }
}
