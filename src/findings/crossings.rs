//! `string-crossings`: does the note after a change of string come in its place, and does the note before it last?
//!
//! Statistic: the effect on the offset of being reached by a crossing, either way or one way alone, whichever explains
//! most; the effect on the length of being followed by one. Only cut short is told of lengths: notes that ring on belong to
//! [`super::missed_muting`]. Crossings are the line's where it names both strings, else the likely ones.

use super::effect::{Effect, Seen};
use super::evidence::Evidence;
use super::hand::{Deed, Way, each_way};
use super::practice::Drill;
use super::{Answer, Finding, cut_short};

const ID: &str = "string-crossings";

pub const EFFECTS: [Effect; 3] = each_way!(Deed::Crossing, tell);

fn tell(evidence: &Evidence, seen: &Seen, way: Way) -> Finding {
    let finding = seen.finding(evidence, ID);
    let to = match way {
        Way::Either => "another",
        Way::Up => "a higher",
        Way::Down => "a lower",
    };
    let likely = Deed::Crossing(way).likely(evidence, finding.notes.iter().copied());
    let text = seen.came(
        evidence,
        &format!("notes after a {likely}crossing to {to} string"),
    );
    let advice = if seen.is_early() { EARLY } else { LATE };
    finding.told(text, advice).drilled(evidence, DRILL)
}

/// Whether the note before a crossing is cut short.
pub fn ask_lengths(evidence: &Evidence) -> Option<Answer> {
    cut_short::ask(
        evidence,
        Deed::Crossing(Way::Either),
        &cut_short::Words {
            id: ID,
            before: "crossing to another string",
            advice: CUT,
            drill: DRILL,
        },
    )
}

const DRILL: Drill = Drill::at(0.75);
const LATE: &str = "Play only the two notes around each crossing, slowly, with the plucking finger resting on the new string before its note is due.";
const EARLY: &str = "Play only the two notes around each crossing, slowly: let the plucking finger wait on the new string until its note is due.";
const CUT: &str = "Play only the two notes around each crossing, slowly, and let the first sound until the second takes over.";
