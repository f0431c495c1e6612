//! What stands between finger and number, measured: `fixed + periods / f0`.
//!
//! The tool plays tone bursts ([`schedule`], [`bursts`]) through the output; the pickup hears the headphone that lies
//! on it, the converter answers, and each answer is paired with its burst ([`answers`]). A robust line ([`robust_line`])
//! through delay over period gives the law, and [`measurement`] says whether it can be believed.
//!
//! A burst's time is when it is heard as far as the audio system knows, and a note's time is the one that a take would
//! give it. So the delay holds all that the system does not know of its own output, the way into the machine, and the
//! converter: exactly what has to come off the notes of a take whose click is heard over the same output.
//!
//! All is pure but [`listen`], which waits for a session, and [`kept`], which keeps the results in a file.

pub mod answers;
pub mod bursts;
pub mod kept;
pub mod listen;
pub mod measurement;
pub mod robust_line;
pub mod schedule;
pub mod tap;

pub use answers::NoteOn;
pub use measurement::{Doubt, Measurement};
pub use schedule::{Burst, Schedule};
