//! The sums of a check added up again from its notes.

mod takes;

use serde_json::Value;
use takes::schema::{assert_valid, schema};
use takes::{Bench, note};

const SWUNG: &str = "title = \"Swung\"\nmeter = \"4/4\"\ntempo = 110\nswing = \"2:1\"\n[[section]]\nname = \"A\"\n\
    passes = [0, 0, 2, 5]\n\
    notes = \"D2/8 A1/8 D2/8 F2/8 G2/8 F2/8 D2/8 C2/8 | A1/8 C2/8 D2/4 x/8 D2/8 r/4 | r/8 F2/8 G2/4 A2/8 G2/8 F2/8 E2/8\"";

#[test]
fn the_sums_are_those_of_the_notes() {
    let (bench, schema) = (Bench::new(SWUNG), schema());
    let players = [
        "exact",
        "steady",
        "unsteady",
        "patchy,wrong-frets",
        "late-entries,missed-muting",
        "rushing,mean-ms=-12",
        "extra=0.4,dropped=0.3,spread-ms=40",
    ];
    for player in players {
        for seed in ["1", "2", "3"] {
            let ran = bench.run(&[
                "demo",
                "line.toml",
                "--json",
                "--habits",
                player,
                "--seed",
                seed,
            ]);
            let json = ran.json();
            assert_valid(&schema, &json);
            assert!(json["take"]["file"].is_null());
            check_sums(&json);
            check_convention(&json);
            check_findings(&json);
        }
    }
}

fn close(value: &Value, to: f64) {
    let value = value.as_f64().expect("a number");
    assert!(
        (value - to).abs() < 1e-6 * to.abs().max(1.0),
        "{value} {to}"
    );
}

fn check_sums(json: &Value) {
    let notes = json["notes"].as_array().unwrap();
    let sum = &json["summary"];
    let heard: Vec<&Value> = notes
        .iter()
        .filter(|note| !note["played"].is_null())
        .collect();
    let count = |name: &str, is: &str| heard.iter().filter(|note| note[name] == is).count();
    assert_eq!(sum["expected"], notes.len());
    assert_eq!(sum["matched"], heard.len());
    assert_eq!(sum["missed"], notes.len() - heard.len());
    assert_eq!(sum["extra"], json["extra"].as_array().unwrap().len());
    assert_eq!(
        json["take"]["played"],
        heard.len() + json["extra"].as_array().unwrap().len()
    );
    assert_eq!(json["line"]["notes"], notes.len());
    assert_eq!(sum["pitch_right"], count("pitch", "right"));
    assert_eq!(sum["timing_in"], count("timing", "in"));
    assert_eq!(sum["timing_unjudged"], count("timing", "unjudged"));
    assert_eq!(sum["length_in"], count("length", "in"));
    let of = |note: &Value, name: &str| note[name].as_f64().unwrap();
    assert!(heard.iter().all(|note| of(note, "displaced_beats") == 0.0));
    for note in &heard {
        let onset = |part: &str| note[part]["onset_s"].as_f64().unwrap();
        close(
            &note["offset_ms"],
            (onset("played") - onset("expected")) * 1000.0,
        );
    }
    let offsets: Vec<f64> = heard.iter().map(|note| of(note, "offset_ms")).collect();
    let times: Vec<f64> = heard
        .iter()
        .map(|note| of(&note["expected"], "onset_s"))
        .collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let product = |a: &[f64], b: &[f64]| {
        let (mean_a, mean_b) = (mean(a), mean(b));
        a.iter()
            .zip(b)
            .map(|(a, b)| (a - mean_a) * (b - mean_b))
            .sum::<f64>()
    };
    close(&sum["offset_mean_ms"], mean(&offsets));
    close(
        &sum["offset_sd_ms"],
        (product(&offsets, &offsets) / (offsets.len() - 1) as f64).sqrt(),
    );
    // The slope in ms a second, a thousandth, as a share of a hundred.
    close(
        &sum["tempo_drift_pct"],
        -product(&times, &offsets) / product(&times, &times) / 10.0,
    );
    let logs: Vec<f64> = swung_pairs(notes).iter().map(|ratio| ratio.ln()).collect();
    match logs.len() {
        0..15 => assert!(sum["swing_ratio"].is_null()),
        _ => close(&sum["swing_ratio"], mean(&logs).exp()),
    }
}

/// Long half : short half of every pair that was played with the note after it, slips left out.
fn swung_pairs(notes: &[Value]) -> Vec<f64> {
    let place = |note: &Value| {
        let bars = 3.0 * (note["pass"].as_f64().unwrap() - 1.0) + note["bar"].as_f64().unwrap();
        4.0 * bars + note["beat"].as_f64().unwrap()
    };
    let is_pair = |three: &&[Value]| {
        place(&three[0]).fract() == 0.0
            && place(&three[1]) - place(&three[0]) == 0.5
            && place(&three[2]) - place(&three[1]) == 0.5
    };
    let ratio = |three: &[Value]| {
        let at = |index: usize| three[index]["played"]["onset_s"].as_f64();
        Some((at(1)? - at(0)?) / (at(2)? - at(1)?))
    };
    let pairs = notes.windows(3).filter(is_pair);
    pairs
        .filter_map(ratio)
        .filter(|ratio| (0.25..=4.0).contains(ratio))
        .collect()
}

/// The most one-to-one hits of equal keys within 50 ms, by augmenting paths; distances rounded to 4 decimals.
fn check_convention(json: &Value) {
    let onset_and_key = |note: &Value| {
        (
            note["onset_s"].as_f64().unwrap(),
            note["key"].as_u64().unwrap(),
        )
    };
    let notes = json["notes"].as_array().unwrap();
    let pitched = || {
        notes
            .iter()
            .filter(|note| !note["expected"]["key"].is_null())
    };
    let reference: Vec<(f64, u64)> = pitched()
        .map(|note| onset_and_key(&note["expected"]))
        .collect();
    let played = pitched()
        .map(|note| &note["played"])
        .filter(|played| !played.is_null());
    let estimated: Vec<(f64, u64)> = played
        .chain(json["extra"].as_array().unwrap())
        .map(onset_and_key)
        .collect();
    let fits = |a: &(f64, u64), b: &(f64, u64)| {
        a.1 == b.1 && ((a.0 - b.0).abs() * 1e4).round_ties_even() <= 500.0
    };
    let mut partner: Vec<Option<usize>> = vec![None; estimated.len()];
    let mut matched = 0;
    for from in 0..reference.len() {
        let mut seen = vec![false; estimated.len()];
        matched += usize::from(augment(
            from,
            &reference,
            &estimated,
            &fits,
            &mut partner,
            &mut seen,
        ));
    }
    let convention = &json["convention"];
    assert_eq!(convention["matched"], matched);
    let (precision, recall) = (
        matched as f64 / estimated.len() as f64,
        matched as f64 / reference.len() as f64,
    );
    close(&convention["precision"], precision);
    close(&convention["recall"], recall);
    close(
        &convention["f_measure"],
        2.0 * precision * recall / (precision + recall),
    );
}

type Onset = (f64, u64);

fn augment(
    from: usize,
    reference: &[Onset],
    estimated: &[Onset],
    fits: &impl Fn(&Onset, &Onset) -> bool,
    partner: &mut [Option<usize>],
    seen: &mut [bool],
) -> bool {
    for to in 0..estimated.len() {
        if seen[to] || !fits(&reference[from], &estimated[to]) {
            continue;
        }
        seen[to] = true;
        if partner[to].is_none_or(|other| augment(other, reference, estimated, fits, partner, seen))
        {
            partner[to] = Some(from);
            return true;
        }
    }
    false
}

fn check_findings(json: &Value) {
    for finding in json["findings"].as_array().unwrap() {
        let notes = finding["notes"].as_array().unwrap();
        assert_eq!(finding["count"], notes.len());
        assert!(finding["count"].as_u64() <= finding["of"].as_u64());
        let interval = finding["interval_ms"].as_array().map(Vec::as_slice);
        // The interval of an unsteadiness is that of a spread: there is no mean to it.
        if let (Some([low, high]), Some(mean)) = (interval, finding["mean_ms"].as_f64()) {
            assert!(low.as_f64().unwrap() <= mean && mean <= high.as_f64().unwrap());
        }
    }
}

#[test]
fn a_take_with_one_note_has_nulls_where_one_note_says_nothing() {
    let bench = Bench::new(SWUNG);
    let json = bench.check(&[note(0.0, 38, 100.0)], &[]);
    assert_valid(&schema(), &json);
    let sum = &json["summary"];
    assert_eq!(sum["offset_mean_ms"], 0.0);
    for name in ["offset_sd_ms", "swing_ratio", "tempo_drift_pct"] {
        assert!(sum[name].is_null(), "{name}");
    }
}
