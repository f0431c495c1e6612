//! Files that mean harm, and files that are broken: one clear error, bounded memory, no panic.

mod musicxml_text;

use leadsman::import::musicxml::error::{At, Unreadable};
use leadsman::import::musicxml::{self, Choice, guard};
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::score::tidy::{Wishes, tidy};
use musicxml_text::{note, parts, quarters, rest, score, sound};
use proptest::prelude::*;
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

fn refused(bytes: &[u8]) -> Unreadable {
    musicxml::read(bytes, &Choice::default()).expect_err("no score")
}

fn zipped(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in entries {
        archive
            .start_file(*name, SimpleFileOptions::default())
            .expect("an entry");
        archive.write_all(content).expect("its bytes");
    }
    archive.finish().expect("an archive").into_inner()
}

const CONTAINER: &str =
    "<container><rootfiles><rootfile full-path=\"a/score.xml\"/></rootfiles></container>";

#[test]
fn entities_are_neither_expanded_nor_fetched() {
    let bomb = "<!DOCTYPE a [\n <!ENTITY b \"boom\">\n <!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;\">\n]><score-partwise>&c;</score-partwise>";
    let at = At { line: 1, column: 1 };
    assert_eq!(refused(bomb.as_bytes()), Unreadable::Entities { at });
    let external = bomb.replace("\"boom\"", "SYSTEM \"file:///etc/passwd\"");
    assert_eq!(refused(external.as_bytes()), Unreadable::Entities { at });
    let unknown = "<score-partwise>&b;</score-partwise>";
    assert!(
        refused(unknown.as_bytes())
            .to_string()
            .starts_with("line 1, column 17: broken XML: unknown entity")
    );
}

#[test]
fn nesting_beyond_any_score_does_not_reach_the_reader() {
    let deep = "<a>".repeat(4_000_000);
    assert!(matches!(
        refused(deep.as_bytes()),
        Unreadable::TooDeep {
            at: At { line: 1, .. }
        }
    ));
}

#[test]
fn size_is_bounded_before_and_after_inflating() {
    let spaces = vec![b' '; guard::LARGEST_BYTES as usize + 1];
    let what = "the file".to_owned();
    assert_eq!(refused(&spaces), Unreadable::TooLarge { what });
    let bomb = zipped(&[
        ("META-INF/container.xml", CONTAINER.as_bytes()),
        ("a/score.xml", &spaces),
    ]);
    assert!(bomb.len() < 100_000);
    let what = "a/score.xml inside the file".to_owned();
    assert_eq!(refused(&bomb), Unreadable::TooLarge { what });
}

#[test]
fn a_score_of_too_many_elements_is_refused() {
    let many = format!(
        "<score-partwise>{}</score-partwise>",
        "<a/>".repeat(guard::MOST_NODES as usize)
    );
    assert_eq!(refused(many.as_bytes()), Unreadable::TooManyNodes);
}

#[test]
fn repeats_cannot_make_a_small_file_large() {
    let bar = note("E1", 1, "").repeat(500);
    let close = "<barline><repeat direction=\"backward\" times=\"5000\"/></barline>";
    assert_eq!(
        refused(score(&[&format!("{bar}{close}")]).as_bytes()),
        Unreadable::TooLong
    );
    let sign = "<attributes><measure-style><measure-repeat type=\"start\">1</measure-repeat></measure-style></attributes>";
    let measures: Vec<&str> = [bar.as_str(), sign].into_iter().chain([""; 500]).collect();
    assert_eq!(refused(score(&measures).as_bytes()), Unreadable::TooLong);
}

#[test]
fn broken_xml_is_told_with_its_place() {
    let broken = score(&[&quarters("E1 E1")]).replace("</measure>", "</bar>");
    let said = refused(broken.as_bytes()).to_string();
    assert!(said.starts_with("line 3, column "), "{said}");
    assert!(
        said.contains("broken XML: expected 'measure' tag, not 'bar'"),
        "{said}"
    );
    assert_eq!(refused(b"<html/>"), Unreadable::NotMusicXml("html".into()));
    assert_eq!(refused(b"<score-partwise/>"), Unreadable::NoPart);
}

#[test]
fn a_compressed_score_is_found_by_its_container_or_its_name() {
    let xml = score(&[&quarters("E1 G1 A1 B1")]);
    let plain = musicxml::read(xml.as_bytes(), &Choice::default()).unwrap();
    let decoy: (&str, &[u8]) = ("0.xml", b"<opus/>");
    let whole = zipped(&[
        decoy,
        ("META-INF/container.xml", CONTAINER.as_bytes()),
        ("a/score.xml", xml.as_bytes()),
    ]);
    assert_eq!(
        musicxml::read(&whole, &Choice::default()),
        Ok(plain.clone())
    );
    let bare = zipped(&[("score.musicxml", xml.as_bytes())]);
    assert_eq!(musicxml::read(&bare, &Choice::default()), Ok(plain));
    let empty = zipped(&[("picture.png", b"")]);
    assert_eq!(refused(&empty), Unreadable::NoScoreInside);
    assert!(matches!(
        refused(&whole[..whole.len() / 2]),
        Unreadable::Zip(_)
    ));
}

#[test]
fn parts_and_voices_are_chosen_by_a_stated_rule() {
    let (high, low) = (quarters("C4 C4 C4 C4"), quarters("E1 E1 E1 E1"));
    let xml = parts(&[
        ("Horn", &[&high]),
        ("Bass", &[&low]),
        ("Bass Drum", &[&high]),
    ]);
    let read = |part: Option<&str>| {
        let choice = Choice {
            part: part.map(str::to_owned),
            voice: None,
        };
        musicxml::read(xml.as_bytes(), &choice)
    };
    let bass = read(None).unwrap();
    assert_eq!(bass.part, "Bass");
    assert_eq!(
        bass.said,
        ["part \"Bass\" taken of 3, the only bass: --part chooses another"]
    );
    assert_eq!(read(Some("1")).unwrap().part, "Horn");
    assert_eq!(read(Some("horn")).unwrap().part, "Horn");
    assert_eq!(read(Some("bass")).unwrap().part, "Bass");
    let said = read(Some("tuba")).unwrap_err().to_string();
    assert_eq!(
        said,
        "--part tuba is not in the score; the parts are:\n  1  Horn (4 notes)\n  2  Bass (4 notes)\n  3  Bass Drum (4 notes)"
    );
    let two = parts(&[("Horn", &[&high]), ("Viola", &[&low])]);
    let said = refused(two.as_bytes()).to_string();
    assert_eq!(
        said,
        "the score has several parts, choose one with --part:\n  1  Horn (4 notes)\n  2  Viola (4 notes)"
    );
    let second = note("G2", 96, "").replace("<voice>1", "<voice>2");
    let voices = score(&[&format!(
        "{low}<backup><duration>96</duration></backup>{second}"
    )]);
    let read = |voice: Option<&str>| {
        let choice = Choice {
            part: None,
            voice: voice.map(str::to_owned),
        };
        musicxml::read(voices.as_bytes(), &choice)
    };
    let first = read(None).unwrap();
    assert_eq!(
        first.said,
        ["voice 1 taken, the first of 1 (4 notes), 2 (1 note): --voice chooses another"]
    );
    assert_eq!(read(Some("2")).unwrap().score.measures[0].events.len(), 1);
    let said = read(Some("3")).unwrap_err().to_string();
    assert_eq!(
        said,
        "--voice 3 is not in the part; its voices are:\n  1 (4 notes)\n  2 (1 note)"
    );
}

/// A score with something of everything, to be damaged.
fn rich() -> String {
    let open = "<barline location=\"left\"><repeat direction=\"forward\"/><ending number=\"1,2\" type=\"start\"/></barline>";
    let close = "<barline location=\"right\"><ending number=\"1,2\" type=\"stop\"/><repeat direction=\"backward\" times=\"3\"/></barline>";
    let harmony =
        "<harmony><root><root-step>D</root-step></root><kind>minor-seventh</kind></harmony>";
    let tuplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    let technical = "<notations><tied type=\"start\"/><technical><string>3</string><fret>5</fret><fingering>2</fingering><up-bow/></technical></notations>";
    let swing = "<sound tempo=\"96\"><swing><first>3</first><second>2</second></swing></sound>";
    let transpose = "<attributes><transpose><chromatic>-12</chromatic></transpose><key><fifths>-3</fifths></key></attributes>";
    score(&[
        &format!("{transpose}{swing}{}", quarters("E2")),
        &format!(
            "{open}{harmony}{}{}",
            note("D3", 48, technical),
            note("D3", 48, "<tie type=\"stop\"/>")
        ),
        &format!("{}{}{close}", note("A2", 8, tuplet).repeat(3), rest(72)),
        &format!(
            "{}{}",
            quarters("G2 Bb2 D3 F3"),
            sound("dacapo=\"yes\" tocoda=\"1\"")
        ),
        &format!(
            "{}{}",
            sound("coda=\"1\" segno=\"1\""),
            quarters("C3 C3 C3 C3")
        ),
    ])
}

/// Whatever comes of the bytes, a line that comes of them can be printed and read back.
fn survives(bytes: &[u8]) {
    let Ok(read) = musicxml::read(
        bytes,
        &Choice {
            part: Some("1".into()),
            voice: None,
        },
    ) else {
        return;
    };
    let wishes = Wishes {
        title: "Damaged".into(),
        ..Wishes::default()
    };
    if let Ok((line, _)) = tidy(&read.score, &wishes) {
        let text = print(&line);
        let again = parse(&text, "damaged")
            .unwrap_or_else(|mistakes| panic!("{text}\n{}", mistakes.render(false)));
        assert_eq!(again, line);
    }
}

/// Pieces that make a score strange rather than broken.
const STRANGE: [&str; 16] = [
    "0",
    "1",
    "7",
    "-3",
    "99999999999",
    "0.37",
    "yes",
    "x",
    "",
    "<chord/>",
    "<grace/>",
    "<dot/>",
    "<backup><duration>31</duration></backup>",
    "<forward><duration>5</duration></forward>",
    "<attributes><time><beats>7</beats><beat-type>16</beat-type></time></attributes>",
    "5:4",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn a_damaged_score_never_breaks_the_reader(changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6)) {
        let mut bytes = rich().into_bytes();
        for (place, byte) in changes {
            let at = place.index(bytes.len());
            bytes[at] = byte;
        }
        survives(&bytes);
    }

    #[test]
    fn a_strange_score_never_breaks_the_reader(
        changes in prop::collection::vec((any::<prop::sample::Index>(), prop::sample::select(&STRANGE[..])), 1..8),
    ) {
        let mut text = rich();
        for (place, piece) in changes {
            // The text of an element is what stands between a tag and the next.
            let places: Vec<usize> = text.match_indices('>').map(|(at, _)| at + 1).collect();
            let start = places[place.index(places.len())];
            let end = start + text[start..].find('<').unwrap_or(0);
            text.replace_range(start..end, piece);
        }
        survives(text.as_bytes());
    }

    #[test]
    fn a_damaged_archive_never_breaks_the_reader(changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..4)) {
        let mut bytes = zipped(&[("META-INF/container.xml", CONTAINER.as_bytes()), ("a/score.xml", rich().as_bytes())]);
        for (place, byte) in changes {
            let at = place.index(bytes.len());
            bytes[at] = byte;
        }
        survives(&bytes);
    }
}

#[test]
fn the_rich_score_is_whole_before_it_is_damaged() {
    let read = musicxml::read(rich().as_bytes(), &Choice::default()).unwrap();
    let wishes = Wishes {
        title: "Rich".into(),
        ..Wishes::default()
    };
    let (line, _) = tidy(&read.score, &wishes).unwrap();
    assert!(line.pickup && line.sections.len() > 1);
}
