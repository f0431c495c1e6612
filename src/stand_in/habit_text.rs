//! Habits as text: read, shown, and what is wrong with it.

use super::Habits;
use super::habits::NAMED;
use std::fmt;
use std::str::FromStr;

/// What is wrong with a text that should name habits.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum HabitError {
    /// Neither a player nor a habit.
    #[error("there is no player named \"{0}\": use one of {players}, or set a habit with NAME=VALUE: {habits}", players = players(), habits = habits())]
    UnknownPlayer(String),
    /// No such habit before the `=`.
    #[error("there is no habit named \"{0}\": the habits are {habits}", habits = habits())]
    UnknownHabit(String),
    /// What follows the `=` cannot be used.
    #[error("{name} is \"{value}\", but has to be a number from {lowest} to {highest} ({unit})")]
    Value {
        /// The habit.
        name: &'static str,
        /// What was given.
        value: String,
        /// The lowest value that is allowed.
        lowest: f64,
        /// The highest.
        highest: f64,
        /// What it counts.
        unit: &'static str,
    },
}

fn players() -> String {
    Habits::names().collect::<Vec<_>>().join(", ")
}

fn habits() -> String {
    let named = NAMED.iter().map(|h| format!("{} ({})", h.name, h.unit));
    named.collect::<Vec<_>>().join(", ")
}

impl Habits {
    fn set(&mut self, name: &str, value: &str) -> Result<(), HabitError> {
        let habit = NAMED
            .iter()
            .find(|habit| habit.name == name)
            .ok_or_else(|| HabitError::UnknownHabit(name.to_owned()))?;
        let number = value.parse().ok();
        let number = number.filter(|number| (habit.lowest..=habit.highest).contains(number));
        *(habit.place)(self) = number.ok_or_else(|| HabitError::Value {
            name: habit.name,
            value: value.to_owned(),
            lowest: habit.lowest,
            highest: habit.highest,
            unit: habit.unit,
        })?;
        Ok(())
    }
}

impl fmt::Display for Habits {
    /// The habits that are not neutral, as [`FromStr`] reads them: `late-entries-ms=45, spread-ms=9`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (mut own, mut neutral) = (*self, Habits::default());
        let mut comma = "";
        for habit in NAMED {
            let value = *(habit.place)(&mut own);
            if value != *(habit.place)(&mut neutral) {
                write!(f, "{comma}{}={value}", habit.name)?;
                comma = ", ";
            }
        }
        if comma.is_empty() {
            f.write_str("none")
        } else {
            Ok(())
        }
    }
}

impl FromStr for Habits {
    type Err = HabitError;

    /// Players and `name=value` pairs, separated by commas, each applied over those before it:
    /// `late-entries,spread-ms=6`.
    fn from_str(text: &str) -> Result<Habits, HabitError> {
        let mut habits = Habits::default();
        for part in text
            .split(',')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            match part.split_once('=') {
                Some((name, value)) => habits.set(name.trim(), value.trim())?,
                None if habits.take_on(part) => {}
                None => return Err(HabitError::UnknownPlayer(part.to_owned())),
            }
        }
        Ok(habits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn players_and_pairs_add_up_in_order() {
        let habits: Habits = "late-entries, missed-muting,spread-ms=6".parse().unwrap();
        assert_eq!(habits.late_entries_ms, 45.0);
        assert_eq!(habits.ring_over_ms, 120.0);
        assert_eq!(habits.spread_ms, 6.0);
        assert_eq!("".parse(), Ok(Habits::default()));
        assert_eq!(Habits::named("exact"), Some(Habits::default()));
    }

    #[test]
    fn habits_are_shown_as_they_are_read() {
        let habits: Habits = "late-entries,dropped=0.1".parse().unwrap();
        assert_eq!(habits.to_string().parse(), Ok(habits));
        assert_eq!(Habits::default().to_string(), "none");
    }

    #[test]
    fn mistakes_say_what_would_be_right() {
        let error = |text: &str| text.parse::<Habits>().unwrap_err().to_string();
        assert_eq!(
            error("dropped=2"),
            "dropped is \"2\", but has to be a number from 0 to 1 (share)"
        );
        assert!(error("spread-ms=NaN").contains("from 0 to 200 (ms)"));
        assert!(error("late=4").contains("late-entries-ms (ms), upbeats-ms (ms)"));
        assert!(error("lazy").contains("laid-back, late-entries"));
    }
}
