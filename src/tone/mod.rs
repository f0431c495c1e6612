//! The line as it should sound: a plucked string, rendered at exact frames.
//!
//! ```text
//! expected ─ score (strikes in frames) ─► Tone: voices of strings ─► mixed with the click, limited
//!                    recipe (one a pitch and touch) ─┘
//! ```
//!
//! The string is that of Karplus & Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer Music
//! Journal 7:2 (1983), with what Jaffe & Smith, "Extensions of the Karplus-Strong Plucked-String Algorithm" (same
//! issue), add: a loop of exactly the wanted length, damping of one's choice, a softer touch that is a duller one
//! (all from memory). Everything is laid out before the first block; rendering allocates nothing.

mod limit;
pub mod line_and_click;
mod loop_filter;
mod recipe;
mod renderer;
mod score;
mod voice;

pub use limit::{limit, limited};
pub use line_and_click::{LineAndClick, Mix};
pub use recipe::Touch;
pub use renderer::Tone;
