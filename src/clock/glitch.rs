//! Stretches of a take in which times are not to be trusted.

use crate::units::Nanos;
use serde::{Deserialize, Serialize};

/// From when until when something went wrong, both ends included. Which time: the owner's to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Glitch {
    /// The first moment that is in doubt, in nanoseconds.
    #[serde(rename = "from_ns")]
    pub from: Nanos,
    /// The last one.
    #[serde(rename = "until_ns")]
    pub until: Nanos,
    /// What went wrong.
    pub what: GlitchKind,
}

/// What can go wrong with times.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GlitchKind {
    /// An event came so late that it had to be moved.
    Moved,
    /// A clock jumped, stood still, or was connected anew, and is being fitted again.
    ClockReset,
    /// Sound was not delivered in time.
    Xrun,
    /// Events were lost: more came than could be taken.
    Lost,
}

impl Glitch {
    /// Whether a moment is in doubt.
    pub fn has(&self, at: Nanos) -> bool {
        (self.from..=self.until).contains(&at)
    }

    /// Both ends brought to another time by the same steps as an event's.
    pub fn map(self, time: impl Fn(Nanos) -> Nanos) -> Glitch {
        Glitch {
            from: time(self.from),
            until: time(self.until),
            ..self
        }
    }

    /// One that covers both and whatever lies between; of two kinds the worse.
    pub fn joined(self, other: Glitch) -> Glitch {
        Glitch {
            from: self.from.min(other.from),
            until: self.until.max(other.until),
            what: self.what.max(other.what),
        }
    }
}

/// What is waiting to be told. Never more than one glitch: several between two looks become one.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pending(Option<Glitch>);

impl Pending {
    /// Adds one.
    pub fn add(&mut self, glitch: Glitch) {
        self.0 = Some(self.0.map_or(glitch, |before| before.joined(glitch)));
    }

    /// Hands out what is waiting.
    pub fn take(&mut self) -> Option<Glitch> {
        self.0.take()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_at_once_become_one_of_the_worse_kind() {
        let glitch = |from, until, what| Glitch {
            from: Nanos(from),
            until: Nanos(until),
            what,
        };
        let mut pending = Pending::default();
        assert_eq!(pending.take(), None);
        pending.add(glitch(5, 9, GlitchKind::Xrun));
        pending.add(glitch(7, 12, GlitchKind::Moved));
        let one = pending.take().unwrap();
        assert_eq!(one, glitch(5, 12, GlitchKind::Xrun));
        assert_eq!(pending.take(), None);
        assert!(one.has(Nanos(5)) && one.has(Nanos(12)) && !one.has(Nanos(13)));
    }

    #[test]
    fn it_is_written_with_its_unit() {
        let glitch = Glitch {
            from: Nanos(1),
            until: Nanos(2),
            what: GlitchKind::ClockReset,
        };
        let json = serde_json::to_string(&glitch).unwrap();
        assert_eq!(json, r#"{"from_ns":1,"until_ns":2,"what":"clock-reset"}"#);
        assert_eq!(serde_json::from_str::<Glitch>(&json).unwrap(), glitch);
    }
}
