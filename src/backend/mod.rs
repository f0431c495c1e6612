//! Where sound goes out and MIDI comes in: two real backends and virtual ones behind one small trait.
//!
//! A [`Session`] is one open connection. Its audio callback calls a [`Render`]; its MIDI callback pushes into a ring;
//! the judging thread drains the ring with [`Session::poll`] and gets every event in **stream time**:
//! [`Nanos`] since frame 0 of the audio stream was heard. A click whose first sample is frame `f` and a note that
//! is struck exactly when that sample is heard have the same stream time `f / sample rate`.
//!
//! Callbacks never allocate, lock, log or wait; they meet the judging thread at bounded rings only, and a full ring
//! is counted in [`Counters::overflows`].

use crate::clock::glitch::Glitch;
use crate::played::TimedMessage;
use crate::units::Nanos;
use std::time::Duration;

pub mod error;
pub mod intake;
#[cfg(feature = "jack")]
pub mod jack;
pub mod link;
#[cfg(feature = "native")]
pub mod native;
pub mod port_choice;
pub mod ring;
pub mod scripted;
pub mod silent;
pub mod virtual_time;

pub use crate::click::Render;
pub use crate::clock::order;
pub use error::{OpenError, SessionLost};

/// Which way out and in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Backend {
    /// The system's own sound and MIDI: ALSA, CoreMIDI and CoreAudio, WinMM and WASAPI (feature `native`).
    Native,
    /// JACK, or PipeWire through it (feature `jack`).
    Jack,
    /// No sound and no MIDI input, in real time.
    Silent,
    /// No sound and no MIDI input, as fast as it is polled.
    Virtual,
}

/// What to open.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Config {
    /// Where notes come from.
    pub midi: MidiChoice,
    /// Part of an audio output's name in any case; absent: the system's default.
    pub audio: Option<String>,
    /// Frames a second; absent, or not to be had: as the device prefers. JACK's server decides alone.
    pub sample_rate: Option<u32>,
    /// Frames a block; absent, or not to be had: as the device prefers. JACK's server decides alone. What came of it:
    /// [`Session::period`].
    pub period: Option<u32>,
    /// How long the MIDI input may be away before the session is lost; absent: [`link::PATIENCE`]; for good with
    /// [`Duration::MAX`].
    pub patience: Option<Duration>,
}

/// Where notes come from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum MidiChoice {
    /// The only MIDI input there is, "Through" ports not counted.
    #[default]
    Only,
    /// The one with this part of a name, in any case.
    Named(String),
    /// Nowhere: a stand-in plays.
    Absent,
}

/// An open connection. Dropping it closes it.
pub trait Session: Send {
    /// Frames a second of the audio stream.
    fn sample_rate(&self) -> u32;

    /// What is connected, for the player to read: "Bass converter → Headphones, 48000 Hz, 64 frames".
    fn description(&self) -> String;

    /// The names of what is connected, where both a MIDI port and an audio output are; the same from day to day.
    fn connected(&self) -> Option<Connected> {
        None
    }

    /// Hands every event that has come in since the last call to `sink`, in order of time, and says how far the
    /// stream is. Called by one thread about every millisecond; never waits, and does not allocate after the first calls.
    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost>;

    /// Whether the MIDI input was there at the last poll. When it goes, its notes end; it is connected again by itself
    /// when it comes back.
    fn input(&self) -> Input {
        Input::Here
    }

    /// Has the stand-in play this, in stream time, in place of what is left of its last script. A session that has none
    /// plays nothing.
    fn perform(&mut self, _script: Vec<TimedMessage>) {}

    /// How long a sound takes from the audio callback to the ear, as far as the system knows; `None` where nothing is
    /// heard, or before the first poll.
    fn output_delay(&self) -> Option<Nanos> {
        None
    }

    /// Frames a block that are really in use, whatever was asked for in [`Config::period`]; `None` where that is not known
    /// or nothing is heard. It may change while a session is open: a server's setting, another device.
    fn period(&self) -> Option<u32> {
        None
    }

    /// Whether an instrument is connected, or what stands for one.
    fn has_port(&self) -> bool {
        false
    }

    /// Whether notes may come over a MIDI cable, on which a message of 3 bytes takes 0.96 ms (31.25 kBd, 10 bits a
    /// byte: IEC 63035:2017).
    fn has_cable(&self) -> bool {
        false
    }
}

/// The names of the ports of a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Connected {
    /// Where notes come from.
    pub midi: String,
    /// Where the click goes to.
    pub audio: String,
}

/// Whether the MIDI input is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// It is, or none is wanted.
    Here,
    /// It was unplugged, or its program has ended.
    Away,
}

/// Ends every note of every channel at `at`: nothing else will, when the input has gone.
#[cfg(any(feature = "native", feature = "jack"))]
fn end_all_notes(at: Nanos, sink: &mut dyn FnMut(TimedMessage)) {
    for channel in 0..16 {
        let message = crate::played::MidiMessage::AllNotesOff { channel };
        sink(TimedMessage { at, message });
    }
}

impl<S: Session + ?Sized> Session for Box<S> {
    fn sample_rate(&self) -> u32 {
        (**self).sample_rate()
    }

    fn description(&self) -> String {
        (**self).description()
    }

    fn connected(&self) -> Option<Connected> {
        (**self).connected()
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        (**self).poll(sink)
    }

    fn input(&self) -> Input {
        (**self).input()
    }

    fn perform(&mut self, script: Vec<TimedMessage>) {
        (**self).perform(script);
    }

    fn output_delay(&self) -> Option<Nanos> {
        (**self).output_delay()
    }

    fn period(&self) -> Option<u32> {
        (**self).period()
    }

    fn has_port(&self) -> bool {
        (**self).has_port()
    }

    fn has_cable(&self) -> bool {
        (**self).has_cable()
    }
}

/// How far the stream is after a [`Session::poll`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Poll {
    /// No event of a later poll is earlier than this, in stream time. It never goes back.
    pub watermark: Nanos,
    /// What is being heard, as far as is known: for showing, not for judging.
    pub now: Nanos,
    /// What went wrong so far.
    pub counters: Counters,
    /// How well the fitted clocks knew the times of the events so far, root mean square of one standard deviation
    /// each; 0 where frames are exact.
    pub residual: Nanos,
    /// A stretch of stream time, noticed since the last poll, in which times are in doubt. It may reach back behind
    /// watermarks already given out: not everything is noticed at once.
    pub glitch: Option<Glitch>,
}

impl Poll {
    /// A stream without a clock of its own to fit, in which nothing can go wrong, is so far.
    fn exact(watermark: Nanos) -> Poll {
        Poll {
            watermark,
            now: watermark,
            counters: Counters::default(),
            residual: Nanos::ZERO,
            glitch: None,
        }
    }
}

/// What went wrong since the session was opened, without ending it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Audio blocks that came too late (xruns).
    pub xruns: u64,
    /// Events that were lost because a ring was full.
    pub overflows: u64,
    /// Events whose time was moved up because it was before a watermark already given out.
    pub moved: u64,
}

impl Counters {
    /// What went wrong since these were read.
    pub fn since(self, before: Counters) -> Counters {
        Counters {
            xruns: self.xruns - before.xruns,
            overflows: self.overflows - before.overflows,
            moved: self.moved - before.moved,
        }
    }
}

/// What could be connected.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ports {
    /// Names of the MIDI inputs.
    pub midi_inputs: Vec<String>,
    /// Names of the audio outputs.
    pub audio_outputs: Vec<String>,
    /// What is missing and what to do about it, one sentence an entry.
    pub missing: Vec<String>,
}

impl Backend {
    /// The backends that this build has, the preferred one first.
    pub fn built() -> &'static [Backend] {
        &[
            #[cfg(feature = "native")]
            Backend::Native,
            #[cfg(feature = "jack")]
            Backend::Jack,
            Backend::Silent,
            Backend::Virtual,
        ]
    }

    /// The word for it on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Backend::Native => "native",
            Backend::Jack => "jack",
            Backend::Silent => "silent",
            Backend::Virtual => "virtual",
        }
    }

    /// Opens a session that plays `render`.
    pub fn open(
        self,
        config: &Config,
        render: Box<dyn Render>,
    ) -> Result<Box<dyn Session>, OpenError> {
        match self {
            #[cfg(feature = "native")]
            Backend::Native => Ok(Box::new(native::NativeSession::open(config, render)?)),
            #[cfg(feature = "jack")]
            Backend::Jack => Ok(Box::new(jack::JackSession::open(config, render)?)),
            Backend::Silent => Ok(Box::new(silent::SilentSession::open(config, render))),
            Backend::Virtual => Ok(Box::new(virtual_time::VirtualSession::open(config, render))),
            #[cfg(not(all(feature = "native", feature = "jack")))]
            other => Err(OpenError::NotBuilt(other.name())),
        }
    }

    /// What could be connected now.
    pub fn ports(self) -> Result<Ports, OpenError> {
        match self {
            #[cfg(feature = "native")]
            Backend::Native => Ok(native::ports()),
            #[cfg(feature = "jack")]
            Backend::Jack => jack::ports(),
            Backend::Silent | Backend::Virtual => Ok(Ports::default()),
            #[cfg(not(all(feature = "native", feature = "jack")))]
            other => Err(OpenError::NotBuilt(other.name())),
        }
    }
}
