//! Virtual time: every poll renders one period and moves the stream on by it. Nothing is heard and nothing waits.

use super::{Config, Poll, Render, Session, SessionLost};
use crate::click::Stereo;
use crate::clock::frames::time_of;
use crate::played::TimedMessage;

/// Frames a second where the configuration names none.
pub const SAMPLE_RATE: u32 = 48_000;
/// Frames a block where the configuration names none.
pub const PERIOD: u32 = 64;

/// A session in virtual time. It has no MIDI input of its own; see [`super::scripted`].
pub struct VirtualSession {
    render: Box<dyn Render>,
    left: Vec<f32>,
    right: Vec<f32>,
    sample_rate: u32,
    next_frame: u64,
}

impl VirtualSession {
    /// Opens it; this cannot fail.
    pub fn open(config: &Config, mut render: Box<dyn Render>) -> VirtualSession {
        let sample_rate = config.sample_rate.unwrap_or(SAMPLE_RATE).max(1);
        let period = config.period.unwrap_or(PERIOD).max(1);
        render.prepare(sample_rate);
        VirtualSession {
            render,
            left: vec![0.0; period as usize],
            right: vec![0.0; period as usize],
            sample_rate,
            next_frame: 0,
        }
    }

    /// The left channel of the block that the last poll rendered; silence before the first.
    pub fn last_block(&self) -> &[f32] {
        &self.left
    }
}

impl Session for VirtualSession {
    fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    fn description(&self) -> String {
        format!(
            "virtual time, {} Hz, {} frames",
            self.sample_rate,
            self.left.len()
        )
    }

    fn poll(&mut self, _sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let block = Stereo::new(&mut self.left, &mut self.right);
        self.render.render(self.next_frame, block);
        self.next_frame += self.left.len() as u64;
        Ok(Poll::exact(time_of(
            self.next_frame as i64,
            self.sample_rate,
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Nanos;
    use std::sync::mpsc::{Sender, channel};

    struct Witness(Sender<(u64, usize)>);

    impl Render for Witness {
        fn prepare(&mut self, sample_rate: u32) {
            assert_eq!(sample_rate, 44_100);
        }

        fn render(&mut self, first_frame: u64, out: Stereo<'_>) {
            self.0.send((first_frame, out.frames())).unwrap();
        }
    }

    #[test]
    fn each_poll_renders_one_period_and_moves_the_watermark_to_its_end() {
        let (sender, blocks) = channel();
        let config = Config {
            sample_rate: Some(44_100),
            period: Some(441),
            ..Config::default()
        };
        let mut session = VirtualSession::open(&config, Box::new(Witness(sender)));
        for period in 1..=3 {
            let poll = session.poll(&mut |_| unreachable!()).unwrap();
            assert_eq!(poll.watermark, Nanos::from_ms(10 * period));
        }
        assert_eq!(
            blocks.try_iter().collect::<Vec<_>>(),
            [(0, 441), (441, 441), (882, 441)]
        );
    }
}
