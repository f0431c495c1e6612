//! The stand-in's fingers: a prepared list of events that comes in through a ring as a MIDI callback's would.

use super::ring::{EVENTS, RingReceiver, RingSender, ring};
use super::{Input, Poll, Session, SessionLost};
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::collections::VecDeque;

/// Another session plus a script. The other session's own events, if it has any, are kept in order with the script's.
pub struct ScriptedSession<S> {
    inner: S,
    fingers: Fingers,
}

struct Fingers {
    script: VecDeque<TimedMessage>,
    sender: RingSender<TimedMessage>,
    receiver: RingReceiver<TimedMessage>,
}

impl<S: Session> ScriptedSession<S> {
    /// `script` is in stream time, sorted (events out of order are put in order).
    pub fn new(inner: S, script: Vec<TimedMessage>) -> ScriptedSession<S> {
        let (sender, receiver) = ring(EVENTS);
        let fingers = Fingers {
            script: sorted(script),
            sender,
            receiver,
        };
        ScriptedSession { inner, fingers }
    }

    /// Whether every event has been played.
    pub fn is_finished(&self) -> bool {
        self.fingers.script.is_empty()
    }
}

fn sorted(mut script: Vec<TimedMessage>) -> VecDeque<TimedMessage> {
    // Sorting would allocate.
    if !script.is_sorted_by_key(|event| event.at) {
        script.sort_by_key(|event| event.at);
    }
    script.into()
}

impl Fingers {
    /// Plays what is due before `until`, a ring full at a time.
    fn play(&mut self, until: Nanos, sink: &mut dyn FnMut(TimedMessage)) {
        loop {
            let mut played = 0;
            while played < EVENTS && self.play_one(until) {
                played += 1;
            }
            while let Some(event) = self.receiver.receive() {
                sink(event);
            }
            if played < EVENTS {
                return;
            }
        }
    }

    fn play_one(&mut self, until: Nanos) -> bool {
        let due = |event: &TimedMessage| event.at < until;
        if !self.script.front().is_some_and(due) {
            return false;
        }
        let Some(event) = self.script.pop_front() else {
            return false;
        };
        if let Err(event) = self.sender.send(event) {
            self.script.push_front(event);
            return false;
        }
        true
    }
}

impl<S: Session> Session for ScriptedSession<S> {
    fn sample_rate(&self) -> u32 {
        self.inner.sample_rate()
    }

    fn description(&self) -> String {
        format!("stand-in, {}", self.inner.description())
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let fingers = &mut self.fingers;
        let poll = self.inner.poll(&mut |event| {
            fingers.play(event.at, sink);
            sink(event);
        })?;
        fingers.play(poll.watermark, sink);
        Ok(poll)
    }

    fn input(&self) -> Input {
        self.inner.input()
    }

    fn output_delay(&self) -> Option<Nanos> {
        self.inner.output_delay()
    }

    fn period(&self) -> Option<u32> {
        self.inner.period()
    }

    fn perform(&mut self, script: Vec<TimedMessage>) {
        self.fingers.script = sorted(script);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::backend::Config;
    use crate::backend::virtual_time::VirtualSession;
    use crate::click::Silence;
    use crate::played::MidiMessage;
    use crate::units::Key;

    fn note(ms: i64) -> TimedMessage {
        let message = MidiMessage::NoteOn {
            channel: 0,
            key: Key(40),
            velocity: 80,
        };
        TimedMessage {
            at: Nanos::from_ms(ms),
            message,
        }
    }

    fn virtual_ms() -> VirtualSession {
        let config = Config {
            sample_rate: Some(1000),
            period: Some(1),
            ..Config::default()
        };
        VirtualSession::open(&config, Box::new(Silence))
    }

    #[test]
    fn an_event_comes_with_the_poll_that_passes_its_time() {
        let script = vec![note(0), note(2), note(2), note(5)];
        let mut session = ScriptedSession::new(virtual_ms(), script);
        let mut seen = Vec::new();
        for _ in 0..4 {
            let mut times = Vec::new();
            session
                .poll(&mut |event| times.push(event.at.0 / 1_000_000))
                .unwrap();
            seen.push(times);
        }
        assert_eq!(seen, [vec![0], vec![], vec![2, 2], vec![]]);
        assert!(!session.is_finished());
    }

    #[test]
    fn more_events_than_the_ring_holds_all_arrive() {
        let script: Vec<_> = (0..3 * EVENTS as i64 + 5).map(|_| note(0)).collect();
        let mut session = ScriptedSession::new(virtual_ms(), script.clone());
        let mut count = 0;
        let poll = session.poll(&mut |_| count += 1).unwrap();
        assert_eq!(count, script.len());
        assert_eq!(poll.counters.overflows, 0);
    }

    #[test]
    fn a_new_script_takes_the_place_of_what_is_left_of_the_old_one() {
        let mut session = ScriptedSession::new(virtual_ms(), vec![note(0), note(3)]);
        let mut seen = Vec::new();
        for turn in 0..8 {
            if turn == 2 {
                session.perform(vec![note(6), note(4)]);
            }
            session
                .poll(&mut |event| seen.push(event.at.0 / 1_000_000))
                .unwrap();
        }
        assert_eq!(seen, [0, 4, 6]);
    }

    #[test]
    fn two_hands_stay_in_order() {
        let inner = ScriptedSession::new(virtual_ms(), vec![note(1), note(4)]);
        let mut session = ScriptedSession::new(inner, vec![note(0), note(2), note(5)]);
        let mut seen = Vec::new();
        for _ in 0..6 {
            session
                .poll(&mut |event| seen.push(event.at.0 / 1_000_000))
                .unwrap();
        }
        assert_eq!(seen, [0, 1, 2, 4, 5]);
    }
}
