//! Exported files as other programs read them: music21 (MusicXML) and mido (MIDI); see tests/golden/exported.py.
//!
//! After a change of what is exported, or of a line in `lines`, that script has to be run again.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedNote, unroll};
use leadsman::export::smf::Feel;
use leadsman::export::{musicxml, smf};
use leadsman::line::Line;
use leadsman::line::read::read;
use leadsman::units::{Nanos, TICKS_PER_QUARTER, Ticks};
use serde_json::Value;
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

const FOLDER: &str = "tests/golden/exported";
/// Ticks of the file in one of the line.
const FINER: i64 = 32;

/// Every line that was exported, and what was read in its files.
fn golden() -> Vec<(String, Line, Value)> {
    let text = fs::read_to_string(Path::new(FOLDER).join("notes.json")).expect("notes.json");
    let all: serde_json::Map<String, Value> = serde_json::from_str(&text).expect("JSON");
    let read = |(name, found): (String, Value)| {
        let house = PathBuf::from(format!("lines/{name}.toml"));
        let own = Path::new(FOLDER).join(format!("{name}.toml"));
        let line = read(if house.exists() { &house } else { &own });
        (name, line.expect("a line"), found)
    };
    all.into_iter().map(read).collect()
}

fn kept(name: &str, extension: &str) -> Vec<u8> {
    fs::read(Path::new(FOLDER).join(format!("{name}.{extension}"))).expect("a kept file")
}

fn score_in(mxl: &[u8]) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(mxl)).expect("a ZIP file");
    let mut text = String::new();
    let mut score = archive.by_name("score.musicxml").expect("a score");
    score.read_to_string(&mut text).expect("text");
    text
}

fn number(value: &Value) -> i64 {
    value.as_i64().expect("a whole number")
}

/// `"numerator/denominator"` of a quarter in ticks.
fn ticks(quarters: &Value) -> Ticks {
    let (over, under) = quarters
        .as_str()
        .and_then(|q| q.split_once('/'))
        .expect("a fraction");
    let (over, under): (i64, i64) = (over.parse().unwrap(), under.parse().unwrap());
    assert_eq!(
        over * TICKS_PER_QUARTER % under,
        0,
        "{quarters} is no whole number of ticks"
    );
    Ticks(over * TICKS_PER_QUARTER / under)
}

/// Where a note is written, since the first bar began.
fn position(expected: &Expected, note: &ExpectedNote) -> Ticks {
    expected.bars[note.bar as usize].start + note.at - expected.bars[0].start
}

#[test]
fn what_is_exported_is_what_the_other_programs_have_read() {
    let lines = golden();
    assert!(lines.len() >= 12);
    for (name, line, _) in lines {
        let score = musicxml::write(&line, Speed::WRITTEN);
        assert!(
            score.bytes == score_in(&kept(&name, "mxl")).as_bytes(),
            "{name}.mxl"
        );
        assert_eq!(
            score_in(&musicxml::pack(&score.bytes)).as_bytes(),
            score.bytes
        );
        let midi = smf::write(&line, None, Speed::WRITTEN, Feel::Swung).expect("a file");
        assert!(midi.bytes == kept(&name, "mid"), "{name}.mid");
    }
}

#[test]
fn music21_reads_the_notes_that_are_expected_where_they_are_written() {
    for (name, line, found) in golden() {
        let expected = unroll(&line, Speed::WRITTEN);
        let mut wanted: Vec<(Ticks, Option<i64>, Ticks)> = expected
            .notes
            .iter()
            .map(|note| {
                let key = note.key.map(|key| i64::from(key.0));
                (position(&expected, note), key, note.length)
            })
            .collect();
        wanted.sort();
        let rows = found["musicxml"].as_array().expect("notes");
        let read: Vec<_> = rows
            .iter()
            .map(|row| (ticks(&row[1]), row[0].as_i64(), ticks(&row[2])))
            .collect();
        assert_eq!(read, wanted, "{name}");
    }
}

/// The written position of a tick, brought to time by the line's own tempo map: half a tick may be lost in rounding.
#[test]
fn mido_reads_the_notes_that_are_expected_to_half_a_tick() {
    for (name, line, found) in golden() {
        let expected = unroll(&line, Speed::WRITTEN);
        let midi = &found["midi"];
        assert_eq!(number(&midi["division"]), FINER * TICKS_PER_QUARTER);
        let rows = midi["notes"].as_array().expect("notes");
        assert_eq!(rows.len(), expected.notes.len(), "{name}");
        let first = &expected.bars[0];
        let lead = if first.start < Ticks(0) {
            first.length + first.offset
        } else {
            Ticks(0)
        };
        let time = |tick: i64| {
            let position = i128::from(tick - lead.0 * FINER);
            expected.tempo_map.time_at(position, FINER.into())
        };
        let near = |tick: &Value, wanted: Nanos| {
            let tick = number(tick);
            let half_a_tick = Nanos((time(tick + 1) - time(tick)).0 / 2 + 2);
            assert!((time(tick) - wanted).abs() <= half_a_tick, "{name}: {tick}");
        };
        for (row, note) in rows.iter().zip(&expected.notes) {
            near(&row[0], note.onset);
            near(&row[1], note.end());
            if let Some(key) = note.key {
                assert_eq!(number(&row[2]), i64::from(key.0), "{name}");
            }
            let velocity = match note.is {
                is if is.accent => 100,
                is if is.dead || is.optional => 50,
                _ => 80,
            };
            assert_eq!(number(&row[3]), velocity, "{name}");
        }
    }
}

#[test]
fn mido_reads_the_bars_tempi_keys_and_section_names() {
    for (name, line, found) in golden() {
        let expected = unroll(&line, Speed::WRITTEN);
        let midi = &found["midi"];
        let all = |what: &str| midi[what].as_array().expect("a list").clone();
        let first = &expected.bars[0];
        let lead = if first.start < Ticks(0) {
            first.length + first.offset
        } else {
            Ticks(0)
        };
        for (tempo, (at, _, rate)) in all("tempi").iter().zip(expected.tempo_map.changes()) {
            let tick = if at == Ticks(0) {
                0
            } else {
                (at + lead).0 * FINER
            };
            assert_eq!(number(&tempo[0]), tick, "{name}");
            let micros = 60e6 / rate.quarters_per_minute();
            assert!((number(&tempo[1]) as f64 - micros).abs() <= 0.5, "{name}");
        }
        assert_eq!(all("tempi").len(), expected.tempo_map.changes().count());
        let bar_at = |row: &Value| {
            let at = Ticks(number(&row[0]) / FINER) - lead;
            expected.bars.iter().position(|bar| bar.start == at)
        };
        for meter in all("meters").iter().skip(1) {
            let bar = bar_at(meter).expect("a meter at a bar line");
            assert_eq!(meter[1], expected.bars[bar].meter().to_string(), "{name}");
        }
        for marker in all("markers") {
            let bar = &expected.bars[bar_at(&marker).expect("a marker at a bar line")];
            let section = &expected.sections[usize::from(bar.section)];
            let text = marker[1].as_str().expect("text");
            assert!(text.starts_with(section.as_str()), "{name}: {text}");
        }
        assert_eq!(
            all("keys").is_empty(),
            expected.notes.iter().all(|n| n.signature.is_none())
        );
    }
}
