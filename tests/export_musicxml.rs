//! What each thing in a line becomes in MusicXML.

use leadsman::expected::tempo_map::Speed;
use leadsman::export::musicxml;
use leadsman::line::parse::parse;
use roxmltree::{Document, Node, ParsingOptions};

/// The score of a line with this head and these sections.
fn exported(head: &str, sections: &[&str]) -> (String, Vec<String>) {
    let sections: String = sections
        .iter()
        .map(|s| format!("[[section]]\n{s}\n"))
        .collect();
    let text = format!("title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n{head}\n{sections}");
    let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let exported = musicxml::write(&line, Speed::WRITTEN);
    (
        String::from_utf8(exported.bytes).expect("UTF-8"),
        exported.lost,
    )
}

fn with_document<T>(xml: &str, look: impl FnOnce(&Document<'_>) -> T) -> T {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    look(&Document::parse_with_options(xml, options).expect("XML"))
}

/// Every element of a name as its texts and the attributes of all that is in it: `step=C octave=3 tie[type=start]`.
fn all(xml: &str, name: &str) -> Vec<String> {
    with_document(xml, |document| {
        let found = document
            .descendants()
            .filter(|node| node.tag_name().name() == name);
        found.map(said).collect()
    })
}

fn said(node: Node<'_, '_>) -> String {
    let inside = node.descendants().filter(|inner| inner.is_element());
    let one = |inner: Node<'_, '_>| {
        let is_leaf = inner.children().all(|child| child.is_text());
        let attributes: Vec<String> = inner
            .attributes()
            .map(|a| format!("{}={}", a.name(), a.value()))
            .collect();
        let text = inner.text().filter(|_| is_leaf).unwrap_or_default();
        let attributes = match attributes.is_empty() {
            true => String::new(),
            false => format!("[{}]", attributes.join(" ")),
        };
        let says = is_leaf || !attributes.is_empty();
        let name = inner.tag_name().name();
        let text = if text.is_empty() {
            String::new()
        } else {
            format!("={text}")
        };
        says.then(|| format!("{name}{attributes}{text}"))
    };
    inside.filter_map(one).collect::<Vec<_>>().join(" ")
}

fn notes(head: &str, notes: &str) -> Vec<String> {
    let section = format!("name = \"A\"\nnotes = \"{notes}\"");
    all(&exported(head, &[&section]).0, "note")
}

#[test]
fn notes_are_written_an_octave_above_their_sound() {
    let (xml, _) = exported("", &["name = \"A\"\nnotes = \"E1/1\""]);
    assert_eq!(all(&xml, "pitch"), ["step=E octave=2"]);
    assert_eq!(
        all(&xml, "transpose"),
        ["diatonic=0 chromatic=0 octave-change=-1"]
    );
    assert_eq!(all(&xml, "clef"), ["sign=F line=4"]);
}

#[test]
fn marks_have_their_signs_and_a_mute_is_heard_and_seen() {
    let found = notes("", "D:2/4' E2/4_> x@A/4? E2/4m");
    assert_eq!(
        found,
        [
            "step=E octave=3 duration=1 voice=1 type=quarter string=2 fret=2 staccato",
            "step=E octave=3 duration=1 voice=1 type=quarter accent tenuto",
            "step=A octave=2 duration=1 voice=1 type=quarter notehead[parentheses=yes]=x string=3 fret=0",
            "step=E octave=3 duration=1 voice=1 type=quarter other-technical=P.M. mute=palm",
        ]
    );
}

#[test]
fn strokes_fingers_and_marks_of_a_double_stop_are_said_once() {
    let section = "name = \"A\"\nnotes = \"D:5+G:5/1>\"\nstrokes = \"u\"\nfingers = \"2\"";
    let (xml, _) = exported("", &[section]);
    assert_eq!(
        all(&xml, "note"),
        [
            "step=G octave=3 duration=4 voice=1 type=whole up-bow fingering=2 string=2 fret=5 accent",
            "chord step=C octave=4 duration=4 voice=1 type=whole string=1 fret=5",
        ]
    );
}

#[test]
fn a_tied_note_is_tied_in_sound_and_look_and_its_accidental_stands_once() {
    let tie = |kind: &str, octave: &str| {
        let sharp = if kind == "start" {
            " accidental=sharp"
        } else {
            ""
        };
        format!(
            "step=F alter=1 octave={octave} duration=4 voice=1 type=whole{sharp} tied[type={kind}]"
        )
        .replace(" voice", &format!(" tie[type={kind}] voice"))
    };
    let found = notes("", "F#2/1~ | F#2/1");
    assert_eq!(found, [tie("start", "3"), tie("stop", "3")]);
}

#[test]
fn rests_that_fill_a_bar_say_so() {
    let found = notes("", "r/1 | r/2 A1/2");
    assert_eq!(found[0], "rest[measure=yes] duration=4 voice=1 type=whole");
    assert_eq!(found[1], "rest duration=2 voice=1 type=half");
}

#[test]
fn passes_in_one_key_are_a_repeat_and_others_are_written_out() {
    let section = "name = \"A\"\npasses = [0, 0, 0, 2]\nkey = \"D minor\"\nnotes = \"C2/4 | D2/1\"";
    let (xml, _) = exported(
        "pickup = true",
        &[section, "name = \"B\"\nnotes = \"E1/1\""],
    );
    assert_eq!(
        all(&xml, "barline"),
        [
            "barline[location=left] bar-style=heavy-light repeat[direction=forward]",
            "barline[location=right] bar-style=light-heavy repeat[direction=backward times=3]",
            "barline[location=right] bar-style=light-light",
            "barline[location=right] bar-style=light-heavy",
        ]
    );
    let numbers = with_document(&xml, |document| {
        let measures = document
            .descendants()
            .filter(|node| node.has_tag_name("measure"));
        let number = |node: Node<'_, '_>| {
            let implicit = node.attribute("implicit").unwrap_or("no");
            format!(
                "{} {implicit}",
                node.attribute("number").unwrap_or_default()
            )
        };
        measures.map(number).collect::<Vec<_>>()
    });
    assert_eq!(numbers, ["0 yes", "1 no", "2 no", "3 no"]);
    assert_eq!(
        all(&xml, "key"),
        [
            "fifths=-1 mode=minor",
            "fifths=1 mode=minor",
            "fifths=0 mode=none"
        ]
    );
    assert_eq!(all(&xml, "rehearsal"), ["rehearsal=A", "rehearsal=B"]);
}

#[test]
fn tempo_and_swing_are_written_where_they_change() {
    let head = "swing = \"1.5:1\"";
    let sections = [
        "name = \"A\"\nnotes = \"E1/1\"",
        "name = \"B\"\nmeter = \"12/8\"\nswing = \"1:1\"\nnotes = \"E1/1.\"",
    ];
    let (xml, _) = exported(head, &sections);
    assert_eq!(
        all(&xml, "direction"),
        [
            "direction[placement=above] rehearsal=A",
            "direction[placement=above] beat-unit=quarter per-minute=120 sound[tempo=120]",
            "direction[placement=above] words=swing 1.5:1 first=3 second=2 swing-type=eighth",
            "direction[placement=above] rehearsal=B",
            "direction[placement=above] beat-unit=quarter beat-unit-dot per-minute=80 sound[tempo=120]",
            "direction[placement=above] words=straight straight",
        ]
    );
}

#[test]
fn a_chord_inside_a_note_says_how_far() {
    let section = "name = \"A\"\nchords = \"Dm7@1 G7/B@2.5\"\nnotes = \"D2/1\"";
    let (xml, _) = exported("", &[section]);
    assert_eq!(
        all(&xml, "harmony"),
        [
            "root-step=D kind[text=m7]=minor-seventh",
            "root-step=G kind[text=7]=dominant bass-step=B offset=3",
        ]
    );
}

#[test]
fn open_strings_are_named_where_they_are_not_the_usual_ones() {
    let section = ["name = \"A\"\nnotes = \"A1/1\""];
    assert!(all(&exported("", &section).0, "accord").is_empty());
    let (xml, _) = exported("tuning = \"D1 A1 D2 Gb2\"", &section);
    assert_eq!(
        all(&xml, "accord"),
        [
            "accord[string=1] tuning-step=G tuning-alter=-1 tuning-octave=2",
            "accord[string=2] tuning-step=D tuning-octave=2",
            "accord[string=3] tuning-step=A tuning-octave=1",
            "accord[string=4] tuning-step=D tuning-octave=1",
        ]
    );
}

#[test]
fn what_the_format_does_not_hold_is_listed() {
    let section = "name = \"A\\tb\"\ngate = 0.75\nkey = \"D harmonic minor\"\nnotes = \"D2/1\"";
    let (xml, lost) = exported("", &[section]);
    assert_eq!(
        lost,
        [
            "gate of \"A\tb\" (0.75)",
            "harmonic minor of \"A\tb\" (written as minor)",
            "line ends and other control characters in \"A b\"",
        ]
    );
    assert_eq!(all(&xml, "rehearsal"), ["rehearsal=A b"]);
}
