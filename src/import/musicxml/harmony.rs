//! Chord symbols: `harmony` elements as a line writes them.

use super::transpose::{self, Transposition};
use super::tree;
use crate::line::chord::ChordSymbol;
use crate::line::chord_tones::ChordTones;
use crate::line::pitch::PitchClass;
use roxmltree::Node;

/// What a `kind` is after the root (MusicXML 4.0, `kind-value`).
pub(crate) const KINDS: [(&str, &str); 26] = [
    ("major", ""),
    ("minor", "m"),
    ("augmented", "+"),
    ("diminished", "dim"),
    ("dominant", "7"),
    ("major-seventh", "maj7"),
    ("minor-seventh", "m7"),
    ("diminished-seventh", "dim7"),
    ("augmented-seventh", "+7"),
    ("half-diminished", "m7b5"),
    ("major-minor", "m(maj7)"),
    ("major-sixth", "6"),
    ("minor-sixth", "m6"),
    ("dominant-ninth", "9"),
    ("major-ninth", "maj9"),
    ("minor-ninth", "m9"),
    ("dominant-11th", "11"),
    ("major-11th", "maj11"),
    ("minor-11th", "m11"),
    ("dominant-13th", "13"),
    ("major-13th", "maj13"),
    ("minor-13th", "m13"),
    ("suspended-second", "sus2"),
    ("suspended-fourth", "sus4"),
    ("power", "5"),
    ("pedal", ""),
];

/// What a `harmony` element says.
pub enum Harmony {
    /// A chord.
    Chord(ChordSymbol),
    /// That no chord sounds: a line says nothing then.
    NoChord,
    /// Something that a line cannot write.
    Other,
}

/// Reads a `harmony` element.
pub fn read(node: Node<'_, '_>, sounds: Transposition) -> Harmony {
    let kind = tree::text(node, "kind").unwrap_or_default();
    if kind == "none" {
        return Harmony::NoChord;
    }
    chord(node, kind, sounds).map_or(Harmony::Other, Harmony::Chord)
}

fn chord(node: Node<'_, '_>, kind: &str, sounds: Transposition) -> Option<ChordSymbol> {
    let root = class(tree::child(node, "root")?, "root", sounds)?;
    let bass = match tree::child(node, "bass") {
        Some(bass) => Some(class(bass, "bass", sounds)?),
        None => None,
    };
    let (_, quality) = KINDS.iter().find(|(name, _)| *name == kind)?;
    if let Some(symbol) = as_shown(node, root, quality, bass) {
        return Some(symbol);
    }
    let mut quality = (*quality).to_owned();
    for degree in tree::children(node, "degree") {
        quality.push_str(&alteration(degree)?);
    }
    let symbol = ChordSymbol {
        root,
        quality,
        bass,
    };
    is_readable(&symbol).then_some(symbol)
}

/// What a line writes it must be able to read.
fn is_readable(symbol: &ChordSymbol) -> bool {
    symbol.to_string().parse().as_ref() == Ok(symbol)
}

/// The symbol as its `text` has it: where no degree is shown beside the text, and it says the same chord as the kind does
/// or the degrees that are not shown are there to explain it.
fn as_shown(
    node: Node<'_, '_>,
    root: PitchClass,
    kind: &str,
    bass: Option<PitchClass>,
) -> Option<ChordSymbol> {
    let text = tree::child(node, "kind")?.attribute("text")?.trim();
    let symbol = |quality: &str| ChordSymbol {
        root,
        quality: quality.to_owned(),
        bass,
    };
    let shown = symbol(text);
    let hidden = |degree: Node<'_, '_>| degree.attribute("print-object") == Some("no");
    let mut degrees = tree::children(node, "degree").peekable();
    let is_whole = match degrees.peek() {
        Some(_) => degrees.all(hidden),
        None => ChordTones::of(&shown) == ChordTones::of(&symbol(kind)),
    };
    (is_whole && is_readable(&shown)).then_some(shown)
}

fn class(node: Node<'_, '_>, of: &str, sounds: Transposition) -> Option<PitchClass> {
    let letter = transpose::letter(tree::text(node, &format!("{of}-step"))?)?;
    let alter = tree::whole(node, &format!("{of}-alter")).unwrap_or(0);
    (alter.abs() <= 2).then(|| sounds.class(letter, alter))?
}

fn alteration(degree: Node<'_, '_>) -> Option<String> {
    let value = tree::whole(degree, "degree-value").filter(|value| (1..=13).contains(value))?;
    let sign = match tree::whole(degree, "degree-alter").unwrap_or(0) {
        0 => "",
        1 => "#",
        -1 => "b",
        _ => return None,
    };
    match (tree::text(degree, "degree-type")?, sign) {
        ("add", "") => Some(format!("add{value}")),
        ("add" | "alter", sign) => Some(format!("{sign}{value}")),
        ("subtract", _) => Some(format!("no{value}")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn symbol(inside: &str) -> Option<String> {
        let text = format!("<harmony>{inside}</harmony>");
        let document = roxmltree::Document::parse(&text).unwrap();
        match read(document.root_element(), Transposition::default()) {
            Harmony::Chord(chord) => Some(chord.to_string()),
            _ => None,
        }
    }

    #[test]
    fn every_kind_is_written_as_a_line_reads_it() {
        for (kind, quality) in KINDS {
            let inside = format!(
                "<root><root-step>E</root-step><root-alter>-1</root-alter></root><kind>{kind}</kind>"
            );
            assert_eq!(symbol(&inside), Some(format!("Eb{quality}")), "{kind}");
        }
    }

    #[test]
    fn a_text_is_taken_where_it_says_the_whole_chord() {
        let chord = |text: &str, kind: &str, degrees: &str| {
            let root = "<root><root-step>G</root-step></root>";
            symbol(&format!(
                "{root}<kind text=\"{text}\">{kind}</kind>{degrees}"
            ))
        };
        let ninth = |shown: &str| {
            format!(
                "<degree print-object=\"{shown}\"><degree-value>9</degree-value>\
                 <degree-alter>1</degree-alter><degree-type>add</degree-type></degree>"
            )
        };
        let said = |text: Option<String>| text.expect("a chord");
        assert_eq!(said(chord("-7", "minor-seventh", "")), "G-7");
        assert_eq!(said(chord("7", "minor-seventh", "")), "Gm7");
        assert_eq!(said(chord("min. 7", "minor-seventh", "")), "Gm7");
        assert_eq!(said(chord("7alt", "dominant", &ninth("no"))), "G7alt");
        assert_eq!(said(chord("7", "dominant", &ninth("yes"))), "G7#9");
    }

    #[test]
    fn degrees_and_the_bass_follow() {
        let root = "<root><root-step>G</root-step></root><kind>dominant</kind>";
        let bass = "<bass><bass-step>B</bass-step></bass>";
        let degree = "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>";
        assert_eq!(
            symbol(&format!("{root}{bass}{degree}")).as_deref(),
            Some("G7b9/B")
        );
        assert_eq!(
            symbol("<root><root-step>G</root-step></root><kind>Tristan</kind>"),
            None
        );
    }
}
