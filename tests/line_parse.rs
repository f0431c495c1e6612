//! Hand-worked lines: what each way of writing means.

use leadsman::line::chord::ChordCell;
use leadsman::line::key_signature::Mode;
use leadsman::line::meter::Meter;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::line::tuning::StringNumber;
use leadsman::line::{Gate, Line, Note, Place, Stop, Stroke, SwingRatio, Swung, Tempo};
use leadsman::units::Ticks;

const HEAD: &str = "title = \"T\"\nmeter = \"4/4\"\ntempo = 120\n";

fn read(text: &str) -> Line {
    parse(text, "test.toml").unwrap_or_else(|mistakes| panic!("{mistakes}"))
}

/// A line of one section in 4/4 with the default tuning.
fn section(body: &str) -> Line {
    read(&format!("{HEAD}[[section]]\nname = \"A\"\n{body}\n"))
}

fn notes(text: &str) -> Vec<Note> {
    let line = section(&format!("notes = \"{text}\""));
    line.sections[0]
        .bars
        .iter()
        .flat_map(|bar| bar.notes.clone())
        .collect()
}

fn ids(text: &str) -> Vec<&'static str> {
    let mistakes = parse(text, "test.toml").unwrap_err();
    mistakes.iter().map(|at| at.mistake.id()).collect()
}

#[test]
fn a_whole_file_is_read() {
    let line = read(
        r#"
        title  = "Ferry Steps"
        meter  = "4/4"
        tempo  = 126
        swing  = "2:1"
        swung  = "1/8"
        tuning = "E1 A1 D2 G2"
        gate   = 0.9
        [[section]]
        name    = "A"
        tempo   = 124
        key     = "D minor"
        chords  = "Dm7 | G7@1 A7@3"
        passes  = [0, 0, 2]
        notes   = "r/8 A2/8' D3/4 D3/2 | G2/2_ A2/2>"
        strokes = "d u d | d u"
        fingers = "3 1 3 | 0 1"
        "#,
    );
    assert_eq!(line.title, "Ferry Steps");
    assert_eq!(line.tempo, Tempo(126_000));
    assert_eq!(
        line.swing,
        Some(SwingRatio {
            long: 2000,
            short: 1000
        })
    );
    assert_eq!(line.swung, Swung::Eighth);
    assert_eq!(line.gate, Gate(900));
    let a = &line.sections[0];
    assert_eq!(a.tempo, Some(Tempo(124_000)));
    assert_eq!(a.key.map(|key| key.mode), Some(Mode::Minor));
    assert_eq!(a.passes, [0, 0, 2]);
    assert_eq!(a.bars.len(), 2);
    assert_eq!(a.bars[0].notes[0].place, Place::Rest);
    assert!(a.bars[0].notes[1].marks.short);
    assert!(a.bars[1].notes[0].marks.full);
    let chords = a.chords.as_ref().unwrap();
    assert_eq!(chords[0].chords[0].beat, None);
    assert_eq!(chords[1].chords[1].beat, Some(3000));
    assert_eq!(
        a.strokes.as_ref().unwrap()[0],
        [Stroke::Down, Stroke::Up, Stroke::Down]
    );
    assert_eq!(a.fingers.as_ref().unwrap()[1], [0, 1]);
}

#[test]
fn what_a_file_leaves_out_has_its_default() {
    let line = section("notes = \"E1/1\"");
    assert_eq!(line.swing, None);
    assert_eq!(line.gate, Gate::DEFAULT);
    assert_eq!(line.tuning.open.len(), 4);
    assert_eq!(line.sections[0].passes, [0]);
    assert_eq!(line.sections[0].chords, None);
    assert!(!line.pickup);
}

#[test]
fn each_way_to_write_a_place_means_that_place() {
    let notes = notes("G:5/4 3:2/4 A2@D/4 A2@D:7/4 | Eb3/4 x/4 x@A/4 r/4 | D2+A2/2 G:2+D:0/2");
    let place = |index: usize| notes[index].place.clone();
    let fret = |string, fret| Stop::Fret {
        string: StringNumber(string),
        fret,
    };
    assert_eq!(place(0), Place::Struck(vec![fret(1, 5)]));
    assert_eq!(place(1), Place::Struck(vec![fret(3, 2)]));
    // A fret that agrees with its pitch says nothing new.
    assert_eq!(place(2), place(3));
    assert_eq!(place(5), Place::Dead(None));
    assert_eq!(place(6), Place::Dead(Some(StringNumber(3))));
    assert_eq!(place(7), Place::Rest);
    let Place::Struck(stops) = place(8) else {
        panic!("a double stop")
    };
    assert_eq!(stops.len(), 2);
    // Written highest first, kept lowest first.
    assert_eq!(place(9), Place::Struck(vec![fret(2, 0), fret(1, 2)]));
}

#[test]
fn lengths_dots_and_triplets_add_up() {
    let lengths: Vec<Ticks> = notes("E1/4. E1/8 E1/8t E1/8t E1/8t E1/8.. E1/32")
        .iter()
        .map(|note| note.length.ticks())
        .collect();
    assert_eq!(lengths, [1440, 480, 320, 320, 320, 840, 120].map(Ticks));
}

#[test]
fn marks_stand_in_any_order_and_the_tie_last() {
    let notes = notes("E1/4>m? E1/4?m> E1/4_~ E1/4");
    assert_eq!(notes[0].marks, notes[1].marks);
    assert!(notes[0].marks.accent && notes[0].marks.muted && notes[0].marks.optional);
    assert!(notes[2].tie && notes[2].marks.full && !notes[3].tie);
}

#[test]
fn bar_lines_may_stand_at_both_ends_and_touch_the_notes() {
    let plain = section("notes = \"E1/1 | G1/1\"");
    for same in ["| E1/1 | G1/1 |", "E1/1|G1/1", "|E1/1|G1/1", "E1/1 |G1/1|"] {
        assert_eq!(section(&format!("notes = \"{same}\"")), plain, "{same}");
    }
    let wrapped = section("notes = \"\"\"\n  E1/1 |\n  G1/1 |\n\"\"\"");
    assert_eq!(wrapped, plain);
}

#[test]
fn layers_count_struck_notes_only() {
    let line =
        section("notes = \"r/4 E1/4 E1/2~ | E1/2 D2+A2/4 x/4 | r/1\"\nstrokes = \"d u | d u |\"");
    let strokes = line.sections[0].strokes.as_ref().unwrap();
    let counts: Vec<usize> = strokes.iter().map(Vec::len).collect();
    assert_eq!(counts, [2, 2, 0]);
}

#[test]
fn an_empty_chord_cell_keeps_the_chord() {
    let line = section("notes = \"E1/1 | E1/1 | E1/1\"\nchords = \"Em | - |  \"");
    let chords = line.sections[0].chords.as_ref().unwrap();
    assert_eq!(chords[1..], [ChordCell::default(), ChordCell::default()]);
}

#[test]
fn a_pickup_is_said_in_the_head_or_in_the_first_section() {
    let body = "notes = \"A1/8 B1/8 | E1/1\"\nchords = \"- | Em\"\n";
    let head = read(&format!(
        "{HEAD}pickup = true\n[[section]]\nname = \"A\"\n{body}"
    ));
    let first = read(&format!(
        "{HEAD}[[section]]\nname = \"A\"\npickup = true\n{body}"
    ));
    assert_eq!(head, first);
    assert!(head.pickup);
}

#[test]
fn a_section_has_its_own_meter() {
    let line = section("meter = \"12/8\"\nnotes = \"E1/4. E1/4. E1/4. E1/8 E1/8 E1/8\"");
    assert_eq!(
        line.sections[0].meter,
        Some(Meter {
            upper: 12,
            lower: 8
        })
    );
}

#[test]
fn strings_of_one_letter_are_told_apart_by_number() {
    let tuning = "tuning = \"D1 A1 D2 G2\"\n[[section]]\nname = \"A\"\n";
    let dropped = read(&format!("{HEAD}{tuning}notes = \"4:0/2 2:0/2\""));
    assert!(print(&dropped).contains("4:0/2 2:0/2"));
    assert_eq!(
        ids(&format!("{HEAD}{tuning}notes = \"D:0/1\"")),
        ["ambiguous-string"]
    );
}

#[test]
fn a_five_string_bass_reaches_below_e() {
    let line = read(&format!(
        "{HEAD}tuning = \"B0 E1 A1 D2 G2\"\n[[section]]\nname = \"A\"\nnotes = \"B:0/2 C1@B/2\"",
    ));
    assert_eq!(line.tuning.open.len(), 5);
}

#[test]
fn a_pickup_that_is_missing_does_not_move_to_the_next_section() {
    let text = format!(
        "{HEAD}pickup = true\n[[section]]\nname = \"A\"\n[[section]]\nname = \"B\"\nnotes = \"E1/1\"\n"
    );
    assert_eq!(ids(&text), ["missing-key"]);
}

#[test]
fn all_mistakes_of_a_file_are_reported_at_once() {
    let text = r##"
title = "Many"
meter = "4/5"
tempo = 500
swing = "5:1"
colour = "blue"
[[section]]
name = "A"
meter = "4/4"
notes = "E1/4 D0/4 G:30/4 A2@E:2/4 | E1/4 E1/8 | r/4' E1/2~ F1/4 | | x/2' H2/2"
strokes = "d | d d x"
chords = "Em7 | H7"
[[section]]
notes = ""
passes = []
"##;
    let found = ids(text);
    for id in [
        "bad-meter",
        "tempo-out-of-range",
        "swing-out-of-range",
        "unknown-key",
        "below-lowest-string",
        "fret-out-of-range",
        "fret-is-not-pitch",
        "bar-too-short",
        "mark-on-rest",
        "tie-to-another-pitch",
        "empty-bar",
        "length-mark-on-dead-note",
        "bad-place",
        "layer-bar-count",
        "missing-key",
        "no-notes",
        "no-pass",
    ] {
        assert!(found.contains(&id), "{id} is missing from {found:?}");
    }
    assert_eq!(
        found.iter().filter(|id| **id == "layer-bar-count").count(),
        2
    );
}

#[test]
fn several_syntax_errors_and_other_mistakes_are_reported_together() {
    let text =
        "title = \nmeter = \"4/4\"\ntempo = 1 2\n[[section]]\nname = \"A\"\nnotes = \"E1/4\"\n";
    let found = ids(text);
    assert_eq!(
        found.iter().filter(|id| **id == "toml-syntax").count(),
        2,
        "{found:?}"
    );
    assert!(found.contains(&"bar-too-short"), "{found:?}");
    assert_eq!(found.len(), 3, "{found:?}");
}

#[test]
fn positions_count_lines_and_characters_from_one() {
    let text = "title = \"Fähre\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"Ü\"\nnotes = \"\"\"\nE1/2 E1/2 |\n E1/2 ü/2\"\"\"\n";
    let mistakes = parse(text, "test.toml").unwrap_err();
    let at = mistakes.iter().next().unwrap();
    let position = mistakes.position(at);
    assert_eq!((position.line, position.column), (8, 7));
    assert!(
        mistakes.render(false).contains("test.toml:8:7"),
        "{mistakes}"
    );
    let text = text.replace("ü/2\"\"\"", "E1/2\"\"\"\nchords = \"E | \u{e9}7\"");
    let mistakes = parse(&text, "test.toml").unwrap_err();
    let position = mistakes.position(mistakes.iter().next().unwrap());
    assert_eq!((position.line, position.column), (9, 15));
}

#[test]
fn an_escaped_text_is_marked_as_a_whole() {
    let text = format!("{HEAD}[[section]]\nname = \"A\"\nnotes = \"E1/2\\u0020H1/2\"\n");
    let mistakes = parse(&text, "test.toml").unwrap_err();
    let at = mistakes.iter().next().unwrap();
    assert_eq!(&text[at.span.clone()], "\"E1/2\\u0020H1/2\"");
}

#[test]
fn colour_is_only_used_when_asked_for() {
    let mistakes = parse("", "test.toml").unwrap_err();
    assert!(!mistakes.render(false).contains('\u{1b}'));
    assert!(mistakes.render(true).contains('\u{1b}'));
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_are_read() {
    let text =
        format!("{HEAD}[[section]]\nname = \"A\"\nnotes = \"\"\"\nE1/2 E1/2 |\nE1/2 E1/2\"\"\"\n");
    let plain = read(&text);
    let windows = text.replace('\n', "\r\n");
    assert_eq!(read(&windows), plain);
    assert_eq!(read(&format!("\u{feff}{text}")), plain);
    let wrong = windows.replacen("|\r\nE1", "|\r\nH1", 1);
    let mistakes = parse(&wrong, "test.toml").unwrap_err();
    let at = mistakes.iter().next().unwrap();
    assert_eq!(&wrong[at.span.clone()], "H1");
    let wrong = format!("\u{feff}{}", text.replacen("|\nE1", "|\nH1", 1));
    let mistakes = parse(&wrong, "test.toml").unwrap_err();
    let at = mistakes.iter().next().unwrap();
    assert_eq!(&wrong[at.span.clone()], "H1");
}

#[test]
fn a_file_full_of_mistakes_is_counted_rather_than_shown_whole() {
    let notes = "H1/1 | ".repeat(500);
    let text = format!("{HEAD}[[section]]\nname = \"A\"\nnotes = \"{notes}\"\n");
    let mistakes = parse(&text, "test.toml").unwrap_err();
    assert_eq!(mistakes.len(), 500);
    assert!(
        mistakes
            .render(false)
            .ends_with("and 400 more mistakes in test.toml")
    );
}
