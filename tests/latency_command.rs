//! `leadsman latency` as it is run, and the file in which latencies are kept.

mod takes;

use leadsman::backend::Connected;
use leadsman::judge::settings::Latency;
use leadsman::latency::kept::{Kept, KeptError, KeptLatency, Method};
use leadsman::units::Nanos;
use std::fs;
use std::path::PathBuf;
use takes::Bench;

const LINE: &str =
    "title = \"Short\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\nnotes = \"E1/1\"";

fn bench() -> Bench {
    Bench::new(LINE)
}

fn place(bench: &Bench) -> PathBuf {
    bench.path("data/leadsman/latency.toml")
}

fn kept_for(midi: &str, audio: &str, fixed_ms: f64) -> KeptLatency {
    let connected = Connected {
        midi: midi.into(),
        audio: audio.into(),
    };
    let latency = Latency {
        fixed: Nanos::from_ms_f64(fixed_ms),
        periods: 1.5,
        fixed_se: Some(Nanos::from_ms_f64(0.15)),
        periods_se: Some(0.009),
    };
    KeptLatency::new(
        &connected,
        "jack",
        latency,
        Method::Measured,
        "JACK: Bass → system, 48000 Hz, 64 frames".into(),
        "2026-11-25T08:00:00+00:00[UTC]".into(),
    )
}

fn keep(bench: &Bench, latencies: &[KeptLatency]) {
    let mut kept = Kept::default();
    latencies.iter().cloned().for_each(|one| kept.set(one));
    kept.write(&place(bench)).expect("a file");
}

#[test]
fn a_stand_in_converter_is_measured_and_nothing_is_kept() {
    let bench = bench();
    let law = "fixed-ms=6,periods=1.5,jitter-ms=0.5,octave-errors=0.05,dropped=0.05";
    let ran = bench.run(&["latency", "measure", "--stand-in", law]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{}", ran.out);
    for words in [
        "Invented data",
        "HEADPHONES OFF YOUR EARS",
        "Bursts ",
        "output, input and converter together",
        "Nothing is kept: a stand-in answered.",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let line = ran.out.lines().find(|line| line.starts_with("Latency"));
    let numbers: Vec<f64> = line
        .expect("a law")
        .split_whitespace()
        .filter_map(|word| word.parse().ok())
        .collect();
    assert!((numbers[0] - 6.0).abs() < 0.5, "{numbers:?}");
    assert!((numbers[2] - 1.5).abs() < 0.05, "{numbers:?}");
    assert!(!place(&bench).exists());
}

#[test]
fn what_is_not_plausible_is_told_with_its_reason() {
    let bench = bench();
    for (law, reason) in [
        ("fixed-ms=220", "the fixed part is 220 ms"),
        ("periods=6", "no converter needs more than 4"),
        ("dropped=1", "only 0 of 100 bursts were answered"),
    ] {
        let ran = bench.run(&["latency", "measure", "--most", "100", "--stand-in", law]);
        assert_eq!(ran.code, Some(1), "{}", ran.out);
        assert!(ran.err.contains(reason), "{law}: {}", ran.err);
    }
    let keep_anyway = ["--keep-anyway", "--stand-in", "fixed-ms=220"];
    let ran = bench.run(&[&["latency", "measure", "--most", "100"], &keep_anyway[..]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.err.contains("not plausible, and taken all the same"));
    let ran = bench.run(&["latency", "measure", "--stand-in", "speed=3"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err.contains("the parts are fixed-ms, periods"),
        "{}",
        ran.err
    );
}

#[test]
fn tapping_gives_the_sum_and_says_so() {
    let bench = bench();
    let habits = "mean-ms=-15,spread-ms=6,latency-fixed-ms=40";
    let ran = bench.run(&["latency", "tap", "--stand-in", habits]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(
        ran.out.contains("16 of 16 beats were played on: +2"),
        "{}",
        ran.out
    );
    assert!(
        ran.out
            .contains("the latency and your own lean in one number"),
        "{}",
        ran.out
    );
    let ran = bench.run(&["latency", "tap", "--stand-in", "dropped=1"]);
    assert_eq!(ran.code, Some(1));
    assert!(ran.err.contains("only 0 of 16 beats"), "{}", ran.err);
}

#[test]
fn the_silent_backend_has_no_port_to_keep_a_latency_for() {
    let bench = bench();
    let given = ["latency", "given", "--backend", "silent", "--fixed", "8"];
    let ran = bench.run(&given);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("hears no instrument"), "{}", ran.err);
}

#[test]
fn what_is_kept_is_shown_and_forgotten() {
    let bench = bench();
    let ran = bench.run(&["latency", "show"]);
    assert_eq!(ran.code, Some(0));
    assert!(ran.out.contains("No latency is kept yet"), "{}", ran.out);

    keep(
        &bench,
        &[
            kept_for("Bass converter", "system", 8.0),
            kept_for("Bass converter", "Headset", 60.0),
        ],
    );
    let ran = bench.run(&["latency", "show"]);
    for words in [
        "Bass converter → Headset (jack)",
        "8.00 ± 0.15 ms + 1.500 ± 0.009 periods",
        "E1 44.4 · A1 35.3",
        "measured, 2026-11-25",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let json = bench.run(&["latency", "show", "--json"]).json();
    assert_eq!(json["schema"], "leadsman.latency/1");
    assert_eq!(json["ports"][1]["fixed_ms"], 60.0);
    let schema = include_str!("schema/latency.schema.json");
    let schema = serde_json::from_str(schema).expect("JSON");
    let errors: Vec<String> = jsonschema::validator_for(&schema)
        .expect("a schema")
        .iter_errors(&json)
        .map(|error| error.to_string())
        .collect();
    assert!(errors.is_empty(), "{errors:?}");

    let ran = bench.run(&["latency", "forget", "--midi", "bass"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("that could be several"), "{}", ran.err);
    let ran = bench.run(&["latency", "forget", "--audio", "head"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.starts_with("Forgotten: Bass converter → Headset"));
    let kept = Kept::read(&place(&bench)).expect("a file");
    assert_eq!(kept.ports, [kept_for("Bass converter", "system", 8.0)]);
    let ran = bench.run(&["latency", "forget", "--midi", "drums"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("no latency is kept for such ports"));
}

#[test]
fn a_file_that_cannot_be_read_is_refused_and_left_as_it_is() {
    let good = {
        let bench = bench();
        keep(&bench, &[kept_for("Bass", "system", 8.0)]);
        fs::read_to_string(place(&bench)).expect("text")
    };
    let twice = format!(
        "{good}\n{}",
        &good[good.find("[[port]]").expect("a port")..]
    );
    for (text, reason) in [
        (
            good.replace("fixed_ms = 8.0", "fixed_ms = \"8\""),
            "line 10",
        ),
        (
            good.replace("periods = 1.5", "period = 1.5"),
            "unknown field",
        ),
        (
            good.replace("periods = 1.5", "periods = nan"),
            "periods of \"Bass\"",
        ),
        (
            good.replace("periods = 1.5", "periods = -1"),
            "not within 0",
        ),
        (
            good.replace("version = 1", "version = 2"),
            "its version is 2",
        ),
        (good[..good.len() - 20].to_string(), "latency.toml"),
        (twice, "is in it twice"),
    ] {
        let bench = bench();
        fs::create_dir_all(bench.path("data/leadsman")).expect("a folder");
        fs::write(place(&bench), &text).expect("a file");
        for args in [
            &["latency", "show"] as &[&str],
            &["latency", "forget", "--all"],
            &["latency", "measure", "--stand-in"],
            &["latency", "tap", "--stand-in"],
            &["play", "line.toml", "--midi", "bass"],
        ] {
            let ran = bench.run(args);
            assert_eq!(ran.code, Some(2), "{reason}, {args:?}: {}", ran.err);
            assert!(
                ran.err.contains("cannot be read, and is left as it is"),
                "{args:?}: {}",
                ran.err
            );
            assert!(ran.err.contains(reason), "{reason}: {}", ran.err);
        }
        assert_eq!(fs::read_to_string(place(&bench)).expect("text"), text);
    }
}

#[test]
fn the_file_says_again_what_was_kept() {
    let bench = bench();
    let latencies = [
        kept_for("Bass \"1\" = é", "system", -0.25),
        kept_for("Bass", "system", 8.123),
    ];
    keep(&bench, &latencies);
    assert_eq!(Kept::read(&place(&bench)).expect("a file").ports, latencies);
    let mut kept = Kept::read(&place(&bench)).expect("a file");
    kept.set(kept_for("Bass", "system", 9.0));
    kept.write(&place(&bench)).expect("a file");
    let kept = Kept::read(&place(&bench)).expect("a file");
    let fixed: Vec<f64> = kept.ports.iter().map(|port| port.fixed_ms).collect();
    assert_eq!(fixed, [-0.25, 9.0]);
    // Nothing is left beside it.
    let folder = fs::read_dir(bench.path("data/leadsman")).expect("a folder");
    assert_eq!(folder.count(), 1);
}

#[cfg(unix)]
#[test]
fn a_link_to_the_file_stays_a_link() {
    let bench = bench();
    let real = bench.path("elsewhere.toml");
    Kept::default().write(&real).expect("a file");
    fs::create_dir_all(bench.path("data/leadsman")).expect("a folder");
    std::os::unix::fs::symlink(&real, place(&bench)).expect("a link");
    keep(&bench, &[kept_for("Bass", "system", 8.0)]);
    assert!(place(&bench).is_symlink());
    assert_eq!(Kept::read(&real).expect("a file").ports.len(), 1);
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let bench = bench();
    bench.write("data", b"a file where the folder should be");
    let error = Kept::default()
        .write(&place(&bench))
        .expect_err("no folder");
    assert!(matches!(error, KeptError::Unreachable { .. }), "{error}");
    assert!(error.to_string().contains("latency.toml"), "{error}");
}
