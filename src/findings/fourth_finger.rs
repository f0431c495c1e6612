//! `shifts`, by finger: do the fourth finger's notes come in their place and last?
//!
//! Asked where the line has fingers. Statistic: the effect on the offset of being the fourth finger's.

use super::effect::{Cause, Effect, Seen};
use super::evidence::Evidence;
use super::{Finding, shifts};

const FOURTH: Option<u8> = Some(4);

pub const EFFECT: Effect = Effect {
    column: |evidence| {
        let has_fingers = evidence
            .heard
            .iter()
            .any(|heard| heard.note.finger.is_some());
        has_fingers.then(|| evidence.column(|heard| heard.note.finger == FOURTH))
    },
    tell,
    cause: Cause::Hand,
};

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    seen.finding(evidence, shifts::ID)
        .told(seen.came(evidence, "notes under the fourth finger"), ADVICE)
        .drilled(evidence, shifts::DRILL)
}

const ADVICE: &str = "Move the hand towards the fourth finger instead of stretching it, so that it falls straight behind its fret; slowly, and stop when it hurts.";
