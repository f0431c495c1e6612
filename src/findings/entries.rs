//! `late-entries`, `early-entries`: does the player come in with the click after a rest?
//!
//! Statistic: the effect of being an entry on the offset. Where there are fewer than five entries, only gross misses count:
//! twice the timing window.

use super::effect::{Cause, Effect, Seen};
use super::evidence::{Evidence, Heard};
use super::finding::Finding;
use super::practice::Drill;
use super::{Answer, FEWEST};

pub const EFFECT: Effect = Effect {
    column: |evidence| Some(evidence.column(|heard| heard.note.is.entry)),
    tell,
    cause: Cause::Place,
};

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    let side = Side::of(seen.estimate.mean);
    let finding = seen.finding(evidence, side.id());
    let text = format!(
        "{} of {} entries came in {}, {} on average: {}.",
        finding.count,
        finding.of,
        side.word(),
        seen.amount(),
        evidence.places(&finding.notes),
    );
    finding.told(text, side.advice()).drilled(evidence, DRILL)
}

/// Few entries: none by statistics, but gross misses.
pub fn ask_of_few(evidence: &Evidence) -> Option<Answer> {
    let entries: Vec<&Heard> = evidence
        .heard
        .iter()
        .filter(|heard| heard.note.is.entry)
        .collect();
    if entries.len() >= FEWEST {
        return None;
    }
    let miss = 2.0 * evidence.windows.timing.ms();
    let (on_beat, off_beat) = (evidence.usual_ms(false), evidence.usual_ms(true));
    let usual = |heard: &Heard| {
        if heard.note.is.upbeat {
            off_beat
        } else {
            on_beat
        }
    };
    let by_side = |side: Side| -> Vec<(u32, f64)> {
        let offset = |heard: &&Heard| (heard.index, heard.offset_ms - usual(heard));
        let entries = entries.iter().map(offset);
        entries
            .filter(|(_, offset)| offset * side.sign() > miss)
            .collect()
    };
    let (late, early) = (by_side(Side::Late), by_side(Side::Early));
    let (side, showing) = if late.len() >= early.len() {
        (Side::Late, late)
    } else {
        (Side::Early, early)
    };
    if showing.len() < 2 || 2 * showing.len() < entries.len() {
        return None;
    }
    let mean = showing.iter().map(|(_, offset)| offset).sum::<f64>() / showing.len() as f64;
    let notes: Vec<u32> = showing.iter().map(|(index, _)| *index).collect();
    let text = format!(
        "{} of only {} entries came in {} by far, {mean:+.0} ms on average: {}.",
        notes.len(),
        entries.len(),
        side.word(),
        evidence.places(&notes),
    );
    let harmless = evidence.harmless_ms(entries.iter().copied());
    let finding = Finding::new(side.id(), notes, entries.len())
        .sized(mean, None)
        .told(text, side.advice())
        .hurting(evidence, mean / harmless)
        .drilled(evidence, DRILL);
    Some(Answer::certain(finding))
}

const DRILL: Drill = Drill::at(0.9);

#[derive(Clone, Copy)]
enum Side {
    Early,
    Late,
}

impl Side {
    fn of(mean_ms: f64) -> Side {
        if mean_ms < 0.0 {
            Side::Early
        } else {
            Side::Late
        }
    }

    fn sign(self) -> f64 {
        match self {
            Side::Early => -1.0,
            Side::Late => 1.0,
        }
    }

    fn id(self) -> &'static str {
        match self {
            Side::Early => "early-entries",
            Side::Late => "late-entries",
        }
    }

    fn word(self) -> &'static str {
        match self {
            Side::Early => "early",
            Side::Late => "late",
        }
    }

    fn advice(self) -> &'static str {
        match self {
            Side::Early => {
                "Count the rest aloud to its very end, and let the finger wait on the string until the count is up."
            }
            Side::Late => {
                "Count through the rest and put the finger on the string a beat before the entry, so that only the stroke is left to do."
            }
        }
    }
}
