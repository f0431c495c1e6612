//! What goes away in the middle of a take: the player's port, the server. The take is kept, the summary so far is
//! printed, and one sentence says what is gone.
#![cfg(feature = "jack")]

mod support;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::thread::sleep;
use std::time::Duration;
use support::jack_player::{Player, Stroke};
use support::jack_server::{stop_server, with_server};

const LINE: &str = r#"
title = "Line Ashore"
meter = "4/4"
tempo = 240
[[section]]
name = "A"
passes = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
notes = "E2/4 G2/4 A2/4 B2/4 | D3/4 B2/4 A2/4 G2/4"
"#;

struct Take {
    output: Output,
    line: PathBuf,
    file: PathBuf,
}

/// Starts `leadsman play`, lets the player play its first notes, does `fault`, and waits for the end.
fn take_with(
    folder: &Path,
    player: &mut Option<Player>,
    fault: impl FnOnce(&mut Option<Player>),
) -> Take {
    let (line, file) = (folder.join("line.toml"), folder.join("take.mid"));
    std::fs::write(&line, LINE).expect("a folder to write in");
    let leadsman = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .arg("play")
        .arg(&line)
        .args(["--backend", "jack", "--midi", "fault-player", "--take"])
        .arg(&file)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("leadsman runs");
    // One second of lead, one bar counted in, then a note every quarter second.
    sleep(Duration::from_millis(2500));
    if let Some(player) = player {
        let now = player.now() + 4800;
        let key = |n: u64| [40, 43, 45, 47][(n % 4) as usize];
        let strokes = (0..8).flat_map(|n| {
            let at = now + 12_000 * n;
            let on = Stroke {
                frame: at,
                bytes: [0x90, key(n), 90],
            };
            [
                on,
                Stroke {
                    frame: at + 9600,
                    bytes: [0x80, key(n), 0],
                },
            ]
        });
        player.schedule(strokes);
    }
    sleep(Duration::from_millis(2500));
    fault(player);
    let output = leadsman.wait_with_output().expect("leadsman ends");
    Take { output, line, file }
}

/// Exit code 1, one sentence with `what` on standard error, a summary, and a file that is read to the same one.
fn is_kept(take: &Take, what: &str) {
    let (out, err) = (
        String::from_utf8_lossy(&take.output.stdout),
        String::from_utf8_lossy(&take.output.stderr),
    );
    assert_eq!(take.output.status.code(), Some(1), "{err}");
    assert!(err.contains(what), "{err}");
    let summary = |text: &str| {
        text.lines()
            .find(|line| line.starts_with("Notes "))
            .map(String::from)
    };
    assert!(summary(&out).is_some(), "{out}");
    let mut check = Command::new(env!("CARGO_BIN_EXE_leadsman"));
    let check = check
        .arg("check")
        .arg(&take.line)
        .arg(&take.file)
        .output()
        .expect("leadsman runs");
    assert_eq!(
        summary(&String::from_utf8_lossy(&check.stdout)),
        summary(&out)
    );
}

#[test]
fn a_player_that_is_unplugged_ends_the_take_and_keeps_it() {
    with_server(
        "a_player_that_is_unplugged_ends_the_take_and_keeps_it",
        128,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let mut player = Some(Player::start("fault-player"));
            let take = take_with(folder.path(), &mut player, |player| *player = None);
            is_kept(&take, "fault-player:out");
        },
    );
}

#[test]
fn a_server_that_dies_ends_the_take_and_keeps_it() {
    with_server("a_server_that_dies_ends_the_take_and_keeps_it", 128, || {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut player = Some(Player::start("fault-player"));
        let take = take_with(folder.path(), &mut player, |player| {
            stop_server();
            sleep(Duration::from_secs(1));
            // A client cannot leave a server that is gone.
            std::mem::forget(player.take());
        });
        is_kept(&take, "JACK server");
    });
}
