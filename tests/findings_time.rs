//! How often findings about tempo, steadiness and place are right, against the stand-in.
//!
//! `FINDINGS_TAKES=2000 cargo test --release --test findings_time -- --nocapture` measures on more takes than the
//! default and prints the rates.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::tempo::{Taken, by_section};
use leadsman::findings::{Finding, find};
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use std::collections::BTreeMap;
use std::sync::Arc;

const EIGHTHS: [&str; 4] = [
    "A1/8 A1/8 E2/8 A1/8 C2/8 D2/8 E2/8 G2/8",
    "F1/8 F1/8 C2/8 F1/8 A1/8 C2/8 D2/8 C2/8",
    "G1/8 G1/8 D2/8 G1/8 B1/8 D2/8 E2/8 D2/8",
    "E1/8 E1/8 B1/8 E1/8 G1/8 B1/8 E2/8 r/8",
];
const MIXED: [&str; 4] = [
    "A1/4 r/8 A2/8 E2/4 G2/8 A2/8",
    "D2/4 C2/4 A1/8 F2/8 D2/4",
    "r/8 G1/8 D2/4 B1/8 D2/8 r/4",
    "E1/4 E2/8 G2/8 r/8 B1/8 E2/4",
];

/// Sections of so many bars and these tempi.
fn line(bars: [&str; 4], tempi: &[u32], bars_each: usize, passes: usize) -> Arc<Expected> {
    let mut text = format!("title = \"Time\"\nmeter = \"4/4\"\ntempo = {}\n", tempi[0]);
    for (name, tempo) in ('A'..).zip(tempi) {
        let notes: Vec<&str> = bars.iter().cycle().take(bars_each).copied().collect();
        let passes = vec!["0"; passes].join(", ");
        text += &format!(
            "[[section]]\nname = \"{name}\"\ntempo = {tempo}\npasses = [{passes}]\nnotes = \"{}\"\n",
            notes.join(" | ")
        );
    }
    let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    Arc::new(unroll(&line, Speed::WRITTEN))
}

fn with_evidence<T>(
    expected: &Arc<Expected>,
    habits: &str,
    seed: u64,
    look: impl Fn(&Evidence) -> T,
) -> T {
    let habits: Habits = habits.parse().expect("habits");
    let settings = Settings::default();
    let played = play(expected, &habits, seed).into_iter();
    let judgement = judge(Arc::clone(expected), &settings, played);
    look(&Evidence::new(expected, &judgement, &settings.windows))
}

fn findings(expected: &Arc<Expected>, habits: &str, seed: u64) -> Vec<Finding> {
    with_evidence(expected, habits, seed, find)
}

fn takes() -> u64 {
    let set = std::env::var("FINDINGS_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(60)
}

fn rates(expected: &Arc<Expected>, habits: &str) -> BTreeMap<&'static str, u64> {
    let mut counts = BTreeMap::new();
    for seed in 0..takes() {
        let mut ids: Vec<_> = findings(expected, habits, seed)
            .iter()
            .map(|f| f.id)
            .collect();
        ids.dedup();
        for id in ids {
            *counts.entry(id).or_insert(0) += 1;
        }
    }
    println!(
        "{habits}, {} notes: {} takes, {counts:?}",
        expected.notes.len(),
        takes()
    );
    counts
}

const HUMAN: &str = "spread-ms=12,correlation=0.25";

#[test]
fn explore() {
    for bpm in [(124, 126), (126, 124), (100, 103), (120, 132)] {
        for (name, bars) in [("eighths", EIGHTHS), ("mixed", MIXED)] {
            for each in [4, 8] {
                let expected = line(bars, &[bpm.0, bpm.1], each, 1);
                for beats in [0, 2, 4, 6, 8, 12] {
                    print!("{bpm:?} {name} {each} bars, kept {beats}: ");
                    let habits = format!("{HUMAN},old-tempo-beats={beats}");
                    rates(&expected, &habits);
                    let texts: Vec<String> = findings(&expected, &habits, 3)
                        .iter()
                        .map(|f| f.text.clone())
                        .collect();
                    println!("   {texts:?}");
                    let mut taken = BTreeMap::new();
                    for seed in 0..takes() {
                        let s = with_evidence(&expected, &habits, seed, |e| {
                            by_section(e)[1].new_tempo.unwrap().taken
                        });
                        let k = match s {
                            Taken::AtOnce => "at once".to_string(),
                            Taken::NotKnown => "?".into(),
                            Taken::DriftedInto { beats } => format!("{beats:04.1}"),
                        };
                        *taken.entry(k).or_insert(0) += 1;
                    }
                    println!("   {taken:?}");
                }
            }
        }
    }
}

#[test]
fn drifts() {
    for (sections, each, passes) in [(1, 8, 1), (1, 4, 4), (4, 4, 1), (4, 8, 1), (2, 16, 1)] {
        let expected = line(MIXED, &vec![120; sections], each, passes);
        for habit in [
            "mean-ms=0",
            "drift-percent=0.1",
            "drift-percent=0.2",
            "drift-percent=-0.4",
            "section-drift-percent=0.3",
            "section-drift-percent=0.6",
            "section-drift-percent=-0.4",
            "drift-percent=1",
        ] {
            print!("{sections} sections {each} bars {passes} passes: ");
            let habits = format!("{HUMAN},{habit}");
            rates(&expected, &habits);
            let texts: Vec<String> = findings(&expected, &habits, 3)
                .iter()
                .map(|f| f.text.clone())
                .collect();
            println!("   {texts:?}");
        }
    }
}

#[test]
fn clean() {
    let mut all = 0;
    let mut of = 0;
    for (tempi, each, passes) in [
        (&[120][..], 4, 1),
        (&[120], 2, 8),
        (&[100, 103, 106, 109], 4, 1),
        (&[120; 6], 2, 1),
        (&[90, 140], 16, 2),
    ] {
        let expected = line(MIXED, tempi, each, passes);
        for spread in [6, 12, 20, 30] {
            for r in ["0", "0.25"] {
                let counts = rates(&expected, &format!("spread-ms={spread},correlation={r}"));
                all += counts.values().sum::<u64>();
                of += takes();
            }
        }
    }
    println!("clean: {all} findings in {of}");
}
