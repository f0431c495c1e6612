//! The line as a file for other programs: a Standard MIDI File or MusicXML.
//!
//! Both are made in memory, in whole, from a line that the line reader has accepted; nothing here touches a disk.

pub mod musicxml;
pub mod smf;

/// A file to be, and what of the line it does not hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// The whole file.
    pub bytes: Vec<u8>,
    /// What is not carried over, in words, one entry a kind: `gate of "A" (0.85)`.
    pub lost: Vec<String>,
}
