//! The audio callback: one block of 64 frames at 48 kHz, as a share of the 1333 µs that it lasts (the aim is 5 % at most).
//!
//! `cargo bench --bench callback` prints the shares, then criterion measures means.
#![allow(missing_docs)]

mod support;

use criterion::Criterion;
use leadsman::click::{ClickRenderer, ClickSound, ClickTrack, Level, Pattern, Render, Stereo};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use leadsman::tone::LineAndClick;
use leadsman::units::Nanos;
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};
use support::{clicks, room};

const RATE: u32 = 48_000;
const BLOCK: usize = 64;
const PERIOD: Duration = Duration::from_nanos(1_000_000_000 * BLOCK as u64 / RATE as u64);

/// The notes are begun anew after so many blocks, 0.4 s: they still sound.
const SOUNDING: u64 = 300;

type Block = dyn FnMut(Stereo<'_>);

struct Case {
    name: &'static str,
    /// Renders the block that is measured.
    render: Box<Block>,
}

fn cases() -> [Case; 6] {
    // A day of clicks, so that a search for the present one would show.
    let long = clicks::steady(120, 172_800);
    let crowded = clicks::steady(9600, 4000);
    [
        case("silence between clicks", long.clone(), 100_000, 12_000),
        case("a click begins", long.clone(), 100_000, 0),
        case("a click sounds", long, 100_000, 64),
        // 300 frames apart: the tone before still sounds.
        case("clicks overlap", crowded, 2000, 64),
        in_a_room(),
        double_stop(),
    ]
}

/// Two strings and the click, one block after the other.
fn double_stop() -> Case {
    let text = "title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\nnotes = \"E1+B1/1\"";
    let line = parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let expected = Arc::new(unroll(&line, Speed::WRITTEN));
    let track = ClickTrack::new(&expected, 0, Pattern::Beats);
    let mut fresh = LineAndClick::new(expected, track, Nanos::ZERO, Level::CAP);
    fresh.prepare(RATE);
    let (mut sounding, mut block) = (fresh.clone(), 0);
    let render = move |out: Stereo<'_>| {
        if block == SOUNDING {
            (sounding, block) = (fresh.clone(), 0);
        }
        sounding.render(black_box(block * BLOCK as u64), out);
        block += 1;
    };
    Case {
        name: "a double stop and click",
        render: Box::new(render),
    }
}

/// The block `after` frames behind a click.
fn case(name: &'static str, line: leadsman::expected::Expected, click: usize, after: u64) -> Case {
    let track = ClickTrack::new(&line, 0, Pattern::Beats);
    let mut renderer = ClickRenderer::new(track, Nanos::from_ms(1000), Level::CAP);
    renderer.prepare(RATE);
    let frame = renderer.frames()[click] + after;
    // The clicks before the first block are left out.
    renderer.render(0, Stereo::new(&mut [], &mut []));
    Case {
        name,
        render: Box::new(move |out| renderer.render(black_box(frame), out)),
    }
}

/// The overlapping clicks, through the switch of a room.
fn in_a_room() -> Case {
    let line = Arc::new(clicks::steady(9600, 4000));
    let track = ClickTrack::new(&line, 0, Pattern::Beats);
    let mut room = room::playing(line, track, ClickSound::from(Level::CAP));
    let frame = room.origin + 2000 * 300 + 64;
    Case {
        name: "clicks overlap, a room",
        render: Box::new(move |out| room.switch.render(black_box(frame), out)),
    }
}

fn print_shares(cases: &mut [Case]) {
    println!(
        "{:<24} {:>9} {:>9} {:>9} {:>12}",
        "µs a block of 64", "p50", "p99.9", "max", "p50 share"
    );
    for case in cases {
        let (mut left, mut right) = ([0.0; BLOCK], [0.0; BLOCK]);
        let mut timed = || {
            let begun = Instant::now();
            (case.render)(Stereo::new(&mut left, &mut right));
            black_box((&left, &right));
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
        let (mut left, mut right) = ([0.0; BLOCK], [0.0; BLOCK]);
        group.bench_function(case.name, |bencher| {
            bencher.iter(|| {
                (case.render)(Stereo::new(black_box(&mut left), black_box(&mut right)));
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
