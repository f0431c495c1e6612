//! Fingering: which string, fret and finger each expected note is likely to be played with, and how the hands move.
//!
//! What the line names stays as it is; the rest is the cheapest way through the whole line (the weights are in `cost.rs`). What rests
//! on the choice and not on the line is [`Source::Likely`], and must be said so.

mod cost;
mod grip;
mod path;

use crate::expected::{Expected, ExpectedNote};
use cost::Between;
pub use cost::SPAN;
use grip::{Ask, Hold};
use path::{Repertoire, Step};

/// How a whole line is played by the hands. Both lists have one item an expected note, at the same index.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fingering {
    /// Where each note is played.
    pub places: Vec<Placed>,
    /// What the hands do to get to each note; the notes of a double stop share it.
    pub moves: Vec<Move>,
}

/// Where a note is played; all `None` for a dead note whose string is not named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    /// 1 = highest.
    pub string: Option<u8>,
    /// `None` on a dead note.
    pub fret: Option<u8>,
    /// The fret at the first finger; `None` while the hand stops no string.
    pub position: Option<u8>,
    /// 1 to 4, or 0 for an open string; `None` on a dead note.
    pub finger: Option<u8>,
    /// Whether the line names the string.
    pub source: Source,
}

/// What a statement about the hands rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// The line says so.
    Written,
    /// It is the cheapest way to play the line.
    Likely,
}

/// What the hands do between a group of notes and the one before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Move {
    /// Strings that the plucking hand crosses, from lowest note to lowest note; positive to a higher string. `None` at
    /// the first note, and where the string of one of the two is not known (a dead note without one).
    pub crossing: Option<Distance>,
    /// Frets that the fretting hand shifts since it last stopped a string; positive up the neck. `None` where it stops
    /// none now, or has not before.
    pub shift: Option<Distance>,
}

/// A signed number of strings or frets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Distance {
    /// Strings or frets.
    pub by: i8,
    /// A crossing is written where the line names both strings; a shift where it names string and finger on both sides.
    pub source: Source,
}

impl Fingering {
    /// The fingering of a line: constraints first (named strings, frets, fingers), then the cheapest way.
    ///
    /// Deterministic; of equal ways the one in the lower position. No hand spans more than four frets unless the line
    /// names strings that leave no other way. O(n) time and memory for n notes.
    pub fn of(expected: &Expected) -> Fingering {
        let groups: Vec<&[ExpectedNote]> =
            expected.notes.chunk_by(|a, b| a.group == b.group).collect();
        let mut repertoire = Repertoire::new(&expected.open);
        let steps = steps(&groups, &mut repertoire);
        let placed: Vec<Step> = steps.iter().flatten().copied().collect();
        let mut way = path::cheapest(&placed, &repertoire).into_iter();
        let mut hands = Hands::default();
        for (group, step) in groups.iter().zip(steps) {
            let grip = step.and_then(|step| Some((&repertoire.grips[step.grips], way.next()?)));
            match grip {
                Some((grips, grip)) => hands.take(group, &grips.grips[grip], grips.spots(grip)),
                None => hands.pass_over(group),
            }
        }
        hands.done
    }
}

/// One step a group, `None` for a group that has no place.
fn steps(groups: &[&[ExpectedNote]], repertoire: &mut Repertoire<'_>) -> Vec<Option<Step>> {
    let mut asks = Vec::new();
    let mut between = Between::Nothing;
    let mut step = |group: &&[ExpectedNote]| {
        asks.clear();
        asks.extend(group.iter().map(Ask::of));
        let grips = repertoire.index_of(&asks);
        let rest_follows = group.iter().any(|note| note.rest_at.is_some());
        let before = between;
        // A note that no finger holds leaves the hand as free as a rest.
        let has_place = !repertoire.grips[grips].grips.is_empty();
        between = if rest_follows || !has_place {
            Between::Time
        } else {
            Between::Nothing
        };
        has_place.then_some(Step {
            grips,
            between: before,
        })
    };
    groups.iter().map(&mut step).collect()
}

/// The hands on their way through the line.
struct Hands {
    done: Fingering,
    /// The string struck last.
    string: Option<(u8, Source)>,
    /// Where the hand last stopped a string.
    position: Option<(u8, Source)>,
}

impl Default for Hands {
    fn default() -> Hands {
        Hands {
            done: Fingering {
                places: Vec::new(),
                moves: Vec::new(),
            },
            string: None,
            position: None,
        }
    }
}

impl Hands {
    fn take(&mut self, group: &[ExpectedNote], grip: &grip::Grip, spots: &[grip::Spot]) {
        let stops = grip.hold == Hold::Stopped;
        let string = (grip.string, named(&group[0]));
        let fingered = group
            .iter()
            .all(|note| note.string.is_some() && note.finger.is_some_and(|finger| finger > 0));
        let position = (grip.position, source(fingered));
        let moved = Move {
            // Strings are numbered from the highest.
            crossing: self.string.map(|before| distance(string, before)),
            shift: self
                .position
                .filter(|_| stops)
                .map(|before| distance(before, position)),
        };
        self.string = Some(string);
        if stops {
            self.position = Some(position);
        }
        for (note, spot) in group.iter().zip(spots) {
            self.done.moves.push(moved);
            self.done.places.push(Placed {
                string: Some(spot.string),
                fret: spot.fret,
                position: stops.then_some(grip.position),
                finger: spot.fret.map(|_| spot.finger),
                source: named(note),
            });
        }
    }

    fn pass_over(&mut self, group: &[ExpectedNote]) {
        self.string = None;
        for note in group {
            self.done.moves.push(Move::default());
            self.done.places.push(Placed {
                string: None,
                fret: None,
                position: None,
                finger: None,
                source: named(note),
            });
        }
    }
}

fn named(note: &ExpectedNote) -> Source {
    source(note.string.is_some())
}

fn source(written: bool) -> Source {
    if written {
        Source::Written
    } else {
        Source::Likely
    }
}

/// From `from` to `to`.
fn distance((from, a): (u8, Source), (to, b): (u8, Source)) -> Distance {
    Distance {
        by: to as i8 - from as i8,
        source: source(a == Source::Written && b == Source::Written),
    }
}
