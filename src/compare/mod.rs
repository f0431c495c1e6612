//! Players compared on one line: what each comes to over several takes, and which differences are beyond chance.
//!
//! Takes are the units throughout. Players stand in the order given: nothing here ranks them.

pub mod alike;
pub mod difference;
pub mod measure;
pub mod pooled;

use difference::Difference;
use measure::{Measure, Measured, TakeMeasured};
use pooled::{Pooled, pooled};

/// A player with the takes that are compared.
#[derive(Clone, Debug)]
pub struct Player {
    /// What they are called.
    pub name: String,
    /// Their takes, all played in the same way.
    pub takes: Vec<TakeMeasured>,
}

/// The comparison of a line, or of a section of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The section; `None`: all of it.
    pub section: Option<String>,
    /// The players, in the order given.
    pub players: Vec<PlayerSum>,
    /// All pairs with takes enough, measure by measure.
    pub differences: Vec<Difference>,
}

/// What a player comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayerSum {
    /// What they are called.
    pub name: String,
    /// Takes.
    pub takes: usize,
    /// Notes of the line, in all takes together.
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// By measure, as in [`Measure::ALL`].
    pub measures: [Option<Pooled>; Measure::ALL.len()],
}

impl PlayerSum {
    /// What they come to in a measure.
    pub fn of(&self, measure: Measure) -> Option<&Pooled> {
        self.measures[measure.place()].as_ref()
    }
}

/// Compares players over all that they played.
pub fn whole(players: &[Player]) -> Part {
    let mut part = part(None, players, |take| Some(&take.whole));
    difference::judge(part.differences.iter_mut());
    part
}

/// Compares them section by section, in the order of the line. What is beyond chance is judged over all sections together.
pub fn by_section(players: &[Player]) -> Vec<Part> {
    let mut names: Vec<&String> = Vec::new();
    let takes = players.iter().flat_map(|player| &player.takes);
    for (name, _) in takes.flat_map(|take| &take.sections) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let of_section = |name: &String| {
        part(Some(name.clone()), players, |take| {
            let found = take.sections.iter().find(|(of, _)| of == name);
            found.map(|(_, measured)| measured)
        })
    };
    let mut parts: Vec<Part> = names.into_iter().map(of_section).collect();
    difference::judge(parts.iter_mut().flat_map(|part| &mut part.differences));
    parts
}

fn part(
    section: Option<String>,
    players: &[Player],
    measured: impl Fn(&TakeMeasured) -> Option<&Measured>,
) -> Part {
    let sum = |player: &Player| {
        let takes: Vec<&Measured> = player.takes.iter().filter_map(&measured).collect();
        PlayerSum {
            name: player.name.clone(),
            takes: takes.len(),
            expected: takes.iter().map(|take| take.expected).sum(),
            matched: takes.iter().map(|take| take.matched).sum(),
            measures: Measure::ALL.map(|measure| pooled(measure, &takes)),
        }
    };
    let players: Vec<PlayerSum> = players.iter().map(sum).collect();
    let differences = Measure::ALL
        .iter()
        .enumerate()
        .flat_map(|(place, measure)| {
            let all: Vec<Option<Pooled>> = players
                .iter()
                .map(|player| player.measures[place])
                .collect();
            difference::pairs(*measure, &all)
        });
    Part {
        section,
        differences: differences.collect(),
        players,
    }
}
