//! A real terminal of the test's own: a shell in tmux, typed to and read as a player would.

use std::path::Path;
use std::process::{Command, Output};
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// So long a test waits for something to be seen.
const PATIENCE: Duration = Duration::from_secs(20);
/// What the shell says when it waits for a command.
pub const PROMPT: &str = "ready> ";

static NEXT: AtomicU32 = AtomicU32::new(0);

/// A terminal, on a tmux server of its own. The server is ended when this is dropped.
pub struct Tmux {
    socket: String,
    /// Where the socket is.
    sockets: TempDir,
}

impl Tmux {
    /// Starts a shell in `folder`, in a terminal of so many columns and rows, with these variables besides the test's own;
    /// waits for its prompt.
    pub fn start(folder: &Path, size: (u16, u16), environment: &[(&str, &str)]) -> Tmux {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let tmux = Tmux {
            socket: format!("leadsman-{}-{number}", std::process::id()),
            sockets: tempfile::tempdir().expect("a folder"),
        };
        let (width, height) = (size.0.to_string(), size.1.to_string());
        let mut command = tmux.command();
        command.args(["-f", "/dev/null", "new-session", "-d"]);
        command.args(["-x", &width, "-y", &height]);
        command.arg("-c").arg(folder);
        command.args(["env", "-u", "TMUX", "ENV=", &format!("PS1={PROMPT}")]);
        command.args(
            environment
                .iter()
                .map(|(name, value)| format!("{name}={value}")),
        );
        command.args(["sh", "-i", ";", "set", "-g", "status", "off"]);
        command.args([";", "set", "-g", "window-size", "manual"]);
        done(&mut command);
        tmux.resize(size);
        tmux.wait_for("a prompt", |screen| screen.contains(PROMPT.trim()));
        tmux
    }

    fn command(&self) -> Command {
        let mut command = Command::new("tmux");
        command
            .env("TMUX_TMPDIR", self.sockets.path())
            .env("LC_ALL", "C.UTF-8")
            .args(["-u", "-L", &self.socket]);
        command
    }

    fn tell(&self, words: &[&str]) -> String {
        let output = done(self.command().args(words));
        String::from_utf8(output.stdout).expect("UTF-8")
    }

    /// Presses keys one after the other, by tmux's names: `q`, `Space`, `Escape`, `C-c`, `Up`.
    pub fn press(&self, keys: &[&str]) {
        let mut words = vec!["send-keys", "--"];
        words.extend(keys);
        self.tell(&words);
    }

    /// Types a line, and Enter.
    pub fn enter(&self, line: &str) {
        self.tell(&["send-keys", "-l", "--", line]);
        self.press(&["Enter"]);
    }

    /// What is on the screen, row by row, without the spaces at their ends.
    pub fn screen(&self) -> String {
        self.tell(&["capture-pane", "-p"])
    }

    /// The same with the bytes that give it colours.
    pub fn coloured(&self) -> String {
        self.tell(&["capture-pane", "-p", "-e"])
    }

    /// What was on the ordinary screen so far, the rows that have left it too; long lines in one piece.
    pub fn history(&self) -> String {
        self.tell(&["capture-pane", "-p", "-J", "-S", "-"])
    }

    /// Whether a program has put up a screen of its own in place of the ordinary one.
    pub fn is_screen_up(&self) -> bool {
        self.tell(&["display-message", "-p", "#{alternate_on}"])
            .trim()
            == "1"
    }

    /// Gives the terminal another size, columns and rows.
    pub fn resize(&self, (width, height): (u16, u16)) {
        let (width, height) = (width.to_string(), height.to_string());
        self.tell(&["resize-window", "-x", &width, "-y", &height]);
    }

    /// Waits until the screen is as it should be, and returns it.
    #[track_caller]
    pub fn wait_for(&self, what: &str, is_so: impl Fn(&str) -> bool) -> String {
        let begun = Instant::now();
        loop {
            let screen = self.screen();
            if is_so(&screen) {
                return screen;
            }
            assert!(begun.elapsed() < PATIENCE, "no {what} on:\n{screen}");
            sleep(Duration::from_millis(15));
        }
    }

    /// Waits until all of these are on the screen at once.
    #[track_caller]
    pub fn see(&self, texts: &[&str]) -> String {
        self.wait_for(&format!("{texts:?}"), |screen| {
            texts.iter().all(|text| screen.contains(text))
        })
    }
}

impl Drop for Tmux {
    fn drop(&mut self) {
        // Where it has ended by itself there is nothing to end.
        let _ = self.command().arg("kill-server").output();
    }
}

fn done(command: &mut Command) -> Output {
    let output = command.output().expect("tmux (package tmux) is installed");
    assert!(
        output.status.success(),
        "{command:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output
}
