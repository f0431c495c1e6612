//! `short-notes`, by tempo: do notes keep their share of the written length where it is faster?
//!
//! Asked where the tempi of a line differ by 5 % or more. Statistic: the slope of that share (played against expected) over
//! the logarithm of the tempo, beside the lengths that the places are written in and rests. Harmless: what the length window
//! of a single note allows, from the slowest tempo to the fastest.

use super::evidence::{Evidence, Heard};
use super::model::Model;
use super::practice::Drill;
use super::stats;
use super::stats::estimate::Estimate;
use super::{Answer, FEWEST, Finding};
use crate::judge::Length;
use crate::units::Nanos;

const TEMPI_APART: f64 = 1.05;

/// A plain note of known length.
struct Timed<'a> {
    heard: &'a Heard<'a>,
    /// Quarters a minute.
    tempo: f64,
}

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let timed = timed(evidence);
    let tempi = || timed.iter().map(|timed| timed.tempo);
    let (slowest, fastest) = (
        tempi().fold(f64::INFINITY, f64::min),
        tempi().fold(0.0, f64::max),
    );
    let is_fast = |timed: &&Timed| timed.tempo >= TEMPI_APART * slowest;
    let fast: Vec<&Timed> = timed.iter().filter(is_fast).collect();
    if fast.len() < FEWEST || timed.len() < fast.len() + FEWEST {
        return None;
    }
    let shares: Vec<f64> = timed.iter().map(|timed| share(timed.heard)).collect();
    let column = |of: &dyn Fn(&Timed) -> f64| -> Vec<f64> { timed.iter().map(of).collect() };
    let mut model = Model::level(&shares);
    model.take(&column(&|timed| {
        (timed.heard.note.written.ms() * timed.tempo).ln()
    }));
    model.take(&column(&|timed| {
        f64::from(u8::from(timed.heard.note.rest_at.is_some()))
    }));
    let slope = model.ask(&column(&|timed| timed.tempo.ln()))?;
    let range = (fastest / slowest).ln();
    let change = Estimate {
        mean: slope.mean * range,
        standard_error: slope.standard_error * range,
        ..slope
    };
    if change.mean >= 0.0 {
        return Some(Answer {
            chance: 1.0,
            finding: None,
        });
    }
    let place = Place {
        slowest,
        fastest,
        share: shares.iter().sum::<f64>() / shares.len() as f64,
        log_tempo: tempi().map(f64::ln).sum::<f64>() / timed.len() as f64,
    };
    Some(Answer {
        chance: slope.chance(),
        finding: change
            .is_beyond(harmless_share(evidence, &fast))
            .then(|| tell(evidence, &fast, slope.mean, &place))
            .flatten(),
    })
}

fn timed<'a>(evidence: &'a Evidence<'a>) -> Vec<Timed<'a>> {
    let tempi: Vec<(Nanos, f64)> = evidence
        .expected
        .tempo_map
        .changes()
        .map(|(_, at, rate)| (at, rate.quarters_per_minute()))
        .collect();
    let is_plain = |heard: &&Heard| {
        let is = heard.note.is;
        !(is.short || is.muted || is.dead) && heard.length_off_ms().is_some()
    };
    let with_tempo = |heard: &'a Heard<'a>| {
        let at = tempi.partition_point(|(at, _)| *at <= heard.note.onset);
        let (_, tempo) = tempi[at.saturating_sub(1)];
        Timed { heard, tempo }
    };
    evidence
        .heard
        .iter()
        .filter(is_plain)
        .map(with_tempo)
        .collect()
}

/// How much of its written length a note sounded.
fn share(heard: &Heard) -> f64 {
    let played = heard.note.sounding.ms() + heard.length_off_ms().unwrap_or_default();
    played / heard.note.written.ms().max(1.0)
}

/// What the window of a single note allows, as a share of the written length: the median over the fast places.
fn harmless_share(evidence: &Evidence, fast: &[&Timed]) -> f64 {
    let windows = evidence.windows;
    let share = |timed: &&Timed| {
        let note = timed.heard.note;
        let window = windows
            .length
            .ms()
            .max(windows.length_share * note.sounding.ms());
        window / note.written.ms().max(1.0)
    };
    let mut shares: Vec<f64> = fast.iter().map(share).collect();
    stats::median(&mut shares).unwrap_or(1.0)
}

/// Where the slope lies.
struct Place {
    slowest: f64,
    fastest: f64,
    /// The mean share.
    share: f64,
    /// The mean logarithm of the tempo.
    log_tempo: f64,
}

impl Place {
    fn percent_at(&self, tempo: f64, slope: f64) -> f64 {
        100.0 * (self.share + slope * (tempo.ln() - self.log_tempo))
    }
}

fn tell(evidence: &Evidence, fast: &[&Timed], slope: f64, place: &Place) -> Option<Finding> {
    let short: Vec<&Heard> = fast
        .iter()
        .map(|timed| timed.heard)
        .filter(|heard| heard.length_is(Length::Short))
        .collect();
    if short.len() < FEWEST {
        return None;
    }
    let missing: Vec<f64> = short
        .iter()
        .filter_map(|heard| heard.length_off_ms())
        .collect();
    let mean = stats::mean_interval(&missing, stats::estimate::LEVEL)?;
    let notes: Vec<u32> = short.iter().map(|heard| heard.index).collect();
    let text = format!(
        "Notes get shorter where it is faster: {:.0} % of their length at {:.0}, {:.0} % at {:.0}; {} of {} there stopped too soon: {}.",
        place.percent_at(place.slowest, slope),
        place.slowest,
        place.percent_at(place.fastest, slope),
        place.fastest,
        short.len(),
        fast.len(),
        evidence.places(&notes),
    );
    let finding = Finding::new("short-notes", notes, fast.len())
        .sized(mean.mean, Some(mean.interval()))
        .told(text, ADVICE)
        .hurting(evidence, mean.mean / evidence.windows.length.ms())
        .drilled(evidence, DRILL);
    Some(finding)
}

const DRILL: Drill = Drill::at(0.85);
const ADVICE: &str = "Take the fast part at the slow part's tempo and listen to where each note ends; raise the speed only as long as the gaps stay the same.";
