//! A JACK server of the test's own, on the dummy driver: no sound device, but paced in real time.

use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Which test a child process shall run inside its server's environment.
const INSIDE: &str = "LEADSMAN_TEST_INSIDE_JACK";
/// The process id of the server around a child process.
const SERVER_PID: &str = "LEADSMAN_TEST_JACK_PID";

/// A test inside a server may take this long: the truth test plays two thousand notes in real time, and may have to again.
const LONGEST_TEST: Duration = Duration::from_secs(900);
/// Servers of one test binary run one after the other: each wants the processor for itself.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
static NUMBER: AtomicU32 = AtomicU32::new(0);

/// A running `jackd` with a name of its own. It is stopped, by its process id, when this is dropped.
pub struct JackServer {
    name: String,
    child: Child,
    _turn: MutexGuard<'static, ()>,
}

impl JackServer {
    /// Starts `jackd -R -P 20 -n NAME -d dummy -r 48000 -p PERIOD`; it may take a moment until it answers.
    ///
    /// Where real-time scheduling is not allowed the server goes on without it and loses a block now and then.
    pub fn start(period: u32) -> JackServer {
        let turn = ONE_AT_A_TIME
            .lock()
            .unwrap_or_else(|failed| failed.into_inner());
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let name = format!("leadsman-test-{}-{number}", std::process::id());
        let child = Command::new("jackd")
            .args([
                "-R", "-P", "20", "-n", &name, "-d", "dummy", "-r", "48000", "-p",
            ])
            .arg(period.to_string())
            .env("JACK_NO_AUDIO_RESERVATION", "1")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("jackd (package jackd2) is installed");
        JackServer {
            name,
            child,
            _turn: turn,
        }
    }

    /// Makes `command` a client of this server.
    pub fn environment<'a>(&self, command: &'a mut Command) -> &'a mut Command {
        command
            .env("JACK_DEFAULT_SERVER", &self.name)
            .env("JACK_NO_START_SERVER", "1")
            .env(SERVER_PID, self.child.id().to_string())
    }
}

impl Drop for JackServer {
    fn drop(&mut self) {
        terminate(self.child.id());
        if wait(&mut self.child, Duration::from_secs(3)).is_none() {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

/// Runs `body` in a process that has a JACK server for itself, with `period` frames a block.
///
/// The name of the server can only come from the environment, and changing one's own is not safe: so the test binary
/// runs the test named `test` once more as a child process, in which this function calls `body`.
pub fn with_server(test: &str, period: u32, body: impl FnOnce()) {
    if is_inside(test) {
        wait_until_it_answers();
        return body();
    }
    let server = JackServer::start(period);
    run_inside(test, |command| {
        server.environment(command);
    });
}

/// Runs `body` in a process for which there is no JACK server.
pub fn without_server(test: &str, body: impl FnOnce()) {
    if is_inside(test) {
        return body();
    }
    run_inside(test, |command| {
        let nobody = format!("leadsman-nobody-{}", std::process::id());
        command.env("JACK_DEFAULT_SERVER", nobody);
    });
}

fn is_inside(test: &str) -> bool {
    std::env::var(INSIDE).is_ok_and(|inside| inside == test)
}

fn run_inside(test: &str, environment: impl FnOnce(&mut Command)) {
    let mut command = Command::new(std::env::current_exe().expect("a test has a path"));
    command
        .args(["--exact", test, "--nocapture"])
        .env(INSIDE, test);
    environment(&mut command);
    let mut child = command.spawn().expect("the test binary runs");
    match wait(&mut child, LONGEST_TEST) {
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
    let pid = std::env::var(SERVER_PID).expect("inside with_server");
    terminate(pid.parse().expect("a process id"));
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
    let start = Instant::now();
    while start.elapsed() < limit {
        if let Ok(Some(status)) = child.try_wait() {
            return Some(status.success());
        }
        sleep(Duration::from_millis(20));
    }
    None
}
