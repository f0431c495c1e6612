//! The speed as it goes: steady, climbing, or the line's own.

use super::climb::{SPEEDS, USUAL_STEP};
use super::climbing::{Climbing, Moved};
use super::criteria::Criteria;
use super::part::Part;
use super::percent;
use super::setup::Method;
use super::take_sum::TakeSum;
use crate::expected::tempo_map::Speed;

/// A method under way.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Going {
    Steady(Speed),
    Climbing(Climbing, Criteria),
    PlayThrough,
}

/// Which way the speed is changed by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Slower,
    Faster,
}

impl Going {
    /// A method for a part, from its start. A part of a line that is played through is played as written.
    pub fn new(method: &Method, part: &Part) -> Going {
        match method {
            Method::Steady(speed) => Going::Steady(*speed),
            Method::Climb(climb, criteria) => Going::Climbing(Climbing::new(*climb), *criteria),
            Method::PlayThrough if *part == Part::Whole => Going::PlayThrough,
            Method::PlayThrough => Going::Steady(Speed::WRITTEN),
        }
    }

    /// How fast the next take is.
    pub fn speed(&self) -> Speed {
        match self {
            Going::Steady(speed) => *speed,
            Going::Climbing(climbing, _) => climbing.speed(),
            Going::PlayThrough => Speed::WRITTEN,
        }
    }

    /// The slowest that it goes by itself.
    pub fn slowest(&self) -> Speed {
        match self {
            Going::Climbing(climbing, _) => climbing.climb().start(),
            Going::Steady(_) | Going::PlayThrough => Speed(*SPEEDS.start()),
        }
    }

    /// What a take leads to, and what is said of it; `None` where nothing climbs.
    pub fn after(&mut self, take: &TakeSum) -> Option<(Moved, String)> {
        let Going::Climbing(climbing, criteria) = self else {
            return None;
        };
        let verdict = criteria.judge(take);
        let moved = climbing.after(&verdict);
        let said = climbing.said(moved, &verdict);
        Some((moved, said))
    }

    /// Changes the speed by hand; what is said of it.
    pub fn pace(&mut self, way: Way) -> String {
        let is_changed = match self {
            Going::PlayThrough => {
                return "The whole line is played through at its own tempi.".into();
            }
            Going::Climbing(climbing, _) => match way {
                Way::Slower => climbing.slower(),
                Way::Faster => climbing.faster(),
            },
            Going::Steady(speed) => {
                let changed = match way {
                    Way::Slower => speed.0.saturating_sub(USUAL_STEP.0),
                    Way::Faster => speed.0.saturating_add(USUAL_STEP.0),
                };
                let changed = Speed(changed.clamp(*SPEEDS.start(), *SPEEDS.end()));
                std::mem::replace(speed, changed) != changed
            }
        };
        let now = percent(self.speed());
        match (is_changed, way) {
            (true, _) => format!("The next take is at {now}."),
            (false, Way::Slower) => format!("{now} is the slowest that is set up."),
            (false, Way::Faster) => format!("{now} is the fastest that is set up."),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_speed_is_changed_by_hand_within_what_a_line_is_played_at() {
        let mut going = Going::Steady(Speed(12_500));
        assert_eq!(going.pace(Way::Slower), "The next take is at 10 %.");
        let most = "10 % is the slowest that is set up.";
        assert_eq!(going.pace(Way::Slower), most);
        assert_eq!(going.pace(Way::Faster), "The next take is at 15 %.");
        let mut fast = Going::Steady(Speed(400_000));
        assert!(fast.pace(Way::Faster).contains("fastest"));
    }

    #[test]
    fn a_climb_goes_by_its_own_steps_and_a_play_through_by_none() {
        let climb = "60-100 by 20".parse().expect("a climb");
        let method = Method::Climb(climb, Criteria::default());
        let mut going = Going::new(&method, &Part::Whole);
        assert_eq!(going.pace(Way::Faster), "The next take is at 80 %.");
        assert_eq!(going.slowest(), Speed(60_000));
        let mut through = Going::new(&Method::PlayThrough, &Part::Whole);
        through.pace(Way::Slower);
        assert_eq!(through.speed(), Speed::WRITTEN);
    }
}
