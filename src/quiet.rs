//! C libraries print to standard error whatever happens to them; the player is told once, in our own words, and the
//! libraries' go to a log.

/// Standard error goes to the log in leadsman's state folder (or nowhere, if that cannot be written) while this lives.
/// Not for times when messages of ours are printed.
#[cfg(unix)]
#[derive(Debug)]
pub struct Quiet {
    /// What standard error was; `None` where it could not be redirected.
    saved: Option<std::os::fd::OwnedFd>,
}

#[cfg(unix)]
impl Quiet {
    /// From here on.
    pub fn start() -> Quiet {
        use rustix::stdio::{dup2_stderr, stderr};
        let saved = rustix::io::dup(stderr()).ok();
        let saved = saved.filter(|_| log().is_some_and(|log| dup2_stderr(&log).is_ok()));
        Quiet { saved }
    }
}

#[cfg(unix)]
impl Drop for Quiet {
    fn drop(&mut self) {
        if let Some(saved) = &self.saved {
            // It was standard error a moment ago; there is nobody to tell if it cannot be again.
            let _ = rustix::stdio::dup2_stderr(saved);
        }
    }
}

/// Elsewhere the libraries keep to themselves.
#[cfg(not(unix))]
#[derive(Debug)]
pub struct Quiet {}

#[cfg(not(unix))]
impl Quiet {
    /// From here on.
    pub fn start() -> Quiet {
        Quiet {}
    }
}

/// Runs `work` in quiet.
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    let _quiet = Quiet::start();
    work()
}

#[cfg(unix)]
fn log() -> Option<std::fs::File> {
    use etcetera::BaseStrategy;
    use std::fs::OpenOptions;
    let own = etcetera::choose_base_strategy().ok().and_then(|folders| {
        let folder = folders.state_dir()?.join("leadsman");
        std::fs::create_dir_all(&folder).ok()?;
        OpenOptions::new()
            .create(true)
            .append(true)
            .open(folder.join("libraries.log"))
            .ok()
    });
    own.or_else(|| OpenOptions::new().write(true).open("/dev/null").ok())
}
