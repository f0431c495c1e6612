//! Keys and chords: a key that the notes disagree with, spellings, what is missing.

use super::{Ground, Remark};
use crate::expected::ExpectedNote;
use crate::line::degree::Degree;
use crate::line::key_signature::{KeySignature, Mode};
use crate::line::pitch::PitchClass;

/// Fewer notes tell no key.
const ENOUGH_NOTES: usize = 8;

/// Notes outside the key, beyond one in so many, are no passing notes.
const OUTSIDE: usize = 3;

pub(super) fn advise(ground: &Ground<'_>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for section in 0..ground.line.sections.len() {
        remarks.extend(off_key(ground, section));
        remarks.extend(chords_missing(ground, section));
    }
    let notes = ground.expected.notes.iter();
    remarks.extend(notes.filter_map(|note| spelling(ground, note)));
    remarks.extend(no_key(ground));
    remarks
}

/// Whether the key has the note; the minor keys also have the raised sixth and seventh (common practice).
fn has(key: KeySignature, semitone: i16) -> bool {
    let above = (semitone - i16::from(key.tonic.semitones())).rem_euclid(12);
    let is_minor = matches!(
        key.mode,
        Mode::Minor | Mode::Aeolian | Mode::HarmonicMinor | Mode::MelodicMinor
    );
    let raised = if is_minor { &[8, 9, 10, 11][..] } else { &[] };
    key.mode
        .scale()
        .iter()
        .any(|step| i16::from(*step) == above)
        || raised.contains(&above)
}

fn off_key(ground: &Ground<'_>, section: usize) -> Option<Remark> {
    let first_pass = ground.expected.notes.iter();
    let first_pass =
        first_pass.filter(|note| usize::from(note.section) == section && note.pass == 1);
    let notes: Vec<&ExpectedNote> = first_pass.filter(|note| note.key.is_some()).collect();
    let key = notes.first()?.signature?;
    let outside = |key: KeySignature| {
        let away = notes.iter().filter(|note| {
            let in_chord = note.chord.is_some_and(|chord| chord.belongs());
            !in_chord
                && note
                    .key
                    .is_some_and(|sounding| !has(key, i16::from(sounding.0)))
        });
        away.count()
    };
    let away = outside(key);
    if notes.len() < ENOUGH_NOTES || away * OUTSIDE <= notes.len() {
        return None;
    }
    // Of keys that fit alike, the one on the note that the section is most often on.
    let on_tonic = |key: &KeySignature| {
        let on = notes
            .iter()
            .filter(|note| note.key.is_some_and(|sounding| key.tonic.sounds(sounding)));
        on.count()
    };
    let other =
        other_keys().min_by_key(|other| (outside(*other), std::cmp::Reverse(on_tonic(other))))?;
    let left = outside(other);
    let text = format!("{away} of {} notes lie outside {key}", notes.len());
    let better = if left == 0 {
        format!("{other} has all of them")
    } else if 2 * left <= away {
        format!("{other} has all but {left} of them")
    } else {
        "give each stretch that has a key of its own a section, or leave the key out".to_owned()
    };
    let key = match ground.line.sections[section].key {
        Some(_) => ground.at_key(section, "key"),
        None => ground.at_key(section, "name"),
    };
    Some(Remark::new("off-key", key, text, better))
}

/// The major and minor keys, named with the fewest accidentals.
fn other_keys() -> impl Iterator<Item = KeySignature> {
    let c = PitchClass {
        letter: 0,
        accidental: 0,
    };
    [Mode::Major, Mode::Minor]
        .into_iter()
        .flat_map(move |mode| {
            let key = KeySignature { tonic: c, mode };
            (0..12).map(move |semitones| key.shifted(semitones))
        })
}

/// A note of the key under another name, where no chord asks for that name.
fn spelling(ground: &Ground<'_>, note: &ExpectedNote) -> Option<Remark> {
    let (sounding, key, spelled) = (note.key?, note.signature?, note.spelled?);
    if ground.shift(note) != 0 || note.chord.is_some_and(|chord| chord.belongs()) {
        return None;
    }
    let in_key = Degree::in_mode(sounding, key)?.above(key.tonic)?;
    if in_key == spelled {
        return None;
    }
    let text = format!("{spelled} is {in_key} in {key}");
    let better = format!("write {in_key}");
    Some(Remark::new("spelling", ground.at_note(note), text, better))
}

fn no_key(ground: &Ground<'_>) -> Option<Remark> {
    let is_keyless = |note: &&ExpectedNote| note.key.is_some() && note.signature.is_none();
    let note = ground.expected.notes.iter().find(is_keyless)?;
    let section = usize::from(note.section);
    let text = "no key is given: wrong degrees cannot be told apart from wrong notes".to_owned();
    let (spot, better) = match ground.line.sections.len() {
        1 => (
            ground.at_head("title"),
            "key = \"E minor\" at the head, or whichever it is",
        ),
        _ => (
            ground.at_key(section, "name"),
            "key = \"E minor\" at the head or in the section, or whichever it is",
        ),
    };
    Some(Remark::new("no-key", spot, text, better))
}

fn chords_missing(ground: &Ground<'_>, section: usize) -> Option<Remark> {
    let sections = &ground.line.sections;
    let Some(chords) = &sections[section].chords else {
        let other = sections.iter().find(|section| section.chords.is_some())?;
        let text = format!("no chords here, though {} has them", other.name);
        let better = "chords = \"Dm7 | G7\", one cell a bar, `-` where the chord goes on";
        return Some(Remark::new(
            "chords-missing",
            ground.at_key(section, "notes"),
            text,
            better,
        ));
    };
    let pickup = usize::from(ground.line.pickup && section == 0);
    let first = chords.get(pickup)?;
    if section > 0 || !first.chords.is_empty() {
        return None;
    }
    let text = "the first bar has no chord, and none before it goes on".to_owned();
    let better = "write the chord that the line begins with";
    Some(Remark::new(
        "chords-missing",
        ground.at_key(section, "chords"),
        text,
        better,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_major_and_minor_key_is_tried_once() {
        let keys: Vec<KeySignature> = other_keys().collect();
        assert_eq!(keys.len(), 24);
        assert!(keys.iter().all(|key| key.sharps().abs() <= 6), "{keys:?}");
    }

    #[test]
    fn a_minor_key_has_its_raised_seventh() {
        let key = |mode| KeySignature {
            tonic: "A".parse().unwrap(),
            mode,
        };
        assert!(has(key(Mode::Minor), 8));
        assert!(!has(key(Mode::Dorian), 8));
    }
}
