//! Chord symbols as MusicXML says them: a kind, and the tones by which the chord differs from it.
//!
//! The symbol itself stands as written in the `text` of the kind, which is what an editor shows; the degrees are there for
//! those who listen, and are not shown (`print-object`). MusicXML 4.0, `kind-value` and `degree-alter`: an added tone is
//! counted from a major third, perfect fifth, minor seventh; a changed one from the tone that the kind has.

use super::xml::Xml;
use crate::import::musicxml::harmony::KINDS;
use crate::line::chord::ChordSymbol;
use crate::line::chord_tones::ChordTones;
use crate::line::pitch::PitchClass;

/// A tone by which a chord differs from its kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Change {
    number: u8,
    semitones: i8,
    /// `add`, `alter` or `subtract`.
    how: &'static str,
}

/// Writes a chord symbol; `offset` is how many divisions after the next note it begins.
pub(super) fn write(xml: &mut Xml, symbol: &ChordSymbol, offset: Option<&str>) {
    let (kind, changes) = kind(symbol);
    xml.element("harmony", &[], |xml| {
        class(xml, "root", symbol.root);
        let text = super::xml::held(&symbol.quality);
        xml.text_with("kind", &[("text", &text)], kind);
        if let Some(bass) = symbol.bass {
            class(xml, "bass", bass);
        }
        for change in changes {
            xml.element("degree", &[("print-object", "no")], |xml| {
                xml.text("degree-value", change.number);
                xml.text("degree-alter", change.semitones);
                xml.text("degree-type", change.how);
            });
        }
        if let Some(offset) = offset {
            xml.text("offset", offset);
        }
    });
}

fn class(xml: &mut Xml, of: &str, class: PitchClass) {
    xml.element(of, &[], |xml| {
        let letter = char::from(b"CDEFGAB"[usize::from(class.letter)]);
        xml.text(&format!("{of}-step"), letter);
        if class.accidental != 0 {
            xml.text(&format!("{of}-alter"), class.accidental);
        }
    });
}

/// The kind with the fewest tones that are different, and those; of several such kinds the first.
fn kind(symbol: &ChordSymbol) -> (&'static str, Vec<Change>) {
    let tones = tones(symbol.root, &symbol.quality);
    let with_changes = KINDS.map(|(kind, quality)| {
        let base = self::tones(symbol.root, quality);
        (kind, changes(base, tones))
    });
    let fewest = with_changes
        .into_iter()
        .min_by_key(|(_, changes)| changes.len());
    fewest.unwrap_or(("other", Vec::new()))
}

/// Without the note after the slash, which has an element of its own.
fn tones(root: PitchClass, quality: &str) -> ChordTones {
    let quality = quality.to_owned();
    let bass = None;
    ChordTones::of(&ChordSymbol {
        root,
        quality,
        bass,
    })
}

fn changes(from: ChordTones, to: ChordTones) -> Vec<Change> {
    let only_in = |one: ChordTones, other: ChordTones, number: u8| -> Vec<i8> {
        let of_number = one.degrees().filter(|degree| degree.number == number);
        let missing = of_number.filter(|degree| !other.has(*degree));
        missing.map(|degree| degree.accidental).collect()
    };
    let mut changes = Vec::new();
    for number in 1..=7 {
        let (gone, come) = (only_in(from, to, number), only_in(to, from, number));
        let natural = if number == 7 { -1 } else { 0 };
        for index in 0..gone.len().max(come.len()) {
            let (how, semitones) = match (gone.get(index), come.get(index)) {
                (Some(gone), Some(come)) => ("alter", come - gone),
                (None, Some(come)) => ("add", come - natural),
                _ => ("subtract", 0),
            };
            changes.push(Change {
                number: said(number, how),
                semitones,
                how,
            });
        }
    }
    changes
}

/// Added seconds, fourths and sixths are said as ninths, elevenths and thirteenths.
fn said(number: u8, how: &str) -> u8 {
    match number {
        2 | 4 | 6 if how == "add" => number + 7,
        _ => number,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said_as(symbol: &str) -> String {
        let (kind, changes) = kind(&symbol.parse().expect(symbol));
        let change = |c: &Change| format!(" {} {} {:+}", c.how, c.number, c.semitones);
        kind.to_string() + &changes.iter().map(change).collect::<String>()
    }

    #[test]
    fn usual_chords_are_a_kind_and_nothing_else() {
        for (symbol, kind) in [
            ("C", "major"),
            ("Cmin", "minor"),
            ("C-7", "minor-seventh"),
            ("CΔ", "major-seventh"),
            ("C7/Bb", "dominant"),
            ("Cø", "half-diminished"),
            ("Co7", "diminished-seventh"),
            ("Caug", "augmented"),
            ("Csus", "suspended-fourth"),
            ("C5", "power"),
            ("Cm11", "minor-11th"),
        ] {
            assert_eq!(said_as(symbol), kind, "{symbol}");
        }
    }

    #[test]
    fn other_chords_are_the_nearest_kind_and_what_differs() {
        for (symbol, said) in [
            ("C7#9", "dominant add 9 +1"),
            ("C7b5", "dominant alter 5 -1"),
            ("Cadd9", "major add 9 +0"),
            ("C6/9", "major-sixth add 9 +0"),
            ("C7sus4", "suspended-fourth add 7 +0"),
            ("Cmaj7#11", "major-seventh add 11 +1"),
            ("C9no3", "dominant-ninth subtract 3 +0"),
        ] {
            assert_eq!(said_as(symbol), said, "{symbol}");
        }
    }
}
