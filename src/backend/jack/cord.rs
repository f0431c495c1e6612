//! The cord from the player's port to ours: notices when it is pulled and plugs it in again when the port comes back.

use super::{Active, SessionLost, graph};
use crate::backend::Input;
use crate::backend::link::{Link, Seen};
use std::sync::Arc;
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How often the list of ports is looked at while the player's is away.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// See the module's head.
pub struct Cord {
    client: Arc<Active>,
    link: Link,
    /// Our own port's full name.
    notes: String,
    opened: Instant,
    next_look: Instant,
    plugging: Option<Plugging>,
}

/// A connection being made. Asking the server may take long (it may be dying), and the judging thread never waits.
struct Plugging {
    source: String,
    thread: JoinHandle<bool>,
}

impl Cord {
    /// A cord that is plugged in.
    pub fn new(client: Arc<Active>, source: String, notes: String, patience: Duration) -> Cord {
        let now = Instant::now();
        Cord {
            client,
            link: Link::new(source, patience),
            notes,
            opened: now,
            next_look: now,
            plugging: None,
        }
    }

    /// The player's port, by its full name.
    pub fn source(&self) -> &str {
        self.link.name()
    }

    /// Whether it is plugged in.
    pub fn input(&self) -> Input {
        self.link.input()
    }

    /// Looks whether anything has changed; costs nothing while the cord is plugged in and no port has left. An error
    /// when the port has been away for too long.
    pub fn look(&mut self, a_port_has_left: bool) -> Result<(), SessionLost> {
        match self.link.input() {
            Input::Here if a_port_has_left && !self.is_connected() => {
                self.link.cut(self.opened.elapsed());
                Ok(())
            }
            Input::Here => Ok(()),
            Input::Away => self.look_for_its_return(),
        }
    }

    /// A read of memory that the server shares.
    fn is_connected(&self) -> bool {
        let own = self.client.as_client().port_by_name(&self.notes);
        own.is_some_and(|own| own.is_connected_to(self.source()).unwrap_or(false))
    }

    fn look_for_its_return(&mut self) -> Result<(), SessionLost> {
        if let Some(plugging) = self.plugging.take_if(|p| p.thread.is_finished())
            && plugging.thread.join().unwrap_or(false)
        {
            self.link.connected(plugging.source);
            return Ok(());
        }
        if self.plugging.is_some() || Instant::now() < self.next_look {
            return Ok(());
        }
        self.next_look = Instant::now() + LOOK_EVERY;
        let mut names = graph::midi_names(self.client.as_client());
        match self.link.look(&names, self.opened.elapsed()) {
            Seen::Returned(index) => {
                self.plugging = Some(self.plug_in(names.swap_remove(index)));
                Ok(())
            }
            Seen::GivenUp => Err(SessionLost::MidiInput(self.source().into())),
            Seen::Same | Seen::Left => Ok(()),
        }
    }

    fn plug_in(&self, source: String) -> Plugging {
        let (client, from, to) = (Arc::clone(&self.client), source.clone(), self.notes.clone());
        let thread = thread::spawn(move || {
            let connected = client.as_client().connect_ports_by_name(&from, &to);
            matches!(
                connected,
                Ok(()) | Err(::jack::Error::PortAlreadyConnected(..))
            )
        });
        Plugging { source, thread }
    }
}
