//! From a written place to a place on the tuning, with every mistake on the way.

use super::mistake::PlaceMistake as M;
use super::mistakes::Report;
use super::note_grammar::{self, StringName, WrittenPlace, WrittenStop};
use super::piece::Piece;
use super::pitch::{Pitch, PitchClass};
use super::tuning::{HIGHEST_FRET, StringNumber, Tuning};
use super::{Place, Stop};
use crate::units::Key;
use winnow::Parser;

/// Reads a place. Without a tuning only its shape is checked, and nothing comes of it.
pub(super) fn read(
    piece: Piece<'_>,
    tuning: Option<&Tuning>,
    report: &mut Report,
) -> Option<Place> {
    let Ok(written) = note_grammar::place.parse(piece.text) else {
        report_shape(piece, report);
        return None;
    };
    let board = Fingerboard { tuning: tuning? };
    match written {
        WrittenPlace::Rest => Some(Place::Rest),
        WrittenPlace::Dead(None) => Some(Place::Dead(None)),
        WrittenPlace::Dead(Some(name)) => board
            .string(name)
            .map(|string| Place::Dead(Some(string)))
            .map_err(|mistake| report.add(mistake, piece.span()))
            .ok(),
        WrittenPlace::Struck(stops) => board.struck(piece, &stops, report),
    }
}

struct Fingerboard<'t> {
    tuning: &'t Tuning,
}

impl Fingerboard<'_> {
    fn struck(
        &self,
        piece: Piece<'_>,
        written: &[WrittenStop],
        report: &mut Report,
    ) -> Option<Place> {
        let mut stops = Vec::new();
        for (stop, part) in written.iter().zip(piece.split('+')) {
            match self.stop(*stop) {
                Ok(stop) => stops.push((self.tuning.key_of(stop)?, stop)),
                Err(mistake) => report.add(mistake, part.span()),
            }
        }
        if stops.len() < written.len() {
            return None;
        }
        stops.sort_by_key(|(key, _)| *key);
        let stops: Vec<Stop> = stops.into_iter().map(|(_, stop)| stop).collect();
        if let Some(mistake) = self.crowding(piece, &stops) {
            report.add(mistake, piece.span());
            return None;
        }
        Some(Place::Struck(stops))
    }

    fn stop(&self, written: WrittenStop) -> Result<Stop, M> {
        match written {
            WrittenStop::Fret { string, fret } => {
                let string = self.string(string)?;
                self.sounding(string, fret)?;
                Ok(Stop::Fret { string, fret })
            }
            WrittenStop::Pitch {
                pitch,
                string: None,
                ..
            } => {
                self.on_the_instrument(pitch)?;
                Ok(Stop::Pitch(pitch))
            }
            WrittenStop::Pitch {
                pitch,
                string: Some(name),
                fret,
            } => {
                let string = self.string(name)?;
                let key = self.on_the_instrument(pitch)?;
                if let Some(fret) = fret {
                    self.agreeing(pitch, key, string, fret)?;
                }
                if self.tuning.fret_of(key, string).is_none() {
                    return Err(self.not_on_string(pitch, key, string));
                }
                Ok(Stop::PitchOn { pitch, string })
            }
        }
    }

    fn string(&self, name: StringName) -> Result<StringNumber, M> {
        let unknown = |found: String| M::UnknownString {
            found,
            strings: self
                .tuning
                .strings()
                .map(|s| self.tuning.label(s))
                .collect(),
        };
        match name {
            StringName::Number(number) => {
                let string = StringNumber(number);
                let known = number > 0 && self.tuning.open_string(string).is_some();
                known
                    .then_some(string)
                    .ok_or_else(|| unknown(number.to_string()))
            }
            StringName::Letter(class) => {
                let named: Vec<StringNumber> = self
                    .tuning
                    .strings()
                    .filter(|string| self.opens_with(*string, class))
                    .collect();
                match named[..] {
                    [] => Err(unknown(class.to_string())),
                    [string] => Ok(string),
                    _ => Err(M::AmbiguousString {
                        letter: class.to_string(),
                        numbers: named.iter().map(|string| string.0.to_string()).collect(),
                    }),
                }
            }
        }
    }

    fn opens_with(&self, string: StringNumber, class: PitchClass) -> bool {
        let open = self.tuning.open_string(string);
        open.is_some_and(|open| open.class == class)
    }

    fn sounding(&self, string: StringNumber, fret: u8) -> Result<Key, M> {
        self.tuning.key_at(string, fret).ok_or_else(|| {
            let open = self.tuning.open_string(string).and_then(Pitch::key);
            let key = open.and_then(|open| open.0.checked_add(fret)).map(Key);
            M::FretOutOfRange {
                fret,
                places: key.map_or_else(Vec::new, |key| self.places(key, string)),
            }
        })
    }

    /// The key of a pitch that some string reaches.
    fn on_the_instrument(&self, pitch: Pitch) -> Result<Key, M> {
        let name = pitch.to_string();
        let key = pitch.key().ok_or(M::OutsideMidi {
            pitch: name.clone(),
        })?;
        let playable = || {
            let nearest = self.tuning.nearest_octave(pitch.class, i32::from(key.0));
            nearest.map(|pitch| pitch.to_string())
        };
        let (lowest, highest) = (self.tuning.lowest(), self.tuning.highest());
        if let Some(open) = lowest.filter(|open| open.key() > Some(key)) {
            return Err(M::BelowLowestString {
                pitch: name,
                open: open.to_string(),
                playable: playable(),
            });
        }
        if let Some(highest) = highest.filter(|highest| *highest < key) {
            return Err(M::AboveHighestString {
                pitch: name,
                highest: highest.to_string(),
                playable: playable(),
            });
        }
        if self.tuning.places(key, StringNumber(1)).is_empty() {
            // Strings more than two octaves apart leave pitches between them that neither reaches.
            let help = format!("no string of this tuning reaches {name}");
            return Err(M::BadPlace { found: name, help });
        }
        Ok(key)
    }

    fn agreeing(&self, pitch: Pitch, key: Key, string: StringNumber, fret: u8) -> Result<(), M> {
        let sounds = self.sounding(string, fret)?;
        if sounds == key {
            return Ok(());
        }
        Err(M::FretIsNotPitch {
            pitch: pitch.to_string(),
            string: self.tuning.label(string),
            fret,
            sounds: sounds.to_string(),
            right_fret: self.tuning.fret_of(key, string),
        })
    }

    fn not_on_string(&self, pitch: Pitch, key: Key, string: StringNumber) -> M {
        let at = |fret| self.tuning.key_at(string, fret).map(|key| key.to_string());
        let open = self.tuning.open_string(string).map(|open| open.to_string());
        M::NotOnString {
            pitch: pitch.to_string(),
            string: self.tuning.label(string),
            range: (
                open.unwrap_or_default(),
                at(HIGHEST_FRET).unwrap_or_else(|| Key(127).to_string()),
            ),
            places: self.places(key, string),
        }
    }

    fn places(&self, key: Key, from: StringNumber) -> Vec<String> {
        let places = self.tuning.places(key, from).into_iter();
        places
            .map(|(string, fret)| format!("{}:{fret}", self.tuning.label(string)))
            .collect()
    }

    /// Why the stops cannot sound together.
    fn crowding(&self, piece: Piece<'_>, stops: &[Stop]) -> Option<M> {
        let strings = self.tuning.open.len();
        if stops.len() > strings {
            let stops = stops.len();
            return Some(M::TooManyStops { stops, strings });
        }
        let only = |stop: &Stop| match self.tuning.strings_for(*stop, 0)[..] {
            [string] => Some(string),
            _ => None,
        };
        for (index, second) in stops.iter().enumerate() {
            let string = only(second);
            let same = |first: &&Stop| string.is_some() && only(first) == string;
            if let Some(first) = stops[..index].iter().find(same) {
                return Some(M::StringUsedTwice {
                    first: super::print::stop(*first, self.tuning),
                    second: super::print::stop(*second, self.tuning),
                    string: string.map_or_else(String::new, |string| self.tuning.label(string)),
                });
            }
        }
        let found = piece.text.to_owned();
        (!self.tuning.reaches(stops, 0)).then_some(M::NoStringLeft { found })
    }
}

/// Reports the first part of a place that has the shape of none.
fn report_shape(piece: Piece<'_>, report: &mut Report) {
    let several = piece.text.contains('+');
    let wrong = |part: &Piece<'_>| note_grammar::stop.parse(part.text).is_err();
    let part = piece.split('+').find(wrong).unwrap_or(piece);
    let help = shape_help(part.text, several);
    let found = part.text.to_owned();
    let span = if found.is_empty() {
        piece.span()
    } else {
        part.span()
    };
    report.add(M::BadPlace { found, help }, span);
}

fn shape_help(text: &str, several: bool) -> String {
    let readable = |candidate: &str| note_grammar::place.parse(candidate).is_ok();
    let mut capital = text.chars();
    let first = capital.next().map(|c| c.to_ascii_uppercase());
    let capital: String = first.into_iter().chain(capital).collect();
    let signs = text.replace('♭', "b").replace('♯', "#");
    if several && (text.starts_with('r') || text.starts_with('x')) {
        "a rest or a dead note cannot sound together with another note".to_owned()
    } else if readable(&capital) {
        format!("write `{capital}`: note names are capital letters")
    } else if readable(&text.to_lowercase()) {
        format!(
            "write `{}`: `r` is a rest, `x` a dead note",
            text.to_lowercase()
        )
    } else if readable(&signs) {
        format!("write `{signs}`")
    } else if text.parse::<PitchClass>().is_ok() {
        format!(
            "add the octave, such as `{text}2`: the open strings of a bass are E1, A1, D2 and G2"
        )
    } else {
        "write a pitch (`Eb3`), a string and fret (`G:5`), a pitch on a string (`A2@D`), `r` for a rest or `x` for a dead note".to_owned()
    }
}
