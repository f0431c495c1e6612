//! `shifts`: does the note after a move of the fretting hand come in its place, and does the note before it last?
//!
//! Statistic: as for [`super::crossings`]. A shift is written where the line names string and finger on both sides, else
//! it is the likely one. Told under the same name, since it is the same hand on its way: [`super::leaps`] and
//! [`super::fourth_finger`].

use super::effect::{Effect, Seen};
use super::evidence::Evidence;
use super::hand::{Deed, Way, each_way};
use super::practice::Drill;
use super::{Answer, Finding, cut_short};

pub const ID: &str = "shifts";

pub const EFFECTS: [Effect; 3] = each_way!(Deed::Shift, tell);

fn tell(evidence: &Evidence, seen: &Seen, way: Way) -> Finding {
    let finding = seen.finding(evidence, ID);
    let along = match way {
        Way::Either => "",
        Way::Up => " up the neck",
        Way::Down => " down the neck",
    };
    let likely = Deed::Shift(way).likely(evidence, finding.notes.iter().copied());
    let text = seen.came(
        evidence,
        &format!("notes after a {likely}shift of the hand{along}"),
    );
    let advice = if seen.is_early() { EARLY } else { LATE };
    finding.told(text, advice).drilled(evidence, DRILL)
}

/// Whether the note before a shift is cut short.
pub fn ask_lengths(evidence: &Evidence) -> Option<Answer> {
    cut_short::ask(
        evidence,
        Deed::Shift(Way::Either),
        &cut_short::Words {
            id: ID,
            before: "shift of the hand",
            advice: CUT,
            drill: DRILL,
        },
    )
}

pub const DRILL: Drill = Drill::at(0.7);
const LATE: &str = "Practise the move alone and without sound: look at the fret you go to, keep the thumb loose, and leave as soon as the note before has had its length.";
const EARLY: &str = "Practise the move alone: arrive, wait on the fret with the finger down, and play only when the note is due.";
const CUT: &str = "Practise the move alone, slowly, and keep the finger down until the note before has had its length; then go at once.";
