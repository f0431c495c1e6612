//! Why a file could not be read at all. Damage that leaves something to read is [`Damage`](super::damage::Damage).

use std::io;
use std::path::PathBuf;

/// Why no take can be had from these bytes.
#[derive(Debug, thiserror::Error)]
pub enum SmfError {
    /// Nothing in it.
    #[error("the file is empty")]
    Empty,
    /// Something else than a MIDI file.
    #[error("this is not a MIDI file: it looks like {looks_like}; a MIDI file begins with `MThd`")]
    NotMidi {
        /// In plain words.
        looks_like: String,
    },
    /// The file ends inside the header.
    #[error(
        "the file breaks off inside its header: {found} bytes are there, a header alone takes 14"
    )]
    HeaderCut {
        /// Bytes in the file.
        found: usize,
    },
    /// The header chunk says that it is shorter than a header can be.
    #[error(
        "the header is damaged: it says that it is {0} bytes long, and a header takes at least 6"
    )]
    HeaderLength(u32),
    /// Format 2.
    #[error(
        "the file is of format 2: its tracks are independent sequences that do not sound together; \
         export the one that was played as format 0 or 1"
    )]
    IndependentSequences,
    /// A format that the standard does not know.
    #[error("the file says that it is of format {0}; leadsman reads formats 0 and 1")]
    UnknownFormat(u16),
    /// A division that divides nothing.
    #[error(
        "the header is damaged: its time division 0x{0:04X} is neither ticks a quarter note nor a known time code"
    )]
    Division(u16),
    /// The file could not be opened or read.
    #[error("cannot read {}: {source}", path.display())]
    Io {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The file was read but holds no take.
    #[error("{}: {source}", path.display())]
    InFile {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        source: Box<SmfError>,
    },
}

/// What the first bytes of a file that is no MIDI file suggest, in plain words.
pub(super) fn looks_like(bytes: &[u8]) -> String {
    let kind = match bytes {
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'W',
            b'A',
            b'V',
            b'E',
            ..,
        ] => "a WAVE sound recording",
        [b'F', b'O', b'R', b'M', ..] => "an AIFF sound recording",
        [b'f', b'L', b'a', b'C', ..] => "a FLAC sound recording",
        [b'O', b'g', b'g', b'S', ..] => "an Ogg sound recording",
        [b'I', b'D', b'3', ..] | [0xFF, 0xFB | 0xF3 | 0xF2, ..] => "an MP3 sound recording",
        [b'P', b'K', 3, 4, ..] => "a ZIP archive (compressed MusicXML is one)",
        [0x1F, 0x8B, ..] => "a gzip archive",
        _ if bytes.starts_with(b"SQLite format 3") => "an SQLite database",
        _ => return looks_like_text(bytes),
    };
    kind.to_string()
}

fn looks_like_text(bytes: &[u8]) -> String {
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(400)]);
    let is_text = !head.trim().is_empty()
        && !head
            .chars()
            .any(|c| c.is_control() && !c.is_whitespace() || c == char::REPLACEMENT_CHARACTER);
    let head = head.trim_start_matches('\u{feff}').trim_start();
    if !is_text {
        let shown = &bytes[..bytes.len().min(4)];
        return format!("other data (its first bytes are {shown:02X?})");
    }
    if head.starts_with("<?xml") || head.starts_with("<score") {
        return "an XML file (MusicXML is one)".to_string();
    }
    let first: String = head.lines().next().unwrap_or("").chars().take(40).collect();
    format!("text (it begins with `{}`)", first.trim_end())
}
