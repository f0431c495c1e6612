//! From a speed to another by steps.

use super::percent;
use crate::expected::tempo_map::Speed;
use crate::units::shortest;
use std::fmt;
use std::str::FromStr;

/// A climb: where it starts, its goal above, and the steps between, all in percent of the written tempo. The last step is
/// shorter where they do not come out even.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Climb {
    start: Speed,
    goal: Speed,
    step: Speed,
}

/// The text names no climb.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAClimb {
    /// Not two speeds and a step.
    #[error("write the first and the last speed in percent and the step, such as \"60-100 by 5\"")]
    Unreadable,
    /// The goal is not above the start.
    #[error("a climb goes up: its goal is above its start")]
    NotUp,
    /// Too slow or too fast for the click.
    #[error("speeds lie between 10 and 400 percent")]
    OutOfRange,
    /// No step, or too many of them.
    #[error("a step is 1 percent or more")]
    NoStep,
}

/// A step that is hardly noticed while it is played, at the speeds at which one works (common practice).
pub const USUAL_STEP: Speed = Speed(5_000);
/// The speeds that lines are played at.
pub const SPEEDS: std::ops::RangeInclusive<u32> = 10_000..=400_000;
const LEAST_STEP: u32 = 1_000;

impl Climb {
    /// From a speed to a faster one.
    pub fn new(start: Speed, goal: Speed, step: Speed) -> Result<Climb, NotAClimb> {
        if ![start, goal].iter().all(|speed| SPEEDS.contains(&speed.0)) {
            return Err(NotAClimb::OutOfRange);
        }
        if goal.0 <= start.0 {
            return Err(NotAClimb::NotUp);
        }
        if step.0 < LEAST_STEP {
            return Err(NotAClimb::NoStep);
        }
        Ok(Climb { start, goal, step })
    }

    /// Where it starts.
    pub fn start(&self) -> Speed {
        self.start
    }

    /// Where it is to end.
    pub fn goal(&self) -> Speed {
        self.goal
    }

    /// How many steps lead to the goal; at least one.
    pub fn steps(&self) -> u32 {
        (self.goal.0 - self.start.0).div_ceil(self.step.0)
    }

    /// The speed after so many steps: never above the goal.
    pub fn speed(&self, steps: u32) -> Speed {
        let up = u64::from(self.step.0) * u64::from(steps);
        let reached = u64::from(self.start.0) + up;
        Speed(reached.min(u64::from(self.goal.0)) as u32)
    }
}

impl FromStr for Climb {
    type Err = NotAClimb;

    /// `60-100 by 5`; without a step, by 5. Percent signs may stand.
    fn from_str(text: &str) -> Result<Climb, NotAClimb> {
        let speed = |text: &str| {
            let number: f64 = text.trim().trim_end_matches('%').trim().parse().ok()?;
            let is_some = (0.0..=1000.0).contains(&number);
            is_some.then(|| Speed((number * 1000.0).round() as u32))
        };
        let (range, step) = match text.split_once("by") {
            Some((range, step)) => (range, speed(step).ok_or(NotAClimb::Unreadable)?),
            None => (text, USUAL_STEP),
        };
        let (start, goal) = range.split_once('-').ok_or(NotAClimb::Unreadable)?;
        let (start, goal) = speed(start).zip(speed(goal)).ok_or(NotAClimb::Unreadable)?;
        Climb::new(start, goal, step)
    }
}

impl fmt::Display for Climb {
    /// `60 % to 100 % by 5 %`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [start, goal, step] = [self.start, self.goal, self.step].map(percent);
        write!(f, "{start} to {goal} by {step}")
    }
}

/// `"60-100 by 5"`, as an option or a settings file has it.
pub fn as_written(climb: &Climb) -> String {
    let [start, goal, step] =
        [climb.start, climb.goal, climb.step].map(|speed| shortest(speed.percent()));
    format!("{start}-{goal} by {step}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn climb(text: &str) -> Result<Climb, NotAClimb> {
        text.parse()
    }

    #[test]
    fn the_last_step_is_shorter_where_they_do_not_come_out_even() {
        let climb = climb("60-100 by 15").expect("a climb");
        let speeds: Vec<u32> = (0..=climb.steps()).map(|n| climb.speed(n).0).collect();
        assert_eq!(speeds, [60_000, 75_000, 90_000, 100_000]);
        assert_eq!(climb.speed(u32::MAX), climb.goal());
    }

    #[test]
    fn a_climb_is_read_with_and_without_its_step() {
        let all = climb("60-100 by 5").expect("a climb");
        assert_eq!(climb(" 60 % - 100 % by 5 %"), Ok(all));
        assert_eq!(climb("60-100"), Ok(all));
        assert_eq!(all.to_string(), "60 % to 100 % by 5 %");
        let half = climb("62.5-90 by 2.5").expect("a climb");
        assert_eq!(as_written(&half).parse(), Ok(half));
    }

    #[test]
    fn what_is_no_climb_is_told_apart() {
        for (text, wrong) in [
            ("", NotAClimb::Unreadable),
            ("60", NotAClimb::Unreadable),
            ("60-100 by", NotAClimb::Unreadable),
            ("-60-100", NotAClimb::Unreadable),
            ("60-NaN", NotAClimb::Unreadable),
            ("100-60 by 5", NotAClimb::NotUp),
            ("80-80 by 5", NotAClimb::NotUp),
            ("5-100 by 5", NotAClimb::OutOfRange),
            ("60-401", NotAClimb::OutOfRange),
            ("60-100 by 0", NotAClimb::NoStep),
        ] {
            assert_eq!(climb(text), Err(wrong), "{text}");
        }
    }
}
