//! A climb under way: up when a take meets the criteria, back after two in a row that do not.

use super::climb::Climb;
use super::criteria::{Lack, Verdict};
use super::percent;
use crate::expected::tempo_map::Speed;

/// Takes in a row short of the criteria that lead a step back: one may be a slip, two are the speed.
const BACK_AFTER: u32 = 2;

/// A climb and how far it has come. Its speed is always between start and goal.
#[derive(Clone, Debug, PartialEq)]
pub struct Climbing {
    climb: Climb,
    /// Steps above the start.
    at: u32,
    /// Takes in a row that were short.
    short: u32,
}

/// What a take led to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moved {
    /// A step up from here.
    Up,
    /// The criteria were met at the goal.
    Arrived,
    /// The same again.
    Stays,
    /// A step back.
    Back,
    /// A step back was due, and this is where the climb starts.
    AtStart,
    /// The take does not count.
    Open,
}

impl Climbing {
    /// At the start.
    pub fn new(climb: Climb) -> Climbing {
        Climbing {
            climb,
            at: 0,
            short: 0,
        }
    }

    /// How fast the next take is.
    pub fn speed(&self) -> Speed {
        self.climb.speed(self.at)
    }

    /// The climb.
    pub fn climb(&self) -> &Climb {
        &self.climb
    }

    /// Goes on from a take that was played at [`Climbing::speed`].
    pub fn after(&mut self, verdict: &Verdict) -> Moved {
        match verdict {
            Verdict::Open(_) => Moved::Open,
            Verdict::Met => {
                self.short = 0;
                if self.faster() {
                    Moved::Up
                } else {
                    Moved::Arrived
                }
            }
            Verdict::Short(_) => {
                self.short += 1;
                if self.short < BACK_AFTER {
                    return Moved::Stays;
                }
                if self.slower() {
                    Moved::Back
                } else {
                    Moved::AtStart
                }
            }
        }
    }

    /// A step slower by hand, if there is one. What counted towards a step back was at another speed.
    pub fn slower(&mut self) -> bool {
        let is_above = self.at > 0;
        self.at = self.at.saturating_sub(1);
        self.short = 0;
        is_above
    }

    /// A step faster by hand, if there is one.
    pub fn faster(&mut self) -> bool {
        let is_below = self.at < self.climb.steps();
        self.at += u32::from(is_below);
        self.short = 0;
        is_below
    }

    /// What is said of it, in one sentence.
    pub fn said(&self, moved: Moved, verdict: &Verdict) -> String {
        let now = percent(self.speed());
        let why = why(verdict);
        match moved {
            Moved::Up => format!("Up to {now}: {why}."),
            Moved::Arrived => format!("Arrived at the goal of {now}: {why}."),
            Moved::Stays => format!("Once more at {now}: {why}."),
            Moved::Back => {
                format!("A step back to {now}, as after any two takes that fall short: {why}.")
            }
            Moved::AtStart => format!("Once more at {now}, where the climb starts: {why}."),
            Moved::Open => format!("Once more at {now}: {why}."),
        }
    }
}

fn why(verdict: &Verdict) -> String {
    match verdict {
        Verdict::Met => "all that is asked for was there".into(),
        Verdict::Short(lacks) => {
            let lacks: Vec<String> = lacks.iter().map(Lack::to_string).collect();
            lacks.join(", ")
        }
        Verdict::Open(why) => why.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::criteria::WhyOpen;
    use super::*;
    use proptest::prelude::*;

    fn climbing() -> Climbing {
        Climbing::new("60-70 by 5".parse().expect("a climb"))
    }

    fn short() -> Verdict {
        Verdict::Short(vec![Lack::InTime(72.4, 80.0, 30.0)])
    }

    #[test]
    fn it_climbs_arrives_and_stays_there() {
        let mut climb = climbing();
        let moves: Vec<Moved> = (0..4).map(|_| climb.after(&Verdict::Met)).collect();
        assert_eq!(
            moves,
            [Moved::Up, Moved::Up, Moved::Arrived, Moved::Arrived]
        );
        assert_eq!(climb.speed(), Speed(70_000));
    }

    #[test]
    fn only_the_second_short_take_in_a_row_leads_back() {
        let mut climb = climbing();
        climb.after(&Verdict::Met);
        assert_eq!(climb.after(&short()), Moved::Stays);
        // A stopped take is neither good nor bad.
        assert_eq!(climb.after(&Verdict::Open(WhyOpen::Stopped)), Moved::Open);
        assert_eq!(climb.after(&short()), Moved::Back);
        assert_eq!(climb.speed(), Speed(60_000));
        assert_eq!(climb.after(&short()), Moved::Stays);
        assert_eq!(climb.after(&short()), Moved::AtStart);
        assert_eq!(climb.speed(), Speed(60_000));
    }

    #[test]
    fn a_good_take_or_a_speed_set_by_hand_begins_the_count_anew() {
        let mut climb = climbing();
        climb.after(&short());
        assert!(climb.faster());
        assert_eq!(climb.after(&short()), Moved::Stays);
        climb.after(&Verdict::Met);
        assert_eq!(climb.after(&short()), Moved::Stays);
        assert!(!climb.faster() && climb.slower() && climb.slower() && !climb.slower());
    }

    #[test]
    fn each_move_is_said_with_its_reason() {
        let mut climb = climbing();
        let mut after = |verdict: Verdict| {
            let moved = climb.after(&verdict);
            climb.said(moved, &verdict)
        };
        assert_eq!(
            after(Verdict::Met),
            "Up to 65 %: all that is asked for was there."
        );
        let lack = "72 % in time (±30 ms; 80 % needed)";
        assert_eq!(after(short()), format!("Once more at 65 %: {lack}."));
        let back = "A step back to 60 %, as after any two takes that fall short";
        assert_eq!(after(short()), format!("{back}: {lack}."));
        let stopped = Verdict::Open(WhyOpen::Stopped);
        let open = "Once more at 60 %: stopped before the end, so it does not count.";
        assert_eq!(after(stopped), open);
    }

    fn verdicts() -> impl Strategy<Value = u8> {
        0u8..5
    }

    proptest! {
        #[test]
        fn the_speed_never_leaves_the_climb_and_goes_back_only_after_two(
            start in 10_000u32..399_000, up in 1u32..390_000, step in 1_000u32..500_000,
            events in prop::collection::vec(verdicts(), 0..200),
        ) {
            let goal = (start + up).min(400_000);
            let climb = Climb::new(Speed(start), Speed(goal), Speed(step)).expect("a climb");
            let mut climbing = Climbing::new(climb);
            let mut short_in_a_row = 0;
            for event in events {
                let before = climbing.speed();
                match event {
                    0 => { climbing.after(&Verdict::Met); short_in_a_row = 0; }
                    1 => {
                        climbing.after(&short());
                        short_in_a_row += 1;
                        if climbing.speed().0 < before.0 {
                            prop_assert!(short_in_a_row >= 2);
                        }
                        if short_in_a_row == 2 { short_in_a_row = 0; }
                    }
                    2 => { climbing.after(&Verdict::Open(WhyOpen::Silent)); }
                    3 => { climbing.slower(); short_in_a_row = 0; }
                    _ => { climbing.faster(); short_in_a_row = 0; }
                }
                prop_assert!((start..=goal).contains(&climbing.speed().0));
            }
        }
    }
}
