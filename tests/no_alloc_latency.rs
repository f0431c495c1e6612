//! The bursts' renderer runs in the audio callback: it must not allocate.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use leadsman::click::{Level, Render, Stereo};
use leadsman::latency::bursts::BurstRenderer;
use leadsman::latency::{Burst, Schedule};
use leadsman::units::Nanos;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn playing_bursts_does_not_allocate() {
    let schedule = Schedule::new(Nanos::from_ms(100), 100, 1);
    let last: Burst = schedule.bursts()[99];
    let mut renderer = BurstRenderer::new(schedule, Level::default());
    renderer.prepare(48_000);
    let (mut block, mut right) = ([0f32; 64], [0f32; 64]);
    let mut loudest = 0f32;
    assert_no_alloc(|| {
        for n in 0..(last.at.seconds() as u64 + 2) * 750 {
            renderer.render(64 * n, Stereo::new(&mut block, &mut right));
            loudest = block.iter().fold(loudest, |loudest, s| loudest.max(*s));
        }
    });
    assert!(loudest > 0.1);
}
