//! One `note` element.

use super::ledger::Ledger;
use super::transpose::{self, Transposition};
use super::tree;
use crate::line::tuning::StringNumber;
use crate::line::{Marks, Stroke};
use crate::score::PitchAt;
use roxmltree::Node;

/// What a note is, time and voice aside.
pub struct NoteContent {
    pub sound: NoteSound,
    pub tie: Tie,
    pub marks: Marks,
    pub stroke: Option<Stroke>,
    pub finger: Option<u8>,
}

/// What sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteSound {
    Rest,
    Pitch(PitchAt),
    Dead(Option<StringNumber>),
}

/// Ties of one note head.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tie {
    pub starts: bool,
    pub stops: bool,
}

/// Marks that a line has no word for, as they are counted.
const NOT_CARRIED: [(&str, &str); 22] = [
    ("slur", "slurs"),
    ("glissando", "glissandi"),
    ("slide", "slides"),
    ("hammer-on", "hammer-ons"),
    ("pull-off", "pull-offs"),
    ("bend", "bends"),
    ("tap", "taps"),
    ("harmonic", "harmonics"),
    ("pluck", "plucking fingers"),
    ("thumb-position", "thumb positions"),
    ("snap-pizzicato", "snap pizzicati"),
    ("trill-mark", "trills"),
    ("turn", "turns"),
    ("mordent", "mordents"),
    ("inverted-mordent", "mordents"),
    ("tremolo", "tremolos"),
    ("fermata", "fermatas"),
    ("arpeggiate", "arpeggios"),
    ("scoop", "scoops"),
    ("falloff", "fall-offs"),
    ("doit", "doits"),
    ("plop", "plops"),
];

/// Reads a note that takes time; `None` for one that is beyond the MIDI keys or says no pitch.
pub fn read(
    node: Node<'_, '_>,
    sounds: Transposition,
    ledger: &mut Ledger<'_>,
) -> Option<NoteContent> {
    let mut content = NoteContent {
        sound: NoteSound::Rest,
        tie: tie(node),
        marks: Marks::default(),
        stroke: None,
        finger: None,
    };
    let mut string = None;
    for notations in tree::children(node, "notations") {
        read_notations(notations, &mut content, &mut string, ledger);
    }
    if tree::has(node, "lyric") {
        ledger.lose("syllables of the words");
    }
    let mute = tree::child(node, "play").and_then(|play| tree::text(play, "mute"));
    content.marks.muted = mute.is_some_and(|mute| mute != "off");
    content.sound = sound(node, sounds, string, &mut content.marks, ledger)?;
    settle_marks(&mut content, ledger);
    Some(content)
}

fn sound(
    node: Node<'_, '_>,
    sounds: Transposition,
    string: Option<StringNumber>,
    marks: &mut Marks,
    ledger: &mut Ledger<'_>,
) -> Option<NoteSound> {
    if tree::has(node, "rest") {
        return Some(NoteSound::Rest);
    }
    let head = tree::child(node, "notehead");
    let head_is = |shape: &str| head.and_then(|head| head.text()).map(str::trim) == Some(shape);
    marks.optional = head.is_some_and(|head| head.attribute("parentheses") == Some("yes"));
    if head_is("x") || tree::has(node, "unpitched") {
        return Some(NoteSound::Dead(string));
    }
    let pitch = tree::child(node, "pitch").and_then(|pitch| {
        let letter = transpose::letter(tree::text(pitch, "step")?)?;
        let octave = tree::whole(pitch, "octave").filter(|octave| (-2..=12).contains(octave))?;
        let alter = tree::number(pitch, "alter").unwrap_or(0.0);
        if alter.fract() != 0.0 {
            ledger.lose("quarter tones (written as the nearest note)");
        }
        let alter = alter.clamp(-12.0, 12.0).round() as i32;
        sounds.pitch(letter, alter, octave)
    });
    if pitch.is_none() {
        ledger.lose("notes without a pitch that MIDI has");
    }
    Some(NoteSound::Pitch(PitchAt {
        pitch: pitch?,
        string,
    }))
}

/// `tie` is what sounds; `tied` is what is drawn, and all that some programs write.
fn tie(node: Node<'_, '_>) -> Tie {
    let mut tie = Tie::default();
    let drawn = tree::children(node, "notations")
        .flat_map(|notations| tree::children(notations, "tied"))
        .collect::<Vec<_>>();
    let sounding: Vec<Node<'_, '_>> = tree::children(node, "tie").collect();
    for end in if sounding.is_empty() { drawn } else { sounding } {
        match end.attribute("type") {
            Some("start") => tie.starts = true,
            Some("stop") => tie.stops = true,
            Some("continue") => (tie.starts, tie.stops) = (true, true),
            _ => {}
        }
    }
    tie
}

fn read_notations(
    notations: Node<'_, '_>,
    content: &mut NoteContent,
    string: &mut Option<StringNumber>,
    ledger: &mut Ledger<'_>,
) {
    for group in notations.children().filter(Node::is_element) {
        lose_if_unknown(group, ledger);
        for mark in group.children().filter(Node::is_element) {
            read_mark(mark, content, string, ledger);
        }
    }
}

fn read_mark(
    mark: Node<'_, '_>,
    content: &mut NoteContent,
    string: &mut Option<StringNumber>,
    ledger: &mut Ledger<'_>,
) {
    let whole = || {
        mark.text()
            .and_then(tree::as_number)
            .map(|number| number as i64)
    };
    match mark.tag_name().name() {
        "staccato" | "staccatissimo" | "spiccato" => content.marks.short = true,
        "tenuto" => content.marks.full = true,
        "detached-legato" => (content.marks.short, content.marks.full) = (true, true),
        "accent" | "strong-accent" => content.marks.accent = true,
        "up-bow" => content.stroke = Some(Stroke::Up),
        "down-bow" => content.stroke = Some(Stroke::Down),
        "string" => {
            let number = whole().and_then(|number| u8::try_from(number).ok());
            *string = number
                .filter(|number| (1..=8).contains(number))
                .map(StringNumber);
        }
        "fingering" => match whole() {
            Some(finger @ 0..=4) => content.finger = Some(finger as u8),
            _ => ledger.lose("fingerings other than 0 to 4"),
        },
        _ => lose_if_unknown(mark, ledger),
    }
}

fn lose_if_unknown(mark: Node<'_, '_>, ledger: &mut Ledger<'_>) {
    let name = mark.tag_name().name();
    if mark.attribute("type") == Some("stop") {
        return;
    }
    if let Some((_, words)) = NOT_CARRIED.iter().find(|(known, _)| *known == name) {
        ledger.lose(*words);
    }
}

/// Marks that a line cannot have together.
fn settle_marks(content: &mut NoteContent, ledger: &mut Ledger<'_>) {
    let marks = &mut content.marks;
    match content.sound {
        NoteSound::Rest => *marks = Marks::default(),
        NoteSound::Dead(_) => {
            if marks.short || marks.full || marks.muted {
                ledger.lose("length marks on dead notes");
            }
            (marks.short, marks.full, marks.muted) = (false, false, false);
        }
        NoteSound::Pitch(_) if marks.full && (marks.short || marks.muted) => {
            ledger.lose("tenuto and staccato on one note (written as neither)");
            (marks.short, marks.full) = (false, false);
        }
        NoteSound::Pitch(_) => {}
    }
}
