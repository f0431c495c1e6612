//! Lengths in the words of musicians: `a dotted quarter`, `two whole notes and an eighth`.

use super::length::NoteLength;
use crate::units::{TICKS_PER_WHOLE, Ticks};

const NAMES: [(u8, &str); 6] = [
    (1, "whole note"),
    (2, "half"),
    (4, "quarter"),
    (8, "eighth"),
    (16, "sixteenth"),
    (32, "thirty-second"),
];

/// A positive length in note values, or as a fraction of a whole note where those are too many.
pub(super) fn amount(length: Ticks) -> String {
    let wholes = length.0 / TICKS_PER_WHOLE;
    let mut rest = Ticks(length.0 % TICKS_PER_WHOLE);
    let mut parts = Vec::new();
    match wholes {
        0 => {}
        1 if single(length).is_some() => return single(length).unwrap_or_default(),
        1 => parts.push("a whole note".to_owned()),
        _ => parts.push(format!("{wholes} whole notes")),
    }
    while rest.0 > 0 {
        if parts.len() > 3 {
            return fraction(length);
        }
        if let Some(name) = single(rest) {
            parts.push(name);
            break;
        }
        let Some((value, name)) = NAMES.iter().find(|(value, _)| plain(*value) <= rest) else {
            return fraction(length);
        };
        parts.push(with_article(name));
        rest -= plain(*value);
    }
    if parts.is_empty() {
        return "nothing".to_owned();
    }
    super::mistake::all(&parts)
}

/// The note value that is exactly this long, plain before dotted before triplet.
pub(super) fn exact(length: Ticks) -> Option<NoteLength> {
    let shapes = [
        (0, false),
        (1, false),
        (0, true),
        (2, false),
        (1, true),
        (2, true),
    ];
    shapes
        .into_iter()
        .flat_map(|(dots, triplet)| {
            NAMES.map(|(value, _)| NoteLength {
                value,
                dots,
                triplet,
            })
        })
        .find(|candidate| candidate.ticks() == length)
}

fn single(length: Ticks) -> Option<String> {
    let found = exact(length)?;
    let name = NAMES.iter().find(|(value, _)| *value == found.value)?.1;
    let dots = ["", "dotted ", "double-dotted "][usize::from(found.dots)];
    let triplet = if found.triplet { "triplet " } else { "" };
    Some(with_article(&format!("{triplet}{dots}{name}")))
}

fn with_article(name: &str) -> String {
    let article = if name.starts_with('e') { "an" } else { "a" };
    format!("{article} {name}")
}

fn fraction(length: Ticks) -> String {
    let divisor = greatest_common_divisor(length.0, TICKS_PER_WHOLE);
    format!(
        "{}/{} of a whole note",
        length.0 / divisor,
        TICKS_PER_WHOLE / divisor
    )
}

fn greatest_common_divisor(a: i64, b: i64) -> i64 {
    if b == 0 {
        a
    } else {
        greatest_common_divisor(b, a % b)
    }
}

fn plain(value: u8) -> Ticks {
    Ticks(TICKS_PER_WHOLE / i64::from(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_named_as_musicians_name_them() {
        for (ticks, words) in [
            (480, "an eighth"),
            (720, "a dotted eighth"),
            (840, "a double-dotted eighth"),
            (320, "a triplet eighth"),
            (1440, "a dotted quarter"),
            (2400, "a half and an eighth"),
            (3360, "a double-dotted half"),
            (3600, "a half and a double-dotted quarter"),
            (3840, "a whole note"),
            (5760, "a dotted whole note"),
            (7680, "2 whole notes"),
            (8160, "2 whole notes and an eighth"),
            (1, "1/3840 of a whole note"),
        ] {
            assert_eq!(amount(Ticks(ticks)), words, "{ticks}");
        }
    }
}
