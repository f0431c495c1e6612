//! Whole runs of the program: demo, play with a stand-in, and what happens when they are broken off.

mod takes;

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Command, Stdio};
use takes::Bench;

/// A bar a second, so that a run in real time is short.
const LINE: &str = "title = \"Short Crossing\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\npasses = [0, 0]\n\
     notes = \"E1/4 A1/8 C2/8 D2/4 G2/4 | A1/4 r/8 C2/8 E2/4 G2/4 | D2/4 A1/4 r/8 F1/8 E1/4\"";
/// Notes of bars 1 and 2.
const TWO_BARS: u64 = 9;

const PLAY: [&str; 9] = [
    "play",
    "line.toml",
    "--backend",
    "silent",
    "--count-in",
    "0",
    "--stand-in",
    "late-entries",
    "--take",
];

fn play(bench: &Bench, take: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .current_dir(bench.dir.path())
        .env("HOME", bench.dir.path())
        .env("XDG_DATA_HOME", bench.path("data"))
        .args(PLAY)
        .arg(take)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("a program that runs")
}

/// Reads what the program prints up to the line with these words.
fn read_until(out: &mut impl BufRead, words: &str) -> String {
    let mut read = String::new();
    while !read.lines().last().is_some_and(|line| line.contains(words)) {
        let more = out.read_line(&mut read).expect("text");
        assert!(more > 0, "it ended before {words:?}: {read}");
    }
    read
}

#[test]
fn the_demo_finds_the_habits_it_was_given() {
    let bench = Bench::new(LINE);
    let ran = bench.run(&["demo"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.starts_with("Invented data: a stand-in plays"));
    for words in [
        "entries came in late",
        "rang over",
        "bar 1 ",
        "Notes ",
        "Timing ",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let ran = bench.run(&["demo", "--json"]);
    let ids: Vec<String> = ran.json()["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["id"].to_string())
        .collect();
    assert_eq!(ids, ["\"missed-muting\"", "\"late-entries\""]);
    let ran = bench.run(&["demo", "--json", "--habits", "steady"]);
    assert_eq!(ran.json()["findings"], serde_json::json!([]));
}

#[test]
fn the_same_seed_gives_the_same_demo_to_the_byte() {
    let bench = Bench::new(LINE);
    let out = |seed: &str| {
        bench
            .run(&[
                "demo",
                "line.toml",
                "--json",
                "--habits",
                "unsteady",
                "--seed",
                seed,
            ])
            .out
    };
    assert_eq!(out("7"), out("7"));
    assert_ne!(out("7"), out("8"));
}

#[test]
fn a_take_played_to_its_end_is_checked_to_the_same_report() {
    let bench = Bench::new(LINE);
    let played = play(&bench, "whole.mid")
        .wait_with_output()
        .expect("an end");
    assert_eq!(played.status.code(), Some(0));
    let played = String::from_utf8(played.stdout).expect("UTF-8");
    let checked = bench.run(&["check", "line.toml", "whole.mid"]);
    assert_eq!((checked.code, checked.err.as_str()), (Some(0), ""));
    assert!(
        played.contains(&checked.out),
        "{played}\n---\n{}",
        checked.out
    );
    assert!(played.contains("Measured to within"));
    let bars = played.lines().filter(|line| line.starts_with("  bar "));
    assert_eq!(bars.count(), 6, "{played}");
    let json = bench
        .run(&["check", "line.toml", "whole.mid", "--json"])
        .json();
    assert_eq!(
        (&json["summary"]["matched"], &json["summary"]["missed"]),
        (&26.into(), &0.into())
    );
}

#[cfg(unix)]
fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill")
        .args([name, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill").success());
}

#[cfg(unix)]
#[test]
fn ctrl_c_keeps_the_take_and_prints_the_summary_so_far() {
    let bench = Bench::new(LINE);
    let mut child = play(&bench, "part.mid");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    let mut played = read_until(&mut out, "bar 2 ");
    signal(&child, "-INT");
    out.read_to_string(&mut played).expect("text");
    assert_eq!(child.wait().expect("an end").code(), Some(0));
    let checked = bench.run(&["check", "line.toml", "part.mid"]);
    assert_eq!((checked.code, checked.err.as_str()), (Some(0), ""));
    assert!(
        played.contains(&checked.out),
        "{played}\n---\n{}",
        checked.out
    );
    let json = bench
        .run(&["check", "line.toml", "part.mid", "--json"])
        .json();
    let matched = json["summary"]["matched"].as_u64().unwrap();
    assert!(matched >= TWO_BARS, "{matched}");
    assert_eq!(
        json["summary"]["missed"], 0,
        "what was not due yet is not missed"
    );
}

#[cfg(unix)]
#[test]
fn ctrl_c_before_bar_1_ends_in_order_and_keeps_the_file() {
    let bench = Bench::new(LINE);
    let mut child = play(&bench, "none.mid");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    let mut played = read_until(&mut out, "minus is early");
    signal(&child, "-INT");
    out.read_to_string(&mut played).expect("text");
    assert_eq!(child.wait().expect("an end").code(), Some(0), "{played}");
    assert!(bench.path("none.mid").exists());
}

/// Killed, a take loses what came in the last 250 ms or so: a bar is printed 300 ms after its end.
#[cfg(unix)]
#[test]
fn a_killed_take_is_whole_up_to_the_last_moments() {
    let bench = Bench::new(LINE);
    let mut child = play(&bench, "killed.mid");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    read_until(&mut out, "bar 2 ");
    signal(&child, "-KILL");
    assert_eq!(child.wait().expect("an end").code(), None);
    let ran = bench.run(&["check", "line.toml", "killed.mid", "--json"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.err
            .contains("note: the take breaks off without its end"),
        "{}",
        ran.err
    );
    let sum = &ran.json()["summary"];
    assert!(sum["matched"].as_u64().unwrap() >= TWO_BARS, "{sum}");
    assert_eq!(sum["missed"], 0);
}

#[test]
fn a_reader_that_has_gone_ends_nothing_and_is_no_error() {
    let bench = Bench::new(LINE);
    let mut child = play(&bench, "unread.mid");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    let mut first = String::new();
    out.read_line(&mut first).expect("text");
    drop(out);
    let end = child.wait_with_output().expect("an end");
    assert_eq!(
        (
            end.status.code(),
            String::from_utf8_lossy(&end.stderr).as_ref()
        ),
        (Some(0), "")
    );
    let json = bench
        .run(&["check", "line.toml", "unread.mid", "--json"])
        .json();
    assert_eq!(json["summary"]["matched"], 26);
}

#[cfg(unix)]
#[test]
fn a_pipe_closed_at_once_is_no_error() {
    let bench = Bench::new(LINE);
    assert_eq!(
        bench
            .run(&["demo", "line.toml", "--json", "--take", "take.mid"])
            .code,
        Some(0)
    );
    let program = env!("CARGO_BIN_EXE_leadsman");
    for args in [
        "demo line.toml",
        "demo line.toml --json",
        "check line.toml take.mid",
        "check line.toml take.mid --json",
        "check --help",
        "ports",
    ] {
        // `PIPESTATUS` is not in every shell: the program's own exit code goes to a file.
        let script = format!("{{ '{program}' {args} 2>err; echo $? >code; }} | true");
        let status = Command::new("sh")
            .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
            .args(["-c", &script])
            .current_dir(bench.dir.path())
            .status();
        assert!(status.expect("sh").success());
        let read = |name: &str| std::fs::read_to_string(bench.path(name)).expect("a file");
        assert_eq!(read("code").trim(), "0", "{args}: {}", read("err"));
        assert!(!read("err").contains("panicked"), "{args}: {}", read("err"));
    }
}

#[test]
fn a_take_outside_the_logbook_is_kept_in_the_data_folder() {
    let bench = Bench::new(LINE);
    let args = [
        "play",
        "line.toml",
        "--no-logbook",
        "--backend",
        "silent",
        "--count-in",
        "0",
        "--stand-in",
        "--speed",
        "400",
    ];
    let ran = bench.run(&args);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let folder = bench.path("data/leadsman/takes");
    let kept: Vec<_> = std::fs::read_dir(folder).expect("a folder").collect();
    assert_eq!(kept.len(), 1);
    let path = kept[0].as_ref().expect("an entry").path();
    assert!(
        ran.out
            .contains(&format!("The take is kept in {}", path.display())),
        "{}",
        ran.out
    );
    let checked = bench
        .run(&[
            "check",
            "line.toml",
            path.to_str().expect("UTF-8"),
            "--json",
        ])
        .json();
    assert_eq!(checked["line"]["speed"], 400.0);
    assert_eq!(checked["summary"]["matched"], 26);
    assert!(!bench.path("data/leadsman/logbook.sqlite").exists());
}

#[test]
fn a_take_is_kept_in_the_logbook_in_the_data_folder() {
    let bench = Bench::new(LINE);
    let args = "play line.toml --backend silent --count-in 0 --stand-in --speed 400";
    let ran = bench.run(&args.split(' ').collect::<Vec<_>>());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.out.contains("In the logbook it is take 1."),
        "{}",
        ran.out
    );
    let path = bench.path("data/leadsman/logbook.sqlite");
    let logbook = leadsman::logbook::Logbook::open_existing(&path).expect("a logbook");
    assert_eq!(logbook.judgements(1).expect("judgements").len(), 1);
    assert!(!bench.path("data/leadsman/takes").exists());
}

#[test]
fn a_take_of_ours_is_judged_however_badly_it_went() {
    let bench = Bench::new(LINE);
    for habits in [
        "wrong-frets=1,spread-ms=40",
        "dropped=0.6,wrong-frets=0.8,extra=1",
    ] {
        let demo = bench.run(&[
            "demo",
            "line.toml",
            "--json",
            "--habits",
            habits,
            "--take",
            "bad.mid",
        ]);
        let check = bench.run(&["check", "line.toml", "bad.mid", "--json"]);
        assert_eq!(
            (check.code, &check.out),
            (Some(0), &demo.out),
            "{}",
            check.err
        );
        assert!(
            check.err.contains("of the notes fit the line"),
            "{}",
            check.err
        );
        std::fs::remove_file(bench.path("bad.mid")).expect("a file that goes");
    }
}

#[test]
fn an_instrument_an_octave_off_is_told_when_the_take_is_over() {
    let bench = Bench::new(LINE);
    let args = [
        "demo",
        "line.toml",
        "--json",
        "--habits",
        "steady",
        "--take",
        "high.mid",
        "--octave",
    ];
    let demo = bench.run(&[&args[..], &["1"]].concat());
    let words = "note: the take sounds an octave above the line throughout; to judge it there, add --octave 0\n";
    assert_eq!((demo.code, demo.err.as_str()), (Some(0), words));
    let check = bench.run(&["check", "line.toml", "high.mid", "--json"]);
    assert_eq!(
        (check.code, check.err.as_str(), &check.out),
        (Some(0), words, &demo.out)
    );
    let moved = bench.run(&["check", "line.toml", "high.mid", "--json", "--octave", "0"]);
    assert_eq!(
        (moved.err.as_str(), &moved.json()["summary"]["pitch_right"]),
        ("", &26.into())
    );
}

#[test]
fn a_climb_in_a_pipe_goes_on_by_itself_and_ends_at_its_goal() {
    let bench = Bench::new(LINE);
    let climb = [
        "--climb",
        "390-400 by 10",
        "--criteria",
        "right=50,in-time=20,spread=90",
    ];
    let play = [
        &PLAY[..8],
        &["--no-logbook", "--take", "climb.mid", "--bars", "1"],
        &climb,
    ]
    .concat();
    let ran = bench.run(
        &play
            .iter()
            .map(|arg| {
                if *arg == "late-entries" {
                    "steady"
                } else {
                    arg
                }
            })
            .collect::<Vec<_>>(),
    );
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    for words in [
        "Up to 400 %",
        "Arrived at the goal of 400 %",
        "That was the last of 2 takes",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    assert!(bench.path("climb.mid").is_file() && bench.path("climb-2.mid").is_file());
}
