//! Wrong and damaged input: what is said, and the exit code: 0 fine, 1 the take could not be judged, 2 wrong input.

mod takes;

use takes::{Bench, Note, Ran, note};

const LINE: &str = "title = \"Open Water\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | A1/4 C2/4 E2/4 G2/4 | D2/4 A1/4 F1/4 E1/4\"";
const KEYS: [u8; 12] = [28, 33, 38, 43, 33, 36, 40, 43, 38, 33, 29, 28];

/// The line, each note `ms` after the one before and this many octaves up, from 2 s on.
fn played(ms: f64, octaves: u8) -> Vec<Note> {
    let at =
        |(index, key): (usize, &u8)| note(2000.0 + ms * index as f64, key + 12 * octaves, 0.9 * ms);
    KEYS.iter().enumerate().map(at).collect()
}

fn in_place() -> Vec<Note> {
    played(500.0, 0)
}

fn bench() -> Bench {
    let bench = Bench::new(LINE);
    bench.write("take.mid", &takes::smf(&in_place()));
    bench
}

/// Ran with this exit code and these words on standard error, and nothing looks like a crash.
#[track_caller]
fn expect(ran: &Ran, code: i32, words: &[&str]) {
    assert_eq!(ran.code, Some(code), "{}{}", ran.out, ran.err);
    for word in words {
        assert!(ran.err.contains(word), "no {word:?} in: {}", ran.err);
    }
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    if code != 0 {
        assert_eq!(ran.out, "");
        assert!(
            ran.err.lines().any(|line| line.starts_with("error")),
            "{}",
            ran.err
        );
    }
}

#[test]
fn files_that_cannot_be_read_are_named() {
    let bench = bench();
    for args in [
        ["check", "nope.toml", "take.mid"],
        ["check", "line.toml", "nope.mid"],
        ["check", ".", "take.mid"],
    ] {
        let wrong = args
            .iter()
            .find(|arg| ["nope.toml", "nope.mid", "."].contains(arg))
            .unwrap();
        expect(&bench.run(&args), 2, &["cannot read", wrong]);
    }
    expect(
        &bench.run(&["demo", "nope.toml"]),
        2,
        &["cannot read nope.toml"],
    );
}

#[test]
fn files_of_another_kind_are_told_apart() {
    let bench = bench();
    let words = ["line.toml", "not a MIDI file", "text", "title"];
    expect(&bench.run(&["check", "line.toml", "line.toml"]), 2, &words);
    expect(
        &bench.run(&["check", "take.mid", "take.mid"]),
        2,
        &["take.mid", "not UTF-8 text"],
    );
    expect(&bench.check_bytes(b"", &[]), 2, &["the file is empty"]);
    expect(
        &bench.check_bytes(b"RIFF\0\0\0\0WAVEfmt ", &[]),
        2,
        &["sound recording"],
    );
    let mut sequences = takes::smf(&in_place());
    sequences[9] = 2;
    expect(
        &bench.check_bytes(&sequences, &[]),
        2,
        &["format 2", "export", "format 0 or 1"],
    );
}

#[test]
fn a_truncated_take_is_judged_as_far_as_it_goes() {
    let bench = bench();
    let whole = takes::smf(&in_place());
    let cut = &whole[..whole.len() - 60];
    let ran = bench.check_bytes(cut, &["--json"]);
    expect(
        &ran,
        0,
        &[
            "note: take.mid: track 1",
            "breaks off",
            "were read before it",
            "are not in the file",
        ],
    );
    let json = ran.json();
    let matched = json["summary"]["matched"].as_u64().unwrap();
    assert!((5..12).contains(&matched), "{matched}");
    assert_eq!(json["summary"]["pitch_right"], matched);
}

#[test]
fn a_damaged_take_is_judged_and_the_loss_named() {
    let bench = bench();
    let mut damaged = takes::smf(&in_place());
    let at = damaged.len() - 50;
    damaged[at..at + 2].copy_from_slice(&[0xF4, 0xFD]);
    let ran = bench.check_bytes(&damaged, &["--json"]);
    expect(
        &ran,
        0,
        &["note: take.mid: track 1, byte", "could not be read"],
    );
    assert!(ran.json()["summary"]["matched"].as_u64().unwrap() >= 5);
}

#[test]
fn wherever_a_take_is_cut_the_program_says_so_and_does_not_crash() {
    let bench = bench();
    let whole = takes::smf(&in_place());
    for length in (0..whole.len()).step_by(7) {
        let ran = bench.check_bytes(&whole[..length], &[]);
        assert!(!ran.err.contains("panicked"), "{length}: {}", ran.err);
        assert!(!ran.err.is_empty(), "{length} bytes are not a whole file");
        let code = ran.code.unwrap();
        assert!((0..=2).contains(&code), "{length}: {code}");
    }
}

#[test]
fn time_code_is_a_division_like_any_other() {
    let bench = bench();
    let take = takes::smf_in_time_code(&in_place());
    let json = bench.check_bytes(&take, &["--json"]).json();
    assert_eq!(json["take"]["start_s"], 2.0);
    assert_eq!(
        (
            &json["summary"]["timing_in"],
            &json["summary"]["pitch_right"]
        ),
        (&12.into(), &12.into())
    );
    assert!(
        json["notes"]
            .as_array()
            .unwrap()
            .iter()
            .all(|note| note["offset_ms"] == 0.0)
    );
}

#[test]
fn a_take_without_notes_cannot_be_judged() {
    let bench = bench();
    expect(
        &bench.check_bytes(&takes::smf(&[]), &[]),
        1,
        &["the take has no notes in it"],
    );
    let ran = bench.check_bytes(&takes::smf(&in_place()), &["--channel", "3"]);
    expect(&ran, 1, &["no notes on channel 3", "some on 1"]);
}

#[test]
fn a_take_an_octave_off_says_so_and_fits_when_moved() {
    let bench = bench();
    for (octaves, words) in [
        (1, "an octave above the line"),
        (2, "2 octaves above the line"),
    ] {
        let take = takes::smf(&played(500.0, octaves));
        let option = format!("-{octaves}");
        let ran = bench.check_bytes(&take, &["--json"]);
        expect(&ran, 0, &["note: ", words, &format!("--octave {option}")]);
        let json = ran.json();
        assert_eq!(
            json["take"]["start_s"], 2.0,
            "the start is that of the notes an octave off"
        );
        assert_eq!(json["summary"]["timing_in"], 12);
        assert!(
            json["notes"]
                .as_array()
                .unwrap()
                .iter()
                .all(|note| note["pitch"] == "octave")
        );
        let ran = bench.check_bytes(&take, &["--json", "--octave", &option]);
        expect(&ran, 0, &[]);
        assert_eq!(
            (ran.err.as_str(), &ran.json()["summary"]["pitch_right"]),
            ("", &12.into())
        );
    }
}

#[test]
fn a_take_at_half_or_double_speed_says_so_and_fits_at_that_speed() {
    let bench = bench();
    for (ms, percent) in [(1000.0, "50"), (250.0, "200"), (1000.0 / 1.5, "75")] {
        let take = takes::smf(&played(ms, 0));
        expect(
            &bench.check_bytes(&take, &[]),
            1,
            &[&format!("add --speed {percent}\n")],
        );
        let ran = bench.check_bytes(&take, &["--json", "--speed", percent]);
        expect(&ran, 0, &[]);
        assert_eq!(ran.json()["summary"]["timing_in"], 12);
        assert_eq!(
            ran.json()["line"]["speed"].to_string(),
            format!("{percent}.0")
        );
    }
}

#[test]
fn a_take_of_another_line_cannot_be_judged() {
    let bench = bench();
    let keys = [50, 52, 49, 54, 56, 51, 48, 58, 47, 54, 50, 49, 52, 51, 56];
    let other: Vec<Note> = keys
        .iter()
        .zip(0..)
        .map(|(key, n)| note(370.0 * f64::from(n), *key, 300.0))
        .collect();
    let words = [
        "could not be judged",
        "\"Open Water\"",
        "another line",
        "--start",
    ];
    expect(&bench.check_bytes(&takes::smf(&other), &[]), 1, &words);
    // The same few keys in another order and rhythm.
    let keys = [
        40, 36, 43, 38, 36, 45, 41, 38, 40, 45, 36, 43, 41, 40, 38, 36,
    ];
    let other: Vec<Note> = keys
        .iter()
        .zip(0..)
        .map(|(key, n)| note(430.0 * f64::from(n), *key, 300.0))
        .collect();
    let ran = bench.check_bytes(&takes::smf(&other), &[]);
    assert!(
        ran.code == Some(1) || ran.err.contains("note: only"),
        "{}{}",
        ran.out,
        ran.err
    );
}

#[test]
fn every_mistake_of_a_line_is_named_with_line_and_column() {
    let bench = bench();
    let bad = "title  = \"Bad\"\nmeter  = \"4/4\"\ntempo  = 120\n[[section]]\nname    = \"A\"\n\
         notes   = \"E1/4 A1/4 D2/4 | E1/4 A9x/4 D2/4 G2/4 | A1@D:2/4 r/2. | E1/4 E1/2 E1/4~ | A1/1\"\n\
         strokes = \"d u d\"\n";
    bench.write("bad.toml", bad.as_bytes());
    for args in [
        &["check", "bad.toml", "take.mid"][..],
        &["demo", "bad.toml"],
        &["play", "bad.toml", "--stand-in", "--backend", "silent"],
    ] {
        let places = [
            "bad.toml:6:12",
            "bad.toml:6:34",
            "bad.toml:6:52",
            "bad.toml:6:78",
            "bad.toml:7:11",
        ];
        let words = [
            "bar 1 is a quarter short",
            "`A9x` is not a place",
            "fret 2 of the D string is E2, not A1",
            "tied to another pitch",
        ];
        let ran = bench.run(args);
        expect(&ran, 2, &words);
        expect(&ran, 2, &places);
        assert_eq!(ran.err.matches("error[").count(), 5, "{}", ran.err);
    }
}

#[test]
fn options_out_of_bounds_say_what_is_allowed() {
    let bench = bench();
    let wrong = [
        (["--speed", "0"], "between 10 and 400 percent"),
        (["--speed", "fast"], "not a number of percent"),
        (["--channel", "17"], "1..=16"),
        (["--channel", "0"], "1..=16"),
        (["--octave", "9"], "-8..=8"),
        (["--window", "-3"], "must not be negative"),
        (["--window", "nan"], "between"),
        (["--latency", "inf"], "between"),
        (["--start", "soon"], "not a number of seconds"),
        (["--grade", "1"], "unexpected argument"),
    ];
    for (option, word) in wrong {
        let args = [&["check", "line.toml", "take.mid"][..], &option].concat();
        expect(&bench.run(&args), 2, &[word, option[0]]);
    }
    expect(
        &bench.run(&["demo", "--habits", "spread-ms=999"]),
        2,
        &["from 0 to 200 (ms)"],
    );
    expect(
        &bench.run(&["demo", "--habits", "lazy"]),
        2,
        &["no player named \"lazy\"", "laid-back"],
    );
    expect(&bench.run(&["demo", "--count-in", "9"]), 2, &["0..=8"]);
    expect(&bench.run(&["check"]), 2, &["<LINE>", "<TAKE>"]);
}

#[test]
fn a_take_is_not_written_over() {
    let bench = bench();
    for args in [
        &["demo", "line.toml", "--json", "--take", "take.mid"][..],
        &[
            "play",
            "line.toml",
            "--stand-in",
            "--backend",
            "silent",
            "--take",
            "take.mid",
        ],
    ] {
        expect(
            &bench.run(args),
            2,
            &["take.mid is there already", "choose another --take"],
        );
    }
    assert_eq!(
        std::fs::read(bench.path("take.mid")).unwrap(),
        takes::smf(&in_place())
    );
}

#[test]
fn a_place_where_no_take_can_be_kept_is_named_before_a_note_is_played() {
    let bench = bench();
    let places = ["no/such/folder/new.mid", "line.toml/new.mid"];
    for place in places {
        let ran = bench.run(&["demo", "line.toml", "--json", "--take", place]);
        expect(&ran, 2, &["cannot keep the take", place]);
        assert!(!ran.err.contains(".part"), "{}", ran.err);
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let bench = bench();
    let folder = bench.path("closed");
    std::fs::create_dir(&folder).unwrap();
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o555)).unwrap();
    let open_to_all = std::fs::write(folder.join("probe"), "").is_ok();
    // The superuser writes anywhere but where the kernel itself keeps files.
    let place = if open_to_all {
        "/proc/new.mid"
    } else {
        "closed/new.mid"
    };
    let args = [
        "play",
        "line.toml",
        "--stand-in",
        "--backend",
        "silent",
        "--take",
        place,
    ];
    expect(&bench.run(&args), 2, &["cannot keep the take", place]);
}

#[test]
fn ports_that_cannot_be_had_are_answered_by_what_to_do() {
    let bench = bench();
    let both = [
        "play",
        "line.toml",
        "--midi",
        "bass",
        "--stand-in",
        "steady",
    ];
    expect(
        &bench.run(&both),
        2,
        &["--stand-in", "--midi", "cannot be used with"],
    );
    let deaf = ["play", "line.toml", "--backend", "silent"];
    expect(&bench.run(&deaf), 2, &["add --stand-in"]);
    let backend = ["play", "line.toml", "--backend", "tape"];
    expect(&bench.run(&backend), 2, &["silent"]);
}

#[cfg(feature = "native")]
#[test]
fn a_port_or_output_of_an_unknown_name_is_named() {
    let bench = bench();
    let midi = ["play", "line.toml", "--midi", "no such instrument"];
    expect(&bench.run(&midi), 2, &["MIDI input"]);
    let audio = [
        "play",
        "line.toml",
        "--stand-in",
        "steady",
        "--audio",
        "no such output",
    ];
    expect(&bench.run(&audio), 2, &["audio output"]);
    let ran = bench.run(&["ports"]);
    assert_eq!(ran.code, Some(0));
    assert!(
        ran.out.contains("MIDI inputs") && ran.out.contains("Audio outputs"),
        "{}",
        ran.out
    );
}
