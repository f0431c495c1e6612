//! What the hands do at each note that was heard, and whether the line says so.

use super::evidence::{Evidence, Heard};
use crate::fingering::{Distance, Source};

/// Which way a hand moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Either.
    Either,
    /// To a higher string, or up the neck.
    Up,
    /// To a lower string, or down the neck.
    Down,
}

impl Way {
    /// Whether a move of at least so many strings or frets goes this way.
    fn is_that_of(self, distance: Distance, least: u8) -> bool {
        let goes = match self {
            Way::Either => true,
            Way::Up => distance.by > 0,
            Way::Down => distance.by < 0,
        };
        goes && distance.by.unsigned_abs() >= least
    }
}

/// What a hand has to do to get to a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// The plucking hand goes to another string.
    Crossing(Way),
    /// The fretting hand goes to another place on the neck.
    Shift(Way),
}

/// The three ways of a deed as effects on the offset: either way, up alone, down alone.
macro_rules! each_way {
    ($deed:path, $tell:path) => {
        [
            $crate::findings::hand::one_way!($deed, $tell, Either),
            $crate::findings::hand::one_way!($deed, $tell, Up),
            $crate::findings::hand::one_way!($deed, $tell, Down),
        ]
    };
}
macro_rules! one_way {
    ($deed:path, $tell:path, $way:ident) => {
        $crate::findings::effect::Effect {
            column: |evidence| Some($deed($crate::findings::hand::Way::$way).column(evidence)),
            tell: |evidence, seen| $tell(evidence, seen, $crate::findings::hand::Way::$way),
            cause: $crate::findings::effect::Cause::Hand,
        }
    };
}
pub(super) use {each_way, one_way};

/// A hand that moves by one fret has not left its place (our choice).
const FEWEST_FRETS: u8 = 2;

impl Deed {
    /// The move that leads to a note of the line, if it is this deed.
    pub fn leads_to(self, evidence: &Evidence, note: u32) -> Option<Distance> {
        let moved = evidence.fingering.moves[note as usize];
        let (distance, way, least) = match self {
            Deed::Crossing(way) => (moved.crossing?, way, 1),
            Deed::Shift(way) => (moved.shift?, way, FEWEST_FRETS),
        };
        way.is_that_of(distance, least).then_some(distance)
    }

    /// 1 for each heard note that the hand gets to by this.
    pub fn column(self, evidence: &Evidence) -> Vec<f64> {
        evidence.column(|heard| self.leads_to(evidence, heard.index).is_some())
    }

    /// The move that follows a heard note directly, if it is this deed.
    pub fn follows(self, evidence: &Evidence, heard: &Heard) -> Option<Distance> {
        let next = next_note(evidence, heard).filter(|_| heard.note.rest_at.is_none())?;
        self.leads_to(evidence, next)
    }

    /// "likely " where the line does not say so itself for all of the notes that the hand gets to.
    pub fn likely(self, evidence: &Evidence, mut notes: impl Iterator<Item = u32>) -> &'static str {
        let is_likely = |note| {
            let distance = self.leads_to(evidence, note);
            distance.is_some_and(|distance| distance.source == Source::Likely)
        };
        if notes.any(is_likely) { "likely " } else { "" }
    }
}

/// The first note of the line that is struck after this one.
pub fn next_note(evidence: &Evidence, heard: &Heard) -> Option<u32> {
    let following = &evidence.expected.notes[heard.index as usize + 1..];
    let ahead = following
        .iter()
        .position(|next| next.group > heard.note.group)?;
    Some(heard.index + 1 + ahead as u32)
}
