//! What is wrong with a file that could be read in part, in plain words.

use std::fmt;

/// One place where a file is damaged: what was read up to there, and what was not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// Which track, from 1; `None` for what lies outside tracks.
    pub track: Option<usize>,
    /// Where in the file, in bytes from 0.
    pub byte: usize,
    /// What is wrong there.
    pub kind: DamageKind,
    /// Events of the track (of any kind) that were read before it.
    pub events_read: usize,
    /// Bytes in the file that could not be read as music.
    pub unread: usize,
    /// Bytes that the file promises and does not have.
    pub missing: usize,
}

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DamageKind {
    /// The track ends in the middle of an event.
    CutShort,
    /// The track ends between events, without its End of Track.
    NoEndOfTrack,
    /// The track goes on after its End of Track.
    AfterEnd,
    /// The track's End of Track is not where its length says; every event was read all the same.
    WrongLength,
    /// A number that does not end within four bytes.
    LongNumber,
    /// A data byte before any status byte.
    NoStatus,
    /// A status byte that does not exist.
    UnknownStatus(u8),
    /// A status byte in the place of a data byte.
    NoData(u8),
    /// A tempo that is none; passed over.
    Tempo,
    /// A time signature that is none; passed over.
    TimeSignature,
    /// Bytes that belong to no track.
    Stray,
    /// Fewer tracks than the header says.
    MissingTracks {
        /// What the header says.
        promised: u16,
        /// What is there.
        found: usize,
    },
}

impl Damage {
    /// Whether something of the file was not read because of it.
    pub fn loses_something(&self) -> bool {
        self.unread > 0 || self.missing > 0 || matches!(self.kind, DamageKind::MissingTracks { .. })
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.track {
            Some(track) => write!(f, "track {track}, byte {}: {}", self.byte, self.kind)?,
            None => write!(f, "byte {}: {}", self.byte, self.kind)?,
        }
        if self.track.is_some() {
            let verb = if self.events_read == 1 { "was" } else { "were" };
            write!(
                f,
                "; {} {verb} read before it",
                counted(self.events_read, "event")
            )?;
        }
        match (self.unread, self.missing) {
            (0, 0) => Ok(()),
            (unread, 0) => write!(f, "; {} could not be read", counted(unread, "byte")),
            (0, missing) => write!(f, "; {} not in the file", counted_are(missing)),
            (unread, missing) => write!(
                f,
                "; {} could not be read and {} not in the file",
                counted(unread, "byte"),
                counted_are(missing)
            ),
        }
    }
}

impl fmt::Display for DamageKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DamageKind::CutShort => write!(f, "the track breaks off in the middle of an event"),
            DamageKind::NoEndOfTrack => write!(f, "the track breaks off without an End of Track"),
            DamageKind::AfterEnd => write!(f, "the track goes on after its End of Track"),
            DamageKind::WrongLength => {
                write!(
                    f,
                    "the track ends elsewhere than its length says, and was read to its end"
                )
            }
            DamageKind::LongNumber => write!(f, "a number does not end within four bytes"),
            DamageKind::NoStatus => write!(f, "an event does not say what it is"),
            DamageKind::UnknownStatus(byte) => {
                write!(
                    f,
                    "an event says that it is 0x{byte:02X}, which does not exist"
                )
            }
            DamageKind::NoData(byte) => write!(
                f,
                "an event is broken off by 0x{byte:02X} where its data should be"
            ),
            DamageKind::Tempo => write!(f, "a tempo cannot be read and was passed over"),
            DamageKind::TimeSignature => {
                write!(f, "a time signature cannot be read and was passed over")
            }
            DamageKind::Stray => write!(f, "bytes here belong to no track"),
            DamageKind::MissingTracks { promised, found } => write!(
                f,
                "the header promises {}, and {found} {} there",
                counted(usize::from(*promised), "track"),
                if *found == 1 { "is" } else { "are" }
            ),
        }
    }
}

fn counted(count: usize, noun: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{plural}")
}

fn counted_are(bytes: usize) -> String {
    let verb = if bytes == 1 { "is" } else { "are" };
    format!("{} that its length promises {verb}", counted(bytes, "byte"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn damage_says_where_it_is_what_was_read_and_what_was_lost() {
        let damage = Damage {
            track: Some(2),
            byte: 1234,
            kind: DamageKind::CutShort,
            events_read: 87,
            unread: 2,
            missing: 201,
        };
        assert_eq!(
            damage.to_string(),
            "track 2, byte 1234: the track breaks off in the middle of an event; 87 events were read before it; \
             2 bytes could not be read and 201 bytes that its length promises are not in the file"
        );
    }
}
