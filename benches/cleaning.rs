//! What the clean-up stage adds to an event: `cargo bench --bench cleaning` prints a table.
//!
//! Each figure is the best of several whole takes, in ns an event: the stage alone, judging as it came (`--keep all`)
//! and judging cleaned. It must not grow with the length of the take.
#![allow(missing_docs)]

mod support;

use leadsman::expected::Expected;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::played::TimedMessage;
use leadsman::played::cleanup::{Cleanup, Rules};
use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

const PLAYERS: [(&str, &str); 3] = [
    ("steady", "steady"),
    ("bad converter, one channel", "bad-converter"),
    (
        "bad converter, a channel a string",
        "bad-converter,string-channels=1",
    ),
];

/// The best of several runs, in ns an event.
fn best(events: &[TimedMessage], runs: usize, run: impl Fn(&[TimedMessage])) -> f64 {
    let time = |_| {
        let begun = Instant::now();
        run(black_box(events));
        begun.elapsed()
    };
    let best = (0..runs).map(time).min().unwrap_or_default();
    best.as_secs_f64() * 1e9 / events.len() as f64
}

fn clean(events: &[TimedMessage]) {
    let mut stage = Cleanup::for_notes(Rules::ALL, events.len());
    for event in events {
        stage.push(*event, &mut |message| {
            black_box(message);
        });
    }
    stage.finish(&mut |message| {
        black_box(message);
    });
}

fn judged(expected: &Arc<Expected>, rules: Rules, events: &[TimedMessage]) {
    let settings = Settings {
        cleanup: rules,
        ..Settings::default()
    };
    black_box(judge(
        Arc::clone(expected),
        &settings,
        events.iter().copied(),
    ));
}

fn main() {
    let asked = std::env::args().any(|argument| argument == "--bench");
    let (lengths, runs): (&[usize], usize) = if asked {
        (&[10_000, 100_000], 9)
    } else {
        (&[100], 1)
    };
    println!(
        "{:<36} {:>8} {:>10} {:>14} {:>14}",
        "ns an event", "events", "stage", "judged as came", "judged clean"
    );
    for notes in lengths {
        let expected = support::expected(*notes);
        for (name, habits) in PLAYERS {
            let events = support::take(&expected, habits);
            let stage = best(&events, runs, clean);
            let as_came = best(&events, runs, |e| judged(&expected, Rules::NONE, e));
            let cleaned = best(&events, runs, |e| judged(&expected, Rules::ALL, e));
            println!(
                "{name:<36} {:>8} {stage:>10.0} {as_came:>14.0} {cleaned:>14.0}",
                events.len()
            );
        }
    }
}
