//! `wrong-string`: is the right fret stopped (or plucked) on the string beside the right one?
//!
//! Statistic and threshold: see [`super::slip_count`]; every note with a pitch could. Where the line names no string, the
//! one of the likely fingering stands in, and the sentence says so.

use super::Answer;
use super::evidence::Evidence;
use super::practice::Drill;
use super::slip_count::{self, Counted};
use super::slips::{Side, Slip};
use crate::fingering::Source;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    slip_count::ask(
        evidence,
        |slip| matches!(slip, Slip::NextString(..)),
        |counted| {
            counted
                .finding("wrong-string")
                .told(
                    counted.sentence(&what(evidence, counted)),
                    counted.advice(ADVICE),
                )
                .drilled(evidence, DRILL)
        },
    )
}

fn what(evidence: &Evidence, counted: &Counted) -> String {
    let causes = evidence.slips().causes();
    let cause = |index: u32| {
        let at = evidence.heard.partition_point(|heard| heard.index < index);
        causes[at]
    };
    let side = counted.sides("the next higher string", "the next lower string", |heard| {
        matches!(cause(heard.index), Some(Slip::NextString(Side::Higher, _)))
    });
    let is_likely = |index| matches!(cause(index), Some(Slip::NextString(_, Source::Likely)));
    let likely = if counted.notes.iter().any(|heard| is_likely(heard.index)) {
        " likely"
    } else {
        ""
    };
    format!("were{likely} played at the right fret on {side}")
}

const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Play these bars on the open strings alone until both hands know the order of the strings, then put the frets back.";
