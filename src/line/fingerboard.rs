//! What can be reached on a tuning: the places of a pitch, and strings enough for a double stop.

use super::Stop;
use super::pitch::{Pitch, PitchClass};
use super::tuning::{HIGHEST_FRET, StringNumber, Tuning};
use crate::units::Key;

impl Tuning {
    /// The strings, highest first.
    pub fn strings(&self) -> impl Iterator<Item = StringNumber> + use<> {
        (1..=self.open.len() as u8).map(StringNumber)
    }

    /// The pitch of the lowest open string.
    pub fn lowest(&self) -> Option<Pitch> {
        self.open.first().copied()
    }

    /// The key at the last fret of the highest string.
    pub fn highest(&self) -> Option<Key> {
        let open = self.open.last()?.key()?;
        Some(Key(open.0.saturating_add(HIGHEST_FRET).min(127)))
    }

    /// Every place of a key, the strings nearest to `from` first: string and fret.
    pub fn places(&self, key: Key, from: StringNumber) -> Vec<(StringNumber, u8)> {
        let mut places: Vec<(StringNumber, u8)> = self
            .strings()
            .filter_map(|string| Some((string, self.fret_of(key, string)?)))
            .collect();
        places.sort_by_key(|(string, _)| string.0.abs_diff(from.0));
        places
    }

    /// The key that a stop sounds.
    pub fn key_of(&self, stop: Stop) -> Option<Key> {
        match stop {
            Stop::Pitch(pitch) | Stop::PitchOn { pitch, .. } => pitch.key(),
            Stop::Fret { string, fret } => self.key_at(string, fret),
        }
    }

    /// Whether every stop, moved by `shift` semitones, can be played, each on a string of its own.
    pub fn reaches(&self, stops: &[Stop], shift: i32) -> bool {
        let options: Option<Vec<Vec<StringNumber>>> = stops
            .iter()
            .map(|stop| Some(self.strings_for(*stop, shift)))
            .collect();
        options.is_some_and(|options| assignable(&options, &mut Vec::new()))
    }

    /// The strings that a stop, moved by `shift` semitones, can be played on.
    pub fn strings_for(&self, stop: Stop, shift: i32) -> Vec<StringNumber> {
        let Some(key) = self.key_of(stop) else {
            return Vec::new();
        };
        let Ok(moved) = u8::try_from(i32::from(key.0) + shift) else {
            return Vec::new();
        };
        let named = stop.string();
        self.strings()
            .filter(|string| named.is_none_or(|named| named == *string))
            .filter(|string| self.fret_of(Key(moved), *string).is_some())
            .collect()
    }

    /// The same note name in the octave nearest to `key` that can be played somewhere.
    pub fn nearest_octave(&self, class: PitchClass, key: i32) -> Option<Pitch> {
        (-2..=10)
            .map(|octave| Pitch { class, octave })
            .filter(|pitch| !self.strings_for(Stop::Pitch(*pitch), 0).is_empty())
            .min_by_key(|pitch| pitch.key().map(|near| i32::from(near.0).abs_diff(key)))
    }
}

impl Stop {
    /// The string, where the stop names one.
    pub fn string(self) -> Option<StringNumber> {
        match self {
            Stop::Pitch(_) => None,
            Stop::Fret { string, .. } | Stop::PitchOn { string, .. } => Some(string),
        }
    }
}

/// Whether one string can be taken from each list without taking any twice. At most eight strings: a plain search.
fn assignable(options: &[Vec<StringNumber>], taken: &mut Vec<StringNumber>) -> bool {
    let Some((first, rest)) = options.split_first() else {
        return true;
    };
    first.iter().any(|string| {
        if taken.contains(string) {
            return false;
        }
        taken.push(*string);
        let found = assignable(rest, taken);
        taken.pop();
        found
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pitch(text: &str) -> Stop {
        Stop::Pitch(text.parse().unwrap())
    }

    /// Open strings of a bass in fourths: E1 28, A1 33, D2 38, G2 43 (MIDI key numbers, computed from A4 = 69).
    #[test]
    fn open_strings_sound_their_keys() {
        let tuning = Tuning::default();
        let keys: Vec<u8> = tuning
            .strings()
            .filter_map(|string| Some(tuning.key_at(string, 0)?.0))
            .collect();
        assert_eq!(keys, [43, 38, 33, 28]);
    }

    /// The fret rule: fret n sounds n semitones above the open string (common practice).
    #[test]
    fn each_fret_is_a_semitone() {
        let tuning = Tuning::default();
        for string in tuning.strings() {
            let open = tuning.key_at(string, 0).unwrap();
            for fret in 0..=24 {
                assert_eq!(tuning.key_at(string, fret), Some(Key(open.0 + fret)));
                assert_eq!(tuning.fret_of(Key(open.0 + fret), string), Some(fret));
            }
            assert_eq!(tuning.key_at(string, 25), None);
        }
    }

    /// The fifth fret matches the next open string, and an octave lies two strings and two frets up (common practice).
    #[test]
    fn the_fingerboard_of_fourths_has_its_landmarks() {
        let tuning = Tuning::default();
        for (lower, upper) in
            [(4, 3), (3, 2), (2, 1)].map(|(l, u)| (StringNumber(l), StringNumber(u)))
        {
            assert_eq!(tuning.key_at(lower, 5), tuning.key_at(upper, 0));
        }
        for (lower, upper) in [(4, 2), (3, 1)].map(|(l, u)| (StringNumber(l), StringNumber(u))) {
            for fret in 0..=22 {
                let (low, high) = (tuning.key_at(lower, fret), tuning.key_at(upper, fret + 2));
                assert_eq!(low.map(|key| key.0 + 12), high.map(|key| key.0));
            }
        }
    }

    #[test]
    fn a_double_stop_needs_a_string_for_each_note() {
        let tuning = Tuning::default();
        assert!(tuning.reaches(&[pitch("D2"), pitch("A2")], 0));
        // Both are on the E string only.
        assert!(!tuning.reaches(&[pitch("E1"), pitch("F1")], 0));
        assert!(tuning.reaches(&[pitch("E1"), pitch("F1")], 5));
        assert!(!tuning.reaches(&[pitch("E1")], -1));
        assert!(!tuning.reaches(&[pitch("G4")], 1));
    }

    #[test]
    fn places_come_nearest_string_first() {
        let places = Tuning::default().places(Key(45), StringNumber(4));
        assert_eq!(
            places,
            [(4, 17), (3, 12), (2, 7), (1, 2)].map(|(s, f)| (StringNumber(s), f))
        );
    }
}
