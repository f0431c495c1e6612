//! Practice: what the next take is, what is said between takes, and what the player can ask for with both hands full.
//!
//! Pure: no thread, clock, device or terminal. Time comes in with each event; whoever calls owns the clock and says which one
//! it is. A *take* is one run through what is set up; a pass (one time through a repeated section) is the line's own matter.
//!
//! ```text
//! TakeSum::of(&Checked) ─┐
//! control ─► Command ────┼─► Plan::next ─► Step: this take now, end it, play on, wait, leave
//! settings ─► Change ────┘
//! ```

pub mod announce;
pub mod between;
pub mod care;
pub mod climb;
pub mod climbing;
pub mod command;
pub mod control;
pub mod criteria;
mod going;
mod measure;
pub mod part;
pub mod plan;
#[cfg(test)]
mod sample;
pub mod setup;
pub mod take_sum;

pub use between::{Between, between};
pub use climb::Climb;
pub use command::Command;
pub use criteria::Criteria;
pub use part::Part;
pub use plan::{Event, Now, Plan, Step};
pub use setup::{Change, Guide, Method, NextTake, Repeat, Setup, Start};
pub use take_sum::{How, TakeSum};

use crate::expected::tempo_map::Speed;
use crate::units::shortest;

/// `65 %`.
pub(crate) fn percent(speed: Speed) -> String {
    format!("{} %", shortest(speed.percent()))
}
