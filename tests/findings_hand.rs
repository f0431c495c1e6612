//! What the hands do, against the stand-in: strokes, crossings, shifts, fingers and lengths are found where they are, told
//! as what they are, and not found where they are not.
//!
//! `HAND_TAKES=1000 cargo test --release --test findings_hand -- --nocapture` measures on more takes than the default and
//! prints the rates.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::{Finding, find};
use leadsman::fingering::Fingering;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use leadsman::units::Nanos;
use std::collections::BTreeMap;
use std::sync::Arc;

/// One section's keys after its name, without passes.
type Section = &'static str;

/// Economy strokes: one way across the strings, so that up strokes fall on beats and between them.
const ECONOMY: Section = "notes = \"D:5/8 D:7/8 A:5/8 A:7/8 D:5/8 D:7/8 G:5/8 G:7/8 | A:5/8 D:5/8 D:7/8 A:7/8 A:5/8 A:7/8 D:5/4\"\nstrokes = \"d u u d d u d u | u d u u d u d\"";
/// Down on every beat, up between them.
const ALTERNATE: Section =
    "notes = \"D:5/8 D:7/8 D:5/8 D:7/8 D:5/8 D:5/8 D:7/8 D:7/8\"\nstrokes = \"d u d u d u d u\"";
/// Crossings on beats and between them, either way.
const CROSSINGS: Section = "notes = \"A:3/8 A:5/8 D:3/8 D:5/8 D:3/8 A:5/8 A:3/8 A:5/8 | D:5/8 D:3/8 D:5/8 A:3/8 A:5/8 A:3/4 D:3/8\"";
/// Shifts of more than three frets.
const SHIFTS: Section = "notes = \"D:3/8 D:5/8 D:3/8 D:10/8 D:12/8 D:10/8 D:12/4 | D:5/8 D:3/8 D:5/4 D:3/8 D:10/8 D:12/8 D:10/8\"";
/// Crossings that only the likely fingering tells.
const UNNAMED: Section =
    "notes = \"E1/8 F#1/8 G1/8 B1/8 C2/8 D2/8 F2/8 G2/8 | A2/8 G2/8 F2/8 D2/8 C2/4 G1/8 E1/8\"";
const FINGERS: Section = "notes = \"D:3/8 D:6/8 D:4/8 D:3/8 D:5/8 D:6/8 D:4/8 D:6/8 | D:6/8 D:3/8 D:5/4 D:6/4 D:4/4\"\nfingers = \"1 4 2 1 3 4 2 4 | 4 1 3 4 2\"";
const MUTED: Section = "notes = \"D:3/4m D:5/4 D:3/4m D:5/4 | D:5/4m D:3/4 r/4 D:3/4m\"";

fn expected(sections: &[(&str, Section)], notes: usize) -> Arc<Expected> {
    let of = |passes: usize| {
        let passes = vec!["0"; passes].join(", ");
        let section = |(number, (head, keys)): (usize, &(&str, Section))| {
            format!("[[section]]\nname = \"{number}\"\n{head}\npasses = [{passes}]\n{keys}\n")
        };
        let sections: String = sections.iter().enumerate().map(section).collect();
        let toml = format!("title = \"Hands\"\nmeter = \"4/4\"\ntempo = 120\n{sections}");
        let line = parse(&toml, "line.toml")
            .unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)));
        unroll(&line, Speed::WRITTEN)
    };
    let once = of(1).notes.len();
    Arc::new(of(notes.div_ceil(once)))
}

fn findings(expected: &Arc<Expected>, habits: &Habits, seed: u64) -> Vec<Finding> {
    let settings = Settings::default();
    let events = play(expected, habits, seed);
    let judgement = judge(Arc::clone(expected), &settings, events.into_iter());
    find(&Evidence::new(expected, &judgement, &settings.windows))
}

fn takes() -> u64 {
    let set = std::env::var("HAND_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(60)
}

const HUMAN: &str = "spread-ms=12,correlation=0.25,velocity-spread=8";

fn habits(habit: &str) -> Habits {
    format!("{HUMAN},{habit}").parse().expect("habits")
}

/// Asserts that a habit is found in 95 % of takes, by the id and words that tell it, and no other in more than 2 %.
fn assert_found(expected: &Arc<Expected>, habit: &str, id: &str, words: &[&str]) {
    let takes = takes();
    let (mut there, mut others) = (0, BTreeMap::<&str, u64>::new());
    let mut text = String::new();
    for seed in 0..takes {
        for finding in findings(expected, &habits(habit), seed) {
            if finding.id == id && words.iter().all(|word| finding.text.contains(word)) {
                there += 1;
                text = finding.text;
            } else {
                *others.entry(finding.id).or_default() += 1;
                if takes > 60 {
                    println!("   {}", finding.text);
                }
            }
        }
    }
    println!("{habit}: {id} in {there} of {takes}, others {others:?}: {text}");
    assert!(
        there * 100 >= 95 * takes,
        "{habit}: {id} in {there} of {takes}, others {others:?}"
    );
    for (other, count) in others {
        assert!(
            count <= 1 + takes / 50,
            "{habit}: {other} in {count} of {takes}"
        );
    }
}

#[test]
fn up_strokes_that_differ_are_told_as_strokes_where_upbeats_are_other_notes() {
    let line = expected(&[("", ECONOMY)], 60);
    for (habit, words) in [
        ("up-strokes-ms=-20", ["early", "against down strokes"]),
        ("up-strokes-ms=20", ["late", "against down strokes"]),
        ("up-strokes-length=0.6", ["shorter", "down strokes"]),
        ("up-strokes-velocity=-22", ["softer", "velocity"]),
        (
            "up-strokes-ms=-20,up-strokes-velocity=-22",
            ["early", "softer"],
        ),
    ] {
        assert_found(&line, habit, "uneven-strokes", &words);
    }
    assert_found(&line, "upbeats-ms=-25", "rushed-upbeats", &["upbeats"]);
}

#[test]
fn up_strokes_that_are_the_upbeats_are_told_as_upbeats() {
    let line = expected(&[("", ALTERNATE)], 60);
    assert_found(&line, "up-strokes-ms=-25", "rushed-upbeats", &["upbeats"]);
    assert_found(&line, "upbeats-ms=25", "dragged-upbeats", &["upbeats"]);
    // The length of upbeats has no name of its own.
    assert_found(
        &line,
        "up-strokes-length=0.6",
        "uneven-strokes",
        &["shorter"],
    );
}

#[test]
fn notes_after_crossings_shifts_and_under_the_fourth_finger_are_told_as_such() {
    let crossings = expected(&[("", CROSSINGS)], 60);
    assert_found(
        &crossings,
        "crossings-ms=20",
        "string-crossings",
        &["another string", "late"],
    );
    let shifts = expected(&[("", SHIFTS)], 60);
    assert_found(&shifts, "shifts-ms=22", "shifts", &["shift", "late"]);
    let fingers = expected(&[("", FINGERS)], 60);
    assert_found(
        &fingers,
        "fourth-finger-ms=20",
        "shifts",
        &["fourth finger", "late"],
    );
}

/// What is found where another line is played than is judged.
fn findings_of(judged: &Arc<Expected>, played: &Expected, habits: &Habits) -> Vec<Finding> {
    let settings = Settings::default();
    let events = play(played, habits, 3);
    let judgement = judge(Arc::clone(judged), &settings, events.into_iter());
    find(&Evidence::new(judged, &judgement, &settings.windows))
}

#[test]
fn where_the_line_names_no_strings_a_crossing_is_likely() {
    let line = expected(&[("", UNNAMED)], 120);
    // Played by a hand that goes the likely way and is late at its crossings.
    let mut named = (*line).clone();
    for (note, place) in named.notes.iter_mut().zip(Fingering::of(&line).places) {
        (note.string, note.fret) = (place.string, place.fret);
    }
    let findings = findings_of(&line, &named, &habits("crossings-ms=30"));
    let told: Vec<&str> = findings.iter().map(|finding| finding.id).collect();
    assert_eq!(told, ["string-crossings"], "{findings:?}");
    assert!(findings[0].text.contains("likely crossing"), "{findings:?}");
}

#[test]
fn notes_before_a_crossing_that_are_cut_short_are_told_as_such() {
    let line = expected(&[("", CROSSINGS)], 60);
    let moves = Fingering::of(&line).moves;
    let mut cut = (*line).clone();
    for (note, next) in cut.notes.iter_mut().zip(&moves[1..]) {
        if next.crossing.is_some_and(|crossing| crossing.by != 0) {
            note.sounding = Nanos(note.sounding.0 / 2);
        }
    }
    let findings = findings_of(&line, &cut, &habits("mean-ms=0"));
    let told: Vec<&str> = findings.iter().map(|finding| finding.id).collect();
    assert_eq!(told, ["string-crossings"], "{findings:?}");
    assert!(
        findings[0].text.contains("before a crossing"),
        "{findings:?}"
    );
    assert!(
        findings[0].mean_ms.is_some_and(|mean| mean < -90.0),
        "{findings:?}"
    );
}

#[test]
fn muted_notes_that_stay_open_are_told_in_their_own_words() {
    let line = expected(&[("", MUTED)], 40);
    assert_found(
        &line,
        "mutes-open-ms=150",
        "missed-muting",
        &["muted notes were left open"],
    );
}

#[test]
fn notes_that_shorten_with_the_tempo_are_told_as_such() {
    let line = expected(&[("tempo = 88", CROSSINGS), ("tempo = 116", CROSSINGS)], 90);
    assert_found(
        &line,
        "fast-notes-short=0.85",
        "short-notes",
        &["where it is faster"],
    );
    assert_found(
        &line,
        "short-notes=0.5",
        "short-notes",
        &["stopped too soon"],
    );
}

#[test]
fn a_clean_take_has_no_finding_about_the_hands() {
    let lines: Vec<Arc<Expected>> = [
        ECONOMY, ALTERNATE, CROSSINGS, SHIFTS, UNNAMED, FINGERS, MUTED,
    ]
    .into_iter()
    .flat_map(|section| [16, 48, 120, 400].map(|notes| expected(&[("", section)], notes)))
    .collect();
    for spread in [6, 12, 20, 30] {
        let mut counts = BTreeMap::<&str, u64>::new();
        let takes = takes() * 2;
        for seed in 0..takes {
            let habits = habits(&format!("spread-ms={spread}"));
            for finding in findings(&lines[seed as usize % lines.len()], &habits, seed) {
                *counts.entry(finding.id).or_default() += 1;
            }
        }
        println!("spread {spread}: {takes} takes, {counts:?}");
        let all: u64 = counts.values().sum();
        assert!(all <= 1 + takes / 100, "spread {spread}: {counts:?}");
    }
}
