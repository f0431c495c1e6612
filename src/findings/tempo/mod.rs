//! Does the player keep the click's tempo, and does a new tempo start where the line has it?
//!
//! Two questions that are asked together, since a tempo that was kept too long looks like a slope: how each section's
//! new tempo was taken (`step`), and beside that the slope of the offsets over time (`slope`). Both use the plain
//! offsets, in which the kinds of note are known, and the correlation of neighbours as the whole take shows it.

mod slope;
mod step;
mod strikes;
mod told;

use super::Answer;
use super::evidence::Evidence;
use super::stats::trend::{Alike, measure, trend};
use slope::{Slopes, Unit};
use step::{Beginning, Step};
pub use strikes::from_place_ms;
use strikes::{Section, Strikes};

/// A section's tempo, as it was played.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionTempo {
    /// Index into the line's sections.
    pub section: u16,
    /// How much faster (positive) or slower than the click, in percent, with its 95 % interval, what a tempo change explains
    /// taken out; `None`: too short to be asked.
    pub faster_percent: Option<(f64, [f64; 2])>,
    /// Where the tempo changes at its start: how the new one was taken.
    pub new_tempo: Option<NewTempo>,
}

/// A change of tempo at the start of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NewTempo {
    /// Quarter notes a minute before it.
    pub from: f64,
    /// And from there on.
    pub to: f64,
    /// How it was taken.
    pub taken: Taken,
}

/// How a new tempo was taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taken {
    /// Within two beats for certain.
    AtOnce,
    /// The old one was kept for about so many beats.
    DriftedInto {
        /// To half a beat.
        beats: f64,
    },
    /// The notes do not say.
    NotKnown,
}

/// By then whoever keeps an old tempo is back for certain.
pub const KEPT_BEATS: f64 = step::LONGEST_BEATS + step::RETURN_BEATS;

/// Sums up to which a slope, or a kept tempo, does no harm: what cannot be heard on a beat.
fn harmless_ms(beat_ms: f64) -> f64 {
    (0.025 * beat_ms).max(6.0)
}

/// `rushing`, `dragging`: one answer each for slopes and for new tempi.
pub fn ask(evidence: &Evidence) -> Vec<Answer> {
    let tempo = Tempo::of(evidence);
    told::answers(evidence, &tempo)
}

/// The sections that were played, in order. The evidence should have the effects explained, as the questions see it.
pub fn by_section(evidence: &Evidence) -> Vec<SectionTempo> {
    let tempo = Tempo::of(evidence);
    let of_section = |(index, section): (usize, &Section)| SectionTempo {
        section: section.section,
        faster_percent: tempo.slopes.of_section(index).map(Unit::faster_percent),
        new_tempo: section.change.map(|change| NewTempo {
            from: change.from,
            to: change.to,
            taken: taken(tempo.steps[index].as_ref()),
        }),
    };
    tempo
        .strikes
        .sections
        .iter()
        .enumerate()
        .map(of_section)
        .collect()
}

fn taken(step: Option<&Step>) -> Taken {
    match step {
        Some(step) if step.is_kept => Taken::DriftedInto { beats: step.beats },
        Some(step) if step.is_at_once => Taken::AtOnce,
        _ => Taken::NotKnown,
    }
}

/// All that is known of the tempo of a take.
struct Tempo {
    strikes: Strikes,
    /// One a section; `None` where the tempo does not change, or too little was played to tell.
    steps: Vec<Option<Step>>,
    slopes: Slopes,
}

impl Tempo {
    fn of(evidence: &Evidence) -> Tempo {
        let strikes = Strikes::of(evidence);
        let alike = alike(&strikes);
        let beginnings: Vec<Option<Beginning>> = strikes
            .sections
            .iter()
            .map(|section| Beginning::of(&strikes, section))
            .collect();
        let changes = beginnings.iter().flatten().count();
        let steps: Vec<Option<Step>> = beginnings
            .iter()
            .map(|beginning| beginning.as_ref()?.step(alike?, changes))
            .collect();
        let kept: Vec<Option<Vec<f64>>> = std::iter::zip(&beginnings, &steps)
            .map(|(beginning, step)| {
                let step = step.as_ref().filter(|step| step.is_kept)?;
                Some(beginning.as_ref()?.column(&strikes, step.beats))
            })
            .collect();
        let runs = strikes.runs(evidence);
        let slopes = alike.map(|alike| Slopes::of(&strikes, &runs, &kept, alike));
        drop(beginnings);
        Tempo {
            slopes: slopes.unwrap_or_default(),
            strikes,
            steps,
        }
    }
}

/// How alike neighbouring strikes are in the whole take, each section with its own slope, and with the shape and length
/// of a kept tempo where it changes.
fn alike(strikes: &Strikes) -> Option<Alike> {
    let mut left = vec![0.0; strikes.at_s.len()];
    let mut runs = Vec::new();
    let mut fitted = 0;
    for section in &strikes.sections {
        let here = section.strikes.clone();
        let (x, y) = (&strikes.at_s[here.clone()], &strikes.plain_ms[here.clone()]);
        let beside = Beginning::of(strikes, section)
            .map(|beginning| beginning.column(strikes, beginning.beats()));
        let Some(fit) = trend(x, y, beside.as_deref(), &section.runs, None) else {
            continue;
        };
        left[here.clone()].copy_from_slice(&fit.left);
        let based = |run: &std::ops::Range<usize>| run.start + here.start..run.end + here.start;
        runs.extend(section.runs.iter().map(based));
        fitted += section.runs.len() + 1 + 2 * usize::from(beside.is_some());
    }
    Some(measure(&left, &runs, fitted)?.0)
}
