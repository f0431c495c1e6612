//! Live judging, event by event: `Judge::push` and the `Judge::advance` that follows it.
//!
//! `cargo bench --bench judge` prints two tables and then runs criterion, which gives means of a whole take:
//! - how the time of single events is distributed (the aim is a median of 5 µs at most);
//! - what an event costs in takes made to be hard, at growing lengths: it must not grow with them.
#![allow(missing_docs)]

mod support;

use criterion::{BatchSize, Criterion, Throughput};
use leadsman::expected::Expected;
use leadsman::judge::{Judge, Settings};
use leadsman::played::TimedMessage;
use leadsman::units::Nanos;
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Half as many notes make 100 000 events.
const NOTES: usize = 50_000;

type Playing = (&'static str, Vec<TimedMessage>);

fn playings(expected: &Expected) -> [Playing; 4] {
    [
        ("clean", support::take(expected, "steady")),
        ("sloppy", support::take(expected, support::SLOPPY)),
        ("patchy", support::take(expected, "patchy")),
        ("displaced phrases", support::displaced_phrases(expected)),
    ]
}

fn hear(judge: &mut Judge, event: TimedMessage) {
    judge.push(event);
    judge.advance(event.at);
}

/// The time of each event, sorted.
fn event_times(expected: &Arc<Expected>, events: &[TimedMessage]) -> Vec<Duration> {
    let mut judge = Judge::new(Arc::clone(expected), &Settings::default());
    let timed = |event: &TimedMessage| {
        let begun = Instant::now();
        hear(&mut judge, black_box(*event));
        begun.elapsed()
    };
    let mut times: Vec<Duration> = events.iter().map(timed).collect();
    black_box(judge.finish());
    times.sort_unstable();
    times
}

fn print_distribution() {
    let expected = support::expected(NOTES);
    println!(
        "{:<20} {:>8} {:>10} {:>10} {:>10} {:>10}",
        "µs an event", "events", "p50", "p99", "p99.9", "max"
    );
    for (name, events) in playings(&expected) {
        let times = event_times(&expected, &events);
        let at = |share: f64| micros(times[((times.len() - 1) as f64 * share) as usize]);
        println!(
            "{name:<20} {:>8} {:>10.2} {:>10.2} {:>10.2} {:>10.1}",
            times.len(),
            at(0.5),
            at(0.99),
            at(0.999),
            at(1.0)
        );
    }
}

fn micros(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

/// Takes in which nothing is plain, by the number of notes.
fn hard(notes: usize) -> Vec<(&'static str, Arc<Expected>, Vec<TimedMessage>)> {
    let (line, one_pitch) = (support::expected(notes), support::one_pitch(notes));
    let exact = |expected: &Expected| support::take(expected, "exact");
    // An eighth at 120 lasts 250 ms.
    let half_way = support::moved(exact(&one_pitch), Nanos::from_ms(125));
    let a_beat_late = support::moved(exact(&line), line.notes[0].beat);
    let unrelated = support::unrelated(&line, 1);
    let unrelated_to_one = support::unrelated(&one_pitch, 2);
    let sloppy = support::take(&one_pitch, support::SLOPPY);
    vec![
        ("one pitch, half-way", Arc::clone(&one_pitch), half_way),
        ("one pitch, sloppy", Arc::clone(&one_pitch), sloppy),
        ("one pitch, unrelated", one_pitch, unrelated_to_one),
        ("unrelated", Arc::clone(&line), unrelated),
        ("a beat late throughout", line, a_beat_late),
    ]
}

fn print_growth() {
    println!(
        "\n{:<24} {:>9} {:>12} {:>10}",
        "takes made to be hard", "events", "µs an event", "max"
    );
    for notes in [10_000, 30_000, 100_000] {
        for (name, expected, events) in hard(notes) {
            let times = event_times(&expected, &events);
            let mean = micros(times.iter().sum::<Duration>()) / times.len() as f64;
            let max = times.last().copied().map_or(0.0, micros);
            println!("{name:<24} {:>9} {mean:>12.2} {max:>10.1}", times.len());
        }
    }
}

fn whole_takes(criterion: &mut Criterion) {
    let expected = support::expected(5_000);
    let mut group = criterion.benchmark_group("judging");
    for (name, events) in playings(&expected) {
        group.throughput(Throughput::Elements(events.len() as u64));
        group.bench_function(name, |bencher| {
            bencher.iter_batched_ref(
                || Judge::new(Arc::clone(&expected), &Settings::default()),
                |judge| events.iter().for_each(|event| hear(judge, *event)),
                BatchSize::LargeInput,
            );
        });
    }
    group.finish();
}

fn main() {
    // Only `cargo bench` asks for figures; as a test, the benches are but run.
    if std::env::args().any(|argument| argument == "--bench") {
        print_distribution();
        print_growth();
    }
    let mut criterion = Criterion::default().configure_from_args();
    whole_takes(&mut criterion);
    criterion.final_summary();
}
