//! `rushed-upbeats`, `dragged-upbeats`: do the notes between the beats sit where the line has them?
//!
//! Statistic: the offset of each upbeat (entries left to their own question) from the player's own usual offset on
//! the beat, its mean and t interval.

use super::evidence::{Evidence, Heard};
use super::{FEWEST, Finding, LEVEL, stats};

pub fn ask(evidence: &Evidence) -> Option<Finding> {
    let upbeats: Vec<&Heard> = evidence
        .heard
        .iter()
        .filter(|heard| heard.note.is.upbeat && !heard.note.is.entry)
        .collect();
    if upbeats.len() < FEWEST {
        return None;
    }
    let on_beat = evidence.usual_ms(false);
    let offsets: Vec<f64> = upbeats
        .iter()
        .map(|heard| heard.offset_ms - on_beat)
        .collect();
    let harmless = evidence.harmless_ms(upbeats.iter().copied());
    let mean = stats::mean_interval(&offsets, LEVEL)?;
    let [low, high] = mean.interval();
    let rushed = high < -harmless;
    if !rushed && low <= harmless {
        return None;
    }
    let beyond = |offset: f64| {
        if rushed {
            offset < -harmless
        } else {
            offset > harmless
        }
    };
    let notes: Vec<u32> = upbeats
        .iter()
        .zip(&offsets)
        .filter(|(_, offset)| beyond(**offset))
        .map(|(heard, _)| heard.index)
        .collect();
    let text = format!(
        "{} of {} upbeats were {}, {:+.0} ms against your beats ({low:+.0} to {high:+.0}): {}.",
        notes.len(),
        upbeats.len(),
        if rushed { "rushed" } else { "dragged" },
        mean.mean,
        evidence.places(&notes),
    );
    Some(Finding {
        id: if rushed {
            "rushed-upbeats"
        } else {
            "dragged-upbeats"
        },
        count: notes.len(),
        of: upbeats.len(),
        mean_ms: Some(mean.mean),
        interval_ms: Some([low, high]),
        text,
        advice: if rushed { RUSHED } else { DRAGGED },
        notes,
    })
}

const RUSHED: &str = "Slow down and say every subdivision aloud; play the upbeat on its own syllable and not before it.";
const DRAGGED: &str = "Practise with the click on the upbeats, so that they are what you hear, then move it back to the beats.";
