//! `leadsman learn` with a foot switch on a real JACK server: what it asks, what it learns, and what it leaves in the
//! settings.
#![cfg(feature = "jack")]

mod support;
mod takes;

use std::fs;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread::{sleep, spawn};
use std::time::{Duration, Instant};
use support::jack_player::{Player, Stroke};
use support::jack_server::{with_server, without_server};
use takes::Bench;

const RATE: u64 = 48_000;
const PERIOD: u32 = 256;
const LINE: &str = "title = \"Two Cleats\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/1\"";
const USUAL: &str = "config/leadsman/settings.toml";
const SETTINGS: &str = "# mine\n[play]\nspeed = 90 # for now\n\n[control]\n# the right one\n\
                        stop = { channel = 1, control = 80 } # worn\n";
const FOOT: &str = "learn-foot";

/// `leadsman learn` while it runs.
struct Learning {
    leadsman: Child,
    lines: Receiver<String>,
}

impl Learning {
    fn start(bench: &Bench, args: &[&str]) -> Learning {
        let dir = bench.dir.path();
        let mut leadsman = Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .current_dir(dir)
            .env("XDG_CONFIG_HOME", dir.join("config"))
            .env("XDG_STATE_HOME", dir.join("state"))
            .env("HOME", dir)
            .arg("learn")
            .args(args)
            .args(["--backend", "jack", "--midi", FOOT])
            .stdout(Stdio::piped())
            .spawn()
            .expect("leadsman runs");
        let out = leadsman.stdout.take().expect("its output");
        let (sender, lines) = channel();
        spawn(move || {
            let lines = BufReader::new(out).lines().map_while(Result::ok);
            lines.for_each(|line| drop(sender.send(line)));
        });
        Learning { leadsman, lines }
    }

    /// The next line that is not empty.
    fn line(&self) -> String {
        loop {
            let line = self.lines.recv_timeout(Duration::from_secs(20));
            let line = line.expect("leadsman says something");
            if !line.is_empty() {
                return line;
            }
        }
    }

    #[track_caller]
    fn says(&self, words: &str) {
        assert_eq!(self.line(), words);
    }

    /// Its exit code.
    fn end(mut self) -> Option<i32> {
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(20) {
            if let Some(status) = self.leadsman.try_wait().expect("a child") {
                return status.code();
            }
            sleep(Duration::from_millis(5));
        }
        let _ = self.leadsman.kill();
        panic!("leadsman hangs");
    }
}

/// Sends these bytes so many ms from now.
fn send(foot: &mut Player, messages: &[(u64, [u8; 3])]) {
    let soon = foot.now() + RATE / 10;
    let stroke = |(ms, bytes): &(u64, [u8; 3])| Stroke {
        frame: soon + ms * RATE / 1000,
        bytes: *bytes,
    };
    foot.schedule(messages.iter().map(stroke));
}

fn bench() -> Bench {
    let bench = Bench::new(LINE);
    fs::create_dir_all(bench.path("config/leadsman")).expect("a folder");
    bench.write(USUAL, SETTINGS.as_bytes());
    bench
}

fn text(bench: &Bench) -> String {
    fs::read_to_string(bench.path(USUAL)).expect("the settings")
}

#[test]
fn a_pedal_is_learned_by_one_press_and_moved_by_another() {
    with_server(
        "a_pedal_is_learned_by_one_press_and_moved_by_another",
        PERIOD,
        || {
            let bench = bench();
            let file = format!("Kept in {}.", bench.path(USUAL).display());
            let mut foot = Player::start(FOOT);
            let press = [(0, [0xB0, 64, 127]), (300, [0xB0, 64, 0])];

            let learning = Learning::start(&bench, &["again", "next"]);
            assert!(learning.line().contains(FOOT));
            learning.says("Press the switch for \"again\" once.");
            // A bass on the same cable is no switch.
            send(&mut foot, &[(0, [0x90, 40, 90]), (50, [0x80, 40, 0])]);
            send(&mut foot, &press.map(|(ms, bytes)| (ms + 200, bytes)));
            learning.says("Let it go.");
            learning.says("\"again\" is now control change 64 on channel 1.");
            learning.says(&file);
            // It is kept before the next one is asked for.
            let again = "# worn\nagain = { channel = 1, control = 64 }\n";
            assert_eq!(text(&bench), SETTINGS.replace("# worn\n", again));
            learning.says("Press the switch for \"next\" once.");
            send(&mut foot, &[(0, [0xC2, 3, 0])]);
            learning.says("\"next\" is now program change 3 on channel 3.");
            learning.says(&file);
            assert_eq!(learning.end(), Some(0));

            let learning = Learning::start(&bench, &["slower"]);
            assert!(learning.line().contains(FOOT));
            learning.says("Press the switch for \"slower\" once.");
            send(&mut foot, &press);
            learning.says("Let it go.");
            learning.says(
                "\"slower\" is now control change 64 on channel 1, which meant \"again\": \
                 \"again\" has no switch now.",
            );
            learning.says(&file);
            assert_eq!(learning.end(), Some(0));

            let moved = "# worn\nnext = { channel = 3, program = 3 }\nslower = { channel = 1, control = 64 }\n";
            assert_eq!(text(&bench), SETTINGS.replace("# worn\n", moved));
            let shown = bench.run(&["settings", "learn"]).out;
            for words in [
                "# program change 3 on channel 3 (the file, line 8)",
                "# control change 64 on channel 1 (the file, line 9)",
                "# control change 80 on channel 1 (the file, line 7)",
                "#again",
            ] {
                assert!(shown.contains(words), "no {words:?} in {shown}");
            }
        },
    );
}

#[test]
fn a_port_that_leaves_is_waited_for_and_asked_anew() {
    with_server(
        "a_port_that_leaves_is_waited_for_and_asked_anew",
        PERIOD,
        || {
            let bench = bench();
            let mut foot = Player::start(FOOT);
            let learning = Learning::start(&bench, &[]);
            assert!(learning.line().contains(FOOT));
            learning.says("Press the switch for \"again\" once.");
            send(&mut foot, &[(0, [0xB0, 64, 127])]);
            learning.says("Let it go.");
            drop(foot);
            learning.says("The MIDI input is unplugged.");
            let mut foot = Player::start(FOOT);
            learning.says("The MIDI input is back.");
            learning.says("Press the switch for \"again\" once.");
            send(&mut foot, &[(0, [0xC0, 7, 0])]);
            learning.says("\"again\" is now program change 7 on channel 1.");
            learning.line();
            assert_eq!(learning.end(), Some(0));
        },
    );
}

#[test]
fn ctrl_c_leaves_the_settings_as_they_were() {
    with_server("ctrl_c_leaves_the_settings_as_they_were", PERIOD, || {
        let bench = bench();
        let mut foot = Player::start(FOOT);
        let learning = Learning::start(&bench, &["stop"]);
        assert!(learning.line().contains(FOOT));
        learning.says("Press the switch for \"stop\" once.");
        send(&mut foot, &[(0, [0xB0, 64, 127])]);
        learning.says("Let it go.");
        let pid = learning.leadsman.id().to_string();
        let sent = Command::new("kill").args(["-INT", &pid]).status();
        assert!(sent.expect("kill").success());
        learning.says("\"stop\" is as it was.");
        assert_eq!(learning.end(), Some(0));
        assert_eq!(text(&bench), SETTINGS);
    });
}

#[test]
fn without_a_port_learn_says_what_play_says() {
    let test = "without_a_port_learn_says_what_play_says";
    with_server(test, PERIOD, || {
        let bench = bench();
        let said = |command: &[&str]| {
            let ran = bench.run(&[command, &["--backend", "jack", "--midi", "nobody"]].concat());
            assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""));
            ran.err
        };
        let learn = said(&["learn"]);
        assert_eq!(learn, said(&["play", "line.toml"]));
        assert!(learn.contains("there is no MIDI input"), "{learn}");
    });
}

#[test]
fn without_a_server_learn_says_what_play_says() {
    without_server("without_a_server_learn_says_what_play_says", || {
        let bench = bench();
        let learn = bench.run(&["learn", "--backend", "jack"]);
        let play = bench.run(&["play", "line.toml", "--backend", "jack"]);
        assert_eq!((learn.code, &learn.err), (Some(2), &play.err));
    });
}
