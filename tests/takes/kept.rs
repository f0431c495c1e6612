//! A folder with a logbook in it, quickly filled.

use super::{Bench, Ran};
use leadsman::logbook::Logbook;

/// Three passes of three bars with entries, upbeats, a dead note and a ghost note.
pub const LINE: &str = "title = \"Night Ferry\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [0, 0, 0, 0, 0, 0]\n\
                        notes = \"r/8 E2/8 A2/4 D3/4 G2/8 F2/8 | E2/4 r/8 D2/8? A2/4 x/4 | E2/8 A2/8 D3/4 G2/4 r/4\"\n";

/// Another one.
pub const SHORT: &str = "title = \"Rope Locker\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
                         notes = \"E1/4 A1/4 D2/4 G2/4 | E1/4 A1/4 D2/4 G2/4 | E1/2 A1/2 | E1/1\"\n";

/// A bench with a logbook.
pub struct Kept {
    pub bench: Bench,
}

impl Kept {
    /// With the two lines and nothing played.
    pub fn new() -> Kept {
        let bench = Bench::new(LINE);
        bench.write("rope.toml", SHORT.as_bytes());
        Kept { bench }
    }

    /// A stand-in plays: `line.toml --habits steady`.
    pub fn demo(&self, args: &str) -> Ran {
        let args = format!("demo {args} --logbook log.sqlite");
        let ran = self.bench.run(&args.split_whitespace().collect::<Vec<_>>());
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
        ran
    }

    /// Runs the program on the logbook; arguments are parted by spaces.
    pub fn run(&self, args: &str) -> Ran {
        let args: Vec<&str> = args.split_whitespace().collect();
        self.bench
            .run(&[&args[..], &["--logbook", "log.sqlite"]].concat())
    }

    /// What it prints where all goes well.
    pub fn out(&self, args: &str) -> String {
        let ran = self.run(args);
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{args}");
        ran.out
    }

    /// The one line that it says where the input is wrong.
    pub fn refused(&self, args: &str) -> String {
        let ran = self.run(args);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{args}");
        assert_eq!(ran.err.lines().count(), 1, "{args}: {}", ran.err);
        ran.err
    }

    pub fn logbook(&self) -> Logbook {
        Logbook::open_existing(&self.bench.path("log.sqlite")).expect("a logbook")
    }

    pub fn sql(&self, sql: &str) {
        let done = self.logbook().db().execute_batch(sql);
        done.unwrap_or_else(|error| panic!("{sql}: {error}"));
    }

    /// Has a take begun at a time, RFC 9557.
    pub fn begun(&self, take: i64, begun: &str) {
        let at: jiff::ZonedDateTime = begun.parse().expect("a time");
        let ms = at.timestamp().as_millisecond();
        self.sql(&format!(
            "UPDATE take SET begun = '{begun}', begun_ms = {ms} WHERE id = {take}"
        ));
    }

    /// The same as on a terminal of so many columns that answers so; arguments are parted by spaces. `None` where there is
    /// no `script` that makes one.
    #[cfg(target_os = "linux")]
    pub fn on_terminal(&self, columns: usize, args: &str, answer: &str) -> Option<String> {
        use std::io::Write;
        use std::process::{Command, Stdio};
        let program = env!("CARGO_BIN_EXE_leadsman");
        let mut child = Command::new("script")
            .current_dir(self.bench.dir.path())
            .env("XDG_DATA_HOME", self.bench.path("data"))
            .env("NO_COLOR", "1")
            .args(["-qec"])
            .arg(format!(
                "stty -echo rows 24 cols {columns}; '{program}' {args} --logbook log.sqlite"
            ))
            .arg("/dev/null")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .ok()?;
        let mut stdin = child.stdin.take().expect("its input");
        stdin.write_all(answer.as_bytes()).expect("an answer");
        let ran = child.wait_with_output().expect("an end");
        drop(stdin);
        Some(String::from_utf8_lossy(&ran.stdout).replace('\r', ""))
    }
}

impl Kept {
    /// The numbers of its sessions, in order.
    pub fn sessions(&self) -> Vec<i64> {
        let sessions = self.logbook().sessions().expect("sessions");
        sessions.iter().map(|session| session.number).collect()
    }
}
