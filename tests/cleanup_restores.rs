//! A bad converter between the stand-in and the judge: its faults are undone, and no note that was really played is harmed.

mod cleaning;

use cleaning::clean;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use leadsman::played::cleanup::{Rule, Rules};
use leadsman::stand_in::{Habits, Performance, Truth, perform};
use leadsman::units::{Key, Nanos};
use std::collections::{HashMap, HashSet};

/// Every line that comes with leadsman.
fn lines() -> Vec<Expected> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("lines");
    let files = std::fs::read_dir(folder).expect("the lines");
    let of = |file: std::io::Result<std::fs::DirEntry>| {
        let text = std::fs::read_to_string(file.expect("a file").path()).expect("a line");
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        unroll(&line, Speed::WRITTEN)
    };
    files.map(of).collect()
}

/// What came of the faults.
#[derive(Debug, Default)]
struct Restored {
    /// By rule: how many were put in, and how many of them undone.
    faults: HashMap<Rule, (usize, usize)>,
    /// Notes that no fault was done to, and those of them that are not there as they were played.
    real: usize,
    harmed: usize,
    /// Notes that nobody played and that are there all the same.
    invented: usize,
}

/// Notes by onset and key, with their lengths.
type Notes = HashMap<(Nanos, Key), Option<Nanos>>;

fn place(truth: &Truth) -> (Nanos, Key) {
    (truth.onset + truth.latency, truth.key)
}

impl Restored {
    fn add(&mut self, take: &Performance) {
        let came = clean(&take.events, Rules::ALL).notes;
        let by_place: Notes = came
            .iter()
            .map(|note| ((note.onset, note.key), note.length))
            .collect();
        let faults: HashMap<usize, Rule> = take
            .faults
            .iter()
            .map(|fault| (fault.note, fault.rule))
            .collect();
        for (index, truth) in take.truth.iter().enumerate() {
            let fault = faults.get(&index).copied();
            let found = by_place.get(&place(truth));
            // An end that was never sent may be anywhere.
            let there = found.is_some_and(|length| {
                fault == Some(Rule::MissingOffs) || *length == Some(truth.length)
            });
            self.count(fault, there);
        }
        let played: HashSet<(Nanos, Key)> = take.truth.iter().map(place).collect();
        let invented = by_place.keys().filter(|place| !played.contains(*place));
        self.invented += invented.count();
    }

    fn count(&mut self, fault: Option<Rule>, there: bool) {
        match fault {
            Some(rule) => {
                let (put_in, undone) = self.faults.entry(rule).or_default();
                *put_in += 1;
                *undone += usize::from(there);
            }
            None => {
                self.real += 1;
                self.harmed += usize::from(!there);
            }
        }
    }
}

/// At least 99 % of the faults of each kind are undone, and no real note is harmed.
fn assert_restored(players: &[&str], seeds: u64) {
    let mut all = Restored::default();
    for expected in lines() {
        for player in players {
            let habits: Habits = player.parse().expect("habits");
            (0..seeds).for_each(|seed| all.add(&perform(&expected, &habits, seed)));
        }
    }
    println!("{all:?}");
    assert_eq!(all.harmed, 0);
    assert!(all.real > 10_000);
    let mut put_in_all = 0;
    for rule in [
        Rule::OctaveGlitches,
        Rule::DoubledNotes,
        Rule::SlideSteps,
        Rule::BendSplits,
        Rule::GhostTriggers,
        Rule::MissingOffs,
    ] {
        let (put_in, undone) = all.faults[&rule];
        assert!(put_in >= 1000, "{}: {put_in}", rule.name());
        let share = undone as f64 / put_in as f64;
        assert!(share >= 0.99, "{}: {undone} of {put_in}", rule.name());
        put_in_all += put_in;
    }
    assert!(all.invented * 500 < put_in_all, "{} invented", all.invented);
}

#[test]
fn a_bad_converter_on_one_channel_is_undone() {
    let players = [
        "bad-converter",
        "bad-converter,late-entries,upbeats-ms=-35",
        "bad-converter,patchy,wrong-frets",
        "bad-converter,latency-fixed-ms=6,latency-periods=1.5",
        "bad-converter,missed-muting",
    ];
    assert_restored(&players, 20);
}

#[test]
fn a_bad_converter_with_a_channel_a_string_is_undone() {
    let players = [
        "bad-converter,string-channels=1",
        "bad-converter,string-channels=1,laid-back,short-notes=0.6",
        "bad-converter,string-channels=1,mean-ms=-20,spread-ms=15",
    ];
    assert_restored(&players, 30);
}

#[test]
fn without_the_rules_the_faults_are_there() {
    let expected = &lines()[0];
    let take = perform(expected, &"bad-converter".parse().unwrap(), 1);
    assert!(take.faults.len() > 20);
    let raw = clean(&take.events, Rules::NONE);
    assert_eq!(raw.messages, take.events);
    assert!(raw.notes.len() > take.truth.len());
    assert!(raw.cleaned.is_empty());
}
