//! `missed-muting`: are notes cut where the next one, or a rest, begins?
//!
//! Statistic: the ring-over of the notes judged `rings`, its mean and t interval. Harmless: the ring window. One
//! string cannot overlap itself, so an overlap across strings is a missed damp (common practice). A player (or a
//! converter) that is steadily late reaches into every rest by as much, however well the hand mutes: into a rest only
//! what goes beyond the lean counts. Fewer than five make a finding only when at least three ring on for three times
//! the window.

use super::evidence::{Evidence, Heard};
use super::practice::Drill;
use super::stats::estimate::LEVEL;
use super::{Answer, FEWEST, Finding, stats};
use crate::judge::Length;

/// A leap of a fourth or more crosses to another string, on a bass in fourths.
const LEAP_SEMITONES: u8 = 5;
const FEWEST_GROSS: usize = 3;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let known = || {
        evidence
            .heard
            .iter()
            .filter(|heard| heard.partner.length.is_some())
    };
    let window = evidence.windows.ring.ms();
    let lean = (evidence.lean_ms() - evidence.windows.lean.ms()).max(0.0);
    let beyond_lean = |heard: &Heard| {
        let into_rest = heard.note.rest_at.is_some();
        let over = heard.partner.ring_over.unwrap_or_default().ms();
        over - if into_rest { lean } else { 0.0 } - late_end_ms(evidence, heard)
    };
    let rings = |heard: &&Heard| heard.length_is(Length::Rings) && beyond_lean(heard) > window;
    let ringing: Vec<&Heard> = known().filter(rings).collect();
    let over: Vec<f64> = ringing.iter().map(|heard| beyond_lean(heard)).collect();
    let mean = over.iter().sum::<f64>() / over.len().max(1) as f64;
    let interval = stats::mean_interval(&over, LEVEL).map(stats::Mean::interval);
    let carried = over.len() >= FEWEST && interval.is_some_and(|[low, _]| low > window);
    let gross = over.iter().filter(|over| **over > 3.0 * window).count() >= FEWEST_GROSS;
    if !carried && !gross {
        return None;
    }
    let (of, notes) = (
        known().count(),
        ringing.iter().map(|heard| heard.index).collect::<Vec<_>>(),
    );
    let text = format!(
        "{} of {of} notes rang over by {mean:+.0} ms on average{}: {}.",
        ringing.len(),
        kinds(evidence, &ringing),
        evidence.places(&notes),
    );
    let finding = Finding::new("missed-muting", notes, of)
        .sized(mean, interval.filter(|_| over.len() >= FEWEST))
        .told(text, ADVICE)
        .hurting(evidence, mean / window)
        .drilled(evidence, DRILL);
    Some(Answer::certain(finding))
}

/// By how much a converter that is suspected makes a note end later against what follows: against a rest by all it adds
/// to the note, against the next note by what it adds less there.
fn late_end_ms(evidence: &Evidence, heard: &Heard) -> f64 {
    let next = || {
        let at = evidence
            .heard
            .partition_point(|other| other.index <= heard.index);
        evidence.heard.get(at).map_or(0.0, |next| next.suspected_ms)
    };
    let of_next = if heard.note.rest_at.is_some() {
        0.0
    } else {
        next()
    };
    heard.suspected_ms - of_next
}

/// Where notes ring: into rests, at leaps, elsewhere.
fn kinds(evidence: &Evidence, ringing: &[&Heard]) -> String {
    let into_rest = ringing
        .iter()
        .filter(|heard| heard.note.rest_at.is_some())
        .count();
    let at_leap = ringing
        .iter()
        .filter(|heard| heard.note.rest_at.is_none() && leaps(evidence, heard))
        .count();
    match (into_rest, at_leap) {
        (0, 0) => String::new(),
        (rests, 0) => format!(", {rests} of them into a rest"),
        (0, leaps) => format!(", {leaps} of them at a jump across strings"),
        (rests, leaps) => {
            format!(", {rests} of them into a rest, {leaps} at a jump across strings")
        }
    }
}

fn leaps(evidence: &Evidence, heard: &Heard) -> bool {
    let following = &evidence.expected.notes[heard.index as usize + 1..];
    let Some(next) = following.iter().find(|next| next.group > heard.note.group) else {
        return false;
    };
    match (heard.note.string, next.string, heard.note.key, next.key) {
        (Some(here), Some(there), ..) => here != there,
        (.., Some(here), Some(there)) => here.0.abs_diff(there.0) >= LEAP_SEMITONES,
        _ => false,
    }
}

const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Let the plucking hand land on the string you leave, and lift the fretting finger without letting go of the string; slowly, until the gap is heard.";
