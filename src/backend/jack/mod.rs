//! JACK, and PipeWire through it: one process callback for sound and MIDI, so no clock has to be guessed.
//!
//! An event's frame is `last_frame_time + event.time`. The graph's latencies are taken out: the event entered the
//! machine `capture` frames before JACK shows it, and a sample is heard `playback` frames after it is written.

mod cord;
mod graph;
mod process;

use super::intake::{Intake, Stamped};
use super::link::PATIENCE as AWAY;
use super::order::Order;
use super::ring::{RingReceiver, ring};
use super::{
    Config, Connected, Counters, Input, OpenError, Poll, Ports, Render, Session, SessionLost,
};
use crate::clock::frames::time_of;
use crate::clock::glitch::{Glitch, GlitchKind, Pending};
use crate::played::TimedMessage;
use crate::units::Nanos;
use ::jack::{AsyncClient, AudioOut, Client, ClientOptions, MidiIn};
use cord::Cord;
use process::{Ears, Gap, Outputs, Process, Shared, Watch};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Our name in the graph.
const CLIENT_NAME: &str = "leadsman";
/// A server that lets no block through for this long is gone. JACK's own time limit for a client is half a second.
const PATIENCE: Duration = Duration::from_secs(2);
/// The server may list a port for a while after it has told that the port leaves.
const LEAVING: Duration = Duration::from_secs(2);
/// Gaps between two polls.
const GAPS: usize = 256;

/// Our client, its callbacks running.
type Active = AsyncClient<Watch, Process>;

/// An open JACK client.
pub struct JackSession {
    // Dropped first: when the client is closed no callback runs any more.
    client: Arc<Active>,
    shared: Arc<Shared>,
    events: RingReceiver<Stamped<i64>>,
    gaps: RingReceiver<Gap>,
    glitches: Pending,
    overflows: u64,
    xruns: u64,
    order: Order,
    sample_rate: u32,
    cord: Option<Cord>,
    has_cable: bool,
    sinks: Vec<String>,
    progress: Progress,
    /// Until then a port that has said that it leaves may still be listed.
    suspect_until: Option<Instant>,
}

/// The full names of our own ports.
struct Names {
    left: String,
    right: String,
    notes: String,
}

/// When the stream was last seen to move on.
struct Progress {
    heard: i64,
    at: Instant,
}

impl JackSession {
    /// Opens a client, connects it and waits for its first block.
    pub fn open(config: &Config, mut render: Box<dyn Render>) -> Result<JackSession, OpenError> {
        let client = connect_to_server()?;
        let source = graph::midi_source(&client, &config.midi)?;
        let sinks = graph::audio_sinks(&client, config.audio.as_deref())?;
        let output = |name| {
            let port = client.register_port(name, AudioOut::default());
            port.map_err(refused)
        };
        let outputs = Outputs {
            left: output("left")?,
            right: output("right")?,
            ears: if sinks.len() == 1 {
                Ears::One
            } else {
                Ears::Two
            },
        };
        let notes = client
            .register_port("notes", MidiIn::default())
            .map_err(refused)?;
        let names = Names {
            left: outputs.left.name().map_err(refused)?,
            right: outputs.right.name().map_err(refused)?,
            notes: notes.name().map_err(refused)?,
        };
        let sample_rate = client.sample_rate();
        render.prepare(sample_rate);

        let shared = Arc::new(Shared::default());
        let (intake, events) = Intake::new();
        let (sender, gaps) = ring(GAPS);
        let process = Process::new(outputs, notes, render, intake, Arc::clone(&shared), sender);
        let has_cable = source
            .as_deref()
            .is_some_and(|name| graph::is_physical(&client, name));
        let client = client
            .activate_async(Watch::new(Arc::clone(&shared)), process)
            .map_err(refused)?;
        connect(client.as_client(), &names, source.as_deref(), &sinks)?;
        shared.start();
        let client = Arc::new(client);
        let patience = config.patience.unwrap_or(AWAY);
        let cord =
            source.map(|source| Cord::new(Arc::clone(&client), source, names.notes, patience));
        let mut session = JackSession {
            client,
            shared,
            events,
            gaps,
            glitches: Pending::default(),
            overflows: 0,
            xruns: 0,
            order: Order::new(),
            sample_rate,
            cord,
            has_cable,
            sinks,
            progress: Progress {
                heard: 0,
                at: Instant::now(),
            },
            suspect_until: None,
        };
        session.wait_for_first_block()?;
        Ok(session)
    }

    fn wait_for_first_block(&mut self) -> Result<(), OpenError> {
        while self.shared.heard().is_none() {
            if self.shared.is_shut_down() || self.progress.at.elapsed() > PATIENCE {
                return Err(OpenError::Server("it lets no block through".into()));
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        Ok(())
    }

    /// Frames left out, late blocks and lost events since the last poll, which was promised up to `before`.
    fn notice_glitches(&mut self, before: Nanos, heard: i64) {
        while let Some(Gap { from, until }) = self.gaps.receive() {
            self.glitches.add(Glitch {
                from: time_of(from, self.sample_rate),
                until: time_of(until, self.sample_rate),
                what: GlitchKind::Xrun,
            });
        }
        let now = time_of(heard, self.sample_rate);
        let xruns = self.shared.xruns();
        if xruns > self.xruns {
            // Told on a thread of its own, a block early or late; and not every server counts the frames that it lost.
            self.xruns = xruns;
            let period = i64::from(self.client.as_client().buffer_size());
            let margin = time_of(2 * period, self.sample_rate);
            self.glitches.add(Glitch {
                from: before - margin,
                until: now + margin,
                what: GlitchKind::Xrun,
            });
        }
        let overflows = self.events.overflows();
        if overflows > self.overflows {
            self.overflows = overflows;
            self.glitches.add(Glitch {
                from: before,
                until: now,
                what: GlitchKind::Lost,
            });
        }
    }

    fn place(&mut self, frame: i64) -> Nanos {
        let moved = self.order.moved();
        let at = self.order.place(time_of(frame, self.sample_rate));
        if self.order.moved() > moved {
            self.glitches.add(Glitch {
                from: at,
                until: at,
                what: GlitchKind::Moved,
            });
        }
        at
    }

    /// Whether something we need is gone.
    fn check(&mut self, heard: i64) -> Result<(), SessionLost> {
        if heard != self.progress.heard {
            self.progress = Progress {
                heard,
                at: Instant::now(),
            };
        }
        if self.shared.is_shut_down() || self.progress.at.elapsed() > PATIENCE {
            return Err(SessionLost::Server);
        }
        if self.shared.take_ports_left() {
            self.suspect_until = Some(Instant::now() + LEAVING);
        }
        match self.suspects() {
            true => self.check_sinks(),
            false => Ok(()),
        }
    }

    /// Whether a port has left a moment ago: it may still be listed.
    fn suspects(&self) -> bool {
        self.suspect_until
            .is_some_and(|until| Instant::now() < until)
    }

    fn check_sinks(&self) -> Result<(), SessionLost> {
        let is_gone = |name: &String| self.client.as_client().port_by_name(name).is_none();
        match self.sinks.first() {
            Some(first) if self.sinks.iter().all(is_gone) => {
                Err(SessionLost::AudioOutput(first.clone()))
            }
            _ => Ok(()),
        }
    }

    /// Looks after the player's port; when it has gone, ends its notes.
    fn mind_the_cord(
        &mut self,
        heard: i64,
        sink: &mut dyn FnMut(TimedMessage),
    ) -> Result<(), SessionLost> {
        let suspects = self.suspects();
        let Some(cord) = &mut self.cord else {
            return Ok(());
        };
        let was = cord.input();
        cord.look(suspects)?;
        if (was, cord.input()) == (Input::Here, Input::Away) {
            let at = self.order.place(time_of(heard, self.sample_rate));
            super::end_all_notes(at, sink);
        }
        Ok(())
    }
}

impl Session for JackSession {
    fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    fn description(&self) -> String {
        let source = self.cord.as_ref().map_or("no MIDI input", Cord::source);
        let sinks = if self.sinks.is_empty() {
            "no audio output".to_string()
        } else {
            self.sinks.join(", ")
        };
        let period = self.shared.period();
        format!(
            "JACK: {source} → {sinks}, {} Hz, {period} frames",
            self.sample_rate
        )
    }

    fn connected(&self) -> Option<Connected> {
        let source = self.cord.as_ref()?.source();
        Some(Connected {
            midi: graph::label(self.client.as_client(), source),
            audio: graph::client_of(self.sinks.first()?).to_string(),
        })
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        // Read before draining: what is pushed after it belongs to a later block.
        let heard = self.shared.heard().unwrap_or(self.progress.heard);
        while let Some(event) = self.events.receive() {
            let at = self.place(event.stamp);
            sink(TimedMessage {
                at,
                message: event.message,
            });
        }
        let before = self.order.promise(Nanos(i64::MIN));
        self.notice_glitches(before, heard);
        self.check(heard)?;
        self.mind_the_cord(heard, sink)?;
        let watermark = self.order.promise(time_of(heard, self.sample_rate));
        Ok(Poll {
            watermark,
            now: watermark,
            counters: Counters {
                xruns: self.xruns,
                overflows: self.overflows,
                moved: self.order.moved(),
            },
            residual: Nanos::ZERO,
            glitch: self.glitches.take(),
        })
    }

    fn input(&self) -> Input {
        self.cord.as_ref().map_or(Input::Here, Cord::input)
    }

    fn output_delay(&self) -> Option<Nanos> {
        self.sinks.first()?;
        Some(time_of(i64::from(self.shared.playback()), self.sample_rate))
    }

    /// The server's, which can be set while it runs.
    fn period(&self) -> Option<u32> {
        Some(self.shared.period()).filter(|period| *period > 0)
    }

    fn has_port(&self) -> bool {
        self.cord.is_some()
    }

    fn has_cable(&self) -> bool {
        self.has_cable
    }
}

/// What could be connected on the running server.
pub fn ports() -> Result<Ports, OpenError> {
    let client = connect_to_server()?;
    let (midi_inputs, audio_outputs) = (graph::midi_labels(&client), graph::sink_names(&client));
    let mut missing = Vec::new();
    if midi_inputs.is_empty() {
        missing.push(format!("There is no MIDI input: {}.", graph::NO_MIDI));
    }
    if audio_outputs.is_empty() {
        missing.push(format!("There is no audio output: {}.", graph::NO_AUDIO));
    }
    Ok(Ports {
        midi_inputs,
        audio_outputs,
        missing,
    })
}

fn connect_to_server() -> Result<Client, OpenError> {
    // The C library would print over the screen; every failure reaches the player as an error of ours.
    ::jack::set_logger(::jack::LoggerType::None);
    match Client::new(CLIENT_NAME, ClientOptions::NO_START_SERVER) {
        Ok((client, _)) => Ok(client),
        Err(::jack::Error::ClientError(_)) => Err(OpenError::ServerNotRunning),
        Err(::jack::Error::LibraryError(reason)) => Err(OpenError::NoJackLibrary(reason)),
        Err(error) => Err(refused(error)),
    }
}

/// Connects the player's port, and the sinks by turns to the left ear and to the right one.
fn connect(
    client: &Client,
    own: &Names,
    source: Option<&str>,
    sinks: &[String],
) -> Result<(), OpenError> {
    if let Some(source) = source {
        client
            .connect_ports_by_name(source, &own.notes)
            .map_err(refused)?;
    }
    for (sink, ear) in sinks
        .iter()
        .zip([&own.left, &own.right].into_iter().cycle())
    {
        client.connect_ports_by_name(ear, sink).map_err(refused)?;
    }
    Ok(())
}

fn refused(error: ::jack::Error) -> OpenError {
    OpenError::Server(error.to_string())
}
