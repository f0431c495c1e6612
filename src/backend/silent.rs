//! No audio device: frames follow the monotonic clock in real time, blocks are rendered and thrown away.

use super::{Config, Poll, Render, Session, SessionLost, virtual_time};
use crate::click::Stereo;
use crate::clock::frames::{frame_at, time_of};
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::time::Instant;

/// Where the time comes from: the time since the session was opened.
type Clock = Box<dyn FnMut() -> Nanos + Send>;

/// A session without sound in real time. It has no MIDI input of its own; see [`super::scripted`].
pub struct SilentSession {
    render: Box<dyn Render>,
    left: Vec<f32>,
    right: Vec<f32>,
    sample_rate: u32,
    next_frame: u64,
    clock: Clock,
}

impl SilentSession {
    /// Opens it; this cannot fail.
    pub fn open(config: &Config, render: Box<dyn Render>) -> SilentSession {
        let start = Instant::now();
        let elapsed = move || Nanos(i64::try_from(start.elapsed().as_nanos()).unwrap_or(i64::MAX));
        SilentSession::with_clock(config, render, Box::new(elapsed))
    }

    fn with_clock(config: &Config, mut render: Box<dyn Render>, clock: Clock) -> SilentSession {
        let sample_rate = config
            .sample_rate
            .unwrap_or(virtual_time::SAMPLE_RATE)
            .max(1);
        let period = config.period.unwrap_or(virtual_time::PERIOD).max(1);
        render.prepare(sample_rate);
        SilentSession {
            render,
            left: vec![0.0; period as usize],
            right: vec![0.0; period as usize],
            sample_rate,
            next_frame: 0,
            clock,
        }
    }
}

impl Session for SilentSession {
    fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    fn description(&self) -> String {
        format!("no sound, {} Hz", self.sample_rate)
    }

    fn poll(&mut self, _sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let now = frame_at((self.clock)(), self.sample_rate);
        let period = self.left.len() as u64;
        while (self.next_frame + period) as i64 <= now {
            let block = Stereo::new(&mut self.left, &mut self.right);
            self.render.render(self.next_frame, block);
            self.next_frame += period;
        }
        Ok(Poll::exact(time_of(
            self.next_frame as i64,
            self.sample_rate,
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::click::Silence;

    #[test]
    fn whole_periods_follow_the_clock() {
        let mut times = [0, 1, 2, 40, 41].map(Nanos::from_ms).into_iter();
        let clock = Box::new(move || times.next().unwrap());
        let config = Config {
            sample_rate: Some(1000),
            period: Some(2),
            ..Config::default()
        };
        let mut session = SilentSession::with_clock(&config, Box::new(Silence), clock);
        let mut watermark = || session.poll(&mut |_| {}).unwrap().watermark;
        let seen = [(); 5].map(|()| watermark());
        assert_eq!(seen, [0, 0, 2, 40, 40].map(Nanos::from_ms));
    }
}
