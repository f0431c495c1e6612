//! Why no part can be had from a MIDI file.

use super::grid::Grid;
use crate::midi::smf::error::SmfError;
use std::fmt;

/// Why nothing could be made of a file.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    /// No MIDI file, or one that is damaged from its header on.
    #[error(transparent)]
    File(#[from] SmfError),
    /// One of our takes.
    #[error(
        "this is a take, not a line: `leadsman check LINE TAKE` compares it with the line it was played to. \
         To make a line of what was played, record it in a sequencer to its click and import that"
    )]
    Take,
    /// Ticks are parts of film frames.
    #[error(
        "the file counts film frames, not beats, so it has no bars: export it again with ticks per quarter note"
    )]
    Frames,
    /// Nothing sounds.
    #[error("the file has no notes{}", damaged(.0))]
    NoNotes(Vec<String>),
    /// Several tracks or channels and no reason to take one of them.
    #[error("the file has several parts, choose one with --track and --channel:\n{}", List(.0))]
    Several(Vec<String>),
    /// What was asked for is not there, or is there more than once.
    #[error("{asked} {why}; the parts are:\n{}", List(.parts))]
    NoSuch {
        /// The options as they were given.
        asked: String,
        /// "has no notes" or "fits several parts".
        why: &'static str,
        /// All parts.
        parts: Vec<String>,
    },
    /// The notes are on no grid.
    #[error(
        "the notes fit no grid from 1/4 to 1/32, straight or in triplets: on the nearest, {grid}, {off} of {of} notes \
         would be too far off and the typical one {typical_ms:.0} ms. It was played without the file's beat, or freely; \
         --grid {grid} quantises it all the same"
    )]
    NoGrid {
        /// The one that comes nearest.
        grid: Grid,
        /// Notes in groups that the spread does not explain.
        off: usize,
        /// All notes.
        of: usize,
        /// The middle distance from the grid in ms.
        typical_ms: f64,
    },
    /// More bars than any part.
    #[error("the notes lie in more than {} bars", super::frame::MOST_BARS)]
    TooLong,
}

fn damaged(damage: &[String]) -> String {
    damage.iter().map(|entry| format!("\n  {entry}")).collect()
}

struct List<'l>(&'l [String]);

impl fmt::Display for List<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(|entry| format!("  {entry}")).collect();
        f.write_str(&lines.join("\n"))
    }
}
