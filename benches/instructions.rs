//! Instruction counts, which do not depend on what else the machine does: for telling whether a change made something
//! slower.
//!
//! `cargo bench --bench instructions`. Needs valgrind and the runner of the same version as the `gungraun` in Cargo.lock:
//! `cargo install gungraun-runner --version 0.20.0`.
#![allow(missing_docs)]

mod support;

use gungraun::prelude::*;
use leadsman::click::{ClickRenderer, ClickTrack, Level, Pattern, Render, Stereo};
use leadsman::judge::{Judge, Settings};
use leadsman::midi::smf::{self, SmfFile};
use leadsman::played::TimedMessage;
use leadsman::units::Nanos;
use std::hint::black_box;
use std::sync::Arc;

/// A judge in the middle of a take, and the events that come next.
struct Take {
    judge: Judge,
    events: Vec<TimedMessage>,
}

/// A clean take, `events` of it still to come.
fn clean(events: usize) -> Take {
    let expected = support::expected(1_000);
    take(&expected, support::take(&expected, "steady"), 200, events)
}

/// A take of which one phrase is still to come, a beat late: three bars and the two after them.
fn displaced() -> Take {
    let expected = support::expected(200);
    let events = support::displaced_phrases(&expected);
    let bar = |number: usize| expected.bars[number].onset;
    let before = events.partition_point(|event| event.at < bar(10));
    let phrase = events.partition_point(|event| event.at < bar(15)) - before;
    take(&expected, events, before, phrase)
}

fn take(
    expected: &Arc<leadsman::expected::Expected>,
    events: Vec<TimedMessage>,
    before: usize,
    count: usize,
) -> Take {
    let mut judge = Judge::new(Arc::clone(expected), &Settings::default());
    events[..before].iter().for_each(|event| judge.push(*event));
    Take {
        judge,
        events: events[before..before + count].to_vec(),
    }
}

#[library_benchmark]
#[bench::clean_1000_events(clean(1_000))]
#[bench::displaced_phrase(displaced())]
fn judge_events(mut take: Take) -> Take {
    for event in &take.events {
        take.judge.push(*event);
        take.judge.advance(event.at);
    }
    black_box(take)
}

/// Two tones overlap in the block of 64 frames that follows.
fn sounding() -> (ClickRenderer, u64) {
    let line = support::clicks::steady(9600, 4000);
    let track = ClickTrack::new(&line, 0, Pattern::Beats);
    let mut renderer = ClickRenderer::new(track, Nanos::from_ms(1000), Level::CAP);
    renderer.prepare(48_000);
    renderer.render(0, Stereo::new(&mut [], &mut []));
    let frame = renderer.frames()[2000] + 64;
    (renderer, frame)
}

#[library_benchmark]
#[bench::clicks_overlap(sounding())]
fn render_block((mut renderer, frame): (ClickRenderer, u64)) -> (ClickRenderer, [f32; 64]) {
    let (mut out, mut right) = ([0.0; 64], [0.0; 64]);
    let block = Stereo::new(&mut out, &mut right);
    renderer.render(frame, black_box(block));
    (renderer, out)
}

fn file(notes: usize) -> Vec<u8> {
    let expected = support::expected(notes);
    let events = support::take(&expected, "steady");
    support::files::foreign(&events, Nanos::ZERO)
}

#[library_benchmark]
#[bench::notes_10k(file(10_000))]
fn read_smf(bytes: Vec<u8>) -> Option<SmfFile> {
    black_box(smf::read(black_box(&bytes)).ok())
}

library_benchmark_group!(
    name = path,
    benchmarks = [judge_events, render_block, read_smf]
);

main!(library_benchmark_groups = path);
