//! Files that are damaged, foreign, or no MIDI files: what can be read is read, and the rest is said.

use leadsman::midi::smf::damage::{Damage, DamageKind};
use leadsman::midi::smf::error::SmfError;
use leadsman::midi::smf::{self, SmfFile, TempoSource};
use leadsman::played::MidiMessage;
use leadsman::units::Nanos;
use proptest::prelude::*;

const END: [u8; 4] = [0, 0xFF, 0x2F, 0];

/// A file of format 1 with 96 ticks a quarter note.
fn file(tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0\x01".to_vec();
    bytes.extend((tracks.len() as u16).to_be_bytes());
    bytes.extend(96u16.to_be_bytes());
    for track in tracks {
        bytes.extend(b"MTrk");
        bytes.extend((track.len() as u32).to_be_bytes());
        bytes.extend(*track);
    }
    bytes
}

fn whole(events: &[u8]) -> Vec<u8> {
    [events, &END].concat()
}

fn read(bytes: &[u8]) -> SmfFile {
    smf::read(bytes).expect("something to read")
}

fn only_damage(file: &SmfFile) -> &Damage {
    assert_eq!(file.damage.len(), 1, "{:?}", file.damage);
    &file.damage[0]
}

fn refused(bytes: &[u8]) -> String {
    smf::read(bytes).expect_err("nothing to read").to_string()
}

#[test]
fn the_running_status_goes_on_after_meta_and_sysex_events() {
    let track = whole(&[
        0, 0x90, 40, 100, 0, 0xFF, 6, 1, b'A', 5, 40, 0, 0, 0xF0, 2, 1, 0xF7, 5, 41, 100, 5, 0xFE,
        0, 41, 0,
    ]);
    let file = read(&file(&[&track]));
    assert_eq!(file.damage, []);
    let ticks: Vec<u64> = file.tracks[0].events.iter().map(|e| e.tick).collect();
    assert_eq!(ticks, [0, 5, 10, 15]);
}

#[test]
fn a_file_without_a_tempo_has_the_standards() {
    let tempi = read(&file(&[&whole(&[])])).tempi;
    assert_eq!(tempi.len(), 1);
    assert_eq!(
        (tempi[0].micros_per_quarter, tempi[0].source),
        (500_000, TempoSource::Default)
    );
}

#[test]
fn a_tempo_counts_in_whichever_track_it_stands() {
    let notes = whole(&[96, 0x90, 40, 100, 96, 40, 0]);
    let tempo = whole(&[96, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40]);
    let file = read(&file(&[&notes, &tempo]));
    let times: Vec<Nanos> = file.messages().iter().map(|m| m.at).collect();
    assert_eq!(times, [Nanos::from_ms(500), Nanos::from_ms(1500)]);
    assert_eq!(file.tempi[1].at, Nanos::from_ms(500));
}

#[test]
fn a_track_that_is_cut_keeps_its_events_and_says_what_is_gone() {
    let bytes = file(&[&whole(&[0, 0x90, 40, 100, 10, 40, 0])]);
    let cut = &bytes[..bytes.len() - 5];
    let file = read(cut);
    assert_eq!(file.tracks[0].events.len(), 1);
    assert_eq!(
        only_damage(&file).to_string(),
        "track 1, byte 26: the track breaks off in the middle of an event; 1 event was read before it; \
         2 bytes could not be read and 5 bytes that its length promises are not in the file"
    );
}

/// Found by fuzzing: the search for the next track went on for ever.
#[test]
fn a_file_that_is_cut_in_a_tracks_header_keeps_the_track_before_it() {
    for cut in 4..8 {
        let mut bytes = file(&[&[0, 0x90, 40, 100], &whole(&[0, 0x91, 41, 1])]);
        bytes.truncate(26 + cut);
        let file = read(&bytes);
        assert_eq!(file.messages().len(), 1);
        let kinds: Vec<DamageKind> = file.damage.iter().map(|damage| damage.kind).collect();
        let stray = DamageKind::Stray;
        let missing = DamageKind::MissingTracks {
            promised: 2,
            found: 1,
        };
        assert_eq!(kinds, [DamageKind::NoEndOfTrack, stray, missing]);
    }
}

#[test]
fn a_length_that_was_never_filled_in_loses_nothing() {
    let mut bytes = file(&[
        &whole(&[0, 0x90, 40, 100, 10, 40, 0]),
        &whole(&[0, 0x91, 41, 1]),
    ]);
    bytes[18..22].fill(0);
    let file = read(&bytes);
    assert_eq!(file.messages().len(), 3);
    assert_eq!(only_damage(&file).kind, DamageKind::WrongLength);
    assert!(!only_damage(&file).loses_something());
}

#[test]
fn a_length_that_reaches_into_the_next_track_loses_nothing() {
    let mut bytes = file(&[&whole(&[0, 0x90, 40, 100]), &whole(&[0, 0x91, 41, 1])]);
    bytes[21] += 9;
    let file = read(&bytes);
    assert_eq!(file.messages().len(), 2);
    assert_eq!(only_damage(&file).kind, DamageKind::WrongLength);
}

#[test]
fn one_bad_track_does_not_spoil_the_next() {
    let bad = whole(&[0, 0x90, 40, 0xF4, 0, 0, 0]);
    let bytes = file(&[&bad, &whole(&[0, 0x91, 41, 1])]);
    let file = read(&bytes);
    assert_eq!(file.messages().len(), 1);
    let damage = only_damage(&file);
    assert_eq!(damage.kind, DamageKind::NoData(0xF4));
    assert_eq!(
        (damage.track, damage.byte, damage.unread),
        (Some(1), 22, 11)
    );
}

#[test]
fn each_kind_of_damage_inside_a_track_is_named() {
    for (events, kind) in [
        (&[0, 40, 100][..], DamageKind::NoStatus),
        (&[0, 0xF4], DamageKind::UnknownStatus(0xF4)),
        (
            &[0x80, 0x80, 0x80, 0x80, 0, 0x90, 40, 1],
            DamageKind::LongNumber,
        ),
        (&[0, 0xFF, 1, 100, b'x'], DamageKind::CutShort),
        (&[0, 0xFF, 0x51, 3, 0, 0, 0], DamageKind::Tempo),
        (&[0, 0xFF, 0x51, 2, 1, 0], DamageKind::Tempo),
        (&[0, 0xFF, 0x58, 1, 4], DamageKind::TimeSignature),
        (&[0, 0xFF, 0x2F, 0, 0, 0x90, 40, 1], DamageKind::AfterEnd),
    ] {
        let bytes = file(&[&whole(events)]);
        assert_eq!(only_damage(&read(&bytes)).kind, kind);
    }
    let open = file(&[&[0, 0x90, 40, 100]]);
    assert_eq!(only_damage(&read(&open)).kind, DamageKind::NoEndOfTrack);
}

#[test]
fn unknown_chunks_are_passed_over_and_stray_bytes_are_said() {
    let mut bytes = file(&[&whole(&[0, 0x90, 40, 100])]);
    bytes.splice(14..14, *b"XFIH\0\0\0\x02ab");
    assert_eq!(read(&bytes).damage, []);
    bytes.splice(14..14, [0, 1, 2]);
    let file = read(&bytes);
    assert_eq!(file.messages().len(), 1);
    let damage = only_damage(&file);
    assert_eq!((damage.kind, damage.unread), (DamageKind::Stray, 13));
}

#[test]
fn tracks_beyond_the_number_in_the_header_are_read_and_missing_ones_are_said() {
    let mut bytes = file(&[&whole(&[0, 0x90, 40, 1]), &whole(&[0, 0x90, 41, 1])]);
    bytes[11] = 1;
    assert_eq!(read(&bytes).messages().len(), 2);
    bytes[11] = 3;
    assert_eq!(
        only_damage(&read(&bytes)).to_string(),
        "byte 46: the header promises 3 tracks, and 2 are there"
    );
}

#[test]
fn what_is_no_midi_file_is_told_by_its_looks() {
    assert_eq!(refused(b""), "the file is empty");
    for (bytes, looks) in [
        (
            &b"title = \"Ferry Steps\"\n"[..],
            "text (it begins with `title = \"Ferry Steps\"`)",
        ),
        (b"RIFF\0\0\0\0WAVEfmt ", "a WAVE sound recording"),
        (b"<?xml version=\"1.0\"?>", "an XML file"),
        (b"PK\x03\x04", "a ZIP archive"),
        (
            &[0, 1, 2, 3, 4],
            "other data (its first bytes are [00, 01, 02, 03])",
        ),
    ] {
        let message = refused(bytes);
        assert!(message.contains(looks), "{message}");
    }
    assert!(refused(b"MThd\0\0").contains("breaks off inside its header"));
    assert!(refused(b"MT").contains("breaks off inside its header"));
}

#[test]
fn headers_that_no_take_can_come_from_are_refused_with_the_reason() {
    let header = |format: u8, high: u8, low: u8| {
        smf::read(&[
            b'M', b'T', b'h', b'd', 0, 0, 0, 6, 0, format, 0, 1, high, low,
        ])
        .expect_err("nothing to read")
    };
    let independent = header(2, 0, 96);
    assert!(matches!(independent, SmfError::IndependentSequences));
    assert!(
        independent
            .to_string()
            .contains("export the one that was played as format 0 or 1")
    );
    assert!(matches!(header(3, 0, 96), SmfError::UnknownFormat(3)));
    for (high, low) in [(0, 0), (0x80, 0), (0x80, 96), (0xE7, 0), (0xFF, 0xFF)] {
        assert!(matches!(header(1, high, low), SmfError::Division(_)));
    }
}

#[test]
fn an_error_names_the_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("empty.mid");
    let message = |path| {
        smf::read_file(path)
            .expect_err("nothing to read")
            .to_string()
    };
    assert!(message(&path).contains("empty.mid"));
    std::fs::write(&path, b"").expect("written");
    assert!(message(&path).ends_with("empty.mid: the file is empty"));
}

/// Channel messages, deltas and gaps between them as a track's bytes.
fn track_bytes() -> impl Strategy<Value = Vec<u8>> {
    let event = prop_oneof![
        (0u8..128, 0u8..128, 0u8..128)
            .prop_map(|(delta, key, velocity)| vec![delta, 0x90, key, velocity]),
        (0u8..128, 0u8..128).prop_map(|(delta, program)| vec![delta, 0xC1, program]),
        (0u8..128).prop_map(|delta| vec![0x81, delta, 0xFF, 0x06, 2, b'M', b'T']),
        (1u8..128).prop_map(|tempo| vec![3, 0xFF, 0x51, 3, tempo, 0, 0]),
    ];
    prop::collection::vec(event, 0..20).prop_map(|events| whole(&events.concat()))
}

fn messages(file: &SmfFile) -> Vec<Vec<(u64, MidiMessage)>> {
    let track = |track: &smf::SmfTrack| track.events.iter().map(|e| (e.tick, e.message)).collect();
    file.tracks.iter().map(track).collect()
}

proptest! {
    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = smf::read(&bytes);
    }

    #[test]
    fn random_bytes_behind_a_good_header_never_panic(word: u16, body in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x02".to_vec();
        bytes.extend(word.to_be_bytes());
        bytes.extend(b"MTrk");
        bytes.extend(&body);
        if let Ok(file) = smf::read(&bytes) {
            for damage in &file.damage {
                prop_assert!(!damage.to_string().is_empty());
            }
        }
    }

    #[test]
    fn a_changed_byte_never_panics(tracks in prop::collection::vec(track_bytes(), 1..4), at: prop::sample::Index, to: u8) {
        let tracks: Vec<&[u8]> = tracks.iter().map(Vec::as_slice).collect();
        let mut bytes = file(&tracks);
        let at = at.index(bytes.len());
        bytes[at] = to;
        let _ = smf::read(&bytes);
    }

    #[test]
    fn every_cut_keeps_what_comes_before_it_and_is_said(tracks in prop::collection::vec(track_bytes(), 1..4)) {
        let slices: Vec<&[u8]> = tracks.iter().map(Vec::as_slice).collect();
        let bytes = file(&slices);
        let whole = smf::read(&bytes).expect("a whole file");
        prop_assert_eq!(&whole.damage, &[]);
        let all = messages(&whole);
        for end in 14..bytes.len() {
            let cut = smf::read(&bytes[..end]).expect("a header");
            prop_assert!(cut.damage.iter().any(Damage::loses_something), "cut at {}", end);
            let mut event_ends = 0;
            for (kept, all) in messages(&cut).iter().zip(&all) {
                prop_assert!(all.starts_with(kept), "cut at {}", end);
                event_ends += kept.len();
            }
            prop_assert_eq!(event_ends, messages_before(&tracks, end), "cut at {}", end);
        }
    }
}

/// How many channel messages lie wholly before byte `end`, counted from the events' known sizes.
fn messages_before(tracks: &[Vec<u8>], end: usize) -> usize {
    let (mut position, mut count) = (14, 0);
    for track in tracks {
        position += 8;
        let mut at = 0;
        while at < track.len() {
            let delta = if track[at] >= 0x80 { 2 } else { 1 };
            let (length, is_message) = match track[at + delta] {
                0x90 => (3, true),
                0xC1 => (2, true),
                _ => (3 + usize::from(track[at + delta + 2]), false),
            };
            at += delta + length;
            count += usize::from(is_message && position + at <= end);
        }
        position += track.len();
    }
    count
}
