//! Notes by name, as the line spells them.

use super::evidence::Heard;
use crate::expected::CountedFrom;
use crate::line::pitch::PitchClass;
use crate::units::Key;

/// What was played and what the line has, without octaves: C and Cb.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Names {
    pub played: String,
    pub line: String,
}

impl Names {
    fn of(heard: &Heard) -> Option<Names> {
        let expected = heard.note.key?;
        let name = |class: Option<PitchClass>, key| {
            class.map_or_else(|| plain(key), |class| class.to_string())
        };
        Some(Names {
            played: name(spelled(heard), heard.played),
            line: name(heard.note.spelled, expected),
        })
    }
}

/// The pair that is heard most often (of equals the first), and how often it is.
pub fn most_often(group: &[&Heard]) -> Option<(Names, usize)> {
    let mut counts: Vec<(Names, usize)> = Vec::new();
    for names in group.iter().filter_map(|heard| Names::of(heard)) {
        match counts.iter_mut().find(|(known, _)| *known == names) {
            Some((_, count)) => *count += 1,
            None => counts.push((names, 1)),
        }
    }
    counts.into_iter().rev().max_by_key(|(_, count)| *count)
}

/// The played key as its degree is written in the chord or the key.
fn spelled(heard: &Heard) -> Option<PitchClass> {
    let contrast = heard.note.contrast(heard.played)?;
    let base = match contrast.from {
        CountedFrom::Root => heard.note.chord?.root,
        CountedFrom::Tonic => heard.note.signature?.tonic,
    };
    contrast.played.above(base)
}

/// The name of a key without its octave.
fn plain(key: Key) -> String {
    let name = key.to_string();
    name.trim_end_matches(|c: char| c.is_ascii_digit() || c == '-')
        .to_owned()
}
