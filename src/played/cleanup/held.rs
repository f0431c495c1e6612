//! The messages that are held back, in the order of time.

use crate::played::TimedMessage;
use std::collections::VecDeque;

/// How many are held at once. 45 ms of a bass are a handful; a flood goes through as it came.
pub(super) const CAPACITY: usize = 1024;

/// What a held message is to the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// Nothing: it passes as it came.
    Plain,
    /// The beginning of a voice, unless none owns it any more.
    On,
    /// The end of a voice, unless none owns it any more.
    Off,
    /// The end of every voice that owns it; it passes as it came.
    AllOff,
}

/// See the module's head. Each message has a number, which goes on rising.
#[derive(Clone, Debug)]
pub(super) struct Held {
    queue: VecDeque<(TimedMessage, What)>,
    first: u64,
}

impl Held {
    pub(super) fn new() -> Held {
        Held {
            queue: VecDeque::with_capacity(CAPACITY),
            first: 0,
        }
    }

    /// The number that the next message will have.
    pub(super) fn next_number(&self) -> u64 {
        self.first + self.queue.len() as u64
    }

    pub(super) fn is_full(&self) -> bool {
        self.queue.len() >= CAPACITY
    }

    /// Only when it is not full.
    pub(super) fn push(&mut self, message: TimedMessage, what: What) {
        self.queue.push_back((message, what));
    }

    /// The number of the first one, and the message.
    pub(super) fn front(&self) -> Option<(u64, TimedMessage, What)> {
        let (message, what) = self.queue.front()?;
        Some((self.first, *message, *what))
    }

    pub(super) fn pop(&mut self) {
        if self.queue.pop_front().is_some() {
            self.first += 1;
        }
    }
}
