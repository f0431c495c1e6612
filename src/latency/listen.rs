//! Listening to a session until enough has been heard.

use super::NoteOn;
use crate::backend::{Counters, Session, SessionLost};
use crate::live::{Pace, Stop};
use crate::played::{MidiMessage, TimedMessage};
use crate::units::Nanos;
use std::thread;
use std::time::Duration;

const POLL_EVERY: Duration = Duration::from_millis(1);
/// Stream time between two looks at what has been heard.
const LOOK_EVERY: Nanos = Nanos::from_ms(10_000);

/// Whether to go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Next {
    /// More is needed.
    Listen,
    /// It is enough.
    Stop,
}

/// What was heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Listened {
    /// Beginnings of notes, in order.
    pub notes: Vec<NoteOn>,
    /// How far the stream had come.
    pub until: Nanos,
    /// What went wrong.
    pub counters: Counters,
}

/// Gathers the beginnings of notes until `look` (called every ten seconds of the stream) has enough, the stream has
/// come to `end`, or a stop is asked for. `channel` is 0 to 15; none takes all.
pub fn listen(
    session: &mut dyn Session,
    end: Nanos,
    channel: Option<u8>,
    pace: Pace,
    stop: &Stop,
    mut look: impl FnMut(&Listened) -> Next,
) -> Result<Listened, SessionLost> {
    let mut heard = Listened::default();
    let mut next_look = LOOK_EVERY;
    while heard.until < end && !stop.is_asked() {
        let notes = &mut heard.notes;
        let poll = session.poll(&mut |event| notes.extend(note_on(event, channel)))?;
        heard.until = poll.watermark;
        heard.counters = poll.counters;
        if heard.until >= next_look {
            next_look = heard.until + LOOK_EVERY;
            if look(&heard) == Next::Stop {
                break;
            }
        }
        if pace == Pace::RealTime {
            thread::sleep(POLL_EVERY);
        }
    }
    Ok(heard)
}

fn note_on(event: TimedMessage, channel: Option<u8>) -> Option<NoteOn> {
    match event.message {
        MidiMessage::NoteOn {
            channel: of, key, ..
        } if channel.is_none_or(|only| only == of) => Some(NoteOn { at: event.at, key }),
        _ => None,
    }
}
