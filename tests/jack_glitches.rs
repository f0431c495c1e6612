//! A callback that stalls on a real JACK server: what the server was late with is told as a glitch.
#![cfg(feature = "jack")]

mod support;

use leadsman::backend::{Backend, Config, MidiChoice, Render};
use leadsman::click::Stereo;
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

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        out.silence();
        if first_frame >= self.stalls_at {
            self.stalls_at = u64::MAX;
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

/// What is told up to 1.5 s, and how late blocks were.
fn glitches_of_a_stall() -> (Vec<Glitch>, u64) {
    let config = Config {
        midi: MidiChoice::Absent,
        ..Config::default()
    };
    let mut session = Backend::Jack
        .open(&config, Box::new(Stalling { stalls_at: 0 }))
        .expect("a session");
    let mut glitches = Vec::new();
    let start = Instant::now();
    loop {
        let poll = session.poll(&mut |_| {}).expect("a server that lives");
        glitches.extend(poll.glitch);
        if poll.watermark > Nanos::from_ms(1500) {
            return (glitches, poll.counters.xruns);
        }
        assert!(start.elapsed() < Duration::from_secs(20), "{glitches:?}");
        std::thread::sleep(Duration::from_millis(1));
    }
}

#[test]
fn a_callback_that_stalls_is_a_glitch() {
    with_server("a_callback_that_stalls_is_a_glitch", 128, || {
        let (glitches, xruns) = glitches_of_a_stall();
        assert!(xruns > 0);
        // The block that stalled begins at 500 ms.
        let stalled = |glitch: &&Glitch| glitch.has(Nanos::from_ms(501));
        let stalled = glitches.iter().find(stalled);
        let stalled = stalled.unwrap_or_else(|| panic!("{glitches:?}"));
        assert_eq!(stalled.what, GlitchKind::Xrun);
        let length = stalled.until - stalled.from;
        assert!(length < Nanos::from_ms(400), "{stalled:?}");
    });
}
