//! The system's own MIDI and sound: midir and cpal, whose three clocks are brought to one.
//!
//! Host time is nanoseconds since the session was opened, on [`Instant`]. Each MIDI event is brought to it by the
//! [`Envelope`] of its port's stamps, and each audio block by the delay that the driver reports; [`Dll`] then says
//! which frame is heard at a host time. cpal's and midir's own times are used as differences only.

mod audio;
mod midi;
mod port_watch;

use super::intake::Stamped;
use super::order::Order;
use super::ring::RingReceiver;
use super::{Config, Counters, OpenError, Poll, Ports, Render, Session, SessionLost};
use crate::clock::dll::Dll;
use crate::clock::envelope::Envelope;
use crate::played::TimedMessage;
use crate::units::Nanos;
use audio::AudioOutput;
use midi::{MidiIn, PortTime};
use std::time::{Duration, Instant};

/// No event is later than this behind the clock; one that is is moved, and counted.
const LATEST_ARRIVAL: Nanos = Nanos::from_ms(20);
/// An audio device that asks for no block for this long is gone.
const PATIENCE: Duration = Duration::from_secs(2);

/// An open MIDI input (or none) and audio output.
pub struct NativeSession {
    audio: AudioOutput,
    midi: Option<MidiIn>,
    epoch: Instant,
    dll: Dll,
    envelope: Envelope,
    order: Order,
    last_block: Nanos,
}

impl NativeSession {
    /// Opens both and waits for the first block of sound.
    pub fn open(config: &Config, render: Box<dyn Render>) -> Result<NativeSession, OpenError> {
        let epoch = Instant::now();
        // The MIDI input first: it fails faster, and notes before the first block are dropped below.
        let midi = MidiIn::open(&config.midi, epoch)?;
        let audio = AudioOutput::open(config, render, epoch)?;
        let mut session = NativeSession {
            dll: Dll::new(audio.sample_rate()),
            audio,
            midi,
            epoch,
            envelope: Envelope::new(),
            order: Order::new(),
            last_block: host_now(epoch),
        };
        session.drop_early_events();
        Ok(session)
    }

    fn drop_early_events(&mut self) {
        if let Some(midi) = &mut self.midi {
            while let Some(Stamped { stamp, .. }) = midi.events().receive() {
                self.envelope.happened(stamp.stamp, stamp.arrival);
            }
        }
    }

    fn take_blocks(&mut self) {
        if self.audio.shared().take_break() {
            self.dll.restart();
        }
        while let Some(block) = self.audio.blocks().receive() {
            self.dll.update(block.frame, block.frames, block.heard);
            self.last_block = block.called;
        }
    }

    fn take_events(&mut self, sink: &mut dyn FnMut(TimedMessage)) {
        let Some(midi) = &mut self.midi else { return };
        while let Some(Stamped { stamp, message }) = midi.events().receive() {
            let happened = self.envelope.happened(stamp.stamp, stamp.arrival);
            // Without a fit (an xrun a moment ago) the event keeps its place in the order.
            let at = self.dll.stream_time(happened).unwrap_or(Nanos(i64::MIN));
            let at = self.order.place(at);
            sink(TimedMessage { at, message });
        }
    }

    fn check(&self, now: Nanos) -> Result<(), SessionLost> {
        let silent_for = Duration::from_nanos((now - self.last_block).0.max(0).unsigned_abs());
        if self.audio.shared().is_lost() || silent_for > PATIENCE {
            return Err(SessionLost::AudioOutput(self.audio.name().into()));
        }
        match &self.midi {
            Some(midi) if midi.is_lost() => Err(SessionLost::MidiInput(midi.name().into())),
            _ => Ok(()),
        }
    }

    fn counters(&self) -> Counters {
        let events = self.midi.as_ref().map_or(0, MidiIn::overflows);
        Counters {
            xruns: self.audio.shared().xruns(),
            overflows: events,
            moved: self.order.moved(),
        }
    }
}

impl Session for NativeSession {
    fn sample_rate(&self) -> u32 {
        self.audio.sample_rate()
    }

    fn description(&self) -> String {
        let input = self.midi.as_ref().map_or("no MIDI input", MidiIn::name);
        let (output, rate) = (self.audio.name(), self.audio.sample_rate());
        format!("{input} → {output}, {rate} Hz")
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let now = host_now(self.epoch);
        self.take_blocks();
        self.take_events(sink);
        self.check(now)?;
        let settled = self.dll.stream_time(now - LATEST_ARRIVAL);
        Ok(Poll {
            watermark: self.order.promise(settled.unwrap_or(Nanos(i64::MIN))),
            counters: self.counters(),
            residual: self.dll.residual(),
        })
    }
}

fn host_now(epoch: Instant) -> Nanos {
    Nanos(i64::try_from(epoch.elapsed().as_nanos()).unwrap_or(i64::MAX))
}

/// What could be connected now.
pub fn ports() -> Ports {
    let mut missing = Vec::new();
    let midi_inputs = midi::names().unwrap_or_else(|error| {
        missing.push(format!("The system's MIDI cannot be used: {error}."));
        Vec::new()
    });
    if midi_inputs.is_empty() {
        missing.push(format!("There is no MIDI input: {}.", midi::WHEN_NONE));
    }
    let audio_outputs = audio::names();
    if audio_outputs.is_empty() {
        missing.push(format!("There is no audio output: {}.", audio::WHEN_NONE));
    }
    Ports {
        midi_inputs,
        audio_outputs,
        missing,
    }
}

/// The ends of the rings that the callbacks of this backend fill.
type Events = RingReceiver<Stamped<PortTime>>;
