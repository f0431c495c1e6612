//! The way in and out: one session, opened as often as it has to be.

use crate::backend::scripted::ScriptedSession;
use crate::backend::{Backend, Config, Session};
use crate::click::Level;
use crate::commands::Failure;
use crate::judge::settings::Latency;
use crate::latency::kept::Kept;
use crate::live::{Pace, Room, Stop, switch};
use crate::quiet::quietly;
use crate::report::latency::{NONE_KEPT, kept_line};

/// What is opened.
pub struct Door {
    /// Which sound and MIDI system.
    pub backend: Backend,
    /// Its ports.
    pub config: Config,
    /// Whether a stand-in plays.
    pub has_stand_in: bool,
    /// How time passes.
    pub pace: Pace,
    /// The latencies that are kept; absent: they do not matter here.
    pub kept: Option<Kept>,
}

/// A session that is open, and what there is to say about it.
pub struct Opened {
    /// Where takes are played.
    pub room: Room,
    /// What is connected, for the player to read.
    pub description: String,
    /// Whether an instrument is connected, and not a stand-in.
    pub has_port: bool,
    /// Whether there may be a MIDI cable.
    pub has_cable: bool,
    /// The latency that is kept for what is connected, and the line that says so.
    pub latency: Option<(Latency, String)>,
}

impl Door {
    /// Opens it, this loud. `stop` closes it again.
    pub fn open(&self, level: Level, stop: &Stop) -> Result<Opened, Failure> {
        let (switch, sound) = switch(level);
        let session = quietly(|| self.backend.open(&self.config, Box::new(switch)));
        let mut session: Box<dyn Session> = session.map_err(Failure::input)?;
        if self.has_stand_in {
            session = Box::new(ScriptedSession::new(session, Vec::new()));
        }
        Ok(Opened {
            description: session.description(),
            has_port: session.has_port(),
            has_cable: session.has_cable(),
            latency: self.latency(&*session),
            room: Room::open(session, sound, self.pace, stop.clone())?,
        })
    }

    fn latency(&self, session: &dyn Session) -> Option<(Latency, String)> {
        let kept = self.kept.as_ref()?;
        let connected = session.connected();
        let found = connected
            .as_ref()
            .and_then(|connected| kept.of(self.backend.name(), connected));
        Some(match found {
            Some(found) => (found.latency(), kept_line(found)),
            None => (Latency::default(), NONE_KEPT.to_string()),
        })
    }
}
