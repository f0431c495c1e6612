//! Progress of one player on one line, from session to session: what is real, what is chance, what to expect, and what to
//! play today.
//!
//! Pure: takes come in as [`figures::TakeFigures`], the time as a number. Only takes on the same [`history::Footing`] (bars and
//! speed) are compared; where no footing has sessions enough, the speed is a covariate, and the [`outcome::Basis`] says so.
//!
//! | file | what it knows |
//! | --- | --- |
//! | `figures`, `adding_up` | what is kept of a take, and how it is come by |
//! | `history`, `basis` | takes in order; which of them may be compared |
//! | `measure` | what is looked at, on what scale, and where it is best |
//! | `series`, `random_effects`, `change` | values of sessions, the line through them, what of it is real |
//! | `gains`, `curve`, `clean`, `findings` | nights; the learning curve; speeds held clean; findings that come back |
//! | `today` | what to play today, over all lines |

mod adding_up;
pub mod basis;
pub mod change;
pub mod clean;
pub mod curve;
pub mod detectable;
pub mod figures;
mod findings;
pub mod gains;
pub mod history;
pub mod measure;
pub mod outcome;
pub mod random_effects;
mod series;
pub mod today;

pub use basis::Choice;
pub use history::History;
pub use outcome::Progress;

use basis::{Comparable, Session};
use change::Question;
use measure::{Aim, Measure, Scale};
use outcome::{
    Change, FindingProgress, MeasureProgress, SectionProgress, SpeedBasis, Told, WhyNot,
};
use series::Series;

impl Progress {
    /// What is said of a history; see [`basis`] for which of its takes are compared.
    pub fn of(history: &History) -> Progress {
        Progress::with(history, Choice::Usual)
    }

    /// The same of the takes that were asked for.
    pub fn with(history: &History, choice: Choice) -> Progress {
        let entries = history.entries();
        let mut progress = Progress {
            takes: entries.len(),
            sessions: entries
                .chunk_by(|one, next| one.session == next.session)
                .count(),
            footings: basis::footings(entries),
            basis: None,
            measures: Vec::new(),
            sections: Vec::new(),
            findings: Vec::new(),
            clean: clean::clean_speeds(history),
            gains: Told::NotYet(WhyNot::NothingHeard),
            curve: Told::NotYet(WhyNot::NothingHeard),
        };
        if let Some(comparable) = basis::comparable(history, choice) {
            progress.tell(&comparable);
        }
        progress
    }

    fn tell(&mut self, comparable: &Comparable<'_>) {
        let Comparable { basis, sessions } = comparable;
        self.basis = Some(*basis);
        let whole: Vec<(Measure, Series)> = Measure::ALL
            .into_iter()
            .map(|measure| {
                let series = Series::of(sessions, |entry| measure.of(&entry.figures.whole));
                (measure, series)
            })
            .collect();
        self.measures = told(&whole, &change::tell(&questions(&whole), basis.speed));
        self.tell_parts(sessions, basis.speed);
        // Neither takes of other speeds into account.
        if let SpeedBasis::Same { .. } = basis.speed {
            self.gains = gains::gains(sessions);
            self.curve = curve::curve(&whole[0].1, takes_a_session(sessions));
        } else {
            (self.gains, self.curve) = (
                Told::NotYet(WhyNot::SeveralSpeeds),
                Told::NotYet(WhyNot::SeveralSpeeds),
            );
        }
    }

    /// Sections and findings are one family of questions.
    fn tell_parts(&mut self, sessions: &[Session<'_>], speed: SpeedBasis) {
        let names = section_names(sessions);
        let parts: Vec<Vec<(Measure, Series)>> = match names.as_slice() {
            // The only section is the whole line.
            [_] => Vec::new(),
            names => names
                .iter()
                .map(|name| of_section(sessions, name))
                .collect(),
        };
        let findings = findings::recurring(sessions);
        let mut family: Vec<Question<'_>> = parts.iter().flat_map(|part| questions(part)).collect();
        family.extend(findings.iter().map(|finding| Question {
            series: &finding.series,
            scale: Scale::DifferenceOfShares,
            aim: Aim::Low,
        }));
        let mut changes = change::tell(&family, speed).into_iter();
        self.sections = std::iter::zip(names, &parts)
            .map(|(name, part)| {
                let changes: Vec<Told<Change>> = changes.by_ref().take(part.len()).collect();
                SectionProgress {
                    measures: told(part, &changes),
                    name: name.0,
                    bars: name.1,
                }
            })
            .collect();
        self.findings = std::iter::zip(findings, changes)
            .map(|(finding, change)| FindingProgress {
                id: finding.id,
                points: finding.points,
                change,
            })
            .collect();
    }
}

type SectionName = (String, crate::line::bar_range::BarRange);

/// The sections that were played, in the order of the line.
fn section_names(sessions: &[Session<'_>]) -> Vec<SectionName> {
    let mut names: Vec<SectionName> = Vec::new();
    let takes = sessions.iter().flat_map(|session| &session.takes);
    for section in takes.flat_map(|take| &take.figures.sections) {
        let is_known = |(name, bars): &SectionName| *name == section.name && *bars == section.bars;
        if !names.iter().any(is_known) {
            names.push((section.name.clone(), section.bars));
        }
    }
    names.sort_by_key(|(_, bars)| (bars.first, bars.last));
    names
}

/// The measures of a section, those that anything was heard of.
fn of_section(sessions: &[Session<'_>], (name, bars): &SectionName) -> Vec<(Measure, Series)> {
    let series = |measure: Measure| {
        let series = Series::of(sessions, |entry| {
            let mut sections = entry.figures.sections.iter();
            let section =
                sections.find(|section| section.name == *name && section.bars == *bars)?;
            measure.of(&section.part)
        });
        (measure, series)
    };
    Measure::ALL
        .into_iter()
        .map(series)
        .filter(|(_, series)| !series.values.is_empty())
        .collect()
}

fn questions(part: &[(Measure, Series)]) -> Vec<Question<'_>> {
    part.iter()
        .map(|(measure, series)| Question {
            series,
            scale: measure.scale(),
            aim: measure.aim(),
        })
        .collect()
}

fn told(part: &[(Measure, Series)], changes: &[Told<Change>]) -> Vec<MeasureProgress> {
    std::iter::zip(part, changes)
        .map(|((measure, series), change)| MeasureProgress {
            measure: *measure,
            points: series.points(*measure),
            change: change.clone(),
        })
        .collect()
}

/// The middle of how many takes of the line the latest sessions had.
fn takes_a_session(sessions: &[Session<'_>]) -> f64 {
    const LATEST: usize = 10;
    let latest = sessions.iter().rev().take(LATEST);
    let mut takes: Vec<f64> = latest.map(|session| session.all_takes as f64).collect();
    crate::findings::stats::median(&mut takes).unwrap_or(1.0)
}
