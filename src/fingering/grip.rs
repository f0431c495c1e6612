//! Every way in which the hand can take the notes that are struck together.

use super::cost::{self, SPAN};
use crate::expected::ExpectedNote;
use crate::line::tuning::HIGHEST_FRET;
use crate::units::Key;

/// What the line says about a note, as far as the hands are concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Ask {
    key: Option<Key>,
    string: Option<u8>,
    finger: Option<u8>,
}

/// Where one note is played. `fret` is `None` on a dead note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    pub(super) string: u8,
    pub(super) fret: Option<u8>,
    /// 0 where no finger stops the string.
    pub(super) finger: u8,
}

/// What the fretting hand does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Hold {
    /// It stops a string.
    Stopped,
    /// Nothing: open strings alone.
    Open,
    /// Nothing: a dead note.
    Dead,
}

/// One way of taking a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Grip {
    /// The fret under (or nearest to) the first finger; where no string is stopped, where the hand waits.
    pub(super) position: u8,
    /// Cost of the grip itself.
    pub(super) cost: u32,
    pub(super) hold: Hold,
    /// The string of the lowest note.
    pub(super) string: u8,
    /// The lowest stopped note.
    stopped: Option<Spot>,
}

impl Ask {
    pub(super) fn of(note: &ExpectedNote) -> Ask {
        Ask {
            key: note.key,
            string: note.string,
            finger: note.finger,
        }
    }

    #[cfg(test)]
    pub(super) fn new(key: Option<u8>, string: Option<u8>, finger: Option<u8>) -> Ask {
        Ask {
            key: key.map(Key),
            string,
            finger,
        }
    }

    /// String and fret of every place that it can be played, highest string first; none for a dead note that names no
    /// string.
    fn places(self, open: &[Key]) -> impl Iterator<Item = (u8, Option<u8>)> + use<'_> {
        (1..)
            .zip(open)
            .filter(move |(string, _)| self.string.is_none_or(|named| named == *string))
            .filter_map(move |(string, open)| match self.key {
                None => self.string.map(|string| (string, None)),
                Some(key) => {
                    let fret = key.0.checked_sub(open.0)?;
                    (fret <= HIGHEST_FRET).then_some((string, Some(fret)))
                }
            })
    }
}

impl Grip {
    /// Whether the finger that stops the (lowest) note leaves it for another place.
    pub(super) fn slides_finger(&self, to: &Grip) -> bool {
        self.stopped.zip(to.stopped).is_some_and(|(from, to)| {
            from.finger == to.finger && (from.string, from.fret) != (to.string, to.fret)
        })
    }
}

/// All grips of one group, those in low positions first.
pub(super) struct Grips {
    pub(super) grips: Vec<Grip>,
    /// The spots of each grip, in the order of the notes.
    spots: Vec<Vec<Spot>>,
}

impl Grips {
    /// Every grip for these notes; none where an instrument with these open strings cannot play them together.
    ///
    /// Hands that span more than four frets are there only where no narrower one is. A written finger that no grip
    /// gives is passed over (an open string's 0 in a pass that has moved off it).
    pub(super) fn of(asks: &[Ask], open: &[Key]) -> Grips {
        let mut choices = Vec::new();
        choose(asks, open, &mut Vec::new(), &mut choices);
        let narrowest = choices.iter().map(|choice| span(choice)).min();
        let widest = narrowest.unwrap_or(0).max(SPAN);
        choices.retain(|choice| span(choice) <= widest);
        // Each of the notes carries the finger of the whole strike.
        let finger = asks.first().and_then(|ask| ask.finger);
        let mut found: Vec<(Grip, Vec<Spot>)> = choices
            .iter()
            .flat_map(|choice| hands(choice, finger))
            .collect();
        let agrees = |(_, spots): &(Grip, Vec<Spot>)| {
            finger.is_none_or(|finger| spots.iter().any(|spot| spot.finger == finger))
        };
        if found.iter().any(agrees) {
            found.retain(agrees);
        }
        found.sort();
        found.dedup();
        let (grips, spots) = found.into_iter().unzip();
        Grips { grips, spots }
    }

    /// The spots of a grip, in the order of the notes.
    pub(super) fn spots(&self, grip: usize) -> &[Spot] {
        &self.spots[grip]
    }
}

/// The notes on strings, each on its own; no fingers yet.
type Choice = Vec<(u8, Option<u8>)>;

fn choose(asks: &[Ask], open: &[Key], taken: &mut Choice, choices: &mut Vec<Choice>) {
    let Some((first, rest)) = asks.split_first() else {
        choices.push(taken.clone());
        return;
    };
    for place in first.places(open) {
        if taken.iter().all(|(string, _)| *string != place.0) {
            taken.push(place);
            choose(rest, open, taken, choices);
            taken.pop();
        }
    }
}

fn stopped(choice: &[(u8, Option<u8>)]) -> impl Iterator<Item = u8> {
    choice
        .iter()
        .filter_map(|(_, fret)| fret.filter(|fret| *fret > 0))
}

/// How many frets lie under the hand, from the lowest that is stopped to the highest.
fn span(choice: &[(u8, Option<u8>)]) -> u8 {
    let lowest = stopped(choice).min();
    let highest = stopped(choice).max();
    lowest
        .zip(highest)
        .map_or(0, |(lowest, highest)| highest - lowest + 1)
}

/// Every hand for a choice of strings.
fn hands(choice: &Choice, written: Option<u8>) -> Vec<(Grip, Vec<Spot>)> {
    let Some((lowest, highest)) = stopped(choice).min().zip(stopped(choice).max()) else {
        return (1..=HIGHEST_FRET)
            .map(|position| grip(choice, position, |_| 0))
            .collect();
    };
    let from = (highest + 1).saturating_sub(SPAN).clamp(1, lowest);
    let mut hands = Vec::new();
    for position in from..=lowest {
        hands.push(grip(choice, position, |reach| reach.min(3) + 1));
        // The fourth finger may take the third fret, where it is not needed for the fourth.
        if highest - position == 2 {
            let short = |reach| if reach == 2 { 4 } else { reach + 1 };
            hands.push(grip(choice, position, short));
        }
    }
    // Below the first position a hand that is squeezed is played only where the line says so.
    if let Some(finger) = written.filter(|finger| *finger > highest && lowest == highest) {
        hands.push(grip(choice, 1, |_| finger));
    }
    hands
}

fn grip(choice: &Choice, position: u8, finger_at: impl Fn(u8) -> u8) -> (Grip, Vec<Spot>) {
    let spot = |&(string, fret): &(u8, Option<u8>)| Spot {
        string,
        fret,
        finger: match fret {
            None | Some(0) => 0,
            Some(fret) => finger_at(fret - position),
        },
    };
    let spots: Vec<Spot> = choice.iter().map(spot).collect();
    let stopped = spots.iter().find(|spot| spot.finger > 0).copied();
    let hold = match stopped {
        Some(_) => Hold::Stopped,
        None if spots.iter().any(|spot| spot.fret.is_some()) => Hold::Open,
        None => Hold::Dead,
    };
    let fingers = spots.iter().filter(|spot| spot.finger > 0);
    let fingers =
        fingers.filter_map(|spot| Some(cost::finger(position, spot.fret? - position, spot.finger)));
    let place = stopped.map_or(0, |_| cost::position(position));
    let is_open = |spot: &Spot| spot.fret == Some(0);
    let mixed = hold == Hold::Stopped && spots.iter().any(is_open);
    let grip = Grip {
        position,
        cost: place + fingers.sum::<u32>() + u32::from(mixed) * cost::OPEN_CHANGE,
        hold,
        string: spots[0].string,
        stopped,
    };
    (grip, spots)
}
