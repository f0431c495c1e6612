//! How often the 95 % interval of an effect holds the truth: the model against values whose law is known.
//!
//! `MODEL_TAKES=4000 cargo test --release --test findings_model -- --nocapture` measures on more takes than the default
//! and prints every cell.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::{Evidence, Heard};
use leadsman::findings::model::Model;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::sync::Arc;

/// Rests on and off the beat, eighths and quarters.
const TEXT: &str = "r/8 A1/8 D2/8 E2/8 r/4 A2/8 G2/8 | D2/4 C2/8 A1/8 r/8 F2/8 D2/4 | r/4 E2/8 G2/8 A2/4 G2/8 E2/8";

/// A line of that many notes or a few more; its first ones are looked at.
fn expected(notes: usize) -> Arc<Expected> {
    let of = |passes: usize| {
        let passes = vec!["0"; passes].join(", ");
        let toml = format!(
            "title = \"Model\"\nmeter = \"4/4\"\ntempo = 110\n[[section]]\nname = \"A\"\npasses = [{passes}]\nnotes = \"{TEXT}\"\n"
        );
        let line = parse(&toml, "line.toml")
            .unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)));
        unroll(&line, Speed::WRITTEN)
    };
    Arc::new(of(notes.div_ceil(of(1).notes.len())))
}

/// Values with that spread whose neighbours are alike by that much, on a slow wave of 20 ms.
fn values(heard: &[Heard], spread: f64, alike: f64, chance: &mut ChaCha8Rng) -> Vec<f64> {
    const WAVE_MS: f64 = 20.0;
    const WAVE_BEATS: f64 = 64.0;
    let mut last: f64 = StandardNormal.sample(chance);
    let value = |heard: &Heard| {
        let fresh: f64 = StandardNormal.sample(chance);
        let here = last;
        last = alike * last + (1.0 - alike * alike).sqrt() * fresh;
        let beats = heard.note.onset.ms() / heard.note.beat.ms();
        spread * here + WAVE_MS * (std::f64::consts::TAU * beats / WAVE_BEATS).sin()
    };
    heard.iter().map(value).collect()
}

/// A kind of note and which notes are of it.
type Kind = (&'static str, fn(usize, &Heard) -> bool);

const KINDS: [Kind; 3] = [
    ("upbeats", |_, heard| heard.note.is.upbeat),
    ("entries", |_, heard| heard.note.is.entry),
    ("every fourth", |index, _| index % 4 == 0),
];

fn takes() -> u64 {
    let set = std::env::var("MODEL_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(200)
}

#[test]
fn the_interval_of_an_effect_holds_the_truth_in_95_of_100_takes() {
    let takes = takes();
    let (mut all, mut worst) = ([0, 0], [1.0f64, 0.0]);
    for notes in [16, 48, 120, 400] {
        let expected = expected(notes);
        let settings = Settings::default();
        let exact = play(&expected, &Habits::default(), 0);
        let judgement = judge(Arc::clone(&expected), &settings, exact.into_iter());
        let mut evidence = Evidence::new(&expected, &judgement, &settings.windows);
        evidence.heard.truncate(notes);
        let mut chance = ChaCha8Rng::seed_from_u64(notes as u64);
        for (spread, alike) in [(6.0, 0.0), (6.0, 0.25), (30.0, 0.0), (30.0, 0.25)] {
            let mut held = [0u64; 2 * KINDS.len()];
            for _ in 0..takes {
                let plain = values(&evidence.heard, spread, alike, &mut chance);
                for (cell, held) in held.iter_mut().enumerate() {
                    let (_, is_of_kind) = KINDS[cell / 2];
                    let size = [0.0, 30.0][cell % 2];
                    let of = |(index, heard)| f64::from(u8::from(is_of_kind(index, heard)));
                    let column: Vec<f64> = evidence.heard.iter().enumerate().map(of).collect();
                    let values: Vec<f64> = std::iter::zip(&plain, &column)
                        .map(|(plain, share)| plain + size * share)
                        .collect();
                    let estimate = Model::new(&values, &evidence.heard)
                        .ask(&column)
                        .expect("enough notes");
                    let [low, high] = estimate.interval();
                    *held += u64::from((low..=high).contains(&size));
                }
            }
            for (cell, held) in held.iter().enumerate() {
                let share = *held as f64 / takes as f64;
                println!(
                    "{notes} notes, spread {spread}, correlation {alike}, {} {} ms: held in {:.1} %",
                    KINDS[cell / 2].0,
                    [0, 30][cell % 2],
                    100.0 * share,
                );
                worst = [worst[0].min(share), worst[1].max(share)];
                all[0] += held;
                all[1] += takes;
            }
        }
    }
    let share = all[0] as f64 / all[1] as f64;
    println!("all: {:.2} %, cells {worst:?}", 100.0 * share);
    assert!((0.94..=0.965).contains(&share), "held in {share} of all");
    // Three standard errors of a cell beyond 93 to 97 %.
    let chance = 3.0 * (0.05 * 0.95 / takes as f64).sqrt();
    assert!(
        worst[0] >= 0.93 - chance && worst[1] <= 0.97 + chance,
        "{worst:?}"
    );
}
