//! C libraries print to standard error whatever happens to them; the player is told once, in our own words, and the
//! libraries' go to a log.

/// Runs `work` with standard error sent to the log in leadsman's state folder (or nowhere, if that cannot be
/// written). Not for code that prints messages of ours.
#[cfg(unix)]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    use rustix::stdio::{dup2_stderr, stderr};
    let Ok(saved) = rustix::io::dup(stderr()) else {
        return work();
    };
    let redirected = log().is_some_and(|log| dup2_stderr(&log).is_ok());
    let result = work();
    if redirected {
        // It was standard error a moment ago; there is nobody to tell if it cannot be again.
        let _ = dup2_stderr(&saved);
    }
    result
}

/// Elsewhere the libraries keep to themselves.
#[cfg(not(unix))]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
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
