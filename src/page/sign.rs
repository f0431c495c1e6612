//! Signs, and what they mean.

use super::RowKind;

/// A sign that needs a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sign {
    /// The first note, or one after a rest.
    Entry,
    /// Struck harder.
    Accent,
    /// Half its written length.
    Short,
    /// Until the next note.
    Full,
    /// Damped with the hand.
    Muted,
    /// May be left out.
    Ghost,
    /// No pitch.
    Dead,
    /// Silence.
    Rest,
    /// Still sounding.
    Held,
    /// The second and third of a triplet.
    Triplet,
    /// A place that has no syllable.
    Between,
    /// No place on the fingerboard.
    NoPlace,
    /// A stroke down.
    Down,
    /// A stroke up.
    Up,
    /// A written note that was not played.
    Missed,
    /// A ghost note that was left out.
    LeftOut,
    /// Nothing can be said of its time.
    Unjudged,
}

impl Sign {
    /// The row that it stands in; `None` on strings and among the ms.
    pub fn row(self) -> Option<RowKind> {
        match self {
            Sign::Entry | Sign::Accent | Sign::Short | Sign::Full | Sign::Muted => {
                Some(RowKind::Mark)
            }
            Sign::Triplet | Sign::Between => Some(RowKind::Count),
            Sign::Down | Sign::Up => Some(RowKind::Stroke),
            _ => None,
        }
    }

    /// How it looks.
    pub fn shape(self) -> &'static str {
        match self {
            Sign::Entry => "*",
            Sign::Accent => ">",
            Sign::Short => "'",
            Sign::Full => "_",
            Sign::Muted => "m",
            Sign::Ghost => "( )",
            Sign::Dead => "x",
            Sign::Rest => "r",
            Sign::Held => "=",
            Sign::Triplet => "t l",
            Sign::Between => ".",
            Sign::NoPlace | Sign::Unjudged => "?",
            Sign::Down => "d",
            Sign::Up => "u",
            Sign::Missed => "--",
            Sign::LeftOut => "()",
        }
    }

    /// What it means.
    pub fn meaning(self) -> &'static str {
        match self {
            Sign::Entry => "entry",
            Sign::Accent => "accent",
            Sign::Short => "short",
            Sign::Full => "full length",
            Sign::Muted => "mute it",
            Sign::Ghost => "ghost note, may stay away",
            Sign::Dead => "dead note",
            Sign::Rest => "rest",
            Sign::Held => "held",
            Sign::Triplet => "triplet",
            Sign::Between => "between the counts",
            Sign::NoPlace => "not on this fingerboard",
            Sign::Down => "down",
            Sign::Up => "up",
            Sign::Missed => "missed",
            Sign::LeftOut => "ghost note left out",
            Sign::Unjudged => "time not judged",
        }
    }
}
