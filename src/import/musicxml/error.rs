//! Why a MusicXML file cannot be read.

use std::fmt;

/// A place in the XML text, both from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct At {
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
}

/// Why nothing could be made of a file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// Larger than [`super::guard::LARGEST_BYTES`], as it is or once inflated.
    #[error("{what} is larger than {} MB, more than a part can need", super::guard::LARGEST_BYTES >> 20)]
    TooLarge {
        /// The file, or the file inside it.
        what: String,
    },
    /// The text has bytes that are no text.
    #[error("line {line} is not text in UTF-8: export the file again as UTF-8")]
    NotText {
        /// The line of the first of them, from 1.
        line: usize,
    },
    /// The XML is broken.
    #[error("{at}: {what}")]
    Xml {
        /// Where.
        at: At,
        /// What is wrong.
        what: String,
    },
    /// The XML declares entities of its own: nothing that a score needs, and a known way to blow up a reader.
    #[error("{at}: the file declares entities of its own, which are not read")]
    Entities {
        /// Where.
        at: At,
    },
    /// Elements inside elements beyond any score.
    #[error(
        "{at}: elements are nested more than {} deep, which no score is",
        super::guard::DEEPEST
    )]
    TooDeep {
        /// Where.
        at: At,
    },
    /// One tag with more attributes than any element of a score has.
    #[error(
        "{at}: the tag has more than {} attributes",
        super::guard::MOST_ATTRIBUTES
    )]
    TooManyAttributes {
        /// Where.
        at: At,
    },
    /// More namespaces than any score names.
    #[error(
        "{at}: the file names more than {} namespaces",
        super::guard::MOST_NAMESPACES
    )]
    TooManyNamespaces {
        /// Where.
        at: At,
    },
    /// More elements than [`super::guard::MOST_NODES`].
    #[error(
        "the score has more than {} XML nodes: export the bass part alone",
        super::guard::MOST_NODES
    )]
    TooManyNodes,
    /// The compressed file is broken.
    #[error("the compressed file cannot be opened: {0}")]
    Zip(String),
    /// The compressed file holds no score.
    #[error("the compressed file holds no score (no file that META-INF/container.xml names)")]
    NoScoreInside,
    /// XML, but of something else.
    #[error(
        "this is not MusicXML: its outermost element is <{0}>, not <score-partwise> or <score-timewise>"
    )]
    NotMusicXml(String),
    /// No part, or none with a measure.
    #[error("the score has no part with a bar in it")]
    NoPart,
    /// Several parts and no reason to take one of them.
    #[error("the score has several parts, choose one with --part:\n{}", List(.0))]
    SeveralParts(Vec<String>),
    /// The part that was asked for is not there, or is there more than once.
    #[error("--part {asked} {why}; the parts are:\n{}", List(.parts))]
    NoSuchPart {
        /// What was asked for.
        asked: String,
        /// "is not in the score" or "fits several".
        why: &'static str,
        /// All parts.
        parts: Vec<String>,
    },
    /// The voice that was asked for is not there.
    #[error("--voice {asked} is not in the part; its voices are:\n{}", List(.voices))]
    NoSuchVoice {
        /// What was asked for.
        asked: String,
        /// All voices.
        voices: Vec<String>,
    },
    /// Repeats that never seem to end.
    #[error(
        "with its repeats the part has more than {} bars",
        super::playing::MOST_BARS
    )]
    TooLong,
}

struct List<'l>(&'l [String]);

impl fmt::Display for List<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(|entry| format!("  {entry}")).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}", self.line, self.column)
    }
}

impl At {
    /// The place of a byte of the text.
    pub fn of_byte(text: &str, byte: usize) -> At {
        let before = text.as_bytes().get(..byte).unwrap_or(text.as_bytes());
        let start = before.iter().rposition(|byte| *byte == b'\n');
        let in_line = &before[start.map_or(0, |newline| newline + 1)..];
        let newlines = before.iter().filter(|byte| **byte == b'\n').count();
        // Continuation bytes of UTF-8 begin no character.
        let characters = in_line.iter().filter(|byte| **byte & 0xC0 != 0x80).count();
        At {
            line: newlines as u32 + 1,
            column: characters as u32 + 1,
        }
    }
}
