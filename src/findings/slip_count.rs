//! How many slips of one kind make a finding.
//!
//! Statistic: the exact interval of their share (Clopper & Pearson 1934), which must exclude what ordinarily slips
//! ([`ORDINARY`]), and the binomial chance of as many. From five notes on; from three where the same written note is wrong in
//! several passes; or from three where there are so few notes that it is gross, and then the sentence says how few.

use super::Answer;
use super::evidence::{Evidence, Heard};
use super::finding::Finding;
use super::slips::{ORDINARY, Slip};
use super::stats::proportion::Proportion;
use crate::units::Ticks;
use std::collections::BTreeMap;

/// Slips of one kind that carry a finding.
pub struct Counted<'e> {
    evidence: &'e Evidence<'e>,
    /// The notes that show it.
    pub notes: Vec<&'e Heard<'e>>,
    proportion: Proportion,
    because: Because,
}

/// Why so many slips are enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Because {
    /// They are many.
    Many,
    /// They are few, but so are the notes.
    Gross,
    /// They are one note of the line.
    OnePlace,
}

/// Fewer than [`super::FEWEST`] are enough from this many on...
const FEW: usize = 3;
/// ...where they are at least this share of the notes...
const GROSS_SHARE: f64 = 0.05;
/// ...and ordinary slips are as many in one take of two hundred at most.
const GROSS_CHANCE: f64 = 0.005;

/// Asks for one kind of slip, and tells it if there is enough of it. `None` where no note with a pitch is heard.
pub fn ask(
    evidence: &Evidence,
    is_kind: impl Fn(Slip) -> bool,
    tell: impl Fn(&Counted) -> Finding,
) -> Option<Answer> {
    let pitched: Vec<(&Heard, bool)> = evidence
        .heard
        .iter()
        .zip(evidence.slips().causes())
        .filter(|(heard, _)| heard.note.key.is_some())
        .map(|(heard, cause)| (heard, cause.is_some_and(&is_kind)))
        .collect();
    if pitched.is_empty() {
        return None;
    }
    let all = Group::of(pitched.iter().copied());
    let told = |group: Group, because| {
        let counted = Counted {
            evidence,
            proportion: group.proportion(),
            notes: group.slips,
            because,
        };
        tell(&counted).hurting_as_wrong(evidence)
    };
    let (found, chance) = (all.proportion(), all.chance());
    if found.count < FEW {
        return Some(Answer {
            chance,
            finding: None,
        });
    }
    let worst = worst_place(evidence, &pitched);
    let is_all = |place: &Group| place.slips.len() == found.count;
    let is_many = found.count >= super::FEWEST && found.interval()[0] > ORDINARY;
    let is_gross = found.share() >= GROSS_SHARE && chance <= GROSS_CHANCE;
    Some(match worst {
        Some((place, chance)) if is_all(&place) || !(is_many || is_gross) => Answer {
            chance,
            finding: Some(told(place, Because::OnePlace)),
        },
        _ if is_many => Answer {
            chance,
            finding: Some(told(all, Because::Many)),
        },
        _ if is_gross => Answer::certain(told(all, Because::Gross)),
        _ => Answer {
            chance,
            finding: None,
        },
    })
}

/// Notes that could be slips, and those that are.
#[derive(Default)]
struct Group<'e> {
    slips: Vec<&'e Heard<'e>>,
    of: usize,
}

impl<'e> Group<'e> {
    fn of(notes: impl Iterator<Item = (&'e Heard<'e>, bool)>) -> Group<'e> {
        let mut group = Group::default();
        notes.for_each(|(heard, slips)| group.take(heard, slips));
        group
    }

    fn take(&mut self, heard: &'e Heard<'e>, slips: bool) {
        self.of += 1;
        self.slips.extend(slips.then_some(heard));
    }

    fn proportion(&self) -> Proportion {
        Proportion {
            count: self.slips.len(),
            of: self.of,
        }
    }

    fn chance(&self) -> f64 {
        self.proportion().chance(ORDINARY)
    }
}

/// The note of the line that slips least like an ordinary one, at least [`FEW`] times and in half of the passes; with the
/// chance that any note of the line does.
fn worst_place<'e>(
    evidence: &Evidence,
    pitched: &[(&'e Heard<'e>, bool)],
) -> Option<(Group<'e>, f64)> {
    // Bar and place in it; the notes of a double stop by their order.
    let mut places: BTreeMap<(u32, Ticks, usize), Group> = BTreeMap::new();
    for (heard, slips) in pitched {
        let before = evidence.expected.notes[..heard.index as usize].iter().rev();
        let order = before.take_while(|other| other.group == heard.note.group);
        let place = (
            evidence.bar_number(heard.index),
            heard.note.at,
            order.count(),
        );
        places.entry(place).or_default().take(heard, *slips);
    }
    let count = places.len() as f64;
    let is_bad = |group: &Group| group.slips.len() >= FEW && 2 * group.slips.len() >= group.of;
    let chances = places
        .into_values()
        .filter(is_bad)
        .map(|group| (group.chance(), group));
    let (chance, worst) = chances.min_by(|(one, _), (other, _)| one.total_cmp(other))?;
    Some((worst, (chance * count).min(1.0)))
}

impl Counted<'_> {
    /// How many of how many.
    pub fn finding(&self, id: &'static str) -> Finding {
        let notes = self.notes.iter().map(|heard| heard.index).collect();
        Finding::new(id, notes, self.proportion.of)
    }

    /// The sentence: how many notes, what is said of them, and where.
    pub fn sentence(&self, what: &str) -> String {
        let Proportion { count, of } = self.proportion;
        let places = || {
            let notes: Vec<u32> = self.notes.iter().map(|heard| heard.index).collect();
            self.evidence.places(&notes)
        };
        match self.because {
            Because::Many => {
                let [low, high] = self.proportion.interval().map(|share| 100.0 * share);
                format!(
                    "{count} of {of} notes ({:.0} %, {low:.0} to {high:.0} %) {what}: {}.",
                    100.0 * self.proportion.share(),
                    places(),
                )
            }
            Because::Gross => format!("{count} of only {of} notes {what}: {}.", places()),
            Because::OnePlace => {
                let note = self.notes[0].note;
                let beat = self.evidence.expected.bars[note.bar as usize].beat_number(note.at);
                let beat = (100.0 * beat).round() / 100.0;
                format!(
                    "One note, in {count} of {of} passes, {what}: {}, beat {beat}.",
                    places()
                )
            }
        }
    }

    /// What to do about it: a note that is wrong in every pass is learnt so, and needs something else than a hand that slips.
    pub fn advice(&self, against_slips: &'static str) -> &'static str {
        match self.because {
            Because::Many | Because::Gross => against_slips,
            Because::OnePlace => {
                "Read this note again, find it away from the beat, and play the notes before it up to it slowly until it comes by itself."
            }
        }
    }

    /// The words for one side, or for both with how many are on each.
    pub fn sides(&self, up: &str, down: &str, is_up: impl Fn(&Heard) -> bool) -> String {
        let ups = self.notes.iter().filter(|heard| is_up(heard)).count();
        match (ups, self.notes.len() - ups) {
            (_, 0) => up.to_owned(),
            (0, _) => down.to_owned(),
            (ups, downs) => format!("{up} ({ups}) or {down} ({downs})"),
        }
    }
}
