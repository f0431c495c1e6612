//! Mistakes in bars and how they are filled.

use super::Explanation;

/// A mistake in a bar.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BarMistake {
    /// The section has no notes at all.
    #[error("the section has no notes")]
    NoNotes,
    /// Nothing between two bar lines.
    #[error("bar {bar} is empty")]
    EmptyBar {
        /// The bar.
        bar: usize,
        /// A rest of a whole bar, where one note value fills it.
        rest: Option<String>,
    },
    /// The notes end before the bar does.
    #[error("bar {bar} is {missing} short")]
    BarTooShort {
        /// The bar.
        bar: usize,
        /// What is missing, in note values.
        missing: String,
        /// What the bar has, in note values.
        has: String,
        /// The meter.
        meter: String,
    },
    /// The notes go on after the bar has ended.
    #[error("bar {bar} is {extra} too long")]
    BarTooLong {
        /// The bar.
        bar: usize,
        /// What is too much, in note values.
        extra: String,
        /// What the bar has, in note values.
        has: String,
        /// The meter.
        meter: String,
    },
    /// A pickup that fills its meter or more.
    #[error("the pickup is not shorter than a bar of {meter}")]
    PickupNotShorter {
        /// What it has, in note values.
        has: String,
        /// The meter.
        meter: String,
    },
    /// A pickup in a later section.
    #[error("only the first section can begin with a pickup")]
    PickupNotFirst,
    /// A pickup and no bar after it.
    #[error("nothing follows the pickup in its section")]
    NothingAfterPickup,
}

impl BarMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use BarMistake as M;
        match self {
            M::NoNotes => Explanation::new(
                "no-notes",
                "no notes in here",
                "write at least one bar, such as `notes = \"E1/4 E1/4 E1/4 E1/4\"`",
            ),
            M::EmptyBar { rest, .. } => Explanation::new(
                "empty-bar",
                "nothing between these bar lines",
                match rest {
                    Some(rest) => format!("write `{rest}` for a bar of rest, or take one `|` away"),
                    None => "write rests that fill the bar, or take one `|` away".to_owned(),
                },
            ),
            M::BarTooShort {
                bar,
                missing,
                has,
                meter,
            } => Explanation::new(
                "bar-too-short",
                format!("{has} in a bar of {meter}"),
                if *bar == 1 {
                    format!(
                        "add {missing}, as a note or a rest, or say `pickup = true` if this bar is a pickup"
                    )
                } else {
                    format!("add {missing}, as a note or a rest, or check where the `|` belongs")
                },
            ),
            M::BarTooLong {
                extra, has, meter, ..
            } => Explanation::new(
                "bar-too-long",
                format!("{has} in a bar of {meter}"),
                format!("take {extra} away, or check where the `|` belongs"),
            ),
            M::PickupNotShorter { has, .. } => Explanation::new(
                "pickup-not-shorter",
                format!("{has} in this bar"),
                "leave `pickup` out, or keep only what comes before beat one of the first whole bar",
            ),
            M::PickupNotFirst => Explanation::new(
                "pickup-not-first",
                "a later section",
                "fill its first bar with rests, or move the pickup notes to the end of the section before",
            ),
            M::NothingAfterPickup => Explanation::new(
                "nothing-after-pickup",
                "a pickup to nothing",
                "write the bar that the pickup leads into",
            ),
        }
    }
}
