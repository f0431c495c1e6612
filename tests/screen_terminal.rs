//! The terminal is given back as it was: at the end, after a panic on any thread, while suspended.
//!
//! Each test runs this program again, on a terminal of its own (a pseudo-terminal), as the test [`child`].
#![cfg(unix)]

#[path = "screen/mod.rs"]
mod scene;

use leadsman::logbook::Logbook;
use leadsman::logbook::takes::{Filter, State};
use leadsman::screen::terminal::{Asked, Screen};
use rustix::io::{FdFlags, fcntl_setfd};
use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use scene::{TWO, USUAL, view};
use std::fs::File;
use std::io::Read;
use std::os::fd::OwnedFd;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

const ROLE: &str = "SCREEN_ROLE";
const ENTERED: &str = "\x1b[?1049h";
const LEFT: &str = "\x1b[?1049l";
const PATIENCE: Duration = Duration::from_secs(20);

/// What runs on the pseudo-terminal; nothing when it is run as an ordinary test.
#[test]
fn child() {
    let Ok(role) = std::env::var(ROLE) else {
        return;
    };
    let mut screen = Screen::open().expect("a terminal");
    screen.draw(&view(TWO, None), USUAL).expect("drawn");
    eprintln!("a library complains");
    match role.as_str() {
        "panic" => {
            let thread = thread::spawn(|| panic!("a string broke"));
            assert!(thread.join().is_err());
        }
        "suspend" => {
            kill_process(rustix::process::getpid(), Signal::TSTP).expect("a signal");
            let begun = Instant::now();
            while screen.asked() != Some(Asked::Suspend) {
                assert!(begun.elapsed() < PATIENCE);
                thread::sleep(Duration::from_millis(2));
            }
            screen.suspend().expect("the screen is back");
            // Another thread may hear a moment later that it goes on: then it is drawn once more.
            assert_ne!(screen.asked(), Some(Asked::Suspend));
            screen.draw(&view(TWO, None), USUAL).expect("drawn");
        }
        _ => {}
    }
}

/// The child with its terminal, as seen from the other side.
struct Seen {
    child: Child,
    terminal: OwnedFd,
    output: Arc<Mutex<String>>,
    state: tempfile::TempDir,
}

/// The side of a terminal from which it is seen, and the name of the other.
fn pseudo_terminal() -> (OwnedFd, String) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
    // A program that has it too would keep the terminal open.
    fcntl_setfd(&master, FdFlags::CLOEXEC).expect("a descriptor");
    grantpt(&master).expect("granted");
    unlockpt(&master).expect("unlocked");
    let name = ptsname(&master, Vec::new()).expect("a name");
    let name = name.to_str().expect("a plain name").to_string();
    let size = Winsize {
        ws_row: 24,
        ws_col: 80,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(open(&name), size).expect("a size");
    (master, name)
}

fn open(name: &str) -> File {
    let opened = File::options().read(true).write(true).open(name);
    opened.expect("the terminal")
}

fn run(role: &str) -> Seen {
    let (master, name) = pseudo_terminal();
    let open = || open(&name);
    let terminal = open();
    let state = tempfile::tempdir().expect("a folder");
    let child = Command::new(std::env::current_exe().expect("this program"))
        .args(["child", "--exact", "--nocapture", "--test-threads", "1"])
        .env(ROLE, role)
        .env("XDG_STATE_HOME", state.path())
        .stdin(Stdio::from(open()))
        .stdout(Stdio::from(open()))
        .stderr(Stdio::from(open()))
        .spawn()
        .expect("it runs");
    let output = Arc::new(Mutex::new(String::new()));
    let written = Arc::clone(&output);
    // Ends with the test's process at the latest.
    thread::spawn(move || {
        let mut master = File::from(master);
        let mut bytes = [0; 4096];
        while let Ok(count @ 1..) = master.read(&mut bytes) {
            let text = String::from_utf8_lossy(&bytes[..count]);
            written.lock().expect("no panic there").push_str(&text);
        }
    });
    Seen {
        child,
        terminal: terminal.into(),
        output,
        state,
    }
}

impl Seen {
    fn output(&self) -> String {
        self.output.lock().expect("no panic there").clone()
    }

    fn wait_for(&self, what: &str, is_so: impl Fn() -> bool) {
        let begun = Instant::now();
        while !is_so() {
            assert!(begun.elapsed() < PATIENCE, "{what}: {:?}", self.output());
            thread::sleep(Duration::from_millis(5));
        }
    }

    fn is_cooked(&self) -> bool {
        let modes = tcgetattr(&self.terminal).expect("a terminal").local_modes;
        modes.contains(LocalModes::ICANON | LocalModes::ECHO)
    }

    /// Waits for the end: the terminal is as it was, the libraries' words are in the log alone.
    fn end(mut self) -> (bool, String) {
        let success = self.child.wait().expect("it ends").success();
        self.wait_for("given back", || self.output().contains(LEFT));
        assert!(self.is_cooked());
        let log = self.state.path().join("leadsman/libraries.log");
        let log = std::fs::read_to_string(log).expect("a log");
        assert_eq!(log, "a library complains\n");
        assert!(!self.output().contains("complains"));
        (success, self.output())
    }
}

/// The byte at which something stands in what was written.
#[track_caller]
fn place(output: &str, what: &str) -> usize {
    output
        .find(what)
        .unwrap_or_else(|| panic!("no {what:?} in {output:?}"))
}

#[test]
fn at_the_end_the_terminal_is_as_it_was() {
    let (success, output) = run("end").end();
    assert!(success);
    assert!(place(&output, ENTERED) < place(&output, "Two Blasts"));
    assert!(place(&output, "Two Blasts") < place(&output, LEFT));
    // Nobody asks the terminal anything: the answer would come among the keys.
    assert!(!output.contains("\x1b[6n"));
}

#[test]
fn a_panic_on_another_thread_is_read_on_the_ordinary_screen() {
    let (_, output) = run("panic").end();
    assert!(place(&output, LEFT) < place(&output, "a string broke"));
    assert_eq!(output.matches(LEFT).count(), 1);
}

#[test]
fn suspended_it_leaves_the_terminal_to_the_shell_and_comes_back() {
    let seen = run("suspend");
    let id = Pid::from_child(&seen.child);
    let stat = format!("/proc/{}/stat", seen.child.id());
    if !std::path::Path::new("/proc/self/stat").exists() {
        // Where it cannot be seen that a program is stopped, it is waited for its leaving the screen.
        seen.wait_for("left", || seen.output().contains(LEFT));
    } else {
        seen.wait_for("stopped", || {
            let stat = std::fs::read_to_string(&stat).unwrap_or_default();
            stat.rsplit(") ")
                .next()
                .is_some_and(|rest| rest.starts_with('T'))
        });
    }
    seen.wait_for("left", || seen.output().contains(LEFT));
    assert!(seen.is_cooked());
    kill_process(id, Signal::CONT).expect("a signal");
    let (success, output) = seen.end();
    assert!(success);
    assert_eq!(output.matches(ENTERED).count(), 2);
    let back = output.rfind(ENTERED).unwrap_or(0);
    assert!(place(&output[back..], "Two Blasts") < place(&output[back..], LEFT));
}

#[test]
fn a_terminal_that_is_closed_ends_the_program_which_has_kept_the_take() {
    let folder = tempfile::tempdir().expect("a folder");
    let (master, name) = pseudo_terminal();
    let line = concat!(env!("CARGO_MANIFEST_DIR"), "/lines/two_blasts_astern.toml");
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(["play", line, "--backend", "silent", "--stand-in"])
        .args(["--logbook", "logbook.sqlite"])
        .current_dir(folder.path())
        .env("TERM", "xterm")
        .env("LC_ALL", "C.UTF-8")
        .env("HOME", folder.path())
        .env("XDG_CONFIG_HOME", folder.path())
        .stdin(Stdio::from(open(&name)))
        .stdout(Stdio::from(open(&name)))
        .stderr(Stdio::from(open(&name)))
        .spawn()
        .expect("it runs");
    let mut master = File::from(master);
    let (mut seen, mut bytes) = (String::new(), [0; 4096]);
    // Until a note is marked.
    while !seen.contains(['‹', '›']) {
        let count = master.read(&mut bytes).expect("it shows something");
        seen += &String::from_utf8_lossy(&bytes[..count]);
    }
    drop(master);
    let begun = Instant::now();
    while child.try_wait().expect("a child").is_none() {
        if begun.elapsed() > PATIENCE {
            child.kill().expect("a child");
            panic!("it goes on");
        }
        thread::sleep(Duration::from_millis(5));
    }
    let logbook = Logbook::open_existing(&folder.path().join("logbook.sqlite")).expect("there");
    let takes = logbook.takes(&Filter::default()).expect("takes");
    let states: Vec<State> = takes.iter().map(|take| take.state).collect();
    assert_eq!(states, [State::Over]);
}
