//! The slope of the offsets over time: of each section, and of the whole take.
//!
//! Statistic: least squares with a t interval on an autoregression ([`trend`]), not detrended, in ms per second of the line; a
//! section of several passes is asked as it goes on through them, and as it starts anew in each. What the slope adds up to
//! over a run has to be beyond what can be heard on a beat. The chance is multiplied by how many slopes are asked for
//! (Bonferroni).

use super::strikes::{Section, Strikes};
use crate::findings::stats::discovery::FALSE_SHARE;
use crate::findings::stats::estimate::Estimate;
use crate::findings::stats::trend::{Alike, Trend, trend};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};
use std::ops::Range;

/// Shorter sections are not asked.
const FEWEST_STRIKES: usize = 8;
const FEWEST_BEATS: f64 = 4.0;
/// Below this chance the sections are taken to have slopes of their own.
const OF_ONE_PIECE: f64 = 0.01;

/// All slopes of a take.
#[derive(Default)]
pub struct Slopes {
    units: Vec<Unit>,
    /// What is to be said.
    pub told: Told,
}

/// What is to be said of the slopes.
#[derive(Default)]
pub enum Told {
    /// Nothing.
    #[default]
    Nothing,
    /// The whole take has one slope.
    Whole(Unit),
    /// These sections have slopes, those of both signs.
    Sections(Vec<Unit>),
}

/// A slope that was asked for.
#[derive(Clone, Debug)]
pub struct Unit {
    /// Of what.
    pub of: Of,
    /// In ms per second of the line: negative rushes.
    pub slope: Estimate,
    /// How long its runs last at the most, in seconds.
    pub span_s: f64,
    /// What it may add up to, in ms.
    pub harmless_ms: f64,
    /// Its runs, as strikes, each with what the fit has for its first strike, in ms.
    pub runs: Vec<(Range<usize>, f64)>,
}

/// What a slope is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// The whole take.
    Take,
    /// A section, by its place in [`Strikes::sections`], through all its passes.
    Section(usize),
    /// A section, each pass with a start of its own.
    Passes(usize),
}

impl Unit {
    /// What it adds up to over its longest run.
    pub fn gain_ms(&self) -> Estimate {
        Estimate {
            mean: self.slope.mean * self.span_s,
            standard_error: self.slope.standard_error * self.span_s,
            ..self.slope
        }
    }

    /// How much faster than the click, in percent, with its interval.
    pub fn faster_percent(&self) -> (f64, [f64; 2]) {
        let [low, high] = self.slope.interval();
        (-self.slope.mean / 10.0, [-high / 10.0, -low / 10.0])
    }

    fn is_told(&self, tried: usize) -> bool {
        self.slope.chance() * tried as f64 <= FALSE_SHARE
            && self.gain_ms().is_beyond(self.harmless_ms)
    }

    /// Its section, by its place among those played.
    pub fn section(&self) -> Option<usize> {
        match self.of {
            Of::Take => None,
            Of::Section(index) | Of::Passes(index) => Some(index),
        }
    }
}

impl Slopes {
    /// `runs` of the whole take; `kept`: what a tempo kept too long explains, for each section.
    pub fn of(
        strikes: &Strikes,
        runs: &[Range<usize>],
        kept: &[Option<Vec<f64>>],
        alike: Alike,
    ) -> Slopes {
        let mut units = Vec::new();
        // The take as it is without the tempi that were kept.
        let mut plain_ms = strikes.plain_ms.clone();
        let mut apart = Apart::default();
        for (index, section) in strikes.sections.iter().enumerate() {
            let beside = kept[index].as_deref();
            let x = &strikes.at_s[section.strikes.clone()];
            let y = &strikes.plain_ms[section.strikes.clone()];
            if let Some(kept) = beside
                && let Some(fit) = trend(kept, y, Some(x), &section.runs, Some(alike))
            {
                let here = plain_ms[section.strikes.clone()].iter_mut();
                here.zip(kept)
                    .for_each(|(y, kept)| *y -= fit.slope.mean * kept);
            }
            let fit = |runs: &[Range<usize>]| trend(x, y, beside, runs, Some(alike));
            if let Some(through) = fit(&section.runs) {
                apart.add(&through, section);
                let of = Of::Section(index);
                units.extend(Unit::new(of, strikes, section, &section.runs, &through));
            }
            if section.passes != section.runs
                && let Some(anew) = fit(&section.passes)
            {
                let of = Of::Passes(index);
                units.extend(Unit::new(of, strikes, section, &section.passes, &anew));
            }
        }
        let sections = units
            .iter()
            .filter(|unit| matches!(unit.of, Of::Section(_)));
        let whole = match sections.count() {
            0 | 1 => None,
            _ => trend(&strikes.at_s, &plain_ms, None, runs, Some(alike)),
        };
        let is_of_one_piece = |whole: &Trend| apart.is_no_better(whole, runs, alike.correlation);
        let one_piece = whole
            .as_ref()
            .filter(|whole| is_of_one_piece(whole))
            .map(|whole| Unit::whole(strikes, runs, whole));
        let tried = units.len() + usize::from(whole.is_some());
        let told = told(&units, one_piece, tried);
        Slopes { units, told }
    }

    /// The slope of a section through all its passes.
    pub fn of_section(&self, index: usize) -> Option<&Unit> {
        self.units.iter().find(|unit| unit.of == Of::Section(index))
    }

    /// How likely chance alone shows one of these slopes; `None` where none was asked for.
    pub fn chance(&self, sign: f64) -> Option<f64> {
        let whole = match &self.told {
            Told::Whole(unit) => Some(unit),
            _ => None,
        };
        let tried = self.units.len() + 1;
        let chance = |unit: &Unit| match unit.slope.mean * sign > 0.0 {
            true => (unit.slope.chance() * tried as f64).min(1.0),
            false => 1.0,
        };
        let chances = self.units.iter().chain(whole).map(chance);
        chances.reduce(f64::min)
    }
}

fn told(units: &[Unit], whole: Option<Unit>, tried: usize) -> Told {
    if let Some(whole) = whole.filter(|whole| whole.is_told(tried)) {
        return Told::Whole(whole);
    }
    // Of a section's two the surer.
    let mut of_sections: Vec<Unit> = Vec::new();
    for unit in units.iter().filter(|unit| unit.is_told(tried)) {
        match of_sections.last_mut() {
            Some(last) if last.section() == unit.section() => {
                if unit.slope.strength() > last.slope.strength() {
                    *last = unit.clone();
                }
            }
            _ => of_sections.push(unit.clone()),
        }
    }
    match of_sections.is_empty() {
        true => Told::Nothing,
        false => Told::Sections(of_sections),
    }
}

impl Unit {
    fn new(
        of: Of,
        strikes: &Strikes,
        section: &Section,
        runs: &[Range<usize>],
        fit: &Trend,
    ) -> Option<Unit> {
        let based =
            |run: &Range<usize>| run.start + section.strikes.start..run.end + section.strikes.start;
        let runs: Vec<Range<usize>> = runs.iter().map(based).collect();
        let unit = Unit::at_beat(of, strikes, &runs, fit, section.beat_ms);
        let counted: usize = runs.iter().map(Range::len).sum();
        let is_asked =
            counted >= FEWEST_STRIKES && unit.span_s * 1000.0 >= FEWEST_BEATS * section.beat_ms;
        is_asked.then_some(unit)
    }

    fn whole(strikes: &Strikes, runs: &[Range<usize>], fit: &Trend) -> Unit {
        let beats = strikes
            .sections
            .iter()
            .map(|section| section.beat_ms * section.strikes.len() as f64);
        let beat_ms = beats.sum::<f64>() / strikes.at_s.len().max(1) as f64;
        Unit::at_beat(Of::Take, strikes, runs, fit, beat_ms)
    }

    fn at_beat(
        of: Of,
        strikes: &Strikes,
        runs: &[Range<usize>],
        fit: &Trend,
        beat_ms: f64,
    ) -> Unit {
        let span = |run: &Range<usize>| strikes.at_s[run.end - 1] - strikes.at_s[run.start];
        let start = |run: &Range<usize>| {
            let count = run.len() as f64;
            let mean = |values: &[f64]| values[run.clone()].iter().sum::<f64>() / count;
            let before = mean(&strikes.at_s) - strikes.at_s[run.start];
            mean(&strikes.plain_ms) - fit.slope.mean * before
        };
        Unit {
            of,
            slope: fit.slope,
            span_s: runs.iter().map(span).fold(0.0, f64::max),
            harmless_ms: super::harmless_ms(beat_ms),
            runs: runs.iter().map(|run| (run.clone(), start(run))).collect(),
        }
    }
}

/// The sections with slopes of their own, added up.
#[derive(Default)]
struct Apart {
    squares: f64,
    fitted: usize,
    count: usize,
}

impl Apart {
    fn add(&mut self, fit: &Trend, section: &Section) {
        self.squares += squares(&fit.left, &section.runs);
        self.fitted += section.runs.len() + 1;
        self.count += section.runs.iter().map(Range::len).sum::<usize>();
    }

    /// Whether slopes of their own explain the notes no better than one for all (F test on the worth of the notes).
    fn is_no_better(&self, whole: &Trend, runs: &[Range<usize>], alike: f64) -> bool {
        let worth = (1.0 - alike) / (1.0 + alike);
        let more = self.fitted as f64 - (runs.len() + 1) as f64;
        let free = (self.count as f64 * worth - self.fitted as f64).max(1.0);
        let variance = self.squares / (self.count as f64 - self.fitted as f64).max(1.0);
        let whole = squares(&whole.left, runs);
        if more < 1.0 || variance <= 0.0 {
            return whole <= self.squares;
        }
        let explained = (whole - self.squares).max(0.0) / more / variance * worth;
        FisherSnedecor::new(more, free).is_ok_and(|f| f.sf(explained) > OF_ONE_PIECE)
    }
}

fn squares(left: &[f64], runs: &[Range<usize>]) -> f64 {
    let indices = runs.iter().flat_map(Clone::clone);
    indices.map(|index| left[index].powi(2)).sum()
}
