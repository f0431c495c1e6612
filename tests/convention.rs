//! The convention measure against `mir_eval` 0.8.2 (`transcription.precision_recall_f1_overlap` and `match_notes` with
//! `offset_ratio=None`): golden cases made by `tests/golden/convention.py`.

use leadsman::judge::convention::{Convention, convention};
use leadsman::units::{Key, Nanos};
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    reference: Vec<(i64, u8)>,
    estimated: Vec<(i64, u8)>,
    matched: usize,
    precision: f64,
    recall: f64,
    f_measure: f64,
}

fn notes(rows: &[(i64, u8)]) -> Vec<(Nanos, Key)> {
    rows.iter()
        .map(|&(ns, key)| (Nanos(ns), Key(key)))
        .collect()
}

#[test]
fn every_golden_case_is_measured_as_mir_eval_measures_it() {
    let cases: Vec<Case> = serde_json::from_str(include_str!("golden/convention.json"))
        .expect("golden cases are JSON");
    assert!(cases.len() >= 300);
    for (index, case) in cases.iter().enumerate() {
        let ours = convention(&notes(&case.reference), &notes(&case.estimated));
        assert_eq!(ours.matched, case.matched, "case {index}");
        for (ours, theirs) in [
            (ours.precision, case.precision),
            (ours.recall, case.recall),
            (ours.f_measure, case.f_measure),
        ] {
            assert!(
                (ours - theirs).abs() <= 1e-12,
                "case {index}: {ours} {theirs}"
            );
        }
    }
}

#[test]
fn a_million_notes_against_themselves_are_all_hits() {
    let notes: Vec<(Nanos, Key)> = (0..1_000_000u32)
        .map(|index| (Nanos(i64::from(index) * 7_000_000), Key((index % 30) as u8)))
        .collect();
    let all = Convention {
        matched: 1_000_000,
        precision: 1.0,
        recall: 1.0,
        f_measure: 1.0,
    };
    assert_eq!(convention(&notes, &notes), all);
}
