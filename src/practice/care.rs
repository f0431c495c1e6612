//! Care: how long was played without a rest, and a reminder of one.
//!
//! Playing time is the time between notes that follow each other within [`Care::PAUSE`]: a longer gap is no playing. A gap of
//! [`Care::REST`] or more is a rest, after which the time begins anew. Twenty-five minutes are a common working rhythm, not
//! a limit that anybody has measured; both gaps are our choice. Nothing here is medical advice, and its words say who gives it.

use crate::units::Nanos;
use std::fmt;
use std::str::FromStr;

/// After how much playing time a reminder comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RestAfter {
    /// So many minutes.
    Minutes(u32),
    /// It does not.
    Never,
}

impl Default for RestAfter {
    fn default() -> RestAfter {
        RestAfter::Minutes(25)
    }
}

/// The text names no time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("write minutes of playing, 1 to 240, or never")]
pub struct NotATime;

impl FromStr for RestAfter {
    type Err = NotATime;

    fn from_str(text: &str) -> Result<RestAfter, NotATime> {
        match text.trim() {
            "never" => Ok(RestAfter::Never),
            number => match number.parse() {
                Ok(minutes @ 1..=240) => Ok(RestAfter::Minutes(minutes)),
                _ => Err(NotATime),
            },
        }
    }
}

impl fmt::Display for RestAfter {
    /// As it is written: `25`, `never`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RestAfter::Minutes(minutes) => write!(f, "{minutes}"),
            RestAfter::Never => f.write_str("never"),
        }
    }
}

/// Counts playing time. Times are of any clock that does not go back; an earlier one counts as the latest.
#[derive(Clone, Debug)]
pub struct Care {
    after: RestAfter,
    last: Option<Nanos>,
    /// Since the last rest.
    played: Nanos,
    /// In all.
    in_all: Nanos,
    /// Playing time since the last rest from which it is said next.
    due: Nanos,
}

const MINUTE: i64 = 60_000;

impl Care {
    /// Notes further apart than this are not one stretch of playing.
    pub const PAUSE: Nanos = Nanos::from_ms(2 * MINUTE);
    /// So long without a note is a rest.
    pub const REST: Nanos = Nanos::from_ms(5 * MINUTE);
    /// Who plays on is reminded again after so much more playing.
    pub const AGAIN: Nanos = Nanos::from_ms(10 * MINUTE);

    /// Nothing played yet.
    pub fn new(after: RestAfter) -> Care {
        let due = match after {
            RestAfter::Minutes(minutes) => Nanos::from_ms(i64::from(minutes) * MINUTE),
            RestAfter::Never => Nanos::MAX,
        };
        Care {
            after,
            last: None,
            played: Nanos::ZERO,
            in_all: Nanos::ZERO,
            due,
        }
    }

    /// A note began.
    pub fn note(&mut self, at: Nanos) {
        let last = self.last.unwrap_or(at);
        let gap = Nanos((at - last).0.max(0));
        self.last = Some(at.max(last));
        if gap < Care::PAUSE {
            self.played += gap;
            self.in_all += gap;
        } else if gap >= Care::REST {
            *self = Care {
                last: self.last,
                in_all: self.in_all,
                ..Care::new(self.after)
            };
        }
    }

    /// The reminder, if it is due: told once, and once more after each [`Care::AGAIN`]. Best asked for between takes.
    pub fn reminder(&mut self) -> Option<String> {
        if self.played < self.due {
            return None;
        }
        self.due = self.played + Care::AGAIN;
        let minutes = self.played.0 / Nanos::from_ms(MINUTE).0;
        let minutes = if minutes == 1 {
            "a minute".into()
        } else {
            format!("{minutes} minutes")
        };
        Some(format!(
            "You have played for {minutes}: a good moment to put the bass down and let the hands rest. \
             Stop when it hurts, and see a licensed clinician if it keeps hurting."
        ))
    }

    /// Playing time since the last rest.
    pub fn played(&self) -> Nanos {
        self.played
    }

    /// Playing time in all.
    pub fn in_all(&self) -> Nanos {
        self.in_all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn minutes(minutes: i64) -> Nanos {
        Nanos::from_ms(minutes * MINUTE)
    }

    /// A note a second over these minutes, both ends included.
    fn play(care: &mut Care, from: i64, to: i64) {
        (from * 60..=to * 60).for_each(|second| care.note(Nanos::from_ms(second * 1000)));
    }

    #[test]
    fn the_reminder_comes_after_25_minutes_once_and_again_after_ten_more() {
        let mut care = Care::new(RestAfter::default());
        play(&mut care, 0, 24);
        assert_eq!(care.reminder(), None);
        play(&mut care, 24, 25);
        let said = care.reminder().expect("a reminder");
        assert!(
            said.starts_with("You have played for 25 minutes: "),
            "{said}"
        );
        assert!(said.contains("licensed clinician"), "{said}");
        play(&mut care, 25, 34);
        assert_eq!(care.reminder(), None);
        play(&mut care, 34, 35);
        assert!(care.reminder().expect("again").contains("35 minutes"));
    }

    #[test]
    fn pauses_do_not_count_and_a_rest_begins_anew() {
        let mut care = Care::new(RestAfter::Minutes(25));
        play(&mut care, 0, 20);
        // Two minutes are a pause, one second less is playing.
        play(&mut care, 22, 24);
        assert_eq!(care.played(), minutes(22));
        care.note(minutes(26) - Nanos::from_ms(1000));
        assert_eq!(care.played(), minutes(24) - Nanos::from_ms(1000));
        // Five minutes are a rest.
        play(&mut care, 31, 55);
        assert_eq!((care.played(), care.reminder()), (minutes(24), None));
        assert_eq!(care.in_all(), minutes(48) - Nanos::from_ms(1000));
    }

    #[test]
    fn who_wants_none_gets_none() {
        let mut care = Care::new(RestAfter::Never);
        play(&mut care, 0, 120);
        assert_eq!(care.reminder(), None);
    }

    #[test]
    fn the_time_is_minutes_or_never() {
        for text in ["1", "25", "240", "never"] {
            let read: RestAfter = text.parse().expect("a time");
            assert_eq!(read.to_string(), text);
        }
        for wrong in ["", "0", "241", "-5", "25 min", "2.5"] {
            assert_eq!(wrong.parse::<RestAfter>(), Err(NotATime), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn no_order_of_times_counts_more_than_went_by(times in prop::collection::vec(0i64..400_000_000, 1..60)) {
            let mut care = Care::new(RestAfter::default());
            times.iter().for_each(|ms| care.note(Nanos::from_ms(*ms)));
            let first = times[0];
            let latest = times.iter().max().expect("a time");
            prop_assert!(care.played() <= care.in_all());
            prop_assert!(care.in_all() <= Nanos::from_ms(latest - first));
        }
    }
}
