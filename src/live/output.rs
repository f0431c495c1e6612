//! The way from the audio callback to the ear: two numbers that the judging thread writes and a screen reads, without a
//! lock.

use crate::backend::Session;
use crate::units::Nanos;
use std::sync::atomic::{AtomicI64, AtomicU32, Ordering};

const UNKNOWN: i64 = i64::MIN;
/// No block has no frames.
const NO_PERIOD: u32 = 0;

/// See the module's head.
#[derive(Debug)]
pub struct Output {
    delay: AtomicI64,
    period: AtomicU32,
}

impl Output {
    /// [`Session::output_delay`] at the last look.
    pub fn delay(&self) -> Option<Nanos> {
        let delay = self.delay.load(Ordering::Relaxed);
        (delay != UNKNOWN).then_some(Nanos(delay))
    }

    /// [`Session::period`] at the last look.
    pub fn period(&self) -> Option<u32> {
        let period = self.period.load(Ordering::Relaxed);
        (period != NO_PERIOD).then_some(period)
    }

    /// As the session has it now.
    pub fn look(&self, session: &dyn Session) {
        self.set(session.output_delay(), session.period());
    }

    /// The session has ended: nothing is heard.
    pub fn end(&self) {
        self.set(None, None);
    }

    fn set(&self, delay: Option<Nanos>, period: Option<u32>) {
        let delay = delay.map_or(UNKNOWN, |delay| delay.0);
        self.delay.store(delay, Ordering::Relaxed);
        self.period
            .store(period.unwrap_or(NO_PERIOD), Ordering::Relaxed);
    }
}

impl Default for Output {
    fn default() -> Output {
        Output {
            delay: AtomicI64::new(UNKNOWN),
            period: AtomicU32::new(NO_PERIOD),
        }
    }
}
