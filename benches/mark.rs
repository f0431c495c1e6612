//! From a note to its mark on the practice room's screen, end to end, and what the screen costs: the whole program on a
//! pseudo-terminal of 120 × 40, a JACK server with blocks of 64 frames, and a second client of it that plays.
//!
//!     cargo bench --features jack --bench mark
//!
//! A note begins when it is sent: the program has it in the same block of JACK's (on a busy machine JACK comes late with some;
//! that is none of the program's time). A MIDI port would bring it with the block after the one in which it was struck, so
//! a block is added. Its mark is there when the bytes with its offset, which no note near it has, have been read from the
//! terminal.

#[path = "../tests/support/mod.rs"]
mod clients;

use clients::jack_player::{Player, Stroke};
use clients::jack_recorder::Recorder;
use clients::jack_server::with_server;
use leadsman::click::{ClickTrack, Pattern};
use leadsman::clock::frames::frame_at;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use std::fs::{self, File};
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

const RATE: u32 = 48_000;
const BLOCK: u32 = 64;
/// The processor's time is counted from bar 1 on, for so long.
const COUNTED: Duration = Duration::from_secs(20);
/// A mark that has not come after so long does not come.
const LONGEST: Duration = Duration::from_secs(1);

/// One way to play the line.
struct Case {
    name: &'static str,
    arguments: &'static str,
    /// Whether megabytes are brought to the same disk all the time.
    has_busy_disk: bool,
}

const CASES: [Case; 4] = [
    Case {
        name: "in the logbook",
        arguments: "--logbook logbook.sqlite",
        has_busy_disk: false,
    },
    Case {
        name: "in a file alone",
        arguments: "--no-logbook --take take.mid",
        has_busy_disk: false,
    },
    Case {
        name: "in the logbook, the disk busy",
        arguments: "--logbook busy.sqlite",
        has_busy_disk: true,
    },
    Case {
        name: "in the logbook, plain lines",
        arguments: "--logbook plain.sqlite --plain",
        has_busy_disk: false,
    },
];

fn main() {
    with_server("mark", BLOCK, || {
        let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder");
        say_load();
        let mut shares = Vec::new();
        for case in &CASES {
            println!("{}:", case.name);
            let busy = case.has_busy_disk.then(|| BusyDisk::start(folder.path()));
            let played = play(case, folder.path());
            if let Some(busy) = busy {
                busy.end();
            }
            shares.push(played.print());
            say_load();
        }
        let [seen, .., plain] = shares[..] else {
            unreachable!("one for each case")
        };
        println!("the screen: {:.2} % of a core", seen - plain);
    });
}

fn say_load() {
    let load = fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("  load {}", load.split(' ').next().unwrap_or("unknown"));
}

/// Keeps the disk of a folder busy.
struct BusyDisk(std::sync::Arc<AtomicBool>, thread::JoinHandle<Vec<f64>>);

impl BusyDisk {
    fn start(folder: &Path) -> BusyDisk {
        let goes_on = std::sync::Arc::new(AtomicBool::new(true));
        let goes_on_there = std::sync::Arc::clone(&goes_on);
        let file = folder.join("busy");
        let work = move || {
            let megabytes = vec![85; 4 << 20];
            let mut times = Vec::new();
            while goes_on_there.load(Ordering::Relaxed) {
                let mut file = File::create(&file).expect("a file");
                file.write_all(&megabytes).expect("room on the disk");
                let begun = Instant::now();
                file.sync_all().expect("a disk");
                times.push(begun.elapsed().as_secs_f64() * 1000.0);
                // For the disk, not for the processor.
                thread::sleep(Duration::from_millis(20));
            }
            times
        };
        BusyDisk(goes_on, thread::spawn(work))
    }

    fn end(self) {
        self.0.store(false, Ordering::Relaxed);
        let times = self.1.join().expect("a disk");
        print_times("  4 MB brought to the disk beside it, ms", times);
    }
}

/// Eighths and quarters, 200 notes in 50 s; neither falls together with pictures.
fn line() -> String {
    let bars = "E2/8 A2/8 D3/4 G2/8 C3/8 F2/4 | Bb2/4 E2/8 D3/8 A2/4 F2/8 C3/8";
    let passes = ["0"; 17].join(", ");
    format!(
        "title = \"Lamp and Buoy\"\nmeter = \"4/4\"\ntempo = 161.3\n[[section]]\nname = \"A\"\n\
         passes = [{passes}]\nnotes = \"{bars}\"\n"
    )
}

/// By how many ms each note is off: two figures always, no two of any 39 alike, and never the click's -18 dB.
fn offset(note: usize) -> i64 {
    match note as i64 * 17 % 39 {
        early @ 0..=10 => early - 29,
        early @ 11..=18 => early - 28,
        late => late - 9,
    }
}

/// A note as it was sent and is to be seen.
struct Struck {
    at: Instant,
    text: String,
}

/// What was read from the terminal at once, and when.
struct Bytes {
    at: Instant,
    bytes: Vec<u8>,
}

struct Played {
    is_seen: bool,
    struck: Vec<Struck>,
    read: Vec<Bytes>,
    /// Percent of a core.
    share: f64,
    lost_blocks: u64,
}

fn play(case: &Case, folder: &Path) -> Played {
    fs::write(folder.join("line.toml"), line()).expect("a folder to write in");
    let line = parse(&line(), "line.toml").expect("a valid line");
    let expected = unroll(&line, Speed::WRITTEN);
    let mut recorder = Recorder::start("mark-recorder");
    let mut player = Player::start("mark-player");
    let (mut leadsman, terminal) = start(case, folder);
    let output = read_from(terminal);
    let mut part = Part::new(&expected);
    let (mut struck, mut read): (Vec<Struck>, _) = (Vec::new(), Vec::new());
    let (mut counting, mut share): (Option<(Instant, f64)>, _) = (None, f64::NAN);
    loop {
        for onset in recorder.onsets() {
            part.hear(onset.frame as i64);
            part.play_on(&mut player);
        }
        for (stroke, at) in player.sent() {
            if stroke.bytes[0] == 0x90 {
                let text = format!("{:+}", offset(struck.len()));
                struck.push(Struck { at, text });
            }
        }
        match &counting {
            None if !struck.is_empty() => {
                counting = Some((Instant::now(), seconds_of(&leadsman)));
            }
            Some((since, before)) if share.is_nan() && since.elapsed() >= COUNTED => {
                let spent = seconds_of(&leadsman) - before;
                share = 100.0 * spent / since.elapsed().as_secs_f64();
            }
            _ => {}
        }
        match output.recv_timeout(Duration::from_millis(20)) {
            Ok(bytes) => read.push(bytes),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
    }
    let status = leadsman.wait().expect("it ends");
    if !status.success() {
        let all: Vec<u8> = read.into_iter().flat_map(|one| one.bytes).collect();
        panic!("{status}: {}", String::from_utf8_lossy(&all));
    }
    Played {
        is_seen: !case.arguments.contains("--plain"),
        struck,
        read,
        share,
        lost_blocks: recorder.xruns() + player.late(),
    }
}

/// The program with a terminal of its own, and the other side of that.
fn start(case: &Case, folder: &Path) -> (Child, OwnedFd) {
    let other = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
    grantpt(&other).expect("granted");
    unlockpt(&other).expect("unlocked");
    let name = ptsname(&other, Vec::new()).expect("a name");
    let terminal = File::options()
        .read(true)
        .write(true)
        .open(name.to_str().expect("a plain name"))
        .expect("the terminal");
    let size = Winsize {
        ws_row: 40,
        ws_col: 120,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(&terminal, size).expect("a size");
    let ours = || Stdio::from(terminal.try_clone().expect("one more of it"));
    let child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .args(["play", "line.toml", "--repeat", "once"])
        .args(["--backend", "jack"])
        .args(["--midi", "mark-player", "--audio", "mark-recorder"])
        .args(case.arguments.split(' '))
        .current_dir(folder)
        .env("TERM", "xterm-256color")
        .env("HOME", folder)
        .env("XDG_CONFIG_HOME", folder)
        .env("XDG_STATE_HOME", folder)
        .stdin(ours())
        .stdout(ours())
        .stderr(ours())
        .spawn()
        .expect("leadsman runs");
    (child, other)
}

/// What comes from a terminal, each with the moment at which it was there. It ends with the program.
fn read_from(terminal: OwnedFd) -> Receiver<Bytes> {
    let (sender, output) = channel();
    thread::spawn(move || {
        let mut terminal = File::from(terminal);
        let mut bytes = [0; 65_536];
        while let Ok(count @ 1..) = terminal.read(&mut bytes) {
            let bytes = bytes[..count].to_vec();
            let at = Instant::now();
            if sender.send(Bytes { at, bytes }).is_err() {
                return;
            }
        }
    });
    output
}

/// What is played, placed anew at each click: when the server loses a block, all that follows is moved.
struct Part<'a> {
    expected: &'a Expected,
    /// In frames from bar 1 on.
    clicks: Vec<i64>,
    /// Frame time of bar 1.
    origin: Option<i64>,
    /// The click heard last.
    heard: i64,
    /// The next note.
    next: usize,
}

impl Part<'_> {
    fn new(expected: &Expected) -> Part<'_> {
        let track = ClickTrack::new(expected, 1, Pattern::Beats);
        let count_in = frame_at(-track.start(), RATE);
        let frames = track.frames(count_in as u64, RATE);
        Part {
            expected,
            clicks: frames.map(|frame| frame as i64 - count_in).collect(),
            origin: None,
            heard: 0,
            next: 0,
        }
    }

    /// A click is heard: the one that is nearest by what is known so far.
    fn hear(&mut self, frame: i64) {
        let origin = self.origin.unwrap_or(frame - self.clicks[0]);
        let distance = |click: &&i64| (frame - origin - **click).abs();
        let nearest = self.clicks.iter().min_by_key(distance);
        self.origin = nearest.map(|click| frame - click);
        self.heard = frame;
    }

    /// Hands on what is to be played in the two beats that follow.
    fn play_on(&mut self, player: &mut Player) {
        let Some(origin) = self.origin else {
            return;
        };
        let mut strokes = Vec::new();
        while let Some(note) = self.expected.notes.get(self.next) {
            let on = origin + frame_at(note.onset, RATE);
            if on > self.heard + 2 * frame_at(note.beat, RATE) {
                break;
            }
            let key = note.key.expect("no dead notes here").0;
            let offset = offset(self.next);
            let on = on + offset * i64::from(RATE) / 1000;
            let off = on + frame_at(note.sounding, RATE) / 2;
            strokes.push((on, [0x90, key, 90]));
            strokes.push((off, [0x80, key, 0]));
            self.next += 1;
        }
        player.schedule(strokes.into_iter().map(|(frame, bytes)| Stroke {
            frame: frame as u64,
            bytes,
        }));
    }
}

/// The processor's time that all threads of a program have had.
fn seconds_of(program: &Child) -> f64 {
    let tasks = fs::read_dir(format!("/proc/{}/task", program.id())).expect("Linux");
    let spent = tasks.flatten().filter_map(|task| {
        let text = fs::read_to_string(task.path().join("schedstat")).ok()?;
        text.split(' ').next()?.parse::<f64>().ok()
    });
    spent.sum::<f64>() / 1e9
}

impl Played {
    /// Prints what came of it; percent of a core.
    fn print(&self) -> f64 {
        if self.is_seen {
            let marks: Vec<f64> = self
                .struck
                .iter()
                .filter_map(|one| self.mark(one))
                .collect();
            println!("  {} of {} marks seen", marks.len(), self.struck.len());
            print_times("  from a note to its mark, ms", marks);
        }
        println!(
            "  the whole program {:.2} % of a core; blocks lost {}",
            self.share, self.lost_blocks
        );
        self.share
    }

    /// After how many ms a note's offset was there.
    fn mark(&self, struck: &Struck) -> Option<f64> {
        let text = struck.text.as_bytes();
        let from = self.read.partition_point(|read| read.at < struck.at);
        let mut seen: Vec<u8> = Vec::new();
        for read in &self.read[from..] {
            let new = seen.len().saturating_sub(text.len() - 1);
            seen.extend(&read.bytes);
            let after = read.at - struck.at;
            if after > LONGEST {
                return None;
            }
            if seen[new..].windows(text.len()).any(|part| part == text) {
                return Some(1000.0 * (after.as_secs_f64() + f64::from(BLOCK) / f64::from(RATE)));
            }
        }
        None
    }
}

fn print_times(what: &str, mut times: Vec<f64>) {
    times.sort_by(f64::total_cmp);
    let of = |share: f64| times[((times.len() - 1) as f64 * share).round() as usize];
    println!(
        "{what}: median {:.1}, 99 % {:.1}, at the most {:.1} ({} times)",
        of(0.5),
        of(0.99),
        of(1.0),
        times.len()
    );
}
