//! Findings: statements about the playing, each with its evidence and its uncertainty.
//!
//! One file a finding (or a pair that are each other's mirror): its question, its statistic and source, its threshold, its
//! sentence and its advice. `ALL` is the one place that knows them all. A finding is made only when the evidence carries
//! it: from at least [`FEWEST`] notes, a 95 % interval that excludes the [harmless](evidence::Heard::harmless_ms)
//! range, and a chance of no effect that stands when all questions are judged together
//! ([`stats::discovery`]); or a stated smaller count of gross misses. A clean take yields none.
//!
//! The order of asking: the latency first, since what it explains is no habit; then the effects on single notes, which
//! compete for the offsets (`effect`); then everything else, which sees the offsets with those effects known.

mod contrast;
mod crossings;
mod cut_short;
mod displaced;
mod effect;
mod entries;
pub mod evidence;
mod fast_notes;
pub mod finding;
mod fourth_finger;
mod hand;
mod latency_suspect;
pub mod lean;
mod leaps;
mod lengths;
mod missed_muting;
pub mod model;
mod neighbour_frets;
mod note_names;
mod octave_slips;
mod old_key;
mod open_mutes;
pub mod practice;
pub mod self_paced;
mod shifts;
mod short_notes;
mod slip_count;
pub mod slips;
pub mod stats;
mod strokes;
pub(crate) mod swing;
pub mod tempo;
mod unsteady;
mod upbeats;
mod wrong_degree;
mod wrong_string;

use effect::Effect;
use evidence::Evidence;
pub use finding::Finding;
use self_paced::{SelfPaced, WhyNot};
use stats::discovery;
use tempo::SectionTempo;

/// What a question comes to.
pub struct Answer {
    /// How likely chance alone shows as much (p).
    pub chance: f64,
    /// What is to be said, if the effect is beyond what is harmless for certain.
    pub finding: Option<Finding>,
}

impl Answer {
    /// An answer that owes nothing to chance: gross misses, counted.
    pub fn certain(finding: Finding) -> Answer {
        Answer {
            chance: 0.0,
            finding: Some(finding),
        }
    }
}

/// A question that is asked of a take.
enum Question {
    /// Whether a kind of note sits away from the others.
    Offsets(&'static Effect),
    /// The same, where one thing can be said in several ways, of which one is.
    OneOf(&'static [Effect]),
    /// Whatever else; `None` where the take has too little for it to be asked.
    Other(fn(&Evidence) -> Option<Answer>),
    /// Several that are worked out together: one answer each, of those that could be asked.
    Several(fn(&Evidence) -> Vec<Answer>),
}

use Question::{Offsets, OneOf, Other, Several};

/// Every question but that after the latency.
const ALL: &[Question] = &[
    Offsets(&entries::EFFECT),
    Offsets(&swing::EFFECT),
    Offsets(&upbeats::EFFECT),
    Offsets(&strokes::EFFECT),
    OneOf(&crossings::EFFECTS),
    OneOf(&shifts::EFFECTS),
    Offsets(&leaps::EFFECT),
    Offsets(&fourth_finger::EFFECT),
    Other(entries::ask_of_few),
    Several(lengths::ask),
    Other(strokes::ask_velocities),
    Several(tempo::ask),
    Several(unsteady::ask),
    Other(displaced::ask),
    Other(old_key::ask),
    Other(octave_slips::ask),
    Other(wrong_degree::ask),
    Other(wrong_string::ask),
    Other(neighbour_frets::ask),
];

/// Notes that a statistical finding needs at least.
pub const FEWEST: usize = 5;

/// All that is said of a take.
pub struct Told {
    /// Those that hurt most first; a suspicion about the latency before all others.
    pub findings: Vec<Finding>,
    /// How each section's tempo was kept, and a new one taken.
    pub tempi: Vec<SectionTempo>,
    /// Clock and hand without the click, or why they are not told apart; `None` without silent bars.
    pub self_paced: Option<Result<SelfPaced, WhyNot>>,
}

/// All findings of a take.
pub fn find(evidence: &Evidence) -> Vec<Finding> {
    tell(evidence).findings
}

/// Everything that is said of a take. What a suspicion about the latency explains is taken out before all else is asked.
pub fn tell(evidence: &Evidence) -> Told {
    let Some(suspicion) = latency_suspect::ask(evidence) else {
        return ask_all(evidence);
    };
    let mut told = ask_all(&evidence.less_periods(suspicion.periods));
    told.findings.insert(0, suspicion.finding);
    told
}

fn ask_all(evidence: &Evidence) -> Told {
    let effects: Vec<&[Effect]> = ALL
        .iter()
        .filter_map(|question| match question {
            Offsets(effect) => Some(std::slice::from_ref(*effect)),
            OneOf(effects) => Some(*effects),
            Other(_) | Several(_) => None,
        })
        .collect();
    let explained = effect::explain(evidence, &effects);
    let evidence = evidence
        .less_periods(0.0)
        .explained(&explained.explained_ms);
    let others = ALL.iter().flat_map(|question| match question {
        Offsets(_) | OneOf(_) => Vec::new(),
        Other(ask) => ask(&evidence).into_iter().collect(),
        Several(ask) => ask(&evidence),
    });
    let is_silent = evidence.expected.bars.iter().any(|bar| bar.silent);
    let self_paced = || self_paced::split(&self_paced::stretches(&evidence));
    Told {
        findings: standing(explained.answers.into_iter().chain(others).collect()),
        tempi: tempo::by_section(&evidence),
        self_paced: is_silent.then(self_paced),
    }
}

/// The findings whose chances stand together, those that hurt most first.
fn standing(answers: Vec<Answer>) -> Vec<Finding> {
    let chances: Vec<f64> = answers.iter().map(|answer| answer.chance).collect();
    let stands = discovery::standing(&chances, discovery::FALSE_SHARE);
    let mut findings: Vec<Finding> = std::iter::zip(answers, stands)
        .filter(|(_, stands)| *stands)
        .filter_map(|(answer, _)| answer.finding)
        .collect();
    strokes::join(&mut findings);
    findings.sort_by(|one, other| other.hurt.total_cmp(&one.hurt));
    findings
}
