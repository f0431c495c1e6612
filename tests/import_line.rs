//! What becomes of each thing that a MusicXML part can say, as the text of the line.

mod musicxml_text;

use leadsman::import::musicxml::{self, Choice};
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::score::tidy::{Wishes, tidy};
use musicxml_text::{note, part, quarters, rest, score, sound};

/// The line's text and what was lost, for a score.
fn import(xml: &str) -> (String, String) {
    let read = musicxml::read(xml.as_bytes(), &Choice::default()).expect("a score");
    let wishes = Wishes {
        title: "Import".into(),
        ..Wishes::default()
    };
    let (line, losses) = tidy(&read.score, &wishes).expect("a line");
    let text = print(&line);
    assert_eq!(parse(&text, "import").expect("a valid line"), line);
    let lost: Vec<String> = losses.list.iter().map(ToString::to_string).collect();
    (text, lost.join("\n"))
}

/// The values of a key in the line, one for each time it stands there.
fn values(text: &str, key: &str) -> Vec<String> {
    let value = |line: &str| {
        let (name, value) = line.split_once('=')?;
        (name.trim() == key).then(|| value.trim().trim_matches('"').to_owned())
    };
    text.lines().filter_map(value).collect()
}

fn notes(xml: &str) -> Vec<String> {
    let (text, lost) = import(xml);
    assert_eq!(lost, "");
    values(&text, "notes")
}

const TIE_START: &str = "<tie type=\"start\"/>";
const TIE_STOP: &str = "<tie type=\"stop\"/>";

#[test]
fn lengths_are_written_with_dots_ties_and_triplets() {
    let tuplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    let bar = [
        note("E1", 36, ""),
        note("G1", 12, ""),
        note("A1", 8, tuplet),
        note("B1", 8, tuplet),
        note("A1", 8, tuplet),
        rest(6),
        note("G1", 18, ""),
    ];
    assert_eq!(
        notes(&score(&[&bar.concat()])),
        ["E1/4. G1/8 A1/8t B1/8t A1/8t r/16 G1/8."]
    );
    let held = note("E1", 60, "") + &note("G1", 36, TIE_START);
    let on = note("G1", 24, TIE_STOP) + &rest(72);
    assert_eq!(
        notes(&score(&[&held, &on])),
        ["E1/2~ E1/8 G1/4.~ | G1/4 r/2."]
    );
}

#[test]
fn tuplets_rounded_to_divisions_get_the_length_they_are_drawn_with() {
    let tuplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    let attributes = "<attributes><divisions>4</divisions></attributes>";
    let bar = [1, 1, 2].map(|length| note("A1", length, tuplet)).concat() + &note("G1", 12, "");
    assert_eq!(
        notes(&score(&[&format!("{attributes}{bar}")])),
        ["A1/8t A1/8t A1/8t G1/2."]
    );
}

#[test]
fn a_part_written_an_octave_higher_sounds_where_it_should() {
    let transpose = "<attributes><key><fifths>-1</fifths><mode>minor</mode></key><transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>";
    let (text, _) = import(&score(&[&format!(
        "{transpose}{}",
        quarters("D3 F3 A3 C#4")
    )]));
    assert_eq!(values(&text, "notes"), ["D2/4 F2/4 A2/4 C#3/4"]);
    assert_eq!(values(&text, "key"), ["D minor"]);
    // A clef's octave changes nothing: `pitch` is the pitch (MusicXML 4.0, `clef-octave-change`).
    let clef = "<attributes><clef><sign>F</sign><line>4</line><clef-octave-change>-1</clef-octave-change></clef></attributes>";
    assert_eq!(
        notes(&score(&[&format!("{clef}{}", quarters("E1 E1 E1 E1"))])),
        ["E1/4 E1/4 E1/4 E1/4"]
    );
}

#[test]
fn marks_and_heads_are_carried_over() {
    let articulation =
        |name: &str| format!("<notations><articulations><{name}/></articulations></notations>");
    let bar = [
        note("E1", 24, &articulation("staccato")),
        note("F1", 24, &articulation("tenuto")),
        note(
            "G1",
            24,
            &(articulation("accent") + "<notehead parentheses=\"yes\">normal</notehead>"),
        ),
        note(
            "A1",
            24,
            "<notehead>x</notehead><notations><technical><string>3</string><fret>0</fret></technical></notations>",
        ),
    ];
    assert_eq!(
        notes(&score(&[&bar.concat()])),
        ["E1/4' F1/4_ G1/4>? x@A/4"]
    );
    let muted = note("E1", 96, "<play><mute>palm</mute></play>");
    assert_eq!(notes(&score(&[&muted])), ["E1/1m"]);
}

#[test]
fn strings_strokes_and_fingers_are_carried_over() {
    let hand = |string: u8, finger: u8, bow: &str| {
        format!(
            "<notations><technical><string>{string}</string><fret>5</fret><fingering>{finger}</fingering><{bow}/></technical></notations>"
        )
    };
    let bar = note("A1", 48, &hand(4, 1, "down-bow")) + &note("D2", 48, &hand(3, 4, "up-bow"));
    let (text, lost) = import(&score(&[&bar]));
    assert_eq!(values(&text, "notes"), ["A1@E/2 D2@A/2"]);
    assert_eq!(values(&text, "strokes"), ["d u"]);
    assert_eq!(values(&text, "fingers"), ["1 4"]);
    assert_eq!(lost, "");
    let (text, lost) = import(&score(&[&(bar + ""), &quarters("E1 E1 E1 E1")]));
    assert_eq!(values(&text, "strokes"), Vec::<String>::new());
    assert!(
        lost.contains("2 × strokes (a line needs one for every note of a section): bar 1"),
        "{lost}"
    );
}

#[test]
fn a_tablature_under_the_staff_gives_its_strings_and_its_tuning() {
    let tuning = "<attributes><staff-details number=\"2\"><staff-lines>4</staff-lines>\
        <staff-tuning line=\"1\"><tuning-step>D</tuning-step><tuning-octave>1</tuning-octave></staff-tuning>\
        <staff-tuning line=\"2\"><tuning-step>A</tuning-step><tuning-octave>1</tuning-octave></staff-tuning>\
        <staff-tuning line=\"3\"><tuning-step>D</tuning-step><tuning-octave>2</tuning-octave></staff-tuning>\
        <staff-tuning line=\"4\"><tuning-step>G</tuning-step><tuning-octave>2</tuning-octave></staff-tuning></staff-details></attributes>";
    let upper = note("D1", 96, "<staff>1</staff>");
    let lower = note("D1", 96, "<staff>2</staff><notations><technical><string>4</string><fret>0</fret></technical></notations>").replace("<voice>1", "<voice>5");
    let bar = format!("{tuning}{upper}<backup><duration>96</duration></backup>{lower}");
    let (text, lost) = import(&score(&[&bar]));
    assert_eq!(values(&text, "tuning"), ["D1 A1 D2 G2"]);
    // Two strings share the letter D: the lowest is called by its number.
    assert_eq!(values(&text, "notes"), ["D1@4/1"]);
    assert_eq!(lost, "");
}

#[test]
fn repeats_become_passes_and_endings_are_unrolled() {
    let open = "<barline location=\"left\"><repeat direction=\"forward\"/></barline>";
    let close = "<barline location=\"right\"><repeat direction=\"backward\"/></barline>";
    let (one, two, three) = (
        quarters("E1 E1 G1 G1"),
        quarters("A1 A1 B1 B1"),
        quarters("C2 C2 D2 D2"),
    );
    let repeated = score(&[&one, &format!("{open}{two}"), &format!("{three}{close}")]);
    let (text, _) = import(&repeated);
    assert_eq!(
        values(&text, "notes"),
        [
            "E1/4 E1/4 G1/4 G1/4",
            "A1/4 A1/4 B1/4 B1/4 | C2/4 C2/4 D2/4 D2/4"
        ]
    );
    assert_eq!(values(&text, "passes"), ["[0, 0]"]);
    assert_eq!(values(&text, "name"), ["A", "B"]);
    let first = "<barline location=\"left\"><ending number=\"1\" type=\"start\"/></barline>";
    let first_ends = "<barline location=\"right\"><ending number=\"1\" type=\"stop\"/><repeat direction=\"backward\"/></barline>";
    let second = "<barline location=\"left\"><ending number=\"2\" type=\"start\"/></barline>";
    let ends = score(&[
        &one,
        &format!("{first}{two}{first_ends}"),
        &format!("{second}{three}"),
    ]);
    assert_eq!(
        notes(&ends),
        [
            "E1/4 E1/4 G1/4 G1/4 | A1/4 A1/4 B1/4 B1/4",
            "E1/4 E1/4 G1/4 G1/4 | C2/4 C2/4 D2/4 D2/4"
        ]
    );
}

#[test]
fn jumps_are_unrolled() {
    let (one, two, three) = (
        quarters("E1 E1 G1 G1"),
        quarters("A1 A1 B1 B1"),
        quarters("C2 C2 D2 D2"),
    );
    let xml = score(&[
        &one,
        &(two.clone() + &sound("fine=\"yes\"")),
        &(three + &sound("dacapo=\"yes\"")),
    ]);
    let (text, _) = import(&xml);
    let (a, b, c) = (
        "E1/4 E1/4 G1/4 G1/4",
        "A1/4 A1/4 B1/4 B1/4",
        "C2/4 C2/4 D2/4 D2/4",
    );
    assert_eq!(
        values(&text, "notes"),
        [format!("{a} | {b}"), c.to_owned(), format!("{a} | {b}")]
    );
}

#[test]
fn jumps_and_endings_that_lead_nowhere_are_told() {
    let third = "<barline location=\"left\"><ending number=\"3\" type=\"start\"/></barline>";
    let ends = "<barline location=\"right\"><ending number=\"3\" type=\"stop\"/></barline>";
    let bar = quarters("E1 E1 G1 G1");
    let xml = score(&[
        &(bar.clone() + &sound("dalsegno=\"s\"")),
        &format!("{third}{bar}{ends}"),
        &bar,
    ]);
    let (_, lost) = import(&xml);
    assert!(
        lost.contains("1 × jumps to a sign that is not there: bar 1"),
        "{lost}"
    );
    assert!(
        lost.contains("1 × bars that repeats and endings never come to: bar 2"),
        "{lost}"
    );
}

#[test]
fn tempo_swing_and_names_make_sections() {
    let swing = "<sound tempo=\"132\"><swing><first>2</first><second>1</second></swing></sound>";
    let mark =
        "<direction><direction-type><rehearsal>Quay</rehearsal></direction-type></direction>";
    let metronome = "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>80</per-minute></metronome></direction-type></direction>";
    let bar = quarters("E1 G1 A1 B1");
    let (text, lost) = import(&score(&[
        &format!("{swing}{bar}"),
        &format!("{mark}{metronome}{}", quarters("E1 E1 E1 E1")),
    ]));
    assert_eq!(values(&text, "tempo"), ["132", "120"]);
    assert_eq!(values(&text, "swing"), ["2:1"]);
    assert_eq!(values(&text, "name"), ["A", "Quay"]);
    assert_eq!(lost, "");
}

#[test]
fn the_first_tempo_is_that_of_the_bars_before_it() {
    let late = format!(
        "{}{}{}",
        quarters("E1"),
        "<sound tempo=\"90\"/>",
        quarters("G1 A1 B1")
    );
    let (text, lost) = import(&score(&[&quarters("B1"), &late, &quarters("E1 E1 E1 E1")]));
    assert_eq!(values(&text, "tempo"), ["90"]);
    assert_eq!(values(&text, "pickup"), ["true"]);
    assert_eq!(lost, "");
    let change = format!("{}{}", quarters("E1 G1"), "<sound tempo=\"80\"/>") + &quarters("A1 B1");
    let (text, lost) = import(&score(&[
        &("<sound tempo=\"90\"/>".to_owned() + &change),
        &quarters("E1 E1 E1 E1"),
    ]));
    assert_eq!(values(&text, "tempo"), ["90", "80"]);
    assert!(
        lost.ends_with("(put off to the next bar): bar 1 beat 3"),
        "{lost}"
    );
}

#[test]
fn chords_stand_over_their_beats() {
    let chord = |root: &str, kind: &str| {
        format!("<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind></harmony>")
    };
    let even = format!(
        "{}{}{}{}",
        chord("D", "minor-seventh"),
        quarters("D2 D2"),
        chord("G", "dominant"),
        quarters("G1 G1")
    );
    let late = format!(
        "{}{}{}{}",
        chord("C", "major"),
        quarters("C2 C2 C2"),
        chord("A", "dominant"),
        quarters("A1")
    );
    let (text, lost) = import(&score(&[&even, &late, &quarters("E1 E1 E1 G1")]));
    assert_eq!(values(&text, "chords"), ["Dm7 G7 | C@1 A7@4 | -"]);
    assert_eq!(lost, "");
}

#[test]
fn a_passage_in_another_key_is_a_pass() {
    let riff = ["E1 G1 A1 B1", "E1 B1 A1 G1", "E1 E1 G1 A1", "B1 A1 G1 F#1"];
    let up = [
        "F#1 A1 B1 C#2",
        "F#1 C#2 B1 A1",
        "F#1 F#1 A1 B1",
        "C#2 B1 A1 G#1",
    ];
    let measures: Vec<String> = riff.iter().chain(&up).map(|bar| quarters(bar)).collect();
    let measures: Vec<&str> = measures.iter().map(String::as_str).collect();
    let (text, lost) = import(&score(&measures));
    assert_eq!(values(&text, "passes"), ["[0, 2]"]);
    assert_eq!(values(&text, "name").len(), 1);
    assert_eq!(lost, "");
}

#[test]
fn a_pickup_stays_one() {
    let xml = score(&[
        &quarters("B1"),
        &quarters("E1 G1 A1 B1"),
        &quarters("E1 E1 E1"),
    ]);
    let (text, _) = import(&xml);
    assert_eq!(values(&text, "pickup"), ["true"]);
    assert_eq!(
        values(&text, "notes"),
        ["B1/4 | E1/4 G1/4 A1/4 B1/4 | E1/4 E1/4 E1/4 r/4"]
    );
}

#[test]
fn what_cannot_be_carried_over_is_listed() {
    let grace = note("E1", 0, "").replace("<note>", "<note><grace/>");
    let fifth = |pitch: &str| {
        let tuplet = "<time-modification><actual-notes>5</actual-notes><normal-notes>4</normal-notes></time-modification>";
        note(pitch, 24, &format!("<type>16th</type>{tuplet}"))
    };
    let attributes = "<attributes><divisions>120</divisions></attributes>";
    let bar = ["E1", "F1", "G1", "F1", "E1"].map(fifth).concat() + &note("A1", 360, "");
    let (text, lost) = import(&score(&[
        &format!("{grace}{}", quarters("E1 E1 E1 E1")),
        &format!("{attributes}{bar}"),
    ]));
    assert_eq!(
        lost,
        "1 × grace notes: bar 1 beat 1\n1 × figures that a line cannot write exactly (moved to the nearest thirty-second or triplet): bar 2 beat 1"
    );
    assert!(values(&text, "notes")[0].ends_with("A1/2."), "{text}");
}

#[test]
fn repeat_bar_signs_play_the_bar_again() {
    let sign = "<attributes><measure-style><measure-repeat type=\"start\">1</measure-repeat></measure-style></attributes>";
    let xml = score(&[&quarters("E1 G1 A1 B1"), &format!("{sign}{}", rest(96))]);
    let (text, _) = import(&xml);
    assert_eq!(values(&text, "passes"), Vec::<String>::new());
    assert_eq!(
        values(&text, "notes"),
        ["E1/4 G1/4 A1/4 B1/4 | E1/4 G1/4 A1/4 B1/4"]
    );
}

#[test]
fn double_stops_and_open_ties_of_them_are_told() {
    let chord = |pitch: &str, more: &str| note(pitch, 48, more).replace("<note>", "<note><chord/>");
    let bar = [
        note("A1", 48, TIE_START),
        chord("E2", TIE_START),
        note("A1", 48, TIE_STOP),
        chord("E2", TIE_STOP),
    ];
    assert_eq!(notes(&score(&[&bar.concat()])), ["A1+E2/2~ A1+E2/2"]);
    let half = [
        note("A1", 48, TIE_START),
        chord("E2", ""),
        note("A1", 48, TIE_STOP),
        chord("E2", ""),
    ];
    let (text, lost) = import(&score(&[&half.concat()]));
    assert_eq!(values(&text, "notes"), ["A1+E2/2 A1+E2/2"]);
    assert_eq!(
        lost,
        "1 × ties that do not hold every note of both ends: bar 1 beat 1"
    );
}

#[test]
fn the_rest_of_a_chord_needs_no_voice_of_its_own() {
    let chord = note("E2", 96, "")
        .replace("<note>", "<note><chord/>")
        .replace("<voice>1</voice>", "");
    let second = note("A1", 96, "").replace("<voice>1", "<voice>2");
    let bar = format!(
        "{}<backup><duration>96</duration></backup>{second}{chord}",
        quarters("G2 G2 G2 G2")
    );
    assert_eq!(notes(&score(&[&bar])), ["G2/4 G2/4 G2/4 G2/4"]);
}

#[test]
fn the_first_voice_of_the_file_is_taken_though_it_begins_with_a_rest() {
    let second = note("A1", 96, "").replace("<voice>1", "<voice>2");
    let bar = format!(
        "{}<backup><duration>96</duration></backup>{second}",
        rest(96)
    );
    assert_eq!(
        notes(&score(&[&bar, &quarters("G2 G2 G2 G2")])),
        ["r/1 | G2/4 G2/4 G2/4 G2/4"]
    );
}

#[test]
fn the_timewise_form_is_read_as_well() {
    let bar = quarters("E1 G1 A1 B1");
    let whole = part("Bass", &[&bar]);
    let timewise = whole
        .replace("score-partwise", "score-timewise")
        .replace(
            "<part id=\"P0\"><measure number=\"1\">",
            "<measure number=\"1\"><part id=\"P0\">",
        )
        .replace("</measure>\n</part>", "</part></measure>");
    assert_eq!(notes(&timewise), notes(&whole));
}

#[test]
fn open_strings_named_before_the_first_note_are_the_tuning() {
    let accord = |string: u8, step: &str, octave: u8| {
        format!(
            "<accord string=\"{string}\"><tuning-step>{step}</tuning-step><tuning-octave>{octave}</tuning-octave></accord>"
        )
    };
    let strings = accord(1, "G", 2) + &accord(2, "D", 2) + &accord(3, "A", 1) + &accord(4, "D", 1);
    let tuned = format!(
        "<direction><direction-type><scordatura>{strings}</scordatura></direction-type></direction>"
    );
    let bar = quarters("D1 A1 D2 A2");
    let (text, lost) = import(&score(&[&(tuned.clone() + &bar)]));
    assert_eq!(values(&text, "tuning"), ["D1 A1 D2 G2"]);
    assert_eq!(lost, "");
    let (_, lost) = import(&score(&[&quarters("E1 A1 D2 A2"), &(tuned + &bar)]));
    assert!(lost.starts_with("1 × changes of tuning"), "{lost}");
}

#[test]
fn any_swing_that_a_line_can_say_is_read_and_words_beside_it_say_nothing_new() {
    let swing = |long: u32, short: u32| {
        let bar = format!(
            "<direction><direction-type><words>swing</words></direction-type><sound><swing><first>{long}</first>\
             <second>{short}</second></swing></sound></direction>"
        );
        let (text, lost) = import(&score(&[&(bar + &quarters("E1 E1 E1 E1"))]));
        assert_eq!(lost, "");
        values(&text, "swing")
    };
    assert_eq!(swing(2, 1), ["2:1"]);
    assert_eq!(swing(809, 500), ["80.9:50"]);
}

#[test]
fn a_section_without_a_key_stays_without_one() {
    let key = |fifths: i32, mode: &str| {
        format!("<attributes><key><fifths>{fifths}</fifths><mode>{mode}</mode></key></attributes>")
    };
    let bar = quarters("E1 A1 D2 A2");
    let (text, lost) = import(&score(&[
        &(key(1, "major") + &bar),
        &(key(0, "none") + &bar),
    ]));
    assert_eq!(lost, "");
    assert_eq!(values(&text, "key"), ["G major"]);
    assert!(text.find("key") > text.find("[[section]]"), "{text}");
}

#[test]
fn a_pickup_of_a_triplet_is_a_pickup() {
    let tuplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    let (text, lost) = import(&score(&[&note("E1", 8, tuplet), &quarters("A1 A1 A1 A1")]));
    assert_eq!(lost, "");
    assert_eq!(values(&text, "notes"), ["E1/8t | A1/4 A1/4 A1/4 A1/4"]);
}
