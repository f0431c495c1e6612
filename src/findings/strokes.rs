//! `uneven-strokes`: are up strokes like down strokes?
//!
//! Asked where the line has strokes: in time (the effect of an up stroke on the offset), in length and in velocity
//! ([`super::contrast`], beside the place in the bar and accents). Harmless: for velocities a difference of
//! [`HARMLESS_VELOCITY`], which is our choice; for lengths see there. Where up strokes are nearly the same notes as the
//! upbeats, the place in the bar is told unless the stroke explains clearly more ([`Cause::Hand`]).

use super::contrast::Contrast;
use super::effect::{Cause, Effect, Seen};
use super::evidence::{Evidence, Heard};
use super::practice::Drill;
use super::{Answer, Finding};
use crate::line::Stroke;

const ID: &str = "uneven-strokes";
/// Of 127: about the step from one written loudness to the next (eight of them between silence and full).
const HARMLESS_VELOCITY: f64 = 12.0;

pub const EFFECT: Effect = Effect {
    column: |evidence| {
        let has_strokes = evidence.heard.iter().any(has_stroke);
        has_strokes.then(|| evidence.column(is_up))
    },
    tell,
    cause: Cause::Hand,
};

fn is_up(heard: &Heard) -> bool {
    heard.note.stroke == Some(Stroke::Up)
}

fn has_stroke(heard: &Heard) -> bool {
    heard.note.stroke.is_some()
}

fn is_upbeat(heard: &Heard) -> f64 {
    f64::from(u8::from(heard.note.is.upbeat))
}

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    let word = if seen.estimate.mean < 0.0 {
        "early"
    } else {
        "late"
    };
    told(
        evidence,
        seen,
        format!(
            "come {word} against down strokes, {} on average",
            seen.amount()
        ),
    )
    .sized(seen.estimate.mean, Some(seen.estimate.interval()))
}

fn told(evidence: &Evidence, seen: &Seen, what: String) -> Finding {
    let finding =
        Finding::new(ID, seen.showing.clone(), seen.of).hurting(evidence, seen.times_heard());
    let text = format!(
        "Up strokes {what}, {} of {}: {}.",
        finding.count,
        finding.of,
        evidence.places(&finding.notes)
    );
    finding.told(text, ADVICE).drilled(evidence, DRILL)
}

fn answer(seen: &Seen, tell: impl Fn(&Seen) -> Finding) -> Answer {
    Answer {
        chance: seen.estimate.chance(),
        finding: seen
            .estimate
            .is_beyond(seen.harmless_ms)
            .then(|| tell(seen)),
    }
}

/// Whether up strokes sound shorter, or longer.
pub fn ask_lengths(evidence: &Evidence) -> Option<Answer> {
    let seen = Contrast::of_lengths(evidence, has_stroke).ask(is_up)?;
    let word = if seen.estimate.mean < 0.0 {
        "shorter"
    } else {
        "longer"
    };
    Some(answer(&seen, |seen| {
        told(
            evidence,
            seen,
            format!(
                "sound {word} than down strokes, by {} on average",
                seen.amount()
            ),
        )
        .sized(seen.estimate.mean, Some(seen.estimate.interval()))
    }))
}

/// Whether up strokes are softer, or louder.
pub fn ask_velocities(evidence: &Evidence) -> Option<Answer> {
    let struck = evidence.heard.iter().filter(|heard| has_stroke(heard));
    let velocity = |heard: &Heard| f64::from(heard.velocity);
    let seen = Contrast::new(struck, velocity, HARMLESS_VELOCITY)
        .beside(|heard| f64::from(u8::from(heard.note.is.accent)))
        .beside(is_upbeat)
        .ask(is_up)?;
    let [low, high] = seen.estimate.interval();
    let word = if seen.estimate.mean < 0.0 {
        "softer"
    } else {
        "louder"
    };
    Some(answer(&seen, |seen| {
        told(
            evidence,
            seen,
            format!(
                "are {word} than down strokes, {:+.0} of 127 in velocity ({low:+.0} to {high:+.0})",
                seen.estimate.mean
            ),
        )
    }))
}

/// Tells in one finding all that strokes differ in: sized by the first.
pub fn join(findings: &mut Vec<Finding>) {
    let Some(first) = findings.iter().position(|finding| finding.id == ID) else {
        return;
    };
    let (others, kept): (Vec<_>, Vec<_>) = std::mem::take(findings)
        .into_iter()
        .enumerate()
        .partition(|(index, finding)| finding.id == ID && *index != first);
    *findings = kept.into_iter().map(|(_, finding)| finding).collect();
    let whole = &mut findings[first];
    for (_, other) in others {
        whole.text = format!("{} {}", whole.text, other.text);
        whole.notes.extend(other.notes);
        whole.of = whole.of.max(other.of);
        whole.hurt = whole.hurt.max(other.hurt);
        if whole.mean_ms.is_none() {
            (whole.mean_ms, whole.interval_ms) = (other.mean_ms, other.interval_ms);
        }
    }
    whole.notes.sort_unstable();
    whole.notes.dedup();
    whole.count = whole.notes.len();
}

const DRILL: Drill = Drill::at(0.8);
const ADVICE: &str = "Play one note with down and up strokes in turn until you cannot hear which is which, then the line slowly, with up strokes alone and as written.";
