//! Where in the line the sound is: one number that the judging thread writes and a screen reads, without a lock.

use crate::units::Nanos;
use std::sync::atomic::{AtomicI64, Ordering};

const NOWHERE: i64 = i64::MIN;

/// See the module's head.
#[derive(Debug)]
pub struct Position(AtomicI64);

impl Position {
    /// In line time; `None` while no take is played. Written about every millisecond.
    pub fn now(&self) -> Option<Nanos> {
        let now = self.0.load(Ordering::Acquire);
        (now != NOWHERE).then_some(Nanos(now))
    }

    pub(super) fn set(&self, now: Option<Nanos>) {
        let now = now.map_or(NOWHERE, |now| now.0);
        self.0.store(now, Ordering::Release);
    }
}

impl Default for Position {
    fn default() -> Position {
        Position(AtomicI64::new(NOWHERE))
    }
}
