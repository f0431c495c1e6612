//! Writes down what is lost, and where the reader is just then.

use super::moment::Moment;
use crate::line::meter::Meter;
use crate::score::lost::{Losses, Spot};
use std::borrow::Cow;

/// The losses, with the reader's place.
pub struct Ledger<'l> {
    /// What has been lost so far.
    pub losses: &'l mut Losses,
    /// The measure's name.
    pub measure: String,
    /// The meter in force.
    pub meter: Meter,
    /// The place in the measure.
    pub at: Moment,
}

impl Ledger<'_> {
    /// One of a kind is lost here.
    pub fn lose(&mut self, what: impl Into<Cow<'static, str>>) {
        let spot = Spot::new(&self.measure, self.meter, self.at.ticks());
        self.losses.add(what, spot);
    }
}
