//! How often findings are right, against the stand-in: habits that are there are found, those that are not are not.
//!
//! `FINDINGS_TAKES=2000 cargo test --release --test findings_rates -- --nocapture` measures on more takes than the
//! default and prints the rates.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::find;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Head, then the notes of one section; every line has entries, upbeats, rests and jumps across strings.
const LINES: [(&str, &str); 7] = [
    (
        "meter = \"4/4\"\ntempo = 126\nswing = \"2:1\"",
        "r/8 A2/8 D2/4 r/8 F2/8 A2/4 | r/8 G2/8 C2/8 D2/8 E2/8 G2/8 A2/4 | D2/4 C2/8 A1/8 r/8 F2/8 D2/4 | A1/4 E2/8 G2/8 r/4 A2/4",
    ),
    (
        "meter = \"4/4\"\ntempo = 104",
        "E1/8 E1/8 r/8 G1/8 A1/8 E2/8 r/4 | D2/4 r/8 D2/8 A1/8 C2/8 E2/4 | r/4 E1/8 B1/8 E2/8 D2/8 B1/4 | A1/8 A2/8 r/8 A1/8 G1/8 G2/8 r/4",
    ),
    (
        "meter = \"3/4\"\ntempo = 72",
        "D2/4 r/8 A2/8 F2/4 | C2/8 E2/8 G2/4 r/4 | A1/4. E2/8 r/8 C2/8 | D2/4 A1/8 D2/8 r/4",
    ),
    (
        "meter = \"4/4\"\ntempo = 92",
        "E1/16 E1/16 r/8 G1/16 A1/16 E2/8 r/8 D2/16 D2/16 A1/4 | r/8 A1/8 E2/16 E1/16 G1/8 r/4 B1/8 E2/8",
    ),
    (
        "meter = \"12/8\"\ntempo = 100",
        "A1/4. E2/4 G2/8 r/4. A2/4 E2/8 | D2/4 D2/8 A2/4. r/4 C2/8 D2/4. | r/4 A1/8 E2/4. G2/4 A1/8 r/4.",
    ),
    (
        "meter = \"5/4\"\ntempo = 138",
        "D2/4 D2/8 A2/8 r/4 C2/8 C3/8 A2/4 | r/8 G1/8 G2/4 A2/8 D2/8 r/8 F2/8 D2/4",
    ),
    // All strings and two octaves.
    (
        "meter = \"4/4\"\ntempo = 116",
        "E1/4 E2/8 G2/8 r/8 C3/8 A1/4 | D2/8 A2/8 r/4 G1/8 G2/8 B2/8 D2/8 | r/8 E1/8 B1/8 E3/8 D3/8 A2/8 E2/4 | A1/8 E2/8 r/8 F1/8 G1/4 r/4",
    ),
];

/// A line of at least so many notes.
fn expected(line: usize, notes: usize) -> Arc<Expected> {
    let (head, text) = LINES[line];
    let of = |passes: usize| {
        let passes = vec!["0"; passes].join(", ");
        let toml = format!(
            "title = \"Rates\"\n{head}\n[[section]]\nname = \"A\"\npasses = [{passes}]\nnotes = \"{text}\"\n"
        );
        let line = parse(&toml, "line.toml")
            .unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)));
        unroll(&line, Speed::WRITTEN)
    };
    let once = of(1).notes.len();
    Arc::new(of(notes.div_ceil(once)))
}

fn found(expected: &Arc<Expected>, habits: &Habits, seed: u64) -> Vec<&'static str> {
    let settings = Settings::default();
    let judgement = judge(
        Arc::clone(expected),
        &settings,
        play(expected, habits, seed).into_iter(),
    );
    let evidence = Evidence::new(expected, &judgement, &settings.windows);
    find(&evidence).iter().map(|finding| finding.id).collect()
}

fn takes() -> u64 {
    let set = std::env::var("FINDINGS_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(400)
}

/// How many of `takes` have each finding, over all lines in these lengths.
fn rates(lengths: &[usize], habits: impl Fn(u64) -> Habits) -> (u64, BTreeMap<&'static str, u64>) {
    let lines: Vec<Arc<Expected>> = (0..LINES.len())
        .flat_map(|line| lengths.iter().map(move |notes| expected(line, *notes)))
        .collect();
    rates_of(&lines, habits)
}

fn rates_of(
    lines: &[Arc<Expected>],
    habits: impl Fn(u64) -> Habits,
) -> (u64, BTreeMap<&'static str, u64>) {
    let takes = takes();
    let mut counts = BTreeMap::new();
    for seed in 0..takes {
        let line = &lines[seed as usize % lines.len()];
        for id in found(line, &habits(seed), seed) {
            *counts.entry(id).or_insert(0) += 1;
        }
    }
    (takes, counts)
}

fn percent(count: u64, of: u64) -> f64 {
    100.0 * count as f64 / of as f64
}

const HUMAN: &str = "spread-ms=10,correlation=0.25";

#[test]
fn each_habit_is_found_where_it_is_and_not_taken_for_another() {
    // Upbeats that are 25 ms early on a slow line are 15 ms beyond what can be heard: a dozen of them do not carry it.
    let habits: [(&str, &str, &[usize]); 9] = [
        ("late-entries-ms=45", "late-entries", &[48, 120]),
        ("late-entries-ms=-45", "early-entries", &[48, 120]),
        ("upbeats-ms=-35", "rushed-upbeats", &[48, 120]),
        ("upbeats-ms=-25", "rushed-upbeats", &[120, 200]),
        ("upbeats-ms=25", "dragged-upbeats", &[120, 200]),
        (
            "ring-over-ms=120,rests-ring-ms=120",
            "missed-muting",
            &[48, 120],
        ),
        ("ring-over-ms=120", "missed-muting", &[48, 120]),
        ("rests-ring-ms=120", "missed-muting", &[48, 120]),
        ("short-notes=0.5", "short-notes", &[48, 120]),
    ];
    for (habit, id, lengths) in habits {
        let habits: Habits = format!("{HUMAN},{habit}").parse().expect("habits");
        let (takes, counts) = rates(lengths, |_| habits);
        println!("{habit}: {takes} takes, {counts:?}");
        // In swung pairs the same upbeats are told as the swing.
        let is_told = |told: &str| match id {
            "rushed-upbeats" => told == id || told == "swing-flat",
            "dragged-upbeats" => told == id || told == "swing-wide",
            _ => told == id,
        };
        let there: u64 = counts
            .iter()
            .filter(|(told, _)| is_told(told))
            .map(|(_, count)| count)
            .sum();
        assert!(
            percent(there, takes) >= 95.0,
            "{habit}: {id} in {there} of {takes} takes"
        );
        for (other, count) in counts.iter().filter(|(other, _)| !is_told(other)) {
            assert!(
                percent(*count, takes) <= 1.0,
                "{habit}: {other} in {count} of {takes} takes"
            );
        }
    }
}

#[test]
fn a_steady_take_has_no_finding() {
    let lengths = [16, 24, 48, 100, 200];
    for spread in [5, 10, 15, 20] {
        for correlation in ["0", "0.25"] {
            let habits = |seed: u64| -> Habits {
                // A steady lean is style, no fault.
                let lean = [0, -20, 15][seed as usize % 3];
                format!("spread-ms={spread},correlation={correlation},mean-ms={lean}")
                    .parse()
                    .expect("habits")
            };
            let (takes, counts) = rates(&lengths, habits);
            println!("spread {spread}, correlation {correlation}: {takes} takes, {counts:?}");
            let all: u64 = counts.values().sum();
            assert!(
                percent(all, takes) <= 1.0,
                "{counts:?} in {takes} takes of spread {spread}"
            );
        }
    }
}

#[test]
fn habits_together_are_all_found() {
    let habits: Habits = format!("{HUMAN},late-entries-ms=45,upbeats-ms=-30,ring-over-ms=120")
        .parse()
        .expect("habits");
    let (takes, counts) = rates(&[120], |_| habits);
    println!("together: {takes} takes, {counts:?}");
    for id in ["late-entries", "rushed-upbeats", "missed-muting"] {
        let there = counts.get(id).copied().unwrap_or(0);
        assert!(
            percent(there, takes) >= 90.0,
            "{id} in {there} of {takes} takes"
        );
    }
}

#[test]
fn what_no_finding_asks_about_makes_none() {
    for habit in ["dropped=0.08,extra=0.05", "velocity-spread=30"] {
        let habits: Habits = format!("{HUMAN},{habit}").parse().expect("habits");
        let (takes, counts) = rates(&[24, 48, 120], |_| habits);
        println!("{habit}: {takes} takes, {counts:?}");
        let all: u64 = counts.values().sum();
        assert!(
            percent(all, takes) <= 1.0,
            "{habit}: {counts:?} in {takes} takes"
        );
    }
}

/// Pitches over more than an octave, so that a converter can be told from a player.
const WIDE: [usize; 3] = [1, 5, 6];

/// Takes of the wide lines.
fn wide_rates(lengths: &[usize], habits: &Habits) -> (u64, BTreeMap<&'static str, u64>) {
    let lines: Vec<Arc<Expected>> = WIDE
        .iter()
        .flat_map(|line| lengths.iter().map(|notes| expected(*line, *notes)))
        .collect();
    rates_of(&lines, |_| *habits)
}

#[test]
fn a_converter_is_found_and_not_taken_for_a_habit() {
    // A period more moves these lines' lowest notes by 12 to 18 ms against their highest, of which some 10 cannot be
    // heard: it takes a long take to tell.
    for (converter, length, least) in [
        ("latency-periods=1.5", 200, 75.0),
        ("latency-periods=2,latency-fixed-ms=6", 120, 85.0),
        (
            "latency-periods=2,latency-fixed-ms=20,spread-ms=15",
            200,
            80.0,
        ),
        ("latency-fixed-ms=75", 48, 95.0),
        ("mean-ms=-70", 48, 95.0),
    ] {
        let habits: Habits = format!("{HUMAN},{converter}").parse().expect("habits");
        let (takes, counts) = wide_rates(&[length], &habits);
        println!("{converter}, {length} notes: {takes} takes, {counts:?}");
        let there = counts.get("latency-suspect").copied().unwrap_or(0);
        assert!(
            percent(there, takes) >= least,
            "{converter}: in {there} of {takes} takes"
        );
        for (other, count) in counts.iter().filter(|(id, _)| **id != "latency-suspect") {
            assert!(
                percent(*count, takes) <= 1.0,
                "{converter}: {other} in {count} of {takes} takes"
            );
        }
    }
}

#[test]
fn habits_are_found_through_a_converter() {
    for (habit, id) in [
        ("late-entries-ms=45", "late-entries"),
        ("upbeats-ms=-35", "rushed-upbeats"),
        ("ring-over-ms=120,rests-ring-ms=120", "missed-muting"),
    ] {
        let habits: Habits = format!("{HUMAN},latency-periods=2,latency-fixed-ms=6,{habit}")
            .parse()
            .expect("habits");
        let (takes, counts) = wide_rates(&[120, 200], &habits);
        println!("{habit} through a converter: {takes} takes, {counts:?}");
        for id in [id, "latency-suspect"] {
            let there = counts.get(id).copied().unwrap_or(0);
            assert!(
                percent(there, takes) >= 90.0,
                "{habit}: {id} in {there} of {takes} takes"
            );
        }
        let others = counts
            .iter()
            .filter(|(other, _)| **other != id && **other != "latency-suspect");
        for (other, count) in others {
            assert!(
                percent(*count, takes) <= 1.0,
                "{habit}: {other} in {count} of {takes} takes"
            );
        }
    }
}

#[test]
fn no_habit_is_blamed_on_the_latency() {
    for habit in [
        "late-entries-ms=90",
        "late-entries-ms=-90",
        "upbeats-ms=-45",
        "upbeats-ms=45",
        "drift-percent=0.3",
        "drift-percent=-0.3",
        "mean-ms=30",
        "mean-ms=-40",
        "wrong-frets=0.2,dropped=0.2",
        "spread-ms=30",
        "short-notes=0.4",
        "late-entries-ms=45,upbeats-ms=-30,ring-over-ms=120",
    ] {
        let habits: Habits = format!("{HUMAN},{habit}").parse().expect("habits");
        let (takes, counts) = wide_rates(&[24, 60, 120, 200], &habits);
        let blamed = counts.get("latency-suspect").copied().unwrap_or(0);
        println!("{habit}: latency blamed in {blamed} of {takes} takes");
        assert!(
            percent(blamed, takes) <= 1.0,
            "{habit}: {blamed} of {takes} takes"
        );
    }
}

#[test]
fn periods_that_were_too_many_are_suspected_where_some_were_taken_off() {
    let expected = expected(6, 120);
    let habits: Habits = HUMAN.parse().expect("habits");
    let mut settings = Settings::default();
    settings.latency.periods = 2.0;
    let judgement = judge(
        Arc::clone(&expected),
        &settings,
        play(&expected, &habits, 1).into_iter(),
    );
    let evidence = Evidence::new(&expected, &judgement, &settings.windows);
    assert_eq!(find(&evidence), [], "nothing is known of a latency");
    let findings = find(&evidence.with_latency(settings.latency));
    let ids: Vec<_> = findings.iter().map(|finding| finding.id).collect();
    assert_eq!(ids, ["latency-suspect"]);
    assert!(
        findings[0].text.contains("of the 2.0 periods"),
        "{}",
        findings[0].text
    );
}
