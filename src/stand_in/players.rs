//! The named players: sets of habits.

use super::Habits;
use super::habits::NAMED;

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
    ("flat-swing", &[("swing-factor", 0.65)]),
    ("wide-swing", &[("swing-factor", 1.5)]),
    ("late-skips", &[("skips-ms", 30.0)]),
    ("old-tempo", &[("old-tempo-beats", 12.0)]),
    ("rushing-sections", &[("section-drift-percent", 0.6)]),
    ("half-beat-late", &[("late-phrase-beats", 0.5)]),
    ("beat-early", &[("late-phrase-beats", -1.0)]),
    ("skipped-bar", &[("skipped-bar", 1.0)]),
    ("repeated-bar", &[("repeated-bar", 1.0)]),
    ("rough-bars", &[("rough-bars-ms", 40.0)]),
    ("own-clock", &[("clock-ms", 20.0), ("hand-ms", 8.0)]),
    (
        "uneven-strokes",
        &[
            ("up-strokes-ms", 25.0),
            ("up-strokes-length", 0.75),
            ("up-strokes-velocity", -20.0),
        ],
    ),
    ("late-crossings", &[("crossings-ms", 30.0)]),
    ("late-shifts", &[("shifts-ms", 35.0)]),
    ("late-fourth-finger", &[("fourth-finger-ms", 30.0)]),
    ("open-mutes", &[("mutes-open-ms", 150.0)]),
    ("short-when-fast", &[("fast-notes-short", 0.7)]),
    ("octave-slips", &[("octave-slips", 0.06)]),
    ("next-string", &[("next-string", 0.06)]),
    ("raised-sevenths", &[("raised-sevenths", 1.0)]),
    ("major-thirds", &[("major-thirds", 1.0)]),
    ("old-key", &[("old-key", 1.0)]),
];

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
    pub(super) fn take_on(&mut self, player: &str) -> bool {
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_setting_of_every_player_is_a_habit_within_its_bounds() {
        for (player, settings) in PRESETS {
            for (name, value) in HUMAN.iter().chain(*settings) {
                let pair = format!("{name}={value}");
                assert!(pair.parse::<Habits>().is_ok(), "{player}: {pair}");
            }
        }
    }
}
