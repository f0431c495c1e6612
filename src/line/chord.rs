//! Chord symbols: the layer that says what a line is played over.

use super::note_grammar;
use super::pitch::PitchClass;
use std::fmt;
use std::str::FromStr;
use winnow::Parser;

/// The chords of one bar; empty where the bar keeps the chord before it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChordCell {
    /// In order. Without positions they share the bar evenly.
    pub chords: Vec<PlacedChord>,
}

/// A chord and, where the file says so, the beat it starts on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedChord {
    /// The chord.
    pub symbol: ChordSymbol,
    /// The beat as written after `@`, in thousandths of a beat from 1000 (beat one); all chords of a cell have one or none has.
    pub beat: Option<u32>,
}

/// A chord symbol: `Dm7`, `G7/B`, `Ebmaj7`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordSymbol {
    /// The root, spelled.
    pub root: PitchClass,
    /// What follows the root, as written (`m7`, `maj7`, empty for a major triad).
    pub quality: String,
    /// The note after the slash.
    pub bass: Option<PitchClass>,
}

/// The text is not a chord symbol.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a chord symbol (such as `Dm7`, `Ebmaj7` or `G7/B`)")]
pub struct NotAChord(pub String);

/// What may follow a root, longest first where one begins like another.
const QUALITY_PARTS: [&str; 39] = [
    "maj", "min", "dim", "aug", "sus", "add", "alt", "omit", "no", "m", "M", "-", "+", "°", "o",
    "ø", "Δ", "^", "b13", "#11", "b5", "#5", "b9", "#9", "13", "11", "9", "7", "6", "5", "4", "3",
    "2", "b6", "b7", "(", ")", ",", "/",
];

impl FromStr for ChordSymbol {
    type Err = NotAChord;

    fn from_str(text: &str) -> Result<ChordSymbol, NotAChord> {
        let wrong = || NotAChord(text.to_owned());
        let mut rest = text;
        let root = note_grammar::pitch_class
            .parse_next(&mut rest)
            .map_err(|_| wrong())?;
        // In `C6/9` the slash belongs to the quality, in `C6/G` it does not.
        let slash = rest.rsplit_once('/');
        let (quality, bass) = match slash.map(|(quality, bass)| (quality, bass.parse())) {
            Some((quality, Ok(bass))) => (quality, Some(bass)),
            _ => (rest, None),
        };
        if !is_quality(quality) {
            return Err(wrong());
        }
        Ok(ChordSymbol {
            root,
            quality: quality.to_owned(),
            bass,
        })
    }
}

fn is_quality(text: &str) -> bool {
    !text.ends_with('/') && parts(text).all(|part| part.is_some())
}

/// The parts of a quality in order; `None`, once and last, where the text goes on with something else.
pub(super) fn parts(mut text: &str) -> impl Iterator<Item = Option<&'static str>> {
    std::iter::from_fn(move || {
        if text.is_empty() {
            return None;
        }
        let part = QUALITY_PARTS
            .into_iter()
            .find(|part| text.starts_with(part));
        text = part.map_or("", |part| &text[part.len()..]);
        Some(part)
    })
}

impl fmt::Display for ChordSymbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.root, self.quality)?;
        match self.bass {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chord_symbols_read_back_as_they_are_written() {
        for text in [
            "C", "Dm7", "G7", "Ebmaj7", "F#dim", "Bbm7b5", "G7/B", "C6/9", "A7#9", "Dsus4",
            "E7alt", "Am(maj7)", "Gø7", "F+", "Abadd9/C",
        ] {
            let chord: ChordSymbol = text.parse().unwrap();
            assert_eq!(chord.to_string(), text);
        }
    }

    #[test]
    fn root_quality_and_bass_are_told_apart() {
        let chord: ChordSymbol = "Bbm7b5/Ab".parse().unwrap();
        assert_eq!(chord.root.to_string(), "Bb");
        assert_eq!(chord.quality, "m7b5");
        assert_eq!(
            chord.bass.map(|bass| bass.to_string()).as_deref(),
            Some("Ab")
        );
    }

    #[test]
    fn what_is_no_chord_is_refused() {
        for text in ["", "H7", "dm7", "Dm7x", "C/", "C7/H", "N.C.", "D m"] {
            assert!(text.parse::<ChordSymbol>().is_err(), "{text}");
        }
    }
}
