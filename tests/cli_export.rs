//! `leadsman export`, as it is run.

use assert_cmd::Command;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn leadsman(arguments: &[&str], folder: &Path) -> (i32, String, String) {
    let mut command = Command::cargo_bin("leadsman").expect("the program");
    let line = |name: &&str| match name.strip_prefix("lines/") {
        Some(_) => concat!(env!("CARGO_MANIFEST_DIR"), "/").to_string() + name,
        None => name.to_string(),
    };
    let output = command
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .args(arguments.iter().map(line))
        .current_dir(folder)
        .output()
        .expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let code = output.status.code().expect("it ends by itself");
    (code, text(&output.stdout), text(&output.stderr))
}

fn folder() -> TempDir {
    tempfile::tempdir().expect("a folder")
}

#[test]
fn a_file_is_written_and_what_it_does_not_hold_is_listed() {
    let folder = folder();
    let command = ["export", "lines/bilge_pump.toml", "--to", "pump.musicxml"];
    let (code, out, err) = leadsman(&command, folder.path());
    assert_eq!((code, out.as_str()), (0, "pump.musicxml written\n"));
    assert_eq!(
        err,
        "note: not carried over: gate of \"Pump\" (0.85)\nnote: not carried over: gate of \"Valve\" (0.85)\n"
    );
    let text = fs::read_to_string(folder.path().join("pump.musicxml")).expect("text");
    assert!(text.contains("<work-title>Bilge Pump</work-title>"));
}

#[test]
fn a_file_that_is_there_is_replaced_only_by_force() {
    let folder = folder();
    let path = folder.path().join("skip.mid");
    fs::write(&path, "mine").expect("written");
    let command = ["export", "lines/gangway_skip.toml", "--to", "skip.mid"];
    let (code, _, err) = leadsman(&command, folder.path());
    assert_eq!(code, 2);
    assert!(
        err.contains("skip.mid is there already: --force replaces it"),
        "{err}"
    );
    assert_eq!(fs::read(&path).expect("kept"), b"mine");
    let (code, _, _) = leadsman(&[&command[..], &["--force"]].concat(), folder.path());
    assert_eq!(code, 0);
    assert!(fs::read(&path).expect("replaced").starts_with(b"MThd"));
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1);
}

#[test]
fn the_end_of_the_name_says_the_format() {
    let folder = folder();
    let refused = |to: &str, more: &[&str]| {
        let command = ["export", "lines/gangway_skip.toml", "--to", to];
        let (code, _, err) = leadsman(&[&command[..], more].concat(), folder.path());
        assert_eq!(code, 2);
        err
    };
    let err = refused("skip.pdf", &[]);
    assert!(
        err.contains("skip.pdf: the end of the name says the format"),
        "{err}"
    );
    let err = refused("skip.xml", &["--straight"]);
    assert!(err.contains("--straight is for MIDI files"), "{err}");
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 0);
}

#[test]
fn some_bars_go_out_compressed_and_come_back() {
    let folder = folder();
    let command = [
        "export",
        "lines/gangway_skip.toml",
        "--to",
        "skip.mxl",
        "--bars",
        "3-4",
        "--speed",
        "50",
    ];
    assert_eq!(leadsman(&command, folder.path()).0, 0);
    let (code, line, _) = leadsman(&["import", "skip.mxl"], folder.path());
    assert_eq!(code, 0);
    assert!(
        line.contains("tempo   = 66\n") && line.contains("title   = \"Gangway Skip\""),
        "{line}"
    );
    let notes = line.lines().filter(|line| line.starts_with("notes"));
    assert!(notes.count() > 0);
}
