//! Two quick notes on an open string.

use crate::expected::Expected;
use crate::played::{MidiMessage, TimedMessage};
use crate::practice::command::Command;
use crate::units::{Key, Nanos};

/// Hears two notes of one key that stand alone: within [`TwoNotes::QUICK`] of each other, nothing for
/// [`TwoNotes::QUIET`] before the first, and nothing for [`TwoNotes::ALONE`] after the second. So a riff on the open string,
/// tried out between takes, is no command, and the answer comes half a second after the second note.
///
/// It is listened for only while no take is being played, nor one that waits for its first note: notes heard then never
/// count, not even as the first of two.
#[derive(Clone, Debug)]
pub struct TwoNotes {
    key: Key,
    command: Command,
    /// When the last note of any key began.
    last: Option<Nanos>,
    heard: Heard,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Heard {
    Nothing,
    One(Nanos),
    Two(Nanos),
}

/// Whether notes may be commands now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Listening {
    /// Between takes, or stopped.
    Yes,
    /// A take is being played, or waits for its first note.
    No,
}

impl TwoNotes {
    /// The second comes within this of the first: as two eighths at 75 quarters a minute.
    pub const QUICK: Nanos = Nanos::from_ms(400);
    /// And not before this: a converter may tell one pluck twice.
    pub const DOUBLED: Nanos = Nanos::from_ms(60);
    /// Before them so long nothing.
    pub const QUIET: Nanos = Nanos::from_ms(1000);
    /// After them so long nothing.
    pub const ALONE: Nanos = Nanos::from_ms(500);

    /// Two notes of this key mean this.
    pub fn new(key: Key, command: Command) -> TwoNotes {
        TwoNotes {
            key,
            command,
            last: None,
            heard: Heard::Nothing,
        }
    }

    /// The same on an open string of the line, by its label; `None` where there is no such string.
    pub fn on(string: &str, command: Command, expected: &Expected) -> Option<TwoNotes> {
        let named = |label: &String| label.eq_ignore_ascii_case(string.trim());
        let at = expected.strings.iter().position(named)?;
        Some(TwoNotes::new(*expected.open.get(at)?, command))
    }

    /// A message came (its key read as the judge reads it). Commands are told by [`TwoNotes::tick`].
    pub fn heard(&mut self, message: TimedMessage, listening: Listening) {
        let MidiMessage::NoteOn { key, .. } = message.message else {
            return;
        };
        let at = message.at;
        let before = self.last.replace(at);
        if listening == Listening::No {
            self.heard = Heard::Nothing;
            return;
        }
        let is_quiet = before.is_none_or(|before| at - before >= TwoNotes::QUIET);
        self.heard = match self.heard {
            // The same pluck, told twice.
            Heard::One(first) if key == self.key && at - first < TwoNotes::DOUBLED => {
                Heard::One(first)
            }
            Heard::Two(second) if key == self.key && at - second < TwoNotes::DOUBLED => {
                Heard::Two(second)
            }
            Heard::One(first) if key == self.key && at - first <= TwoNotes::QUICK => Heard::Two(at),
            _ if key == self.key && is_quiet => Heard::One(at),
            _ => Heard::Nothing,
        };
    }

    /// Time went by: the command, once, when two notes have stood alone for long enough. To be called every 50 ms or so.
    pub fn tick(&mut self, now: Nanos, listening: Listening) -> Option<Command> {
        if listening == Listening::No {
            self.heard = Heard::Nothing;
        }
        match self.heard {
            Heard::Two(second) if now - second >= TwoNotes::ALONE => {
                self.heard = Heard::Nothing;
                Some(self.command)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const E1: Key = Key(28);
    const A1: Key = Key(33);
    const NEVER: [i64; 0] = [];

    fn note(two: &mut TwoNotes, ms: i64, key: Key, listening: Listening) {
        let message = MidiMessage::NoteOn {
            channel: 0,
            key,
            velocity: 90,
        };
        let at = Nanos::from_ms(ms);
        two.heard(TimedMessage { at, message }, listening);
    }

    /// When it is told, looked at every 50 ms, of notes at these ms; `from..to` is a take.
    fn told(notes: &[(i64, Key)], take: std::ops::Range<i64>) -> Vec<i64> {
        let mut two = TwoNotes::new(E1, Command::Again);
        let listening = |ms: i64| {
            if take.contains(&ms) {
                Listening::No
            } else {
                Listening::Yes
            }
        };
        let mut told = Vec::new();
        let mut notes = notes.iter().peekable();
        for now in (0..20_000).step_by(50) {
            while let Some((ms, key)) = notes.next_if(|(ms, _)| *ms <= now) {
                note(&mut two, *ms, *key, listening(*ms));
            }
            if two.tick(Nanos::from_ms(now), listening(now)).is_some() {
                told.push(now);
            }
        }
        told
    }

    #[test]
    fn two_notes_alone_are_told_once_half_a_second_later() {
        assert_eq!(told(&[(1000, E1), (1200, E1)], 0..0), [1700]);
        assert_eq!(
            told(&[(1000, E1), (1400, E1), (4000, E1), (4100, E1)], 0..0),
            [1900, 4600]
        );
    }

    #[test]
    fn nothing_else_is_told() {
        for notes in [
            // One, and two that are slow.
            &[(1000, E1)][..],
            &[(1000, E1), (1401, E1)],
            // Another string, or one between.
            &[(1000, A1), (1200, A1)],
            &[(1000, E1), (1100, A1), (1200, E1)],
            // Right after other notes, or followed by one.
            &[(100, A1), (1000, E1), (1200, E1)],
            &[(1000, E1), (1200, E1), (1650, A1)],
            // A riff of three and more.
            &[(1000, E1), (1200, E1), (1400, E1)],
            &[(1000, E1), (1200, E1), (1400, E1), (1600, E1)],
        ] {
            assert_eq!(told(notes, 0..0), NEVER, "{notes:?}");
        }
    }

    #[test]
    fn one_pluck_told_twice_is_one_note() {
        assert_eq!(told(&[(1000, E1), (1030, E1)], 0..0), NEVER);
        assert_eq!(
            told(&[(1000, E1), (1030, E1), (1250, E1), (1280, E1)], 0..0),
            [1750]
        );
    }

    #[test]
    fn a_take_hears_none_of_it() {
        let two = [(1000, E1), (1200, E1)];
        assert_eq!(told(&two, 0..20_000), NEVER);
        // Not the first note before it, nor the second, nor the answer.
        assert_eq!(told(&two, 1100..20_000), NEVER);
        assert_eq!(told(&two, 0..1100), NEVER);
        assert_eq!(told(&two, 1300..1400), NEVER);
        assert_eq!(told(&two, 0..900), [1700]);
    }

    #[test]
    fn a_string_is_called_as_the_page_has_it() {
        use crate::expected::{tempo_map::Speed, unroll};
        let line = crate::practice::sample::line();
        let expected = unroll(&line, Speed::WRITTEN);
        let on = |string: &str| TwoNotes::on(string, Command::Again, &expected);
        assert_eq!(on(" e ").map(|two| two.key), Some(E1));
        assert_eq!(on("G").map(|two| two.key), Some(Key(43)));
        assert!(on("B").is_none());
    }

    proptest! {
        #[test]
        fn playing_without_a_second_of_quiet_is_never_a_command(
            steps in prop::collection::vec((1i64..1000, any::<bool>()), 2..60),
        ) {
            let mut ms = 0;
            let mut notes = vec![(0, A1)];
            for (step, is_e) in steps {
                ms += step;
                notes.push((ms, if is_e { E1 } else { A1 }));
            }
            let last = ms;
            prop_assume!(last < 15_000);
            prop_assert_eq!(told(&notes, 0..0), NEVER);
        }
    }
}
