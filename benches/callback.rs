//! The audio callback: one block of 64 frames at 48 kHz, as a share of the 1333 µs that it lasts (the aim is 5 % at most).
//!
//! `cargo bench --bench callback` prints the shares, then criterion measures means.
#![allow(missing_docs)]

mod support;

use criterion::Criterion;
use leadsman::click::{ClickRenderer, ClickTrack, Level, Pattern, Render};
use leadsman::units::Nanos;
use std::hint::black_box;
use std::time::{Duration, Instant};
use support::clicks;

const RATE: u32 = 48_000;
const BLOCK: usize = 64;
const PERIOD: Duration = Duration::from_nanos(1_000_000_000 * BLOCK as u64 / RATE as u64);

struct Case {
    name: &'static str,
    renderer: ClickRenderer,
    /// The first frame of the block that is measured.
    frame: u64,
}

fn cases() -> [Case; 4] {
    // A day of clicks, so that a search for the present one would show.
    let long = clicks::steady(120, 172_800);
    let crowded = clicks::steady(9600, 4000);
    [
        case("silence between clicks", long.clone(), 100_000, 12_000),
        case("a click begins", long.clone(), 100_000, 0),
        case("a click sounds", long, 100_000, 64),
        // 300 frames apart: the tone before still sounds.
        case("clicks overlap", crowded, 2000, 64),
    ]
}

/// The block `after` frames behind a click.
fn case(name: &'static str, line: leadsman::expected::Expected, click: usize, after: u64) -> Case {
    let track = ClickTrack::new(&line, 0, Pattern::Beats);
    let mut renderer = ClickRenderer::new(track, Nanos::from_ms(1000), Level::CAP);
    renderer.prepare(RATE);
    Case {
        name,
        frame: renderer.frames()[click] + after,
        renderer,
    }
}

fn print_shares(cases: &mut [Case]) {
    println!(
        "{:<24} {:>9} {:>9} {:>9} {:>12}",
        "µs a block of 64", "p50", "p99.9", "max", "p50 share"
    );
    for case in cases {
        let mut out = [0.0; BLOCK];
        let mut timed = || {
            let begun = Instant::now();
            case.renderer.render(black_box(case.frame), &mut out);
            black_box(&out);
            begun.elapsed()
        };
        let mut times: Vec<Duration> = (0..100_000).map(|_| timed()).collect();
        times.sort_unstable();
        let micros = |index: usize| times[index].as_secs_f64() * 1e6;
        let share = times[times.len() / 2].as_secs_f64() / PERIOD.as_secs_f64();
        println!(
            "{:<24} {:>9.3} {:>9.3} {:>9.2} {:>10.3} %",
            case.name,
            micros(times.len() / 2),
            micros(times.len() * 999 / 1000),
            micros(times.len() - 1),
            100.0 * share
        );
    }
}

fn blocks(criterion: &mut Criterion, cases: &mut [Case]) {
    let mut group = criterion.benchmark_group("callback");
    for case in cases {
        let mut out = [0.0; BLOCK];
        group.bench_function(case.name, |bencher| {
            bencher.iter(|| {
                case.renderer
                    .render(black_box(case.frame), black_box(&mut out))
            });
        });
    }
    group.finish();
}

fn main() {
    let mut cases = cases();
    // Only `cargo bench` asks for figures; as a test, the benches are but run.
    if std::env::args().any(|argument| argument == "--bench") {
        print_shares(&mut cases);
    }
    let mut criterion = Criterion::default().configure_from_args();
    blocks(&mut criterion, &mut cases);
    criterion.final_summary();
}
