//! Charts: numbers as SVG, drawn by `plotters` and coloured by the style sheet of the page they stand in.
//!
//! A chart knows numbers, words and units, and nothing of takes. Its text stays text. What it shows by colour it also shows by shape
//! or dashes. The page gives the colours: see [`ink::Ink`].

pub mod axis;
mod canvas;
pub mod ink;
pub mod mark;
pub mod scatter;
pub mod strips;

pub use axis::Axis;
pub use canvas::Drawing;
pub use ink::Ink;
pub use mark::Mark;
pub use scatter::{Curve, Scatter};
pub use strips::{Strip, Strips};
