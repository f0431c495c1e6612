//! `rushed-upbeats`, `dragged-upbeats`: do the notes between the beats sit where the line has them?
//!
//! Statistic: the effect of being an upbeat on the offset. Upbeats of swung pairs are asked for by [`super::swing`] where
//! there are pairs enough to speak of swing.

use super::effect::{Cause, Effect, Seen};
use super::evidence::Evidence;
use super::finding::Finding;
use super::practice::Drill;
use super::swing;
use crate::click::Pattern;

pub const EFFECT: Effect = Effect {
    column,
    tell,
    cause: Cause::Place,
};

fn column(evidence: &Evidence) -> Option<Vec<f64>> {
    let swung = swing::upbeats(evidence);
    let upbeats = evidence.column(|heard| heard.note.is.upbeat);
    Some(match swung {
        Some(swung) => std::iter::zip(upbeats, swung)
            .map(|(all, swung)| all * (1.0 - swung))
            .collect(),
        None => upbeats,
    })
}

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    let is_rushed = seen.estimate.mean < 0.0;
    let (id, word, advice) = if is_rushed {
        ("rushed-upbeats", "rushed", RUSHED)
    } else {
        ("dragged-upbeats", "dragged", DRAGGED)
    };
    let finding = seen.finding(evidence, id);
    let text = format!(
        "{} of {} upbeats were {word}, {} against your beats: {}.",
        finding.count,
        finding.of,
        seen.amount(),
        evidence.places(&finding.notes),
    );
    finding.told(text, advice).drilled(evidence, DRILL)
}

const RUSHED: &str = "Slow down and say every subdivision aloud; play the upbeat on its own syllable and not before it.";
const DRAGGED: &str = "Practise with the click on the upbeats, so that they are what you hear, then move it back to the beats.";
const DRILL: Drill = Drill::at(0.8).with_click(Pattern::Upbeats);
