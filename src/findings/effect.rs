//! Effects on the offsets: kinds of notes that sit away from the others.
//!
//! Which of several kinds explains what is heard? They are taken one at a time, the strongest first, and each further one
//! is asked for beside those taken (forward selection with a false-discovery threshold: Benjamini & Gavrilov 2009, Annals
//! of Applied Statistics 3:179; from memory). So rushed upbeats are not told a second time as uneven strokes.

use super::evidence::Evidence;
use super::finding::Finding;
use super::model::Model;
use super::stats::discovery::FALSE_SHARE;
use super::stats::estimate::Estimate;
use super::{Answer, FEWEST};

/// One kind of note.
pub struct Effect {
    /// How much of the effect each heard note has, 0 for none; `None` where the line does not put the question.
    pub column: fn(&Evidence) -> Option<Vec<f64>>,
    /// What is said of it.
    pub tell: fn(&Evidence, &Seen) -> Finding,
    /// Where it comes from.
    pub cause: Cause,
}

/// Where an effect comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The place in the bar or the phrase, which every line has.
    Place,
    /// What the hands do there. Where both say nearly the same notes, the place is told unless the hand explains
    /// clearly more.
    Hand,
}

/// Twice the logarithm of a likelihood ratio of 20: clearly more.
const CLEARLY_MORE: f64 = 6.0;

/// An effect as it was found.
pub struct Seen {
    /// How large it is, in ms.
    pub estimate: Estimate,
    /// The mean harmless displacement of its notes, in ms.
    pub harmless_ms: f64,
    /// How many notes are of the kind.
    pub of: usize,
    /// The notes of the kind that show it: beyond the harmless on its side.
    pub showing: Vec<u32>,
}

impl Seen {
    /// How large it is against what can be heard.
    pub fn times_heard(&self) -> f64 {
        self.estimate.mean.abs() / self.harmless_ms
    }

    /// `-35 ms (-40 to -30)`.
    pub fn amount(&self) -> String {
        let [low, high] = self.estimate.interval();
        format!("{:+.0} ms ({low:+.0} to {high:+.0})", self.estimate.mean)
    }

    /// The finding of these notes, sized and weighed.
    pub fn finding(&self, evidence: &Evidence, id: &'static str) -> Finding {
        Finding::new(id, self.showing.clone(), self.of)
            .sized(self.estimate.mean, Some(self.estimate.interval()))
            .hurting(evidence, self.times_heard())
    }
}

/// What the effects come to.
pub struct Explained {
    /// One answer an effect that could be asked for.
    pub answers: Vec<Answer>,
    /// What the effects that were taken put on each heard note, in ms.
    pub explained_ms: Vec<f64>,
}

/// Asks for all effects of a take.
pub fn explain(evidence: &Evidence, effects: &[&Effect]) -> Explained {
    let offsets: Vec<f64> = evidence.heard.iter().map(|heard| heard.offset_ms).collect();
    let asked: Vec<Asked> = effects
        .iter()
        .filter_map(|effect| Asked::new(evidence, effect))
        .collect();
    let model = Model::new(&offsets, &evidence.heard);
    let taken = select(&model, &asked);
    let mut all = Model::new(&offsets, &evidence.heard);
    taken
        .iter()
        .for_each(|index| all.take(&asked[*index].column));
    let mut explained_ms = vec![0.0; offsets.len()];
    let answers = (0..asked.len())
        .filter_map(|index| {
            let others = taken.iter().filter(|taken| **taken != index);
            let mut beside = Model::new(&offsets, &evidence.heard);
            others.for_each(|other| beside.take(&asked[*other].column));
            let estimate = beside.ask(&asked[index].column)?;
            if taken.contains(&index) {
                let parts = explained_ms.iter_mut().zip(&asked[index].column);
                parts.for_each(|(sum, share)| *sum += share * estimate.mean);
            }
            Some(asked[index].answer(evidence, estimate, all.left(), taken.contains(&index)))
        })
        .collect();
    Explained {
        answers,
        explained_ms,
    }
}

/// An effect with its column in this take.
struct Asked<'a> {
    effect: &'a Effect,
    column: Vec<f64>,
}

impl<'a> Asked<'a> {
    /// `None` where too few notes are of the kind, or all are.
    fn new(evidence: &Evidence, effect: &'a Effect) -> Option<Asked<'a>> {
        let column = (effect.column)(evidence)?;
        let of_kind = column.iter().filter(|share| **share != 0.0).count();
        let is_asked = of_kind >= FEWEST && column.len() >= of_kind + FEWEST;
        is_asked.then_some(Asked { effect, column })
    }

    fn answer(&self, evidence: &Evidence, estimate: Estimate, left: &[f64], taken: bool) -> Answer {
        let notes = || {
            std::iter::zip(&evidence.heard, &self.column)
                .zip(left)
                .filter(|((_, share), _)| **share != 0.0)
                .map(|((heard, share), left)| (heard, *share, *left))
        };
        let harmless_ms = evidence.harmless_ms(notes().map(|(heard, ..)| heard));
        let shows = |share: f64, left: f64| {
            (estimate.mean * share + left) * (estimate.mean * share).signum() > harmless_ms
        };
        let seen = Seen {
            estimate,
            harmless_ms,
            of: notes().count(),
            showing: notes()
                .filter(|(_, share, left)| shows(*share, *left))
                .map(|(heard, ..)| heard.index)
                .collect(),
        };
        let is_found = taken && estimate.is_beyond(harmless_ms);
        Answer {
            chance: estimate.chance(),
            finding: is_found.then(|| (self.effect.tell)(evidence, &seen)),
        }
    }
}

/// The effects that explain the take together, strongest first.
fn select(model: &Model, asked: &[Asked]) -> Vec<usize> {
    let mut model = model.clone();
    let mut taken: Vec<usize> = Vec::new();
    while taken.len() < asked.len() {
        let open = (0..asked.len()).filter(|index| !taken.contains(index));
        let strength = |index: usize| {
            let estimate = model.ask(&asked[index].column)?;
            let handicap = match asked[index].effect.cause {
                Cause::Place => 0.0,
                Cause::Hand => CLEARLY_MORE,
            };
            Some((index, estimate, estimate.strength() - handicap))
        };
        // Of equals the first.
        let strongest = open
            .filter_map(strength)
            .reduce(|best, next| if next.2 > best.2 { next } else { best });
        let threshold = FALSE_SHARE * (taken.len() + 1) as f64 / asked.len() as f64;
        match strongest {
            Some((index, estimate, _)) if estimate.chance() <= threshold => {
                model.take(&asked[index].column);
                taken.push(index);
            }
            _ => break,
        }
    }
    taken
}
