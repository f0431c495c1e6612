//! Progress of one player on one line, from session to session: what is real, what is chance, what to expect, and what to
//! play today.
//!
//! Pure: takes come in as [`figures::TakeFigures`], the time as a number. Only takes on the same [`history::Footing`] (bars and
//! speed) are compared; where no footing has sessions enough, the speed is a covariate, and the [`Basis`] says so.

mod adding_up;
pub mod figures;
pub mod history;
pub mod measure;
pub mod outcome;
pub mod today;

pub use history::History;
pub use outcome::Progress;
