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

/// Takes of 60 or more with an id, at least or at most this share.
fn share(counts: &BTreeMap<&'static str, u64>, id: &str) -> f64 {
    100.0 * counts.get(id).copied().unwrap_or(0) as f64 / takes() as f64
}

#[test]
fn a_slope_is_found_in_the_sections_that_have_it() {
    let expected = line(MIXED, &[120; 4], 8, 1);
    for (habit, id) in [
        ("drift-percent=0.2", "rushing"),
        ("drift-percent=-0.2", "dragging"),
        ("drift-percent=1", "rushing"),
        ("section-drift-percent=0.4", "rushing"),
        ("section-drift-percent=-0.4", "dragging"),
    ] {
        let counts = rates(&expected, &format!("{HUMAN},{habit}"));
        assert!(share(&counts, id) >= 95.0, "{habit}: {counts:?}");
        let other = if id == "rushing" {
            "dragging"
        } else {
            "rushing"
        };
        for other in [other, "off-by-beats", "unsteady"] {
            assert!(share(&counts, other) <= 2.0, "{habit}: {counts:?}");
        }
    }
    let text = |habit: &str, id: &str| -> String {
        let all = findings(&expected, &format!("{HUMAN},{habit}"), 3);
        let found = all.into_iter().find(|finding| finding.id == id);
        found.map(|finding| finding.text).unwrap_or_default()
    };
    assert_eq!(
        text("section-drift-percent=0.3", "rushing"),
        "Sections B and D rush: 0.3 % (0.2 to 0.4) and 0.3 % (0.2 to 0.4) faster than the click, -46 and -44 ms by their ends: bars 9 to 16 and 25 to 32."
    );
    assert!(text("drift-percent=0.2", "rushing").starts_with("The whole take rushes: 0.2 %"));
}

#[test]
fn a_step_of_two_beats_a_minute_is_seen() {
    for (tempi, id) in [([124, 126], "dragging"), ([126, 124], "rushing")] {
        let expected = line(EIGHTHS, &tempi, 8, 1);
        let habits = format!("{HUMAN},old-tempo-beats=8");
        let counts = rates(&expected, &habits);
        assert!(share(&counts, id) >= 95.0, "{tempi:?}: {counts:?}");
        let sections = with_evidence(&expected, &habits, 1, by_section);
        let step = sections[1].new_tempo.expect("a change");
        let Taken::DriftedInto { beats } = step.taken else {
            panic!("{step:?}");
        };
        assert!((beats - 8.0).abs() <= 1.5, "{beats}");
        assert_eq!(
            (step.from, step.to),
            (f64::from(tempi[0]), f64::from(tempi[1]))
        );
        assert_eq!(sections[0].new_tempo, None);
    }
    let expected = line(EIGHTHS, &[120, 132], 8, 1);
    let sections = with_evidence(&expected, HUMAN, 1, by_section);
    let taken = sections[1].new_tempo.map(|step| step.taken);
    assert_eq!(taken, Some(Taken::AtOnce));
    let kept = findings(&expected, &format!("{HUMAN},old-tempo-beats=4"), 1);
    assert!(
        kept.iter().any(|finding| finding.id == "dragging"
            && finding
                .text
                .starts_with("Into B (120 to 132) you kept the old tempo for about")),
        "{kept:?}"
    );
}

#[test]
fn bars_that_scatter_are_told_and_a_take_that_does() {
    let expected = line(MIXED, &[120; 2], 8, 4);
    let rough = rates(&expected, &format!("{HUMAN},rough-bars-ms=30"));
    assert!(share(&rough, "unsteady") >= 95.0, "{rough:?}");
    let texts: Vec<String> = findings(&expected, &format!("{HUMAN},rough-bars-ms=30"), 3)
        .into_iter()
        .map(|finding| finding.text)
        .collect();
    println!("{texts:?}");
    assert!(
        texts
            .iter()
            .any(|text| text.starts_with("Bars 4, 8, 12 and 16 are unsteady: spread ")),
        "{texts:?}"
    );
    let whole = rates(&expected, "spread-ms=42,correlation=0.25");
    assert!(share(&whole, "unsteady") >= 95.0, "{whole:?}");
}

#[test]
fn a_phrase_elsewhere_is_one_finding() {
    let expected = line(MIXED, &[120; 2], 8, 1);
    for (habit, words) in [
        ("late-phrase-beats=1", "you were a beat late"),
        ("late-phrase-beats=-0.5", "you were half a beat early"),
        ("skipped-bar=1", "left out: the next"),
        ("repeated-bar=1", "played twice: the next"),
    ] {
        let habits = format!("{HUMAN},{habit}");
        let counts = rates(&expected, &habits);
        assert!(
            share(&counts, "off-by-beats") >= 90.0,
            "{habit}: {counts:?}"
        );
        let all = findings(&expected, &habits, 3);
        let one: Vec<&Finding> = all.iter().filter(|one| one.id == "off-by-beats").collect();
        println!("{}", one[0].text);
        assert_eq!(one.len(), 1);
        assert!(one[0].text.contains(words), "{}", one[0].text);
    }
    for habit in ["dropped=0.15,extra=0.1", "wrong-frets=0.2", "spread-ms=30"] {
        let counts = rates(&expected, &format!("{HUMAN},{habit}"));
        assert!(share(&counts, "off-by-beats") <= 1.0, "{habit}: {counts:?}");
        assert!(share(&counts, "unsteady") <= 2.0, "{habit}: {counts:?}");
    }
}

const OURS: [&str; 4] = ["rushing", "dragging", "unsteady", "off-by-beats"];

#[test]
fn a_clean_take_has_no_finding_of_time() {
    let (mut found, mut of) = (BTreeMap::new(), 0);
    let lines: [(&[u32], usize, usize); 5] = [
        (&[120], 4, 1),
        (&[120], 2, 8),
        (&[100, 103, 106, 109], 4, 1),
        (&[120; 6], 2, 1),
        (&[90, 140], 16, 2),
    ];
    for (tempi, each, passes) in lines {
        let expected = line(MIXED, tempi, each, passes);
        for spread in [6, 12, 20, 28] {
            for correlation in ["0", "0.25"] {
                let habits = format!("spread-ms={spread},correlation={correlation}");
                for (id, count) in rates(&expected, &habits) {
                    *found.entry(id).or_insert(0) += count;
                }
                of += takes();
            }
        }
    }
    println!("clean: {found:?} in {of}");
    let ours: u64 = OURS.iter().filter_map(|id| found.get(id)).sum();
    assert!(100 * ours <= of, "{found:?} in {of}");
}

/// `cargo test --release --test findings_time -- --ignored --nocapture`
#[test]
#[ignore = "measures"]
fn the_cost_of_a_long_take() {
    let expected = line(MIXED, &[120, 122, 124, 126], 16, 330);
    let habits: Habits = HUMAN.parse().expect("habits");
    let settings = Settings::default();
    let played = play(&expected, &habits, 1).into_iter();
    let judgement = judge(Arc::clone(&expected), &settings, played);
    let evidence = Evidence::new(&expected, &judgement, &settings.windows);
    let start = std::time::Instant::now();
    let sections = by_section(&evidence);
    let tempo = start.elapsed();
    let start = std::time::Instant::now();
    let found = find(&evidence);
    println!(
        "{} readings: tempo {tempo:?} ({} sections), all findings {:?} ({} found)",
        expected.notes.len(),
        sections.len(),
        start.elapsed(),
        found.len()
    );
}
