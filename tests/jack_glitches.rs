//! A callback that stalls on a real JACK server: the frames that are left out are told as a glitch.
#![cfg(feature = "jack")]

mod support;

use leadsman::backend::{Backend, Config, MidiChoice, Render};
use leadsman::clock::glitch::{Glitch, GlitchKind};
use leadsman::units::Nanos;
use std::time::{Duration, Instant};
use support::jack_server::with_server;

/// Silence that holds the callback up once, half a second into the stream.
struct Stalling {
    stalls_at: u64,
}

impl Render for Stalling {
    fn prepare(&mut self, sample_rate: u32) {
        self.stalls_at = u64::from(sample_rate) / 2;
    }

    fn render(&mut self, first_frame: u64, out: &mut [f32]) {
        out.fill(0.0);
        if first_frame >= self.stalls_at {
            self.stalls_at = u64::MAX;
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

#[test]
fn frames_that_the_server_leaves_out_are_a_glitch() {
    with_server(
        "frames_that_the_server_leaves_out_are_a_glitch",
        128,
        || {
            let config = Config {
                midi: MidiChoice::Absent,
                ..Config::default()
            };
            let mut session = Backend::Jack
                .open(&config, Box::new(Stalling { stalls_at: 0 }))
                .expect("a session");
            let mut glitches: Vec<Glitch> = Vec::new();
            let start = Instant::now();
            loop {
                let poll = session.poll(&mut |_| {}).expect("a server that lives");
                glitches.extend(poll.glitch);
                if poll.watermark > Nanos::from_ms(1500) {
                    eprintln!(
                        "DBG {:?} {:?} wall {:?}",
                        poll.counters,
                        poll.watermark,
                        start.elapsed()
                    );
                    break;
                }
                assert!(start.elapsed() < Duration::from_secs(20), "{glitches:?}");
                std::thread::sleep(Duration::from_millis(1));
            }
            let stalled = glitches.iter().find(|glitch| {
                glitch.from > Nanos::from_ms(450) && glitch.from < Nanos::from_ms(600)
            });
            let stalled = stalled.unwrap_or_else(|| panic!("{glitches:?}"));
            assert_eq!(stalled.what, GlitchKind::Xrun);
            let length = stalled.until - stalled.from;
            assert!(length > Nanos::from_ms(100), "{stalled:?}");
        },
    );
}
