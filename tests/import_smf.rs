//! MIDI files into lines: what is chosen, quantised, un-swung and written, and what is said of it.

mod smf_by_hand;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedNote, unroll};
use leadsman::import::smf::error::Unreadable;
use leadsman::import::smf::{self, Choice, Read};
use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::score::Sound;
use leadsman::score::tidy::{Wishes, tidy};
use leadsman::stand_in::{Habits, play};
use leadsman::units::Ticks;
use midly::MetaMessage;
use proptest::prelude::*;
use smf_by_hand::{Notes, file, marker, meter, on, recorded, tempo};
use std::collections::BTreeMap;

fn read(bytes: &[u8]) -> Read {
    smf::read(bytes, &Choice::default()).expect("a part")
}

/// The line of a file, as it reads back from its text, and what was lost.
fn imported(read: &Read) -> (Line, String) {
    let wishes = Wishes {
        title: "Import".into(),
        ..Wishes::default()
    };
    let (line, losses) = tidy(&read.score, &wishes).expect("a line");
    let text = print(&line);
    assert_eq!(parse(&text, "import").expect("a valid line"), line);
    let lost: Vec<String> = losses.list.iter().map(ToString::to_string).collect();
    (line, lost.join("\n"))
}

fn full(line: &Line) -> Expected {
    unroll(line, Speed::WRITTEN)
}

/// Written onset since bar 1 beat 1, key, written length.
fn written(expected: &Expected) -> Vec<(i64, u8, i64)> {
    let notes = expected.notes.iter();
    notes
        .map(|note| {
            let bar = &expected.bars[note.bar as usize];
            let key = note.key.map_or(0, |key| key.0);
            (bar.start.0 + note.at.0 - bar.offset.0, key, note.length.0)
        })
        .collect()
}

fn house_lines() -> Vec<(String, Line)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("lines");
    let mut lines: Vec<(String, Line)> = std::fs::read_dir(folder)
        .expect("lines")
        .map(|entry| {
            let path = entry.expect("an entry").path();
            let text = std::fs::read_to_string(&path).expect("a line");
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let line = parse(&text, &name).expect("a valid line");
            (name, line)
        })
        .collect();
    lines.sort_by(|a, b| a.0.cmp(&b.0));
    lines
}

/// The notes of both, where a dead note has no key to compare.
fn assert_same(ours: &Expected, theirs: &Expected, name: &str) {
    let (ours, theirs) = (written(ours), written(theirs));
    let alike = |(a, b): (&(i64, u8, i64), &(i64, u8, i64))| {
        (a.0, a.2) == (b.0, b.2) && (a.1 == b.1 || a.1 == 0)
    };
    let differ = ours.iter().zip(&theirs).find(|(a, b)| !alike((a, b)));
    assert_eq!(differ, None, "{name}");
    assert_eq!(ours.len(), theirs.len(), "{name}");
}

/// The one line whose pairs are too few to find its swing is told of it.
fn choice(line: &Line) -> Choice {
    let few = line.title == "Tide Table Walk";
    Choice {
        swing: few.then(|| "2:1".parse().expect("a ratio")),
        ..Choice::default()
    }
}

fn house_lines_come_back(habits: &Habits, seed: u64) {
    for (name, line) in house_lines() {
        let expected = full(&line);
        let events = play(&expected, habits, seed);
        let read = smf::read(&recorded(&line, &expected, &events), &choice(&line));
        let read = read.unwrap_or_else(|error| panic!("{name}: {error}"));
        let (back, lost) = imported(&read);
        assert_eq!(lost, "", "{name}");
        let back_expected = full(&back);
        assert_same(&expected, &back_expected, &name);
        assert_eq!(back.swing, line.swing, "{name}");
        // Most of its notes are marked full or short: the one gate that comes back is theirs.
        let has_marked_lengths = line.title == "Two Blasts Astern";
        assert!(has_marked_lengths || back.gate == line.gate, "{name}");
        assert_eq!(
            (back.meter, back.pickup),
            (line.meter, line.pickup),
            "{name}"
        );
        assert_eq!(
            back.tempo,
            line.sections[0].tempo.unwrap_or(line.tempo),
            "{name}"
        );
        assert_eq!(back.title, "As recorded");
        // Every section that is there keeps its name and its tempo.
        let named = |line: &Line| -> Vec<(String, u32)> {
            let tempo = |s: &leadsman::line::Section| s.tempo.unwrap_or(line.tempo).0;
            line.sections
                .iter()
                .map(|s| (s.name.clone(), tempo(s)))
                .collect()
        };
        let back_named = named(&back);
        let missing = named(&line)
            .into_iter()
            .find(|section| !back_named.contains(section));
        assert_eq!(missing, None, "{name}");
        // Played as exactly as they were, sounding lengths come back to a tick of the file and a rounded gate.
        let sounding = expected.notes.iter().zip(&back_expected.notes);
        let is_compared = |note: &ExpectedNote| note.key.is_some() && !has_marked_lengths;
        for (ours, theirs) in sounding.filter(|(ours, _)| is_compared(ours)) {
            let off = (ours.sounding - theirs.sounding).abs().ms();
            assert!(off < 1.0, "{name}: {ours:?} {theirs:?}");
        }
    }
}

#[test]
fn house_lines_played_exactly_come_back() {
    house_lines_come_back(&Habits::default(), 1);
}

#[test]
fn house_lines_played_with_a_spread_of_10_ms_come_back() {
    for seed in 1..=3 {
        let spread_ms = 10.0;
        house_lines_come_back(
            &Habits {
                spread_ms,
                ..Habits::default()
            },
            seed,
        );
    }
}

/// A line of eighths, up and down a scale, as long as it takes to find its swing.
fn eighths(swing: &str) -> Line {
    let bar = "D2/8 E2/8 F2/8 G2/8 A2/8 G2/8 F2/8 E2/8";
    let bars = [bar; 5].join(" | ");
    let text = format!(
        "title = \"Swell\"\nmeter = \"4/4\"\ntempo = 120\n{swing}\n[[section]]\nname = \"A\"\nnotes = \"{bars}\"\n"
    );
    parse(&text, "swell").expect("a line")
}

#[test]
fn swing_is_found_and_snapped_to_what_a_player_would_name() {
    for (swing, expected) in [
        ("swing = \"2:1\"", Some("2:1")),
        ("swing = \"1.5:1\"", Some("1.5:1")),
        ("swing = \"2.2:1\"", Some("2.2:1")),
        ("", None),
    ] {
        let line = eighths(swing);
        let habits = Habits {
            spread_ms: 3.0,
            ..Habits::default()
        };
        for habits in [Habits::default(), habits] {
            let played = play(&full(&line), &habits, 5);
            let read = read(&recorded(&line, &full(&line), &played));
            let (back, _) = imported(&read);
            let ratio = back.swing.map(|ratio| ratio.to_string());
            if habits == Habits::default() || swing != "swing = \"2.2:1\"" {
                assert_eq!(ratio.as_deref(), expected);
            }
            assert_same(&full(&line), &full(&back), swing);
            assert_eq!(read.moves.grid.to_string(), "1/8", "{swing}");
        }
    }
}

#[test]
fn swung_sixteenths_are_swung_sixteenths() {
    let bar = "D2/16 E2/16 F2/16 G2/16 A2/16 G2/16 F2/16 E2/16 D2/4 A1/4";
    let text = format!(
        "title = \"S\"\nmeter = \"4/4\"\ntempo = 80\nswing = \"1.5:1\"\nswung = \"1/16\"\n[[section]]\nname = \"A\"\nnotes = \"{}\"\n",
        [bar; 6].join(" | ")
    );
    let line = parse(&text, "s").expect("a line");
    let played = play(&full(&line), &Habits::default(), 1);
    let (back, _) = imported(&read(&recorded(&line, &full(&line), &played)));
    assert_eq!((back.swing, back.swung), (line.swing, line.swung));
    assert_same(&full(&line), &full(&back), "sixteenths");
}

/// Quarters of one key, one after another, each sounding 0.9.
fn quarters(count: u64, key: u8) -> Vec<(u64, u8, u64, u8)> {
    (0..count).map(|n| (n * 960, key, 864, 80)).collect()
}

fn notes_of(line: &Line) -> String {
    let text = print(line);
    let notes = text.lines().filter(|line| line.starts_with("notes"));
    notes
        .map(|line| line.split('"').nth(1).unwrap_or(line))
        .collect::<Vec<_>>()
        .join(" || ")
}

#[test]
fn meters_keys_tempi_and_names_are_where_the_file_has_them() {
    let track = Notes::played(1, &quarters(8 + 6, 46))
        .with(0, meter(4, 2))
        .with(0, tempo(600_000))
        .with(0, MetaMessage::KeySignature(-2, false))
        .with(0, marker("Quay"))
        .with(8 * 960, meter(3, 2))
        .with(8 * 960, tempo(500_000))
        .with(8 * 960, MetaMessage::KeySignature(6, false))
        .with(8 * 960, marker("Open water"));
    let read = read(&file(&[track]));
    let (line, lost) = imported(&read);
    assert_eq!(lost, "");
    let text = print(&line);
    for says in [
        "meter   = \"4/4\"",
        "meter   = \"3/4\"",
        "tempo   = 100",
        "tempo   = 120",
    ] {
        assert!(text.contains(says), "{text}");
    }
    for says in ["\"Bb major\"", "\"F# major\"", "\"Quay\"", "\"Open water\""] {
        assert!(text.contains(says), "{text}");
    }
    assert!(
        text.contains("Bb2/4 Bb2/4 Bb2/4 Bb2/4") && text.contains("A#2/4 A#2/4 A#2/4"),
        "{text}"
    );
}

#[test]
fn a_tempo_that_was_played_is_averaged_and_said() {
    let mut track = Notes::played(1, &quarters(32, 40)).with(0, meter(4, 2));
    for n in 0..32 {
        let micros = if n % 2 == 0 { 490_000 } else { 510_000 };
        track = track.with(n * 960, tempo(micros));
    }
    let read = read(&file(&[track]));
    let (line, _) = imported(&read);
    assert_eq!((line.tempo.0, line.sections.len()), (120_000, 1));
    assert_eq!(
        read.said[0],
        "the tempo was played (32 changes): 120 throughout is its average"
    );
}

#[test]
fn rests_staccato_triplets_and_ties_are_written() {
    let notes = [
        (0, 40, 432, 80),
        (960, 40, 480, 80),
        (1920, 43, 288, 80),
        (2240, 45, 288, 80),
        (2560, 43, 288, 80),
        (2880, 40, 1728, 80),
        (4800, 45, 864, 80),
        (5760, 40, 864, 80),
        (6720, 45, 864, 80),
    ];
    let (line, lost) = imported(&read(&file(&[Notes::played(1, &notes)])));
    assert_eq!(lost, "");
    assert_eq!(
        notes_of(&line),
        "E2/8 r/8 E2/4' G2/8t A2/8t G2/8t E2/4~ | E2/4 A2/4 E2/4 A2/4"
    );
}

#[test]
fn double_stops_overlaps_and_lost_ends_are_told_apart() {
    let mut track = Notes::played(
        1,
        &[
            (0, 40, 864, 80),
            (12, 47, 864, 80),
            (960, 40, 1500, 80),
            (1920, 43, 864, 80),
        ],
    );
    track.midi(2880, 1, on(45, 80));
    let (line, lost) = imported(&read(&file(&[track])));
    assert_eq!(notes_of(&line), "E2+B2/4 E2/4_ G2/4 A2/4_");
    assert_eq!(
        lost,
        "1 × notes whose end is not in the file (held to the next): bar 1 beat 4\n\
         1 × notes that sound on under the next one (cut there): bar 1 beat 2"
    );
}

#[test]
fn velocities_far_apart_are_accents_and_ghost_notes() {
    let mut notes = quarters(16, 40);
    notes[0].3 = 120;
    notes[4].3 = 118;
    notes[3].3 = 30;
    notes[7].3 = 33;
    let (line, _) = imported(&read(&file(&[Notes::played(1, &notes)])));
    assert!(notes_of(&line).starts_with("E2/4> E2/4 E2/4 E2/4? | E2/4> E2/4 E2/4 E2/4?"));
}

#[test]
fn hits_of_no_length_are_written_to_the_next() {
    let notes: Vec<(u64, u8, u64, u8)> = (0..8).map(|n| (n * 960, 40, 0, 80)).collect();
    let mut track = Notes::default();
    for (tick, key, _, velocity) in notes {
        track.midi(tick, 1, on(key, velocity));
        track.midi(tick + 1, 1, on(key, 0));
    }
    let read = read(&file(&[track]));
    assert!(
        read.said
            .iter()
            .any(|said| said.starts_with("notes are too short to tell lengths"))
    );
    let (line, _) = imported(&read);
    assert_eq!(line.sections[0].bars[0].notes.len(), 4);
}

#[test]
fn the_bass_is_taken_of_several_parts_and_any_other_can_be_chosen() {
    let tracks = || {
        [
            Notes::default().named("Slack Tide"),
            Notes::played(1, &quarters(4, 60)).named("Piano"),
            Notes::played(2, &quarters(4, 40)).named("Deep end"),
            Notes::played(10, &quarters(4, 36)).named("Drums"),
        ]
    };
    let bytes = file(&tracks());
    let taken = read(&bytes);
    assert_eq!(taken.part, "track 3 \"Deep end\", channel 2");
    assert_eq!(
        taken.said[0],
        "track 3 \"Deep end\", channel 2 taken of 3 parts, the lowest of a single voice: --track and --channel choose another"
    );
    assert_eq!(taken.score.title.as_deref(), Some("Slack Tide"));
    for (track, channel) in [(Some("2"), None), (Some("pia"), None), (None, Some(1))] {
        let track = track.map(str::to_owned);
        let choice = Choice {
            track,
            channel,
            ..Choice::default()
        };
        let read = smf::read(&bytes, &choice).expect("a part");
        assert_eq!(read.part, "track 2 \"Piano\", channel 1");
    }
    let nowhere = Choice {
        track: Some("Tuba".into()),
        ..Choice::default()
    };
    let error = smf::read(&bytes, &nowhere).expect_err("no such track");
    assert!(
        error
            .to_string()
            .starts_with("--track Tuba has no notes; the parts are:\n  track 2")
    );
    let high = [
        Notes::played(1, &quarters(4, 70)),
        Notes::played(2, &quarters(4, 70)),
    ];
    let error = smf::read(&file(&high), &Choice::default()).expect_err("no reason to choose");
    assert!(matches!(error, Unreadable::Several(parts) if parts.len() == 2));
}

#[test]
fn what_is_no_line_is_refused_with_what_to_do() {
    let said = |bytes: &[u8]| {
        smf::read(bytes, &Choice::default())
            .expect_err("refused")
            .to_string()
    };
    let take = Notes::played(1, &quarters(4, 40)).with(0, MetaMessage::Text(b"leadsman.take/1 {}"));
    assert!(said(&file(&[take])).starts_with("this is a take, not a line: `leadsman check"));
    assert_eq!(said(&file(&[Notes::default()])), "the file has no notes");
    let free: Vec<(u64, u8, u64, u8)> = (0..200u64)
        .map(|n| (n * 457 + n * n * 13 % 331, 40, 100, 80))
        .collect();
    let message = said(&file(&[Notes::played(1, &free)]));
    assert!(
        message.starts_with("the notes fit no grid from 1/4 to 1/32"),
        "{message}"
    );
    let grid = Some("1/16".parse().expect("a grid"));
    let forced = smf::read(
        &file(&[Notes::played(1, &free)]),
        &Choice {
            grid,
            ..Choice::default()
        },
    );
    let moves = forced.expect("quantised all the same").moves;
    assert!(!moves.far.is_empty() && moves.told().len() == 2);
    let mut frames = file(&[Notes::played(1, &quarters(4, 40))]);
    frames[12..14].copy_from_slice(&[0xE7, 0x28]);
    assert!(said(&frames).starts_with("the file counts film frames"));
    let mut far = Notes::played(1, &quarters(1, 40));
    for n in 1..50 {
        far.note(1, (n * 200_000_000, 40, 100), 80);
    }
    assert_eq!(said(&file(&[far])), "the notes lie in more than 10000 bars");
}

#[derive(serde::Deserialize)]
struct Golden {
    notes: Vec<GoldenNote>,
}

/// Onset and off in ticks, the same in seconds, channel, key, velocity.
type GoldenNote = (u64, Option<u64>, f64, Option<f64>, u8, u8, u8);

/// mido 1.3.3 read the same files (`tests/golden/smf_notes.py`): each note of the channel is at its place, moved by what the
/// error report says at most, or counted as lost.
#[test]
fn notes_are_where_mido_has_them() {
    let golden: BTreeMap<String, Golden> =
        serde_json::from_str(include_str!("golden/smf/notes.json")).expect("golden notes");
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/smf");
    let mut compared = 0;
    for (name, golden) in golden {
        let bytes = std::fs::read(folder.join(&name)).expect("a golden file");
        let grid = Some("1/16+1/8t".parse().expect("a grid"));
        let read = match smf::read(
            &bytes,
            &Choice {
                grid,
                ..Choice::default()
            },
        ) {
            Ok(read) => read,
            Err(error) => {
                let known = matches!(error, Unreadable::Take | Unreadable::Several(_));
                assert!(known, "{name}: {error}");
                continue;
            }
        };
        let channels: Vec<u8> = read
            .part
            .rsplit_once("channel")
            .expect("channels")
            .1
            .trim_start_matches('s')
            .split(',')
            .map(|c| c.trim().parse::<u8>().expect("a channel") - 1)
            .collect();
        let theirs: Vec<u8> = golden
            .notes
            .iter()
            .filter(|note| channels.contains(&note.4))
            .map(|note| note.5)
            .collect();
        let events = read
            .score
            .measures
            .iter()
            .flat_map(|measure| &measure.events);
        let mut tied = false;
        let mut ours: Vec<u8> = Vec::new();
        for event in events {
            if let Sound::Pitches(pitches) = &event.sound
                && !tied
            {
                ours.extend(
                    pitches
                        .iter()
                        .filter_map(|at| at.pitch.key())
                        .map(|key| key.0),
                );
            }
            tied = event.tie;
        }
        let close = read
            .score
            .losses
            .list
            .iter()
            .find(|lost| lost.what.starts_with("notes too close"));
        let left_out = close.map_or(0, |lost| lost.spots.len());
        eprintln!(
            "{name}: {} of {} notes, {left_out} left out",
            ours.len(),
            theirs.len()
        );
        assert!(
            ours.len() <= theirs.len() && ours.len() + left_out * 4 >= theirs.len(),
            "{name}"
        );
        if left_out == 0 {
            let (mut ours, mut theirs) = (ours, theirs);
            ours.sort_unstable();
            theirs.sort_unstable();
            assert_eq!(ours, theirs, "{name}");
            compared += 1;
        }
    }
    assert!(compared >= 3, "{compared}");
}

fn whole() -> Vec<u8> {
    let line = eighths("swing = \"2:1\"");
    recorded(
        &line,
        &full(&line),
        &play(&full(&line), &Habits::default(), 1),
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    /// Whatever the bytes are, there is a line or a reason, and no panic.
    #[test]
    fn damaged_files_are_read_or_refused(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = whole();
        for (index, byte) in changes {
            let at = index.index(bytes.len());
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(read) = smf::read(&bytes, &Choice::default()) {
            let wishes = Wishes { title: "Import".into(), ..Wishes::default() };
            if let Ok((line, _)) = tidy(&read.score, &wishes) {
                let text = print(&line);
                prop_assert_eq!(parse(&text, "import").ok(), Some(line), "{}", text);
            }
        }
    }

    /// Any notes at all keep to what a score promises.
    #[test]
    fn any_notes_make_a_score_that_keeps_its_promises(
        notes in prop::collection::vec((0u64..20_000, 0u8..128, 0u64..3000, 1u8..128), 1..60),
        upper in 1u8..9, power in 1u8..5, division in 1u16..2000,
        grid in prop::sample::select(leadsman::import::smf::grid::Grid::TRIED.to_vec()),
        swing in prop::option::of(prop::sample::select(vec!["2:1", "1.5:1", "4:1", "straight"])),
    ) {
        let mut bytes = file(&[Notes::played(1, &notes).with(0, meter(upper, power))]);
        bytes[12..14].copy_from_slice(&division.to_be_bytes());
        let swing = swing.map(|swing| swing.parse().unwrap());
        let choice = Choice { grid: Some(grid), swing, ..Choice::default() };
        let Ok(read) = smf::read(&bytes, &choice) else { return Ok(()) };
        for measure in &read.score.measures {
            let mut at = Ticks(0);
            for event in &measure.events {
                prop_assert!(event.at >= at && event.length > Ticks(0), "{:?}", measure);
                at = event.end();
            }
            prop_assert!(at <= measure.length);
        }
        let wishes = Wishes { title: "Import".into(), octaves: 0, tuning: None };
        if let Ok((line, _)) = tidy(&read.score, &wishes) {
            let text = print(&line);
            prop_assert_eq!(parse(&text, "import").ok(), Some(line), "{}", text);
        }
    }
}
