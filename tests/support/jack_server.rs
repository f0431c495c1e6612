//! A JACK server of the test's own, on the dummy driver: no sound device, but paced in real time.

use std::fs::{self, File};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Which test a child process shall run inside its server's environment.
const INSIDE: &str = "LEADSMAN_TEST_INSIDE_JACK";
/// The process id of the server around a child process.
const SERVER_PID: &str = "LEADSMAN_TEST_JACK_PID";
/// The one server that tests run. JACK keeps the place of a server that did not end cleanly, one of eight, until a
/// server of the same name comes: so the name is always the same.
const NAME: &str = "leadsman-test";
/// Another name for it, for a test that runs beside the others for hours.
const OTHER_NAME: &str = "LEADSMAN_TEST_JACK_NAME";

/// A test inside a server may take this long: the truth test plays two thousand notes in real time, and may have to
/// again.
const LONGEST_TEST: Duration = Duration::from_secs(900);

/// A running `jackd`. It is stopped, by its process id, when this is dropped. One runs on this machine at a time: each
/// wants the processor for itself.
pub struct JackServer {
    child: Child,
    /// Locked while the server runs; written to when the server has been told to stop.
    turn: File,
}

impl JackServer {
    /// Starts `jackd -R -P 20 -S -n NAME -d dummy -r 48000 -p PERIOD`; it may take a moment until it answers.
    ///
    /// `-S` makes it wait for its clients, so that a busy machine makes a block late and does not lose what is in it.
    /// Where real-time scheduling is not allowed the server goes on without it and loses a block now and then.
    pub fn start(period: u32) -> JackServer {
        let turn = take_turn();
        JackServer {
            child: spawn(period),
            turn,
        }
    }

    /// Makes `command` a client of this server.
    pub fn environment<'a>(&self, command: &'a mut Command) -> &'a mut Command {
        command
            .env("JACK_DEFAULT_SERVER", name())
            .env("JACK_NO_START_SERVER", "1")
            .env(SERVER_PID, self.child.id().to_string())
    }
}

impl Drop for JackServer {
    fn drop(&mut self) {
        // A second signal would kill a server that is cleaning up.
        if self.turn.metadata().is_ok_and(|file| file.len() == 0) {
            terminate(self.child.id());
        }
        if wait(&mut self.child, Duration::from_secs(5)).is_none() {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

fn spawn(period: u32) -> Child {
    Command::new("jackd")
        .args(["-R", "-P", "20", "-S", "-n", &name()])
        .args(["-d", "dummy", "-r", "48000", "-p", &period.to_string()])
        .env("JACK_NO_AUDIO_RESERVATION", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("jackd (package jackd2) is installed")
}

/// A server in the place of one that was killed. It is stopped when this is dropped.
pub struct SecondServer(Child);

impl SecondServer {
    /// Starts it and waits until it answers. Only inside [`with_server`], after [`kill_server`].
    ///
    /// A process that was a client of the killed server cannot become one of this: another program knocks.
    pub fn start(period: u32) -> SecondServer {
        let server = SecondServer(spawn(period));
        let begun = Instant::now();
        let knock = || {
            let mut ports = Command::new(env!("CARGO_BIN_EXE_leadsman"));
            ports.env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
            let output = ports.args(["ports", "--backend", "jack"]).output();
            output.expect("leadsman runs").status.success()
        };
        while !knock() {
            assert!(
                begun.elapsed() < Duration::from_secs(20),
                "the second jackd does not answer"
            );
            sleep(Duration::from_millis(100));
        }
        server
    }
}

impl Drop for SecondServer {
    fn drop(&mut self) {
        terminate(self.0.id());
        if wait(&mut self.0, Duration::from_secs(5)).is_none() {
            let _ = self.0.kill();
            let _ = self.0.wait();
        }
    }
}

fn name() -> String {
    std::env::var(OTHER_NAME).unwrap_or_else(|_| NAME.into())
}

/// Waits until no other test has a server.
fn take_turn() -> File {
    let opened = File::options().create(true).append(true).open(turn_file());
    let file = opened.expect("a file in the temporary folder");
    file.lock().expect("a file that can be locked");
    file.set_len(0).expect("a file that can be emptied");
    file
}

fn turn_file() -> PathBuf {
    std::env::temp_dir().join(format!("{}.lock", name()))
}

/// Runs `body` in a process that has a JACK server for itself, with `period` frames a block.
///
/// The name of the server can only come from the environment, and changing one's own is not safe: so the test binary
/// runs the test named `test` once more as a child process, in which this function calls `body`.
pub fn with_server(test: &str, period: u32, body: impl FnOnce()) {
    with_server_for(test, period, LONGEST_TEST, body);
}

/// [`with_server`] for a test that may take as long as `limit`.
pub fn with_server_for(test: &str, period: u32, limit: Duration, body: impl FnOnce()) {
    if is_inside(test) {
        wait_until_it_answers();
        return body();
    }
    let mut server = JackServer::start(period);
    let mut inside = start_inside(test, |command| {
        server.environment(command);
    });
    // A server that was killed is no process any more: while it is, no other one gets its name.
    let mut reap = || drop(server.child.try_wait());
    let ended = wait_and(&mut inside, limit, &mut reap);
    end_inside(test, inside, ended);
}

/// Runs `body` in a process for which there is no JACK server.
pub fn without_server(test: &str, body: impl FnOnce()) {
    if is_inside(test) {
        return body();
    }
    let mut inside = start_inside(test, |command| {
        let nobody = format!("leadsman-nobody-{}", std::process::id());
        command.env("JACK_DEFAULT_SERVER", nobody);
    });
    let ended = wait(&mut inside, LONGEST_TEST);
    end_inside(test, inside, ended);
}

fn is_inside(test: &str) -> bool {
    std::env::var(INSIDE).is_ok_and(|inside| inside == test)
}

fn start_inside(test: &str, environment: impl FnOnce(&mut Command)) -> Child {
    let mut command = Command::new(std::env::current_exe().expect("a test has a path"));
    command
        .args(["--exact", test, "--nocapture", "--include-ignored"])
        .env(INSIDE, test);
    environment(&mut command);
    command.spawn().expect("the test binary runs")
}

fn end_inside(test: &str, mut child: Child, ended: Option<bool>) {
    match ended {
        Some(passed) => assert!(passed, "{test} failed inside its server; see above"),
        None => {
            let _ = child.kill();
            let _ = child.wait();
            panic!("{test} hangs");
        }
    }
}

/// Stops the server around this process.
pub fn stop_server() {
    send_server("-TERM");
}

/// Kills the server around this process: it cleans nothing up and tells nobody.
pub fn kill_server() {
    send_server("-KILL");
}

fn send_server(signal: &str) {
    fs::write(turn_file(), "stopped").expect("the file of the turn");
    let pid = std::env::var(SERVER_PID).expect("inside with_server");
    let _ = Command::new("kill").args([signal, &pid]).status();
}

fn wait_until_it_answers() {
    jack::set_logger(jack::LoggerType::None);
    let start = Instant::now();
    while jack::Client::new("knock", jack::ClientOptions::NO_START_SERVER).is_err() {
        assert!(
            start.elapsed() < Duration::from_secs(20),
            "jackd does not answer"
        );
        sleep(Duration::from_millis(50));
    }
}

fn terminate(pid: u32) {
    let _ = Command::new("kill").arg(pid.to_string()).status();
}

/// Whether the process succeeded, or `None` when it still runs after `limit`.
fn wait(child: &mut Child, limit: Duration) -> Option<bool> {
    wait_and(child, limit, &mut || ())
}

/// The same, with something to be done meanwhile.
fn wait_and(child: &mut Child, limit: Duration, meanwhile: &mut dyn FnMut()) -> Option<bool> {
    let start = Instant::now();
    while start.elapsed() < limit {
        if let Ok(Some(status)) = child.try_wait() {
            return Some(status.success());
        }
        meanwhile();
        sleep(Duration::from_millis(20));
    }
    None
}
