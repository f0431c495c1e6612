//! `late-entries`, `early-entries`: does the player come in with the click after a rest?
//!
//! Statistic: the offset of each entry from the player's own usual offset at such a place (on the beat, or off it),
//! its mean and t interval. Where there are fewer than five entries, only gross misses count: twice the timing window.

use super::evidence::{Evidence, Heard};
use super::{FEWEST, Finding, LEVEL, stats};

pub fn ask(evidence: &Evidence) -> Option<Finding> {
    let entries: Vec<&Heard> = evidence
        .heard
        .iter()
        .filter(|heard| heard.note.is.entry)
        .collect();
    let (on_beat, off_beat) = (evidence.usual_ms(false), evidence.usual_ms(true));
    let from_usual = |heard: &&Heard| {
        heard.offset_ms
            - if heard.note.is.upbeat {
                off_beat
            } else {
                on_beat
            }
    };
    let offsets: Vec<f64> = entries.iter().map(from_usual).collect();
    if entries.len() < FEWEST {
        return gross(evidence, &entries, &offsets);
    }
    let harmless = evidence.harmless_ms(entries.iter().copied());
    let mean = stats::mean_interval(&offsets, LEVEL)?;
    let [low, high] = mean.interval();
    let side = Side::of(low, high, harmless)?;
    let showing = side.showing(&entries, &offsets, harmless);
    let text = format!(
        "{} of {} entries came in {}, {:+.0} ms on average ({:+.0} to {:+.0}): {}.",
        showing.len(),
        entries.len(),
        side.word(),
        mean.mean,
        low,
        high,
        evidence.places(&showing),
    );
    Some(Finding {
        id: side.id(),
        count: showing.len(),
        of: entries.len(),
        mean_ms: Some(mean.mean),
        interval_ms: Some([low, high]),
        text,
        advice: side.advice(),
        notes: showing,
    })
}

fn gross(evidence: &Evidence, entries: &[&Heard], offsets: &[f64]) -> Option<Finding> {
    let miss = 2.0 * evidence.windows.timing.ms();
    let late = Side::Late.showing(entries, offsets, miss);
    let early = Side::Early.showing(entries, offsets, miss);
    let (side, showing) = if late.len() >= early.len() {
        (Side::Late, late)
    } else {
        (Side::Early, early)
    };
    if showing.len() < 2 || 2 * showing.len() < entries.len() {
        return None;
    }
    let shown = entries
        .iter()
        .zip(offsets)
        .filter(|(heard, _)| showing.contains(&heard.index));
    let mean = shown.map(|(_, offset)| offset).sum::<f64>() / showing.len() as f64;
    let text = format!(
        "{} of only {} entries came in {} by far, {mean:+.0} ms on average: {}.",
        showing.len(),
        entries.len(),
        side.word(),
        evidence.places(&showing),
    );
    Some(Finding {
        id: side.id(),
        count: showing.len(),
        of: entries.len(),
        mean_ms: Some(mean),
        interval_ms: None,
        text,
        advice: side.advice(),
        notes: showing,
    })
}

#[derive(Clone, Copy)]
enum Side {
    Early,
    Late,
}

impl Side {
    fn of(low: f64, high: f64, harmless: f64) -> Option<Side> {
        match () {
            () if low > harmless => Some(Side::Late),
            () if high < -harmless => Some(Side::Early),
            () => None,
        }
    }

    /// The entries that lie beyond `limit` ms on this side.
    fn showing(self, entries: &[&Heard], offsets: &[f64], limit: f64) -> Vec<u32> {
        let beyond = |offset: f64| match self {
            Side::Late => offset > limit,
            Side::Early => offset < -limit,
        };
        entries
            .iter()
            .zip(offsets)
            .filter(|(_, offset)| beyond(**offset))
            .map(|(heard, _)| heard.index)
            .collect()
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
