//! Notices that a MIDI port is gone, which no driver reports: looks at the list of ports every second.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

const EVERY: Duration = Duration::from_secs(1);

/// Watches one port, on a thread of its own, until it is dropped.
pub struct PortWatch {
    state: Arc<State>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Default)]
struct State {
    gone: AtomicBool,
    stop: AtomicBool,
}

impl PortWatch {
    /// Watches the port of that name in the system's list.
    pub fn start(name: String) -> PortWatch {
        PortWatch::over(EVERY, move || {
            // A list that cannot be read tells nothing about the port.
            super::midi::names().is_none_or(|names| names.contains(&name))
        })
    }

    fn over(every: Duration, mut is_there: impl FnMut() -> bool + Send + 'static) -> PortWatch {
        let state = Arc::new(State::default());
        let shared = Arc::clone(&state);
        let watch = move || {
            while !shared.stop.load(Ordering::Acquire) {
                if !is_there() {
                    shared.gone.store(true, Ordering::Release);
                    return;
                }
                rest(every, &shared.stop);
            }
        };
        let thread = thread::Builder::new()
            .name("leadsman-ports".into())
            .spawn(watch)
            .ok();
        PortWatch { state, thread }
    }

    /// Whether the port was missing once.
    pub fn is_gone(&self) -> bool {
        self.state.gone.load(Ordering::Acquire)
    }
}

/// Sleeps, but not past a stop.
fn rest(every: Duration, stop: &AtomicBool) {
    let start = Instant::now();
    while let Some(left) = every.checked_sub(start.elapsed()) {
        if stop.load(Ordering::Acquire) {
            return;
        }
        thread::park_timeout(left);
    }
}

impl Drop for PortWatch {
    fn drop(&mut self) {
        self.state.stop.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_leaves_the_list_is_gone() {
        let mut lists = [true, true, false].into_iter();
        let mut watch = PortWatch::over(Duration::ZERO, move || lists.next().unwrap());
        watch.thread.take().unwrap().join().unwrap();
        assert!(watch.is_gone());
    }

    #[test]
    fn a_watch_ends_when_it_is_dropped() {
        let watch = PortWatch::over(Duration::from_secs(1_000_000), || true);
        assert!(!watch.is_gone());
        drop(watch);
    }
}
