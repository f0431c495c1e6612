//! The judge: which played note is whose, and how each sat against the line.
//!
//! Matching comes first ([`matcher`]), verdicts after ([`reading`]), as separate pure parts; [`judge`] feeds both
//! from a stream of events. All times are [`Nanos`](crate::units::Nanos) since bar 1 beat 1.

pub mod by_section;
pub mod capture;
pub mod convention;
pub mod cost;
pub mod fit;
#[allow(clippy::module_inception)] // the type that does what the folder is named for
pub mod judge;
pub mod matcher;
pub mod reading;
pub mod rows;
pub mod settings;
pub mod start;
pub mod summary;
pub mod tips;
pub mod tree;

pub use judge::{Judge, Judgement};
pub use reading::{Length, Partner, Reading, Timing};
pub use settings::Settings;
