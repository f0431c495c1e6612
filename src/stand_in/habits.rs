//! The habits of the simulated player, by name.

use std::fmt;
use std::str::FromStr;

/// How the stand-in differs from the expected notes. [`Habits::default`] does not differ at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Steady mean offset in ms; negative is early.
    pub mean_ms: f64,
    /// Standard deviation of the offsets in ms.
    pub spread_ms: f64,
    /// Correlation of each offset's chance part with the one before, 0 to 0.95; the spread stays as it is.
    pub correlation: f64,
    /// How much the player's own tempo lies above the click's, in percent: positive rushes, so that the offset
    /// falls by this share of the time since bar 1 beat 1.
    pub drift_percent: f64,
    /// Extra offset of entries in ms; negative is early.
    pub late_entries_ms: f64,
    /// Extra offset of upbeats in ms; negative rushes them. An entry on an upbeat gets both.
    pub upbeats_ms: f64,
    /// How long a note rings past the next one's onset, or into the rest after it, when the hand then jumps: to
    /// another string where the line names both, else by five semitones or more. In ms.
    pub ring_over_ms: f64,
    /// How long every note before a rest rings into it, in ms.
    pub rests_ring_ms: f64,
    /// Factor on the sounding length of every note; 1 plays them as long as expected.
    pub short_notes: f64,
    /// Share of notes played a semitone up or down, 0 to 1.
    pub wrong_frets: f64,
    /// Share of notes not played, 0 to 1.
    pub dropped: f64,
    /// Share of strikes after which a note sounds that the line does not have, 0 to 1.
    pub extra: f64,
    /// Delay of every event in ms, as a converter adds it.
    pub latency_fixed_ms: f64,
    /// Further delay in periods of the note's fundamental: a low string comes later than a high one.
    pub latency_periods: f64,
    /// Standard deviation of the velocities.
    pub velocity_spread: f64,
    /// Share of notes that a converter first guesses an octave off, 0 to 1. This and the shares below exclude each other.
    pub octave_glitches: f64,
    /// Share of notes that it reports twice.
    pub doubled_notes: f64,
    /// Share of notes that are slid into and come as a run of semitones.
    pub slide_steps: f64,
    /// Share of notes that it splits in two where the string is bent.
    pub bend_splits: f64,
    /// Share of notes with a short soft note in them that nobody played.
    pub ghost_triggers: f64,
    /// Share of notes whose end it never sends.
    pub missing_offs: f64,
    /// 1: each string has a channel of its own; 0: all are on one.
    pub string_channels: f64,
}

impl Default for Habits {
    fn default() -> Habits {
        Habits {
            mean_ms: 0.0,
            spread_ms: 0.0,
            correlation: 0.0,
            drift_percent: 0.0,
            late_entries_ms: 0.0,
            upbeats_ms: 0.0,
            ring_over_ms: 0.0,
            rests_ring_ms: 0.0,
            short_notes: 1.0,
            wrong_frets: 0.0,
            dropped: 0.0,
            extra: 0.0,
            latency_fixed_ms: 0.0,
            latency_periods: 0.0,
            velocity_spread: 0.0,
            octave_glitches: 0.0,
            doubled_notes: 0.0,
            slide_steps: 0.0,
            bend_splits: 0.0,
            ghost_triggers: 0.0,
            missing_offs: 0.0,
            string_channels: 0.0,
        }
    }
}

/// A habit as text names it.
struct Named {
    name: &'static str,
    unit: &'static str,
    lowest: f64,
    highest: f64,
    place: fn(&mut Habits) -> &mut f64,
}

macro_rules! named {
    ($($name:literal $unit:literal $lowest:literal $highest:literal $field:ident,)*) => {
        &[$(Named {
            name: $name,
            unit: $unit,
            lowest: $lowest,
            highest: $highest,
            place: |habits| &mut habits.$field,
        },)*]
    };
}

const NAMED: &[Named] = named! {
    "mean-ms" "ms" -500.0 500.0 mean_ms,
    "spread-ms" "ms" 0.0 200.0 spread_ms,
    "correlation" "0 to 0.95" 0.0 0.95 correlation,
    "drift-percent" "%" -20.0 20.0 drift_percent,
    "late-entries-ms" "ms" -500.0 500.0 late_entries_ms,
    "upbeats-ms" "ms" -500.0 500.0 upbeats_ms,
    "ring-over-ms" "ms" 0.0 5000.0 ring_over_ms,
    "rests-ring-ms" "ms" 0.0 5000.0 rests_ring_ms,
    "short-notes" "factor" 0.05 1.0 short_notes,
    "wrong-frets" "share" 0.0 1.0 wrong_frets,
    "dropped" "share" 0.0 1.0 dropped,
    "extra" "share" 0.0 1.0 extra,
    "latency-fixed-ms" "ms" 0.0 500.0 latency_fixed_ms,
    "latency-periods" "periods" 0.0 10.0 latency_periods,
    "velocity-spread" "velocity" 0.0 60.0 velocity_spread,
    "octave-glitches" "share" 0.0 1.0 octave_glitches,
    "doubled-notes" "share" 0.0 1.0 doubled_notes,
    "slide-steps" "share" 0.0 1.0 slide_steps,
    "bend-splits" "share" 0.0 1.0 bend_splits,
    "ghost-triggers" "share" 0.0 1.0 ghost_triggers,
    "missing-offs" "share" 0.0 1.0 missing_offs,
    "string-channels" "0 or 1" 0.0 1.0 string_channels,
};

/// A player's name and what is set on top of [`HUMAN`].
type Preset = (&'static str, &'static [(&'static str, f64)]);

/// An ordinary good player. Real bass against drums spreads by 18 to 28 ms, with a lag-1 correlation of 0.25
/// (hand-annotated open set); against a click, and for each fault to stand out, it is less here.
const HUMAN: &[(&str, f64)] = &[
    ("spread-ms", 10.0),
    ("correlation", 0.25),
    ("velocity-spread", 8.0),
];

const PRESETS: &[Preset] = &[
    ("exact", &[]),
    ("steady", &[]),
    ("laid-back", &[("mean-ms", 20.0)]),
    ("late-entries", &[("late-entries-ms", 45.0)]),
    ("early-entries", &[("late-entries-ms", -45.0)]),
    ("rushed-upbeats", &[("upbeats-ms", -35.0)]),
    ("dragged-upbeats", &[("upbeats-ms", 35.0)]),
    (
        "missed-muting",
        &[("ring-over-ms", 120.0), ("rests-ring-ms", 120.0)],
    ),
    ("short-notes", &[("short-notes", 0.55)]),
    ("rushing", &[("drift-percent", 0.2)]),
    ("dragging", &[("drift-percent", -0.2)]),
    ("unsteady", &[("spread-ms", 35.0)]),
    ("wrong-frets", &[("wrong-frets", 0.06)]),
    ("patchy", &[("dropped", 0.06), ("extra", 0.04)]),
    (
        "converter",
        &[("latency-fixed-ms", 6.0), ("latency-periods", 1.5)],
    ),
    (
        "bad-converter",
        &[
            ("octave-glitches", 0.08),
            ("doubled-notes", 0.08),
            ("slide-steps", 0.05),
            ("bend-splits", 0.05),
            ("ghost-triggers", 0.05),
            ("missing-offs", 0.05),
        ],
    ),
];

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
    /// The named players, in the order in which help should list them.
    pub fn names() -> impl Iterator<Item = &'static str> {
        PRESETS.iter().map(|(name, _)| *name)
    }

    /// A player by name: `exact` is flawless to the nanosecond, `steady` an ordinary good player, every other one
    /// a steady player with that habit.
    pub fn named(name: &str) -> Option<Habits> {
        let mut habits = Habits::default();
        habits.take_on(name).then_some(habits)
    }

    /// Adds a named player's habits to these.
    fn take_on(&mut self, player: &str) -> bool {
        let Some((name, settings)) = PRESETS.iter().find(|(name, _)| *name == player) else {
            return false;
        };
        let human = if *name == "exact" { &[] } else { HUMAN };
        for (name, value) in human.iter().chain(*settings) {
            if let Some(habit) = NAMED.iter().find(|habit| habit.name == *name) {
                *(habit.place)(self) = *value;
            }
        }
        true
    }

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
    fn every_setting_of_every_player_is_a_habit_within_its_bounds() {
        for (player, settings) in PRESETS {
            for (name, value) in HUMAN.iter().chain(*settings) {
                let mut habits = Habits::default();
                assert_eq!(habits.set(name, &value.to_string()), Ok(()), "{player}");
            }
        }
    }

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
