//! Takes written by leadsman and read back.

use leadsman::line::meter::Meter;
use leadsman::midi::conductor::{Conductor, DIVISION};
use leadsman::midi::message;
use leadsman::midi::smf::{self, SmfFile, TextKind};
use leadsman::midi::take_track::BASS_TRACK;
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::units::{Key, Nanos};
use proptest::prelude::*;
use std::io;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const TWO_HOURS: i64 = 7_200_000_000_000;

fn scratch() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("take.mid");
    (folder, path)
}

fn plain_conductor() -> Conductor {
    Conductor::new("Ferry Steps", "{}", vec![(0, 500_000)]).expect("a tempo")
}

fn create(path: &Path, conductor: &Conductor) -> TakeWriter {
    TakeWriter::create(path, conductor).expect("a new file")
}

fn read(path: &Path) -> SmfFile {
    smf::read_file(path).expect("a take")
}

fn on(at: Nanos, key: u8) -> TimedMessage {
    let message = MidiMessage::NoteOn {
        channel: 0,
        key: Key(key),
        velocity: 90,
    };
    TimedMessage { at, message }
}

#[test]
fn the_file_is_whole_from_its_creation_and_after_each_flush() {
    let (_folder, path) = scratch();
    let mut writer = create(&path, &plain_conductor());
    for count in 0..5 {
        let file = read(&path);
        assert_eq!((file.format, file.tracks.len()), (1, 2));
        assert_eq!(file.damage, []);
        assert_eq!(file.messages().len(), count);
        writer.push(on(Nanos::from_ms(count as i64 * 100), 40));
        writer.flush().expect("written");
    }
    writer.push(on(Nanos::from_ms(900), 41));
    writer.finish().expect("written");
    assert_eq!(read(&path).messages().len(), 6);
}

#[test]
fn a_take_that_is_dropped_keeps_what_was_pushed() {
    let (_folder, path) = scratch();
    create(&path, &plain_conductor()).push(on(Nanos::ZERO, 40));
    assert_eq!(read(&path).messages().len(), 1);
}

#[test]
fn an_existing_file_is_never_overwritten_and_nothing_is_left_beside_it() {
    let (folder, path) = scratch();
    std::fs::write(&path, "mine").expect("written");
    let error = TakeWriter::create(&path, &plain_conductor()).expect_err("refused");
    assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
    assert!(error.to_string().contains("take.mid"));
    assert_eq!(std::fs::read(&path).expect("still there"), b"mine");
    assert_eq!(folder.path().read_dir().expect("a folder").count(), 1);
}

#[test]
fn a_folder_that_does_not_exist_is_an_error_that_names_it() {
    let (folder, _) = scratch();
    let path = folder.path().join("nowhere/take.mid");
    let error = TakeWriter::create(&path, &plain_conductor()).expect_err("refused");
    assert!(error.to_string().contains("nowhere"));
}

#[test]
fn the_conductor_is_read_back_whole() {
    let (_folder, path) = scratch();
    let json = format!(
        "{{\"spieler\":\"Jürgen Ærø 低音\",\"settings\":\"{}\"}}",
        "x".repeat(20_000)
    );
    let meters = vec![
        (0, Meter { upper: 4, lower: 4 }),
        (
            30_720,
            Meter {
                upper: 12,
                lower: 8,
            },
        ),
    ];
    let conductor = Conductor::new("Fähre", json.clone(), vec![(30_720, 476_190)])
        .expect("a tempo")
        .with_meters(meters)
        .with_markers(vec![(0, "A".into()), (61_440, "Überfahrt".into())]);
    create(&path, &conductor).finish().expect("written");
    let file = read(&path);
    assert_eq!(file.take_json(), Some(json.as_str()));
    let names: Vec<_> = file
        .tracks
        .iter()
        .map(|track| track.name.as_deref())
        .collect();
    assert_eq!(names, [Some("Fähre"), Some(BASS_TRACK)]);
    let tempi: Vec<_> = file
        .tempi
        .iter()
        .map(|t| (t.tick, t.micros_per_quarter))
        .collect();
    assert_eq!(tempi, [(0, 500_000), (30_720, 476_190)]);
    let meters: Vec<_> = file
        .time_signatures
        .iter()
        .map(|m| (m.tick, m.upper, m.lower))
        .collect();
    assert_eq!(meters, [(0, 4, 4), (30_720, 12, 8)]);
    let markers = file
        .texts
        .iter()
        .filter(|text| text.kind == TextKind::Marker);
    let markers: Vec<_> = markers
        .map(|text| (text.tick, text.text.as_str()))
        .collect();
    assert_eq!(markers, [(0, "A"), (61_440, "Überfahrt")]);
    assert_eq!(
        file.division,
        leadsman::midi::tick_clock::Division::PerQuarter(DIVISION)
    );
}

#[test]
fn a_file_that_is_no_take_of_ours_carries_no_settings() {
    let (_folder, path) = scratch();
    let mut writer = create(&path, &plain_conductor());
    let spoof = writer.push_text(Nanos::ZERO, smf::TAKE_TAG, "{}");
    assert_eq!(
        spoof.expect_err("refused").kind(),
        io::ErrorKind::InvalidInput
    );
    writer
        .push_text(Nanos::ZERO, "leadsman.clock/1", "{\"residual_us\":3}")
        .expect("kept");
    writer.finish().expect("written");
    assert_eq!(
        read(&path).tagged("leadsman.clock/1"),
        Some("{\"residual_us\":3}")
    );
    assert_eq!(read(&path).tagged("leadsman.clock/2"), None);
    let foreign = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/smf/test01.mid");
    assert_eq!(read(&foreign).take_json(), None);
}

/// A delta time holds 2²⁸ − 1 ticks: 73 minutes at 120 quarter notes a minute.
#[test]
fn a_silence_longer_than_a_delta_time_is_kept() {
    let (_folder, path) = scratch();
    let conductor = plain_conductor().with_markers(vec![(900_000_000, "Z".into())]);
    let mut writer = create(&path, &conductor);
    let late = writer.push(on(Nanos(TWO_HOURS), 40)).expect("a message");
    let later = writer
        .push(on(Nanos(TWO_HOURS * 3), 41))
        .expect("a message");
    writer.finish().expect("written");
    let file = read(&path);
    assert_eq!(file.damage, []);
    assert_eq!(file.messages(), [late, later]);
    assert_eq!(late.at, Nanos(TWO_HOURS));
    assert_eq!(file.texts.last().map(|text| text.tick), Some(900_000_000));
}

#[test]
fn messages_out_of_order_or_before_the_start_are_held_to_the_order() {
    let (_folder, path) = scratch();
    let mut writer = create(&path, &plain_conductor());
    let pushed: Vec<TimedMessage> = [Nanos(-5), Nanos::from_ms(500), Nanos::from_ms(400)]
        .into_iter()
        .filter_map(|at| writer.push(on(at, 40)))
        .collect();
    assert_eq!(
        pushed.iter().map(|m| m.at.ms()).collect::<Vec<_>>(),
        [0.0, 500.0, 500.0]
    );
    writer.finish().expect("written");
    assert_eq!(read(&path).messages(), pushed);
}

/// `own_take.mid` lets `tests/golden/smf_notes.py` check that mido reads in a take of ours what we read in it. After a
/// change of the format, write it anew with `LEADSMAN_GOLDEN=write`, then run the script.
#[test]
fn our_sample_take_is_the_golden_one_byte_for_byte() {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/smf/own_take.mid");
    let (_folder, path) = scratch();
    let conductor = Conductor::new(
        "Ferry Steps",
        "{\"line\":\"Fähre\"}",
        vec![(0, 476_190), (245_760, 600_000)],
    )
    .expect("a tempo")
    .with_meters(vec![(0, Meter { upper: 3, lower: 4 })])
    .with_markers(vec![(0, "A".into())]);
    let mut writer = create(&path, &conductor);
    for index in 0..40i64 {
        let (key, at) = (28 + (index * 5 % 24) as u8, Nanos(index * 238_111_333));
        writer.push(on(at, key));
        let message = MidiMessage::NoteOff {
            channel: 0,
            key: Key(key),
        };
        writer.push(TimedMessage {
            at: at + Nanos(200_000_777),
            message,
        });
        writer.flush().expect("written");
    }
    writer.push(on(Nanos(TWO_HOURS), 40));
    writer.finish().expect("written");
    let written = std::fs::read(&path).expect("a take");
    if std::env::var_os("LEADSMAN_GOLDEN").is_some() {
        std::fs::write(&golden, &written).expect("written");
    }
    assert_eq!(std::fs::read(&golden).expect("the golden take"), written);
}

fn any_message() -> impl Strategy<Value = MidiMessage> {
    prop_oneof![
        (0u8..16, 0u8..128, 1u8..128).prop_map(|(channel, key, velocity)| MidiMessage::NoteOn {
            channel,
            key: Key(key),
            velocity
        }),
        (0u8..16, 0u8..128).prop_map(|(channel, key)| MidiMessage::NoteOff {
            channel,
            key: Key(key)
        }),
        (0u8..16).prop_map(|channel| MidiMessage::AllNotesOff { channel }),
        (0xA0u8..0xF0, 0u8..120, 0u8..128)
            .prop_filter_map("a message of its own kind", |(status, first, second)| {
                message::parse(&[status, first, second])
            }),
    ]
}

/// Several tempo changes over two hours.
fn any_tempi() -> impl Strategy<Value = Vec<(u64, u32)>> {
    prop::collection::btree_map(0u64..400_000_000, 150_000u32..3_000_000, 0..10)
        .prop_map(|tempi| tempi.into_iter().collect())
}

fn any_performance() -> impl Strategy<Value = Vec<TimedMessage>> {
    prop::collection::vec((0..TWO_HOURS, any_message()), 0..60).prop_map(|mut events| {
        events.sort_by_key(|event| event.0);
        let timed = |(at, message)| TimedMessage {
            at: Nanos(at),
            message,
        };
        events.into_iter().map(timed).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn what_is_written_is_read_back_to_the_bit(
        tempi in any_tempi(),
        events in any_performance(),
        flush_every in 1usize..20,
    ) {
        let (_folder, path) = scratch();
        let conductor = Conductor::new("", "{}", tempi).expect("tempi");
        let mut writer = create(&path, &conductor);
        let mut pushed = Vec::new();
        for (index, &event) in events.iter().enumerate() {
            pushed.push(writer.push(event).expect("a message"));
            if index % flush_every == 0 {
                writer.flush().expect("written");
            }
        }
        writer.finish().expect("written");
        let file = read(&path);
        prop_assert_eq!(&file.damage, &[]);
        prop_assert_eq!(file.messages(), pushed.clone());
        let live: Vec<TimedMessage> = events
            .iter()
            .map(|event| TimedMessage { at: conductor.quantise(event.at), message: event.message })
            .collect();
        prop_assert_eq!(live, pushed);
    }

    #[test]
    fn a_quantised_time_is_near_and_stays_where_it_is(tempi in any_tempi(), at in 0..TWO_HOURS) {
        let conductor = Conductor::new("", "{}", tempi).expect("tempi");
        let quantised = conductor.quantise(Nanos(at));
        // Half a tick of the slowest tempo drawn, 3 s a quarter note.
        prop_assert!((quantised - Nanos(at)).abs() <= Nanos(48_829));
        prop_assert_eq!(conductor.quantise(quantised), quantised);
        prop_assert_eq!(conductor.tick_of(quantised), conductor.tick_of(Nanos(at)));
    }
}
