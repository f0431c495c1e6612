//! Notes by name, as the line spells them.

use super::evidence::Heard;
use crate::expected::CountedFrom;
use crate::line::pitch::PitchClass;
use crate::units::Key;

/// "C where the line has Cb": what was played, and what the line has, without octaves.
pub fn beside(heard: &Heard) -> Option<String> {
    let expected = heard.note.key?;
    let line = heard
        .note
        .spelled
        .map_or_else(|| plain(expected), |class| class.to_string());
    let played = spelled(heard).map_or_else(|| plain(heard.played), |class| class.to_string());
    Some(format!("{played} where the line has {line}"))
}

/// The name that of several such pairs is heard most often (of equals the first), and how often it is.
pub fn most_often(group: &[&Heard]) -> Option<(String, usize)> {
    let mut counts: Vec<(String, usize)> = Vec::new();
    for name in group.iter().filter_map(|heard| beside(heard)) {
        match counts.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
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
