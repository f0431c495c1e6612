//! Effects on the offsets: kinds of notes that sit away from the others.
//!
//! Which of several kinds explains what is heard? They are taken one at a time, the strongest first, and each further one
//! is asked for beside those taken (forward selection with a false-discovery threshold: Benjamini & Gavrilov 2009, Annals
//! of Applied Statistics 3:179; from memory). So rushed upbeats are not told a second time as uneven strokes.

use super::evidence::{Evidence, Heard};
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

/// Two kinds say nearly the same notes from this squared correlation of their columns on (our choice).
const NEARLY_SAME: f64 = 0.8;

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

    /// `5 of 12 notes after a leap came late, +24 ms (+18 to +30) on average: bars 2 and 3.`
    pub fn came(&self, evidence: &Evidence, kind: &str) -> String {
        format!(
            "{} of {} {kind} came {}, {} on average: {}.",
            self.showing.len(),
            self.of,
            if self.is_early() { "early" } else { "late" },
            self.amount(),
            evidence.places(&self.showing),
        )
    }

    /// Whether its notes come before the others.
    pub fn is_early(&self) -> bool {
        self.estimate.mean < 0.0
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

/// Asks for all effects of a take. Each group holds several ways to say one thing, of which one is taken at most.
pub fn explain(evidence: &Evidence, groups: &[&[Effect]]) -> Explained {
    let offsets: Vec<f64> = evidence.heard.iter().map(|heard| heard.offset_ms).collect();
    let asked: Vec<Asked> = groups
        .iter()
        .enumerate()
        .flat_map(|(group, effects)| Asked::group(evidence, group, effects))
        .collect();
    let pitch = Pitch::of(evidence);
    let mut model = Model::new(&offsets, &evidence.heard);
    pitch.take_out(&mut model, &asked);
    let taken = select(&model, &asked, &pitch);
    let mut all = model.clone();
    taken
        .iter()
        .for_each(|index| all.take(&asked[*index].column));
    let mut explained_ms = vec![0.0; offsets.len()];
    let mut answers: Vec<(usize, Answer)> = Vec::new();
    let is_out = |index: usize| {
        let same = |taken: &usize| *taken != index && asked[*taken].group == asked[index].group;
        taken.iter().any(same)
    };
    for (index, here) in asked
        .iter()
        .enumerate()
        .filter(|(index, _)| !is_out(*index))
    {
        let others = taken.iter().filter(|taken| **taken != index);
        let beside = others.fold(model.clone(), |model, other| {
            model.with(&asked[*other].column)
        });
        let Some(estimate) = beside.ask(&here.column) else {
            continue;
        };
        let doubted = here.doubted(&beside, &pitch, estimate);
        let is_taken = taken.contains(&index);
        if is_taken {
            let parts = explained_ms.iter_mut().zip(&here.column);
            parts.for_each(|(sum, share)| *sum += share * estimate.mean);
        }
        let answer = Answer {
            chance: here.chance(&doubted),
            finding: is_taken
                .then(|| here.finding(evidence, estimate, &doubted, all.left()))
                .flatten(),
        };
        match answers.last_mut().filter(|(group, _)| *group == here.group) {
            // Of the ways that were not taken the likeliest stands for the group.
            Some((_, best)) if answer.chance < best.chance => *best = answer,
            Some(_) => {}
            None => answers.push((here.group, answer)),
        }
    }
    Explained {
        answers: answers.into_iter().map(|(_, answer)| answer).collect(),
        explained_ms,
    }
}

/// What a converter can do to the offsets.
struct Pitch {
    /// One period of each note's pitch; a dead note has that of the notes on average.
    periods_ms: Vec<f64>,
    /// How many periods late it may be without being suspected.
    most_periods: f64,
    /// Whether periods were taken off, of which some may be too many.
    may_be_less: bool,
}

/// From so many standard errors on the pitch is taken out before anything else is asked: too few to suspect a converter,
/// enough to be one.
const HINT: f64 = 1.3;

/// A pitch estimate needs one to two periods (Fonseca & Tavares 2020, RITA 27(4):79).
const UNSUSPECTED_PERIODS: f64 = 2.0;

impl Pitch {
    fn of(evidence: &Evidence) -> Pitch {
        let known = || evidence.heard.iter().filter_map(Heard::period_ms);
        let mean = known().sum::<f64>() / known().count().max(1) as f64;
        let period = |heard: &Heard| heard.period_ms().unwrap_or(mean);
        // What is suspected has been taken out.
        let is_out = evidence.heard.iter().any(|heard| heard.suspected_ms != 0.0);
        Pitch {
            periods_ms: evidence.heard.iter().map(period).collect(),
            most_periods: if is_out { 0.0 } else { UNSUSPECTED_PERIODS },
            may_be_less: !is_out && evidence.latency.periods > 0.0,
        }
    }

    /// Takes the pitch out of the offsets where it is hinted at beside all that places explain.
    fn take_out(&self, model: &mut Model, asked: &[Asked]) {
        if self.most_periods == 0.0 {
            return;
        }
        let places = asked
            .iter()
            .filter(|asked| asked.effect.cause == Cause::Place);
        let beside = places.fold(model.clone(), |model, place| model.with(&place.column));
        let hint = beside.ask(&self.periods_ms);
        let hint = hint.map_or(0.0, |slope| slope.mean / slope.standard_error);
        if hint > HINT || (self.may_be_less && hint < -HINT) {
            model.take(&self.periods_ms);
        }
    }
}

/// An effect with its column in this take.
struct Asked<'a> {
    effect: &'a Effect,
    column: Vec<f64>,
    group: usize,
    /// How many ways of its group are asked.
    ways: usize,
}

impl<'a> Asked<'a> {
    /// The ways of a group that can be asked: not those that too few notes are of, or all.
    fn group(evidence: &Evidence, group: usize, effects: &'a [Effect]) -> Vec<Asked<'a>> {
        let column = |effect: &'a Effect| {
            let column = (effect.column)(evidence)?;
            let of_kind = column.iter().filter(|share| **share != 0.0).count();
            let is_asked = of_kind >= FEWEST && column.len() >= of_kind + FEWEST;
            is_asked.then_some((effect, column))
        };
        let columns: Vec<_> = effects.iter().filter_map(column).collect();
        let ways = columns.len();
        let asked = columns.into_iter().map(|(effect, column)| Asked {
            effect,
            column,
            group,
            ways,
        });
        asked.collect()
    }

    /// The estimate that is to be believed: what the hands do goes with the pitch, and so does what a converter does, if
    /// too little of it to be suspected. An effect of the hand has to be there without that as well.
    fn doubted(&self, model: &Model, pitch: &Pitch, estimate: Estimate) -> Estimate {
        if self.effect.cause == Cause::Place {
            return estimate;
        }
        let per_period = model.goes_with(&self.column, &pitch.periods_ms);
        let by_converter = per_period * pitch.most_periods;
        let is_like_it = by_converter * estimate.mean > 0.0;
        let doubted = if is_like_it { by_converter.abs() } else { 0.0 };
        let size = (estimate.mean.abs() - doubted).max(0.0);
        Estimate {
            mean: size * estimate.mean.signum(),
            ..estimate
        }
    }

    /// How likely chance shows as much in any way of the group (Bonferroni).
    fn chance(&self, estimate: &Estimate) -> f64 {
        (estimate.chance() * self.ways as f64).min(1.0)
    }

    fn finding(
        &self,
        evidence: &Evidence,
        estimate: Estimate,
        doubted: &Estimate,
        left: &[f64],
    ) -> Option<Finding> {
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
        doubted
            .is_beyond(harmless_ms)
            .then(|| (self.effect.tell)(evidence, &seen))
    }
}

/// The effects that explain the take together, strongest first.
fn select(model: &Model, asked: &[Asked], pitch: &Pitch) -> Vec<usize> {
    let handicaps = handicaps(model, asked);
    let groups = asked
        .chunk_by(|one, other| one.group == other.group)
        .count();
    let mut model = model.clone();
    let mut taken: Vec<usize> = Vec::new();
    loop {
        let threshold = FALSE_SHARE * (taken.len() + 1) as f64 / groups as f64;
        let is_open = |index: &usize| {
            let mut groups = taken.iter().map(|taken| asked[*taken].group);
            groups.all(|group| group != asked[*index].group)
        };
        let strength = |index: usize| {
            let estimate = model.ask(&asked[index].column)?;
            let estimate = asked[index].doubted(&model, pitch, estimate);
            let is_there = asked[index].chance(&estimate) <= threshold;
            is_there.then(|| (index, estimate.strength() - handicaps[index]))
        };
        // Of equals the first.
        let strongest = (0..asked.len())
            .filter(is_open)
            .filter_map(strength)
            .reduce(|best, next| if next.1 > best.1 { next } else { best });
        let Some((index, _)) = strongest else {
            return taken;
        };
        model.take(&asked[index].column);
        taken.push(index);
    }
}

/// What each effect has to explain more than the others: one of the hand that says nearly the same notes as a place.
fn handicaps(model: &Model, asked: &[Asked]) -> Vec<f64> {
    let left: Vec<Vec<f64>> = asked
        .iter()
        .map(|asked| model.steadied(&asked.column))
        .collect();
    let of_cause = |cause: Cause| move |index: &usize| asked[*index].effect.cause == cause;
    let handicap = |index: usize| {
        let mut places = (0..asked.len()).filter(of_cause(Cause::Place));
        let is_hand = of_cause(Cause::Hand)(&index);
        let is_place =
            is_hand && places.any(|place| alike(&left[index], &left[place]) > NEARLY_SAME);
        if is_place { CLEARLY_MORE } else { 0.0 }
    };
    (0..asked.len()).map(handicap).collect()
}

/// The squared correlation of two columns.
fn alike(one: &[f64], other: &[f64]) -> f64 {
    let dot = |a: &[f64], b: &[f64]| -> f64 { std::iter::zip(a, b).map(|(a, b)| a * b).sum() };
    let squares = dot(one, one) * dot(other, other);
    if squares <= 0.0 {
        return 0.0;
    }
    dot(one, other).powi(2) / squares
}
