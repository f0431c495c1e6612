//! Whether the MIDI input is plugged in, as the list of ports shows it when it is looked at from time to time.
//!
//! No driver tells that a device was unplugged, and the one that comes back has other numbers: a port is known by its
//! name.

use super::Input;
use super::port_choice::again;
use std::time::Duration;

/// How long an input may be away before the take ends.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// What a look at the list of ports comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// Nothing has changed.
    Same,
    /// The input has gone just now.
    Left,
    /// The port of this index in the list is the one that had gone: connect it, then say [`Link::connected`].
    Returned(usize),
    /// It has been away for too long.
    GivenUp,
}

/// One input and whether it is there. All times are since one moment of the owner's choice.
#[derive(Clone, Debug)]
pub struct Link {
    name: String,
    patience: Duration,
    away_since: Option<Duration>,
}

impl Link {
    /// An input that is connected. It may be away for as long as `patience`.
    pub fn new(name: String, patience: Duration) -> Link {
        Link {
            name,
            patience,
            away_since: None,
        }
    }

    /// Its name, as it was last connected.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is there.
    pub fn input(&self) -> Input {
        match self.away_since {
            None => Input::Here,
            Some(_) => Input::Away,
        }
    }

    /// Takes a look at the names of all inputs.
    pub fn look(&mut self, names: &[String], now: Duration) -> Seen {
        match (self.away_since, again(&self.name, names)) {
            (None, Some(_)) => Seen::Same,
            (None, None) => {
                self.cut(now);
                Seen::Left
            }
            (Some(_), Some(index)) => Seen::Returned(index),
            (Some(since), None) if now.saturating_sub(since) >= self.patience => Seen::GivenUp,
            (Some(_), None) => Seen::Same,
        }
    }

    /// The input is known to have gone, whatever the list says.
    pub fn cut(&mut self, now: Duration) {
        self.away_since.get_or_insert(now);
    }

    /// The input is connected again, under a name that may have another number in it.
    pub fn connected(&mut self, name: String) {
        self.name = name;
        self.away_since = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND: Duration = Duration::from_secs(1);

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_string()).collect()
    }

    fn bass() -> Link {
        Link::new("Bass:Bass MIDI 1 20:0".into(), PATIENCE)
    }

    #[test]
    fn a_port_that_leaves_and_returns_with_another_number_is_the_same_one() {
        let mut link = bass();
        let (without, with) = (
            names(&["Keys 24:0"]),
            names(&["Keys 24:0", "Bass:Bass MIDI 1 28:0"]),
        );
        assert_eq!(
            link.look(&names(&["Bass:Bass MIDI 1 20:0"]), SECOND),
            Seen::Same
        );
        assert_eq!(link.look(&without, 2 * SECOND), Seen::Left);
        assert_eq!(link.input(), Input::Away);
        assert_eq!(link.look(&without, 3 * SECOND), Seen::Same);
        assert_eq!(link.look(&with, 4 * SECOND), Seen::Returned(1));
        // Until it is connected it stays away: a connection may fail and is tried again.
        assert_eq!(link.look(&with, 5 * SECOND), Seen::Returned(1));
        link.connected(with[1].clone());
        assert_eq!((link.input(), link.name()), (Input::Here, with[1].as_str()));
        assert_eq!(link.look(&with, 6 * SECOND), Seen::Same);
    }

    #[test]
    fn a_port_that_stays_away_is_given_up_after_a_minute_and_not_before() {
        let mut link = bass();
        assert_eq!(link.look(&[], 10 * SECOND), Seen::Left);
        assert_eq!(link.look(&[], 69 * SECOND), Seen::Same);
        assert_eq!(link.look(&[], 70 * SECOND), Seen::GivenUp);
    }

    #[test]
    fn a_port_that_may_be_away_for_good_is_never_given_up() {
        let mut link = Link::new("Bass".into(), Duration::MAX);
        assert_eq!(link.look(&[], SECOND), Seen::Left);
        assert_eq!(link.look(&[], 1_000_000 * SECOND), Seen::Same);
        let back = names(&["Bass"]);
        assert_eq!(link.look(&back, 1_000_001 * SECOND), Seen::Returned(0));
    }

    #[test]
    fn a_second_time_away_has_a_minute_of_its_own() {
        let mut link = bass();
        link.cut(SECOND);
        link.cut(50 * SECOND);
        link.connected("Bass:Bass MIDI 1 21:0".into());
        assert_eq!(link.look(&[], 55 * SECOND), Seen::Left);
        assert_eq!(link.look(&[], 100 * SECOND), Seen::Same);
    }
}
