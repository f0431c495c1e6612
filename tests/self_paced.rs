//! Clock and hand, split without the click: against simulated players, and why not with the click.
//!
//! `SELF_PACED_TAKES=1000 cargo test --release --test self_paced -- --nocapture` measures on more takes.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::findings::evidence::Evidence;
use leadsman::findings::self_paced::{FEWEST_INTERVALS, WhyNot, split};
use leadsman::findings::tell;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::play;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::sync::Arc;

struct Player {
    chance: ChaCha8Rng,
    clock_ms: f64,
    hand_ms: f64,
}

impl Player {
    fn new(seed: u64, clock_ms: f64, hand_ms: f64) -> Player {
        Player {
            chance: ChaCha8Rng::seed_from_u64(seed),
            clock_ms,
            hand_ms,
        }
    }

    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.chance)
    }

    /// Intervals of about 500 ms, each stretch with a tempo and a slope of its own.
    fn stretches(&mut self, count: usize, length: usize) -> Vec<Vec<f64>> {
        let one = |player: &mut Player| {
            let beat = 500.0 + 10.0 * player.normal();
            let slope = player.normal();
            let mut hand = player.hand_ms * player.normal();
            (0..length)
                .map(|i| {
                    let next = player.hand_ms * player.normal();
                    let clock = beat + slope * i as f64 + player.clock_ms * player.normal();
                    let interval = clock + next - hand;
                    hand = next;
                    interval
                })
                .collect()
        };
        (0..count).map(|_| one(self)).collect()
    }
}

fn takes() -> usize {
    let set = std::env::var("SELF_PACED_TAKES").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(60)
}

#[test]
fn clock_and_hand_are_found_again_and_lie_in_their_intervals() {
    for (count, length) in [(12, 4), (32, 4), (4, 16), (16, 8), (8, 32)] {
        let (mut sums, mut inside, mut refused) = ([0.0; 2], [0; 2], 0);
        let mut widths = [0.0; 2];
        for seed in 0..takes() as u64 {
            let stretches = Player::new(seed, 20.0, 8.0).stretches(count, length);
            let Ok(split) = split(&stretches) else {
                refused += 1;
                continue;
            };
            let both = [
                (split.clock_ms, split.clock_interval_ms, 20.0),
                (split.hand_ms, split.hand_interval_ms, 8.0),
            ];
            for (index, (found, [low, high], true_ms)) in both.into_iter().enumerate() {
                sums[index] += found * found;
                inside[index] += usize::from((low..=high).contains(&true_ms));
                widths[index] += high - low;
            }
        }
        let counted = (takes() - refused) as f64;
        let [clock, hand] = sums.map(|sum| (sum / counted).sqrt());
        let held = inside.map(|inside| 100.0 * inside as f64 / counted);
        let widths = widths.map(|width| width / counted);
        println!(
            "{count} stretches of {length}: clock {clock:.1}, hand {hand:.1}, held {held:?} %, width {widths:?}, refused {refused} of {}",
            takes()
        );
        // A variance below 0 counts as 0, which lifts the mean where intervals are few.
        if count * length >= 128 {
            assert!((clock - 20.0).abs() < 2.0, "{clock}");
            assert!((5.0..12.0).contains(&hand), "{hand}");
        }
        assert!(held.iter().all(|held| *held >= 85.0), "{held:?}");
        assert!(refused as f64 <= 0.05 * takes() as f64, "{refused}");
    }
}

#[test]
fn what_the_model_is_not_made_for_is_refused_with_the_reason() {
    let mut player = Player::new(1, 20.0, 8.0);
    let few = player.stretches(11, 4);
    assert_eq!(split(&few), Err(WhyNot::TooFew(44)));
    const { assert!(FEWEST_INTERVALS > 44) };
    // Stretches of three count for nothing.
    assert_eq!(split(&player.stretches(40, 3)), Err(WhyNot::TooFew(0)));
    let mut left_out = player.stretches(10, 8);
    left_out[3][2] *= 2.0;
    assert!(matches!(split(&left_out), Err(WhyNot::NotOneBeat(ms)) if ms > 900.0));
    let wandering: Vec<Vec<f64>> = (0..4)
        .map(|stretch| {
            (0..32)
                .map(|i| 500.0 + 30.0 * (f64::from(i + stretch) / 4.0).sin() + player.normal())
                .collect()
        })
        .collect();
    assert_eq!(split(&wandering), Err(WhyNot::Wanders));
    let swapped: Vec<Vec<f64>> = (0..8)
        .map(|_| {
            (0..16)
                .map(|i| 500.0 + if i % 2 == 0 { 20.0 } else { -20.0 } + player.normal())
                .collect()
        })
        .collect();
    assert!(
        split(&swapped).is_err(),
        "long and short in turn is a figure"
    );
}

/// Vorberg & Wing 1996 (references; first order, the correction α of the last offset): Var(A) = (σT² + 2 α σM²) / (α (2 − α)), lag-1
/// autocovariance (1 − α) Var(A) − σM². So the covariances of intervals are those of the correction too, and the split finds
/// another clock and another hand than there are.
#[test]
fn with_a_click_the_split_would_be_wrong() {
    let (alpha, clock_ms, hand_ms) = (0.5, 20.0f64, 8.0f64);
    let mut player = Player::new(2, clock_ms, hand_ms);
    let count = 200_000;
    let mut hand = hand_ms * player.normal();
    let mut offset = 0.0;
    let mut offsets = Vec::with_capacity(count);
    for _ in 0..count {
        let next = hand_ms * player.normal();
        offset = (1.0 - alpha) * offset + clock_ms * player.normal() + next - hand;
        hand = next;
        offsets.push(offset);
    }
    let lagged = |lag: usize| {
        let products = std::iter::zip(&offsets, &offsets[lag..]).map(|(a, b)| a * b);
        products.sum::<f64>() / (count - lag) as f64
    };
    let variance = (clock_ms.powi(2) + 2.0 * alpha * hand_ms.powi(2)) / (alpha * (2.0 - alpha));
    let lag_1 = (1.0 - alpha) * variance - hand_ms.powi(2);
    assert!(
        (lagged(0) / variance - 1.0).abs() < 0.02,
        "{} {variance}",
        lagged(0)
    );
    assert!(
        (lagged(1) / lag_1 - 1.0).abs() < 0.03,
        "{} {lag_1}",
        lagged(1)
    );
    // I = beat + A' − A: γ(0) = 2 (a0 − a1), γ(1) = 2 a1 − a0 − a2 with a2 = (1 − α) a1.
    let gamma_0 = 2.0 * (variance - lag_1);
    let gamma_1 = 2.0 * lag_1 - variance - (1.0 - alpha) * lag_1;
    let (clock, hand) = ((gamma_0 + 2.0 * gamma_1).sqrt(), (-gamma_1).sqrt());
    println!("with a click, clock 20 and hand 8 would look like {clock:.1} and {hand:.1}");
    assert!(clock < 16.0 && hand > 15.0);
    let intervals: Vec<Vec<f64>> = offsets
        .chunks(33)
        .take(64)
        .map(|run| {
            run.windows(2)
                .map(|pair| 500.0 + pair[1] - pair[0])
                .collect()
        })
        .collect();
    if let Ok(split) = split(&intervals) {
        assert!((split.clock_ms - 20.0).abs() > 2.0 && (split.hand_ms - 8.0).abs() > 4.0);
    }
}

/// A stand-in with a clock and a hand of its own, in a line of quarter notes with the click off for eight bars of twelve.
#[test]
fn a_stand_in_without_the_click_is_split_into_its_clock_and_its_hand() {
    let bars = ["A1/4 A1/4 E2/4 A1/4"; 96].join(" | ");
    let text = format!(
        "title = \"Night Watch\"\nmeter = \"4/4\"\ntempo = 110\n[[section]]\nname = \"A\"\nnotes = \"{bars}\"\n"
    );
    let line = parse(&text, "line.toml").expect("a line");
    let mut expected = unroll(&line, Speed::WRITTEN);
    expected.silence("4:8".parse().expect("bars"));
    let expected = Arc::new(expected);
    let settings = Settings::default();
    let split_of = |habits: &str| {
        let habits = habits.parse().expect("habits");
        let played = play(&expected, &habits, 3).into_iter();
        let judgement = judge(Arc::clone(&expected), &settings, played);
        tell(&Evidence::new(&expected, &judgement, &settings.windows)).self_paced
    };
    let split = split_of("clock-ms=20,hand-ms=8")
        .expect("silent bars")
        .expect("a split");
    // Of 256 the last has no beat after it.
    assert_eq!(split.intervals, 255);
    let holds = |[low, high]: [f64; 2], truth: f64| (low..=high).contains(&truth);
    assert!(holds(split.clock_interval_ms, 20.0), "{split:?}");
    assert!(holds(split.hand_interval_ms, 8.0), "{split:?}");
    assert!(
        split.clock_interval_ms[1] - split.clock_interval_ms[0] < 16.0,
        "{split:?}"
    );
}
