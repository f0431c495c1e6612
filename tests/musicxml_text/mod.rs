//! Scores written out by hand, briefly.

#![allow(dead_code)]

/// A score of one part called Bass, two divisions a quarter, 4/4, its pitches as they sound. Each text is what stands
/// inside one measure.
pub fn score(measures: &[&str]) -> String {
    part("Bass", measures)
}

/// The same with another name for the part.
pub fn part(name: &str, measures: &[&str]) -> String {
    parts(&[(name, measures)])
}

/// A score of several parts.
pub fn parts(parts: &[(&str, &[&str])]) -> String {
    let mut list = String::new();
    let mut bodies = String::new();
    for (index, (name, measures)) in parts.iter().enumerate() {
        list += &format!("<score-part id=\"P{index}\"><part-name>{name}</part-name></score-part>");
        bodies += &format!("<part id=\"P{index}\">");
        for (number, measure) in (1..).zip(*measures) {
            let start = if number == 1 { START } else { "" };
            bodies += &format!("<measure number=\"{number}\">{start}{measure}</measure>\n");
        }
        bodies += "</part>";
    }
    format!(
        "{HEAD}<score-partwise version=\"4.0\"><part-list>{list}</part-list>{bodies}</score-partwise>"
    )
}

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE score-partwise PUBLIC \
    \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n";
const START: &str = "<attributes><divisions>24</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";

/// A note: `E1` or `Eb1`, its length in 24ths of a quarter, and what else stands inside the element.
pub fn note(pitch: &str, length: u32, more: &str) -> String {
    let (name, octave) = pitch.split_at(pitch.len() - 1);
    let (step, accidental) = name.split_at(1);
    let alter = match accidental {
        "b" => "<alter>-1</alter>",
        "#" => "<alter>1</alter>",
        _ => "",
    };
    let pitch = format!("<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>");
    format!("<note>{pitch}<duration>{length}</duration><voice>1</voice>{more}</note>")
}

/// A rest.
pub fn rest(length: u32) -> String {
    format!("<note><rest/><duration>{length}</duration><voice>1</voice></note>")
}

/// Quarter notes.
pub fn quarters(pitches: &str) -> String {
    pitches
        .split_whitespace()
        .map(|pitch| note(pitch, 24, ""))
        .collect()
}

/// A `direction` with a `sound` of these attributes.
pub fn sound(attributes: &str) -> String {
    format!(
        "<direction><direction-type><words>x</words></direction-type><sound {attributes}/></direction>"
    )
}
