//! A player's folder, and the program in a terminal there.

use crate::support::tmux::{PROMPT, Tmux};
use leadsman::logbook::Logbook;
use leadsman::logbook::takes::{Filter, TakeRow};
use leadsman::midi::smf;
use leadsman::played::TimedMessage;
use leadsman::take::TakeHead;
use rusqlite::types::Value;
use std::fs;
use std::path::PathBuf;
use std::process::Command;
use tempfile::TempDir;

const PROGRAM: &str = env!("CARGO_BIN_EXE_leadsman");
pub const USUAL: (u16, u16) = (80, 24);

/// A line, settings, a logbook.
pub struct Home(TempDir);

impl Home {
    /// With this line in `line.toml`.
    pub fn new(line: &str) -> Home {
        let home = Home(tempfile::tempdir().expect("a folder"));
        fs::write(home.path("line.toml"), line).expect("a line");
        home
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn variables(&self) -> [(&'static str, String); 3] {
        let folder = |name| self.path(name).display().to_string();
        [
            ("XDG_DATA_HOME", folder("data")),
            ("XDG_CONFIG_HOME", folder("config")),
            ("XDG_STATE_HOME", folder("state")),
        ]
    }

    /// A terminal here; `more` are variables besides the usual ones, or in their place.
    pub fn terminal(&self, size: (u16, u16), more: &[(&str, &str)]) -> Tmux {
        let own = self.variables();
        let mut variables = vec![("LC_ALL", "C.UTF-8"), ("TERM", "xterm-256color")];
        variables.extend(own.iter().map(|(name, value)| (*name, value.as_str())));
        variables.extend(more);
        Tmux::start(self.0.path(), size, &variables)
    }

    /// Plays the line in a terminal of the usual size.
    pub fn play(&self, options: &str) -> Tmux {
        let terminal = self.terminal(USUAL, &[]);
        terminal.enter(&play(options));
        terminal
    }

    /// Runs the program to its end, without a terminal; what it printed.
    pub fn run(&self, arguments: &str) -> String {
        let output = Command::new(PROGRAM)
            .args(arguments.split_whitespace())
            .envs(self.variables())
            .current_dir(self.0.path())
            .output()
            .expect("leadsman runs");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments}: {said}");
        String::from_utf8(output.stdout).expect("UTF-8")
    }

    pub fn logbook(&self) -> Logbook {
        Logbook::open_existing(&self.path("data/leadsman/logbook.sqlite")).expect("a logbook")
    }

    /// All takes of the logbook.
    pub fn takes(&self) -> Vec<TakeRow> {
        self.logbook().takes(&Filter::default()).expect("takes")
    }

    /// The head of a take, and what was played, in line time.
    pub fn take(&self, number: i64) -> (TakeHead, Vec<TimedMessage>) {
        let file = self.logbook().take_file(number).expect("a take");
        let file = smf::read(&file).expect("a Standard MIDI File");
        let head = file.take_json().expect("a head");
        let head: TakeHead = serde_json::from_str(head).expect("JSON");
        let mut events = file.messages();
        events
            .iter_mut()
            .for_each(|event| event.at = event.at - head.start());
        (head, events)
    }

    /// All judgements of a take, the latest last: each reading, column by column.
    pub fn judgements(&self, take: i64) -> Vec<Vec<Vec<Value>>> {
        let logbook = self.logbook();
        let all = logbook.judgements(take).expect("judgements");
        let mut query = logbook
            .db()
            .prepare("SELECT * FROM reading WHERE judgement = ? ORDER BY note")
            .expect("a query");
        let columns = query.column_count();
        let mut readings = |judgement| {
            let rows = query
                .query_map([judgement], |row| {
                    (1..columns).map(|at| row.get(at)).collect()
                })
                .expect("rows");
            rows.collect::<Result<_, _>>().expect("readings")
        };
        all.iter().map(|judgement| readings(judgement.id)).collect()
    }

    /// Offsets in whole ms of what a take was first judged to be; `None` where nothing was played.
    pub fn offsets(&self, take: i64) -> Vec<Option<i64>> {
        const OFFSET: usize = 8;
        let judged = self.judgements(take);
        let readings = judged.first().expect("a judgement").iter();
        readings
            .map(|reading| match reading[OFFSET] {
                Value::Integer(ns) => Some((ns as f64 / 1e6).round() as i64),
                _ => None,
            })
            .collect()
    }
}

/// What is typed to play the line; in the end the exit code is printed.
pub fn play(options: &str) -> String {
    format!("{PROGRAM} play line.toml {options}; echo left with $?")
}

/// Waits for the end, which is a good one, and returns what stands on the ordinary screen.
pub fn has_left(terminal: &Tmux) -> String {
    terminal.wait_for("good end", |screen| {
        screen.contains("\nleft with 0\n") && screen.trim_end().ends_with(PROMPT.trim())
    });
    assert!(!terminal.is_screen_up());
    terminal.history()
}

/// Leaves by the key, and returns what stands on the ordinary screen then.
pub fn leave(terminal: &Tmux) -> String {
    terminal.press(&["q"]);
    has_left(terminal)
}

/// The first row that begins with `name`.
#[track_caller]
pub fn row<'a>(screen: &'a str, name: &str) -> &'a str {
    let found = screen.lines().find(|line| line.starts_with(name));
    found.unwrap_or_else(|| panic!("no row {name} in:\n{screen}"))
}
