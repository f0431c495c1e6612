//! Keeps a MIDI input connected: looks at the list of ports, which is all that a driver offers, drops the connection when
//! the port has gone and makes a new one when it is back.
//!
//! It works on a thread of its own, because opening a port takes as long as it takes. Each connection has a ring of its
//! own, whose receiving end is handed to the session.

use crate::backend::Input;
use crate::backend::link::{Link, Seen};
use crossbeam_channel::{Receiver, Sender, bounded};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

const EVERY: Duration = Duration::from_millis(500);

/// The system's MIDI inputs.
pub trait Inputs: Send + 'static {
    /// An open connection; closed by being dropped.
    type Connection: Send;
    /// Where its events come out.
    type Events: Send;

    /// The names of all inputs; `None` when the list cannot be read, which tells nothing about a port.
    fn names(&mut self) -> Option<Vec<String>>;

    /// Connects the input of a name, if it can be.
    fn connect(&mut self, name: &str) -> Option<(Self::Connection, Self::Events)>;
}

/// What became of the input since the last look.
#[derive(Debug, PartialEq, Eq)]
pub enum Change<E> {
    /// Nothing.
    None,
    /// It has gone.
    Left,
    /// It is back, and its events come out here.
    Back(E),
    /// It was away for too long.
    GivenUp,
}

/// Watches one port until it is dropped.
pub struct PortWatch<I: Inputs> {
    state: Arc<State>,
    new_events: Receiver<I::Events>,
    thread: Option<JoinHandle<()>>,
    input: Input,
}

#[derive(Default)]
struct State {
    is_away: AtomicBool,
    is_given_up: AtomicBool,
    stop: AtomicBool,
}

struct Watching<I: Inputs> {
    inputs: I,
    connection: Option<I::Connection>,
    link: Link,
    state: Arc<State>,
    events: Sender<I::Events>,
    /// The other end: what the session has not taken yet is out of date when there is something newer.
    stale: Receiver<I::Events>,
}

impl<I: Inputs> PortWatch<I> {
    /// Watches over a connection to the port of a name, which may be away for as long as `patience`.
    pub fn start(
        inputs: I,
        connection: I::Connection,
        name: String,
        patience: Duration,
    ) -> PortWatch<I> {
        PortWatch::every(EVERY, inputs, connection, Link::new(name, patience))
    }

    fn every(every: Duration, inputs: I, connection: I::Connection, link: Link) -> PortWatch<I> {
        let state = Arc::new(State::default());
        let (events, new_events) = bounded(1);
        let mut watching = Watching {
            inputs,
            connection: Some(connection),
            link,
            state: Arc::clone(&state),
            events,
            stale: new_events.clone(),
        };
        let begun = Instant::now();
        let watch = move || {
            while !watching.state.stop.load(Ordering::Acquire) && watching.look(begun.elapsed()) {
                rest(every, &watching.state.stop);
            }
        };
        let thread = thread::Builder::new()
            .name("leadsman-ports".into())
            .spawn(watch)
            .ok();
        PortWatch {
            state,
            new_events,
            thread,
            input: Input::Here,
        }
    }

    /// Whether the input was there at the last look.
    pub fn input(&self) -> Input {
        self.input
    }

    /// What became of it since the last look. Never waits. Every return is preceded by a departure.
    pub fn look(&mut self) -> Change<I::Events> {
        if self.state.is_given_up.load(Ordering::Acquire) {
            return Change::GivenUp;
        }
        let is_back = !self.new_events.is_empty();
        if self.input == Input::Here && (is_back || self.state.is_away.load(Ordering::Acquire)) {
            self.input = Input::Away;
            return Change::Left;
        }
        match self.new_events.try_recv() {
            Ok(events) => {
                self.input = Input::Here;
                Change::Back(events)
            }
            Err(_) => Change::None,
        }
    }
}

impl<I: Inputs> Watching<I> {
    /// One look; whether there is anything left to watch.
    fn look(&mut self, now: Duration) -> bool {
        let Some(names) = self.inputs.names() else {
            return true;
        };
        match self.link.look(&names, now) {
            Seen::Same => {}
            Seen::Left => {
                self.connection = None;
                self.state.is_away.store(true, Ordering::Release);
            }
            Seen::Returned(index) => {
                if let Some((connection, events)) = self.inputs.connect(&names[index]) {
                    self.connection = Some(connection);
                    self.link.connected(names[index].clone());
                    self.state.is_away.store(false, Ordering::Release);
                    let _ = self.stale.try_recv();
                    let _ = self.events.try_send(events);
                }
            }
            Seen::GivenUp => {
                self.state.is_given_up.store(true, Ordering::Release);
                return false;
            }
        }
        true
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

impl<I: Inputs> Drop for PortWatch<I> {
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
    use std::sync::Mutex;

    /// A system whose list of ports the test writes. A connection is known by its number.
    #[derive(Clone, Default)]
    struct Desk {
        names: Arc<Mutex<Option<Vec<String>>>>,
        refuses: Arc<AtomicBool>,
        open: Arc<Mutex<Vec<String>>>,
    }

    struct Plug {
        name: String,
        open: Arc<Mutex<Vec<String>>>,
    }

    impl Drop for Plug {
        fn drop(&mut self) {
            let mut open = self.open.lock().unwrap();
            open.retain(|name| *name != self.name);
        }
    }

    impl Desk {
        fn lists(&self, names: &[&str]) {
            let names = names.iter().map(|name| (*name).to_string()).collect();
            *self.names.lock().unwrap() = Some(names);
        }

        fn plug(&self, name: &str) -> Plug {
            self.open.lock().unwrap().push(name.into());
            Plug {
                name: name.into(),
                open: Arc::clone(&self.open),
            }
        }

        fn open(&self) -> Vec<String> {
            self.open.lock().unwrap().clone()
        }

        fn watch(&self, patience: Duration) -> PortWatch<Desk> {
            let link = Link::new("Bass 20:0".into(), patience);
            PortWatch::every(Duration::ZERO, self.clone(), self.plug("Bass 20:0"), link)
        }
    }

    impl Inputs for Desk {
        type Connection = Plug;
        type Events = String;

        fn names(&mut self) -> Option<Vec<String>> {
            self.names.lock().unwrap().clone()
        }

        fn connect(&mut self, name: &str) -> Option<(Plug, String)> {
            let refuses = self.refuses.load(Ordering::Acquire);
            (!refuses).then(|| (self.plug(name), format!("events of {name}")))
        }
    }

    fn next_change(watch: &mut PortWatch<Desk>) -> Change<String> {
        loop {
            match watch.look() {
                Change::None => thread::yield_now(),
                change => return change,
            }
        }
    }

    #[test]
    fn a_port_that_comes_back_is_connected_under_its_new_number() {
        let desk = Desk::default();
        let mut watch = desk.watch(Duration::from_secs(1_000_000));
        for number in 21..30 {
            let name = format!("Bass {number}:0");
            desk.lists(&["Keys 24:0"]);
            assert_eq!(next_change(&mut watch), Change::Left);
            assert_eq!(watch.input(), Input::Away);
            desk.lists(&["Keys 24:0", &name]);
            let back = Change::Back(format!("events of {name}"));
            assert_eq!(next_change(&mut watch), back);
            assert_eq!((watch.input(), desk.open()), (Input::Here, vec![name]));
        }
        drop(watch);
        assert_eq!(desk.open(), Vec::<String>::new());
    }

    #[test]
    fn a_port_that_cannot_be_opened_yet_is_tried_again() {
        let desk = Desk::default();
        let mut watch = desk.watch(Duration::from_secs(1_000_000));
        desk.refuses.store(true, Ordering::Release);
        desk.lists(&[]);
        assert_eq!(next_change(&mut watch), Change::Left);
        desk.lists(&["Bass 28:0"]);
        (0..1000).for_each(|_| assert_eq!(watch.look(), Change::None));
        desk.refuses.store(false, Ordering::Release);
        assert!(matches!(next_change(&mut watch), Change::Back(_)));
    }

    #[test]
    fn a_port_that_stays_away_is_given_up() {
        let desk = Desk::default();
        let mut watch = desk.watch(Duration::from_millis(20));
        desk.lists(&["Keys 24:0"]);
        assert_eq!(next_change(&mut watch), Change::Left);
        assert_eq!(next_change(&mut watch), Change::GivenUp);
        assert_eq!(next_change(&mut watch), Change::GivenUp);
    }

    #[test]
    fn a_departure_that_nobody_looked_at_is_told_before_the_return() {
        let desk = Desk::default();
        let mut watch = desk.watch(Duration::from_secs(1_000_000));
        desk.lists(&[]);
        while !watch.state.is_away.load(Ordering::Acquire) {
            thread::yield_now();
        }
        desk.lists(&["Bass 28:0"]);
        while watch.new_events.is_empty() {
            thread::yield_now();
        }
        assert_eq!(watch.look(), Change::Left);
        assert!(matches!(watch.look(), Change::Back(_)));
        assert_eq!(watch.look(), Change::None);
    }

    #[test]
    fn a_watch_ends_when_it_is_dropped() {
        let desk = Desk::default();
        let link = Link::new("Bass 20:0".into(), Duration::from_secs(60));
        let every = Duration::from_secs(1_000_000);
        let mut watch = PortWatch::every(every, desk.clone(), desk.plug("Bass 20:0"), link);
        assert_eq!(watch.look(), Change::None);
        drop(watch);
    }
}
