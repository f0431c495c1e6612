//! `rushing`, `dragging` in words.

use super::slope::{Of, Told, Unit};
use super::step::Step;
use super::strikes::{Change, Section, from_place_ms};
use super::{Tempo, harmless_ms};
use crate::click::Pattern;
use crate::findings::evidence::Evidence;
use crate::findings::practice::Drill;
use crate::findings::stats::estimate::Estimate;
use crate::findings::{Answer, Finding};

#[derive(Clone, Copy)]
enum Way {
    Rushing,
    Dragging,
}

impl Way {
    /// Of the offsets.
    fn sign(self) -> f64 {
        match self {
            Way::Rushing => -1.0,
            Way::Dragging => 1.0,
        }
    }

    fn id(self) -> &'static str {
        match self {
            Way::Rushing => "rushing",
            Way::Dragging => "dragging",
        }
    }

    fn is_of(self, ms: f64) -> bool {
        ms * self.sign() > 0.0
    }

    /// `rushes`, `rush`.
    fn verb(self, several: bool) -> &'static str {
        match (self, several) {
            (Way::Rushing, false) => "rushes",
            (Way::Rushing, true) => "rush",
            (Way::Dragging, false) => "drags",
            (Way::Dragging, true) => "drag",
        }
    }

    fn than_the_click(self) -> &'static str {
        match self {
            Way::Rushing => "faster than the click",
            Way::Dragging => "slower than the click",
        }
    }

    fn advice(self) -> &'static str {
        match self {
            Way::Rushing => {
                "Play it with the click on beat one only: each time it comes, hear how far ahead of it you are, and give every note its whole length."
            }
            Way::Dragging => {
                "Play it with the click on beat one only: each time it comes, hear how far behind it you are, and think the next note before you strike this one."
            }
        }
    }
}

/// Slopes and new tempi, each in both ways.
pub fn answers(evidence: &Evidence, tempo: &Tempo) -> Vec<Answer> {
    [Way::Rushing, Way::Dragging]
        .into_iter()
        .flat_map(|way| [slopes(evidence, tempo, way), steps(evidence, tempo, way)])
        .flatten()
        .collect()
}

fn slopes(evidence: &Evidence, tempo: &Tempo, way: Way) -> Option<Answer> {
    let chance = tempo.slopes.chance(way.sign())?;
    let units: Vec<&Unit> = match &tempo.slopes.told {
        Told::Nothing => Vec::new(),
        Told::Whole(unit) => vec![unit],
        Told::Sections(units) => units.iter().collect(),
    };
    let units: Vec<&Unit> = units
        .into_iter()
        .filter(|unit| way.is_of(unit.slope.mean) && !is_of_kept(tempo, unit))
        .collect();
    let finding = (!units.is_empty()).then(|| tell_slopes(evidence, tempo, &units, way));
    Some(Answer { chance, finding })
}

/// Whether it is of a section of which a kept tempo is told already.
fn is_of_kept(tempo: &Tempo, unit: &Unit) -> bool {
    let step = unit.section().and_then(|index| tempo.steps[index].as_ref());
    step.is_some_and(|step| step.is_kept)
}

fn tell_slopes(evidence: &Evidence, tempo: &Tempo, units: &[&Unit], way: Way) -> Finding {
    let gains: Vec<Estimate> = units.iter().map(|unit| unit.gain_ms()).collect();
    let gain = mean_of(&gains);
    let mut notes: Vec<u32> = Vec::new();
    let mut of = 0;
    for (run, start_ms) in units.iter().flat_map(|unit| &unit.runs) {
        let harmless = units[0].harmless_ms;
        for heard in run.clone().flat_map(|strike| tempo.strikes.heard(strike)) {
            of += 1;
            let heard = &evidence.heard[heard];
            if (from_place_ms(heard) - start_ms) * way.sign() > harmless {
                notes.push(heard.index);
            }
        }
    }
    // Half of it is what its notes are off by on average.
    let times_heard = gain.mean / 2.0 / units[0].harmless_ms;
    Finding::new(way.id(), notes, of)
        .sized(gain.mean, Some(gain.interval()))
        .told(text_of_slopes(evidence, tempo, units, way), way.advice())
        .hurting(evidence, times_heard)
        .drilled(evidence, Drill::at(0.9).with_click(Pattern::Bar))
}

fn text_of_slopes(evidence: &Evidence, tempo: &Tempo, units: &[&Unit], way: Way) -> String {
    let percents = units.iter().map(|unit| percent(unit));
    let gains = units
        .iter()
        .map(|unit| format!("{:+.0}", unit.gain_ms().mean));
    let (percents, gains) = (and(percents), and(gains));
    let played = &tempo.strikes.sections;
    let sections: Vec<&Section> = units
        .iter()
        .filter_map(|unit| Some(&played[unit.section()?]))
        .collect();
    let is_all = sections.len() == played.len();
    let anew = units.iter().any(|unit| matches!(unit.of, Of::Passes(_)));
    let several = sections.len() > 1;
    let end = match (anew, several) {
        (true, false) => "the end of a pass",
        (true, true) => "the end of a section or pass",
        (false, false) => "its end",
        (false, true) => "their ends",
    };
    let sum = format!("{percents} {}, {gains} ms by {end}", way.than_the_click());
    if sections.is_empty() || (is_all && !several) {
        return format!("The whole take {}: {sum}.", way.verb(false));
    }
    if is_all {
        return format!("Every section {}: {sum}.", way.verb(false));
    }
    let names = and(sections.iter().map(|section| name(evidence, section)));
    let bars = and(sections.iter().map(|section| bars(section)));
    let word = if several { "Sections" } else { "Section" };
    format!("{word} {names} {}: {sum}: bars {bars}.", way.verb(several))
}

/// `0.4 % (0.2 to 0.6)`, whichever way.
fn percent(unit: &Unit) -> String {
    let (percent, [low, high]) = unit.faster_percent();
    let (low, high) = match percent < 0.0 {
        true => (-high, -low),
        false => (low, high),
    };
    let decimals = if percent.abs() < 0.2 { 2 } else { 1 };
    format!(
        "{:.decimals$} % ({low:.decimals$} to {high:.decimals$})",
        percent.abs()
    )
}

fn steps(evidence: &Evidence, tempo: &Tempo, way: Way) -> Option<Answer> {
    let asked = || {
        std::iter::zip(&tempo.strikes.sections, &tempo.steps)
            .filter_map(|(section, step)| Some((section, section.change?, step.as_ref()?)))
            .filter(|(_, change, _)| way.is_of(change.to - change.from))
    };
    let chance = asked().map(|(_, _, step)| step.chance).reduce(f64::min)?;
    let kept: Vec<Kept> = asked().filter(|(_, _, step)| step.is_kept).collect();
    let finding = (!kept.is_empty()).then(|| tell_steps(evidence, tempo, &kept, way));
    Some(Answer { chance, finding })
}

type Kept<'a> = (&'a Section, Change, &'a Step);

fn tell_steps(evidence: &Evidence, tempo: &Tempo, kept: &[Kept], way: Way) -> Finding {
    let peaks: Vec<Estimate> = kept.iter().map(|(_, _, step)| step.peak_ms).collect();
    let peak = mean_of(&peaks);
    let mut notes = Vec::new();
    let mut of = 0;
    for (section, _, step) in kept {
        let harmless = harmless_ms(section.beat_ms);
        let until = section.spans_s[0] + (step.beats + 4.0) * section.beat_ms / 1000.0;
        for strike in section.strikes.clone() {
            if tempo.strikes.at_s[strike] > until {
                break;
            }
            for heard in tempo.strikes.heard(strike) {
                of += 1;
                let heard = &evidence.heard[heard];
                if from_place_ms(heard) * way.sign() > harmless {
                    notes.push(heard.index);
                }
            }
        }
    }
    let harmless = harmless_ms(kept[0].0.beat_ms);
    Finding::new(way.id(), notes, of)
        .sized(peak.mean, Some(peak.interval()))
        .told(text_of_steps(evidence, kept), NEW_TEMPO)
        .hurting(evidence, peak.mean / 2.0 / harmless)
        .drilled(evidence, Drill::at(1.0))
}

const NEW_TEMPO: &str = "Before the change, sing the first bar in the new tempo; then play the last bar before it and the first two after it in a loop, and let the click lead on the first beat.";

/// `Into Saloon deck (100 to 103) you kept the old tempo for about 6 beats, +48 ms (+31 to +65) before you were back.`
fn text_of_steps(evidence: &Evidence, kept: &[Kept]) -> String {
    let into = |(section, change, step): &Kept| {
        let [low, high] = step.peak_ms.interval();
        format!(
            "into {} ({} to {}) you kept the old tempo for about {:.0} beats, {:+.0} ms ({low:+.0} to {high:+.0}) before you were back",
            name(evidence, section),
            bpm(change.from),
            bpm(change.to),
            step.beats,
            step.peak_ms.mean,
        )
    };
    let parts: Vec<String> = kept.iter().map(into).collect();
    let text = parts.join("; ");
    format!("I{}.", &text[1..])
}

fn bpm(tempo: f64) -> String {
    let text = format!("{tempo:.1}");
    text.trim_end_matches(".0").to_string()
}

fn name(evidence: &Evidence, section: &Section) -> String {
    evidence.expected.sections[usize::from(section.section)].clone()
}

fn bars(section: &Section) -> String {
    match section.bars {
        [first, last] if first == last => first.to_string(),
        [first, last] => format!("{first} to {last}"),
    }
}

/// `a`, `a and b`, `a, b and c`.
fn and(parts: impl Iterator<Item = String>) -> String {
    let parts: Vec<String> = parts.collect();
    match parts.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [several @ .., last] => format!("{} and {last}", several.join(", ")),
    }
}

/// The mean of several estimates of their own notes each.
fn mean_of(estimates: &[Estimate]) -> Estimate {
    let count = estimates.len().max(1) as f64;
    let sum = |of: fn(&Estimate) -> f64| estimates.iter().map(of).sum::<f64>();
    Estimate {
        mean: sum(|estimate| estimate.mean) / count,
        standard_error: sum(|estimate| estimate.standard_error.powi(2)).sqrt() / count,
        freedom: estimates
            .iter()
            .map(|estimate| estimate.freedom)
            .fold(f64::INFINITY, f64::min),
    }
}
