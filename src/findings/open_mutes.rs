//! `missed-muting`, of notes marked `m`: are they damped, or left open?
//!
//! Statistic: how many muted notes are too long without ringing over, against [`SLIPS`] (one-sided binomial test).

use super::evidence::{Evidence, Heard};
use super::missed_muting::{ID, SLIPS};
use super::practice::Drill;
use super::stats::estimate::LEVEL;
use super::stats::proportion::Proportion;
use super::{Answer, FEWEST, Finding, stats};
use crate::judge::Length;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let is_known = |heard: &&Heard| heard.note.is.muted && heard.partner.length.is_some();
    let muted: Vec<&Heard> = evidence.heard.iter().filter(is_known).collect();
    if muted.len() < FEWEST {
        return None;
    }
    let is_open = |heard: &&&Heard| heard.length_is(Length::Long);
    let open: Vec<&Heard> = muted.iter().filter(is_open).copied().collect();
    Some(Answer {
        chance: Proportion::new(open.len(), muted.len()).chance(SLIPS),
        finding: (open.len() >= FEWEST).then(|| tell(evidence, &open, muted.len())),
    })
}

fn tell(evidence: &Evidence, open: &[&Heard], of: usize) -> Finding {
    let over: Vec<f64> = open
        .iter()
        .filter_map(|heard| heard.length_off_ms())
        .collect();
    let mean = over.iter().sum::<f64>() / over.len().max(1) as f64;
    let interval = stats::mean_interval(&over, LEVEL).map(stats::Mean::interval);
    let notes: Vec<u32> = open.iter().map(|heard| heard.index).collect();
    let text = format!(
        "{} of {of} muted notes were left open, {mean:+.0} ms on average: {}.",
        open.len(),
        evidence.places(&notes),
    );
    Finding::new(ID, notes, of)
        .sized(mean, interval)
        .told(text, ADVICE)
        .hurting(evidence, mean / evidence.windows.ring.ms())
        .drilled(evidence, DRILL)
}

const DRILL: Drill = Drill::at(0.7);
const ADVICE: &str = "Rest the edge of the plucking hand on the strings where they leave the bridge, and keep it there; play only the muted notes until each is a short thump.";
