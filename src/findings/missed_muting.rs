//! `missed-muting`: are notes cut where the next one, or a rest, begins?
//!
//! Statistic: how many notes are judged `rings`, against [`SLIPS`], and how many of them ring on for three times the window,
//! against [`GROSS_SLIPS`] (one-sided binomial tests; the smaller chance, doubled); for notes into rests, at jumps across strings
//! and elsewhere apart and for all together, since a habit may be of one kind (the smallest chance, times their number).
//! Harmless: the ring window. One string cannot overlap itself, so an overlap across strings is a missed damp (common
//! practice). A player (or a converter) that is steadily late reaches into every rest by as much, however well the hand
//! mutes: into a rest only what goes beyond the lean counts, as it is over eight beats there. Fewer than five make a finding only when at least three ring
//! on for three times the window.

use super::evidence::{Evidence, Heard};
use super::hand::{Deed, Way, next_note};
use super::practice::Drill;
use super::stats::estimate::LEVEL;
use super::stats::proportion::Proportion;
use super::{Answer, FEWEST, Finding, model, stats};
use crate::judge::Length;

pub const ID: &str = "missed-muting";
/// A good player misses a damp now and then (our choice).
pub const SLIPS: f64 = 0.05;
/// And by far hardly ever.
const GROSS_SLIPS: f64 = 0.01;
const GROSS_WINDOWS: f64 = 3.0;
const FEWEST_GROSS: usize = 3;

/// What a note should make room for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Rest,
    Jump,
    Other,
}

/// A note whose end is known.
struct Ended<'a> {
    heard: &'a Heard<'a>,
    kind: Kind,
    /// How long it rang beyond what is the player's lean or the converter's, in ms; 0 where it is not judged to ring.
    over_ms: f64,
}

impl Ended<'_> {
    fn rings(&self, window_ms: f64) -> bool {
        self.over_ms > window_ms
    }
}

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let window = evidence.windows.ring.ms();
    let ended = ended(evidence);
    if ended.is_empty() {
        return None;
    }
    let kinds = [Kind::Rest, Kind::Jump, Kind::Other].map(|kind| {
        let of_kind: Vec<&Ended> = ended.iter().filter(|ended| ended.kind == kind).collect();
        chance(&of_kind, window)
    });
    let together = chance(&ended.iter().collect::<Vec<_>>(), window);
    let asked: Vec<f64> = kinds.into_iter().chain([together]).flatten().collect();
    let smallest = asked.iter().copied().fold(1.0, f64::min);
    Some(Answer {
        chance: (smallest * asked.len() as f64).min(1.0),
        finding: tell(evidence, &ended),
    })
}

/// `None` where there is no such note.
fn chance(ended: &[&Ended], window: f64) -> Option<f64> {
    let beyond = |limit: f64| ended.iter().filter(|ended| ended.rings(limit)).count();
    let slips = Proportion::new(beyond(window), ended.len()).chance(SLIPS);
    let gross = Proportion::new(beyond(GROSS_WINDOWS * window), ended.len()).chance(GROSS_SLIPS);
    (!ended.is_empty()).then_some(2.0 * slips.min(gross))
}

fn ended<'a>(evidence: &'a Evidence<'a>) -> Vec<Ended<'a>> {
    let offsets: Vec<f64> = evidence.heard.iter().map(|heard| heard.offset_ms).collect();
    let late = model::wandering(&offsets, &evidence.heard);
    let end = |(heard, late): (&'a Heard<'a>, f64)| {
        let lean = (late - evidence.windows.lean.ms()).max(0.0);
        let kind = match () {
            () if heard.note.rest_at.is_some() => Kind::Rest,
            () if JUMP.follows(evidence, heard).is_some() => Kind::Jump,
            () => Kind::Other,
        };
        let over = heard.partner.ring_over.unwrap_or_default().ms();
        let over =
            over - if kind == Kind::Rest { lean } else { 0.0 } - late_end_ms(evidence, heard);
        let rings = heard.length_is(Length::Rings);
        Ended {
            heard,
            kind,
            over_ms: if rings { over } else { 0.0 },
        }
    };
    let known =
        std::iter::zip(&evidence.heard, late).filter(|(heard, _)| heard.partner.length.is_some());
    known.map(end).collect()
}

fn tell(evidence: &Evidence, ended: &[Ended]) -> Option<Finding> {
    let window = evidence.windows.ring.ms();
    let ringing: Vec<&Ended> = ended.iter().filter(|ended| ended.rings(window)).collect();
    let over: Vec<f64> = ringing.iter().map(|ended| ended.over_ms).collect();
    let mean = over.iter().sum::<f64>() / over.len().max(1) as f64;
    let interval = stats::mean_interval(&over, LEVEL).map(stats::Mean::interval);
    let carried = over.len() >= FEWEST && interval.is_some_and(|[low, _]| low > window);
    let is_gross = |over: &&f64| **over > GROSS_WINDOWS * window;
    if !carried && over.iter().filter(is_gross).count() < FEWEST_GROSS {
        return None;
    }
    let notes: Vec<u32> = ringing.iter().map(|ended| ended.heard.index).collect();
    let text = format!(
        "{} of {} notes rang over by {mean:+.0} ms on average{}: {}.",
        ringing.len(),
        ended.len(),
        kinds(evidence, &ringing),
        evidence.places(&notes),
    );
    let finding = Finding::new(ID, notes, ended.len())
        .sized(mean, interval.filter(|_| over.len() >= FEWEST))
        .told(text, ADVICE)
        .hurting(evidence, mean / window)
        .drilled(evidence, DRILL);
    Some(finding)
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

/// Where notes ring: into rests, at jumps, elsewhere.
fn kinds(evidence: &Evidence, ringing: &[&Ended]) -> String {
    let count = |kind: Kind| ringing.iter().filter(|ended| ended.kind == kind).count();
    let jumps = ringing.iter().filter(|ended| ended.kind == Kind::Jump);
    let nexts = jumps.filter_map(|ended| next_note(evidence, ended.heard));
    let likely = JUMP.likely(evidence, nexts);
    match (count(Kind::Rest), count(Kind::Jump)) {
        (0, 0) => String::new(),
        (rests, 0) => format!(", {rests} of them into a rest"),
        (0, jumps) => format!(", {jumps} of them at a {likely}jump across strings"),
        (rests, jumps) => {
            format!(", {rests} of them into a rest, {jumps} at a {likely}jump across strings")
        }
    }
}

const JUMP: Deed = Deed::Crossing(Way::Either);
const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Let the plucking hand land on the string you leave, and lift the fretting finger without letting go of the string; slowly, until the gap is heard.";
