//! Degrees that are wrong throughout: what the player takes for the right note, again and again.

use super::{ORDINARY, Slip};
use crate::expected::{Contrast, CountedFrom};
use crate::findings::evidence::{Evidence, Heard};
use crate::findings::stats::proportion::Proportion;
use crate::judge::cost::Pitch;
use crate::line::degree::Degree;
use std::collections::HashMap;

/// One degree that is taken for another one.
#[derive(Clone, Debug, PartialEq)]
pub struct WrongDegree {
    /// What was played, and what the line has.
    pub contrast: Contrast,
    /// The notes, as indices into [`Evidence::heard`].
    pub heard: Vec<usize>,
    /// How often the degree of the line was heard, in whatever shape.
    pub of: usize,
    /// How likely slips that know nothing of degrees do as much anywhere.
    pub chance: f64,
}

/// So many notes at least, and at least half of all of that degree: otherwise it is a slip, no belief.
const FEWEST: usize = 3;

/// How likely slips that know nothing of degrees may do as much: clearly less than a finding's share of false ones.
const CHANCE: f64 = 0.0005;

/// A degree, counted from the root or from the tonic.
type Place = (bool, Degree);

/// Every degree that is wrong throughout; each note belongs to one. A seventh of the key is the root of one chord and the
/// third of another: both ways to count are tried, and the one that says most notes at once is told.
pub(super) fn find(evidence: &Evidence, causes: &[Option<Slip>]) -> Vec<WrongDegree> {
    let census = Census::of(evidence, causes);
    let mut groups = census.groups(evidence, causes);
    let tried = groups.len();
    groups.sort_by_key(|group| std::cmp::Reverse(group.heard.len()));
    let mut taken = vec![false; evidence.heard.len()];
    let mut found = Vec::new();
    for mut group in groups {
        group.heard.retain(|at| !taken[*at]);
        if group.heard.len() < FEWEST || 2 * group.heard.len() < group.of {
            continue;
        }
        group.chance = census.chance(evidence, &group) * tried as f64;
        if group.chance <= CHANCE {
            group.heard.iter().for_each(|at| taken[*at] = true);
            found.push(group);
        }
    }
    found
}

/// How often everything was heard.
struct Census {
    degrees: HashMap<Place, usize>,
    /// Wrong notes by how far off they are, whatever their degree.
    wrong: HashMap<i16, usize>,
    /// Notes of any degree.
    all: usize,
}

impl Census {
    fn of(evidence: &Evidence, causes: &[Option<Slip>]) -> Census {
        let mut census = Census {
            degrees: HashMap::new(),
            wrong: HashMap::new(),
            all: 0,
        };
        for (heard, cause) in evidence.heard.iter().zip(causes) {
            let Some(by) = heard.semitones().filter(|_| cause.is_none()) else {
                continue;
            };
            census.all += 1;
            let chord = heard.note.chord.map(|chord| (true, chord.degree));
            let key = heard.note.degree.map(|degree| (false, degree));
            for place in chord.into_iter().chain(key) {
                *census.degrees.entry(place).or_default() += 1;
            }
            if heard.partner.pitch == Pitch::Wrong {
                *census.wrong.entry(by).or_default() += 1;
            }
        }
        census
    }

    /// The wrong notes by what was taken for what, in the order in which they were first heard.
    fn groups(&self, evidence: &Evidence, causes: &[Option<Slip>]) -> Vec<WrongDegree> {
        let mut groups: Vec<WrongDegree> = Vec::new();
        let mut known: HashMap<(Place, Degree, Option<Degree>), usize> = HashMap::new();
        for (at, (heard, cause)) in evidence.heard.iter().zip(causes).enumerate() {
            if cause.is_some() || heard.partner.pitch != Pitch::Wrong {
                continue;
            }
            for contrast in contrasts(heard) {
                let place = (contrast.from == CountedFrom::Root, contrast.line);
                let group = *known
                    .entry((place, contrast.played, contrast.third))
                    .or_insert_with(|| {
                        groups.push(WrongDegree {
                            contrast,
                            heard: Vec::new(),
                            of: self.degrees.get(&place).copied().unwrap_or(0),
                            chance: 1.0,
                        });
                        groups.len() - 1
                    });
                groups[group].heard.push(at);
            }
        }
        groups
    }

    /// How likely the slips by as many semitones that hit other degrees as well do as much to this one.
    fn chance(&self, evidence: &Evidence, group: &WrongDegree) -> f64 {
        let count = group.heard.len();
        let by = evidence.heard[group.heard[0]].semitones();
        let alike = by.and_then(|by| self.wrong.get(&by)).copied().unwrap_or(0);
        // Half a note and one are added, so that none among few is not taken for never.
        let elsewhere = alike.saturating_sub(count) as f64 + 0.5;
        let others = self.all.saturating_sub(group.of) as f64 + 1.0;
        let ordinary = (elsewhere / others).clamp(ORDINARY, 1.0);
        let of = group.of;
        Proportion { count, of }.chance(ordinary)
    }
}

/// What a wrong note is beside what the line has: as it is usually said, and where that counts from the root, from the
/// tonic as well.
fn contrasts(heard: &Heard) -> impl Iterator<Item = Contrast> {
    let usual = heard.note.contrast(heard.played).map(|usual| Contrast {
        // The chord says nothing of what is counted from the tonic.
        third: usual.third.filter(|_| usual.from == CountedFrom::Root),
        ..usual
    });
    let of_key = || {
        Some(Contrast {
            played: heard.note.degree_of(heard.played)?,
            line: heard.note.degree?,
            from: CountedFrom::Tonic,
            third: None,
        })
    };
    let from_root = usual.filter(|contrast| contrast.from == CountedFrom::Root);
    usual.into_iter().chain(from_root.and_then(|_| of_key()))
}
