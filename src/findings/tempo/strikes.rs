//! What tempo is measured on: one value a strike, section by section.

use crate::expected::tempo_map::Rate;
use crate::findings::evidence::{Evidence, Heard};
use crate::units::Nanos;
use std::ops::Range;

/// All strikes of a take in order; the notes of a double stop are one.
pub struct Strikes {
    /// When each is expected, in seconds.
    pub at_s: Vec<f64>,
    /// Its offset from its written place without what the kind of note explains, in ms: a phrase that was followed
    /// elsewhere carries the whole of it, so that who drifts so far goes on drifting.
    pub plain_ms: Vec<f64>,
    /// Where each begins among the notes heard, and where the last ends.
    heard: Vec<usize>,
    /// The line's sections, those that were played, in order.
    pub sections: Vec<Section>,
}

/// A section as it was played.
pub struct Section {
    /// Index into the line's sections.
    pub section: u16,
    /// Its strikes.
    pub strikes: Range<usize>,
    /// Its strikes by [`Section::strikes`]`.start`, in runs without a jump to another place.
    pub runs: Vec<Range<usize>>,
    /// The same, each pass for itself.
    pub passes: Vec<Range<usize>>,
    /// Its beat in ms.
    pub beat_ms: f64,
    /// When it begins and ends, in seconds.
    pub spans_s: [f64; 2],
    /// Numbers of its first and last bar.
    pub bars: [u32; 2],
    /// Whether the tempo changes where it begins.
    pub change: Option<Change>,
}

/// A change of tempo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Quarter notes a minute before.
    pub from: f64,
    /// And after.
    pub to: f64,
}

/// Shorter runs say nothing of tempo.
const SHORTEST_RUN: usize = 3;

impl Strikes {
    pub fn of(evidence: &Evidence) -> Strikes {
        let mut strikes = Strikes {
            at_s: Vec::with_capacity(evidence.heard.len()),
            plain_ms: Vec::with_capacity(evidence.heard.len()),
            heard: Vec::with_capacity(evidence.heard.len() + 1),
            sections: Vec::new(),
        };
        let mut begins = 0;
        for same in evidence
            .heard
            .chunk_by(|one, other| one.note.group == other.note.group)
        {
            let sum: f64 = same.iter().map(from_place_ms).sum();
            strikes.at_s.push(same[0].note.onset.seconds());
            strikes.plain_ms.push(sum / same.len() as f64);
            strikes.heard.push(begins);
            begins += same.len();
        }
        strikes.heard.push(begins);
        strikes.sections = strikes.sections(evidence);
        strikes
    }

    /// The notes of a strike, as indices of what was heard.
    pub fn heard(&self, strike: usize) -> Range<usize> {
        self.heard[strike]..self.heard[strike + 1]
    }

    /// The whole take in runs without a jump.
    pub fn runs(&self, evidence: &Evidence) -> Vec<Range<usize>> {
        self.runs_in(0..self.at_s.len(), |strike| self.is_jump(evidence, strike))
    }

    /// Whether the player jumped to another place before this strike, rather than drifted there.
    fn is_jump(&self, evidence: &Evidence, strike: usize) -> bool {
        let [before, here] = [strike - 1, strike].map(|at| evidence.heard[self.heard[at]].partner);
        if before.displaced == here.displaced {
            return false;
        }
        let [before, here] = [before, here].map(|at| (at.offset - at.off_grid).ms());
        let moved = self.plain_ms[strike] - self.plain_ms[strike - 1];
        2.0 * moved.abs() > (here - before).abs()
    }

    fn sections(&self, evidence: &Evidence) -> Vec<Section> {
        let first = |strike: usize| &evidence.heard[self.heard[strike]];
        let section_of = |strike: usize| first(strike).note.section;
        let changes: Vec<(Nanos, Rate)> = evidence
            .expected
            .tempo_map
            .changes()
            .map(|(_, at, rate)| (at, rate))
            .collect();
        let mut sections = Vec::new();
        let mut start = 0;
        while start < self.at_s.len() {
            let section = section_of(start);
            let mut end = start + 1;
            while end < self.at_s.len() && section_of(end) == section {
                end += 1;
            }
            let here = start..end;
            start = end;
            sections.push(self.section(evidence, section, here, &changes));
        }
        sections
    }

    fn section(
        &self,
        evidence: &Evidence,
        section: u16,
        strikes: Range<usize>,
        changes: &[(Nanos, Rate)],
    ) -> Section {
        let first = |strike: usize| &evidence.heard[self.heard[strike]];
        let all = &evidence.expected.bars;
        let bars = &all[all.partition_point(|bar| bar.section < section)
            ..all.partition_point(|bar| bar.section <= section)];
        let rebased = |runs: Vec<Range<usize>>| {
            let start = strikes.start;
            let rebase = |run: Range<usize>| run.start - start..run.end - start;
            runs.into_iter().map(rebase).collect()
        };
        let beats = strikes.clone().map(|strike| first(strike).note.beat.ms());
        Section {
            section,
            runs: rebased(self.runs_in(strikes.clone(), |strike| self.is_jump(evidence, strike))),
            passes: rebased(self.runs_in(strikes.clone(), |strike| {
                first(strike).note.pass != first(strike - 1).note.pass
                    || self.is_jump(evidence, strike)
            })),
            beat_ms: beats.sum::<f64>() / strikes.len() as f64,
            spans_s: [bars[0].onset, bars[bars.len() - 1].end].map(Nanos::seconds),
            bars: [bars[0].number, bars[bars.len() - 1].number],
            change: change_at(bars[0].onset, changes),
            strikes,
        }
    }

    /// Runs that end before each strike that begins one, the first aside.
    fn runs_in(&self, strikes: Range<usize>, begins: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
        let mut runs = Vec::new();
        let mut start = strikes.start;
        for end in strikes.start + 1..=strikes.end {
            if end == strikes.end || begins(end) {
                runs.push(start..end);
                start = end;
            }
        }
        runs.retain(|run| run.len() >= SHORTEST_RUN);
        runs
    }
}

/// A note's plain offset from its written place.
pub fn from_place_ms(heard: &Heard) -> f64 {
    heard.plain_ms() + (heard.partner.offset - heard.partner.off_grid).ms()
}

fn change_at(onset: Nanos, changes: &[(Nanos, Rate)]) -> Option<Change> {
    let index = changes.partition_point(|(at, _)| *at < onset);
    let (at, rate) = changes.get(index)?;
    let before = changes[..index].last()?.1;
    (*at == onset).then(|| Change {
        from: before.quarters_per_minute(),
        to: rate.quarters_per_minute(),
    })
}
