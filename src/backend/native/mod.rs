//! The system's own MIDI and sound: midir and cpal, whose three clocks are brought to one.
//!
//! Host time is nanoseconds since the session was opened, on [`Instant`]. The [`Timebase`] brings MIDI stamps and audio
//! blocks to it, and both to stream time. cpal's and midir's own times are used as differences only.

mod audio;
mod midi;
mod port_watch;
mod stage;

use super::intake::Stamped;
use super::ring::RingReceiver;
use super::{
    Config, Connected, Counters, Input, OpenError, Poll, Ports, Render, Session, SessionLost,
};
use crate::clock::timebase::{PortTime, Timebase};
use crate::played::TimedMessage;
use crate::units::Nanos;
use audio::AudioOutput;
use midi::MidiIn;
use port_watch::Change;
use std::time::{Duration, Instant};

/// An audio device that asks for no block for this long is gone.
const PATIENCE: Duration = Duration::from_secs(2);

/// An open MIDI input (or none) and audio output.
pub struct NativeSession {
    audio: AudioOutput,
    midi: Option<MidiIn>,
    epoch: Instant,
    timebase: Timebase,
    last_block: Nanos,
    output_delay: Option<Nanos>,
    overflows: u64,
}

impl NativeSession {
    /// Opens both and waits for the first block of sound.
    pub fn open(config: &Config, render: Box<dyn Render>) -> Result<NativeSession, OpenError> {
        let epoch = Instant::now();
        // The MIDI input first: it fails faster, and notes before the first block are dropped below.
        let midi = MidiIn::open(config, epoch)?;
        let audio = AudioOutput::open(config, render, epoch)?;
        let mut session = NativeSession {
            timebase: Timebase::new(audio.sample_rate()),
            audio,
            midi,
            epoch,
            last_block: host_now(epoch),
            output_delay: None,
            overflows: 0,
        };
        session.drop_early_events();
        Ok(session)
    }

    fn drop_early_events(&mut self) {
        if let Some(midi) = &mut self.midi {
            while let Some(Stamped { stamp, .. }) = midi.events().receive() {
                self.timebase.learn(stamp);
            }
        }
    }

    fn take_blocks(&mut self) {
        if self.audio.shared().take_break() {
            self.timebase.break_stream();
        }
        while let Some(block) = self.audio.blocks().receive() {
            self.timebase.block(block.frame, block.frames, block.heard);
            self.last_block = block.called;
            self.output_delay = Some(block.heard - block.called);
        }
    }

    fn take_events(&mut self, sink: &mut dyn FnMut(TimedMessage)) {
        let Some(midi) = &mut self.midi else { return };
        while let Some(Stamped { stamp, message }) = midi.events().receive() {
            let at = self.timebase.event(stamp);
            sink(TimedMessage { at, message });
        }
    }

    fn notice_overflow(&mut self, now: Nanos) {
        let overflows = self.midi.as_ref().map_or(0, MidiIn::overflows);
        if overflows > self.overflows {
            self.overflows = overflows;
            self.timebase.lost_events(now);
        }
    }

    fn check(&self, now: Nanos) -> Result<(), SessionLost> {
        let silent_for = Duration::from_nanos((now - self.last_block).0.max(0).unsigned_abs());
        let is_silent = silent_for > PATIENCE && !self.audio.is_reopening();
        if self.audio.is_lost() || is_silent {
            return Err(SessionLost::AudioOutput(self.audio.name().into()));
        }
        Ok(())
    }

    /// Looks after the MIDI input; when it has gone, ends its notes.
    fn mind_the_input(
        &mut self,
        now: Nanos,
        sink: &mut dyn FnMut(TimedMessage),
    ) -> Result<(), SessionLost> {
        let Some(midi) = &mut self.midi else {
            return Ok(());
        };
        match midi.look() {
            Change::None => {}
            Change::Left => super::end_all_notes(self.timebase.promise(now), sink),
            Change::Back(()) => self.timebase.reconnect_port(),
            Change::GivenUp => return Err(SessionLost::MidiInput(midi.name().into())),
        }
        Ok(())
    }

    fn counters(&self) -> Counters {
        Counters {
            xruns: self.audio.shared().xruns(),
            overflows: self.overflows,
            moved: self.timebase.moved(),
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
        let block = match self.period() {
            Some(period) => format!(", {period} frames"),
            None => String::new(),
        };
        format!("{input} → {output}, {rate} Hz{block}")
    }

    fn connected(&self) -> Option<Connected> {
        Some(Connected {
            midi: midi::lasting_name(self.midi.as_ref()?.name()).to_string(),
            audio: self.audio.name().to_string(),
        })
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let now = host_now(self.epoch);
        self.take_blocks();
        self.take_events(sink);
        self.notice_overflow(now);
        self.check(now)?;
        self.mind_the_input(now, sink)?;
        let watermark = self.timebase.promise(now);
        Ok(Poll {
            watermark,
            now: self.timebase.heard(now).max(watermark),
            counters: self.counters(),
            residual: self.timebase.residual(),
            glitch: self.timebase.take_glitch(),
        })
    }

    fn input(&self) -> Input {
        self.midi.as_ref().map_or(Input::Here, MidiIn::input)
    }

    fn output_delay(&self) -> Option<Nanos> {
        self.output_delay
    }

    fn period(&self) -> Option<u32> {
        self.audio.shared().period()
    }

    fn has_port(&self) -> bool {
        self.midi.is_some()
    }

    /// A driver does not say what is behind a port.
    fn has_cable(&self) -> bool {
        self.midi.is_some()
    }
}

fn host_now(epoch: Instant) -> Nanos {
    Nanos(i64::try_from(epoch.elapsed().as_nanos()).unwrap_or(i64::MAX))
}

/// What could be connected now.
pub fn ports() -> Ports {
    let mut missing = Vec::new();
    let midi_inputs = midi::names().unwrap_or_default();
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::backend::MidiChoice;
    use crate::click::Silence;

    fn opened(midi: MidiChoice, audio: Option<&str>) -> Result<NativeSession, OpenError> {
        let config = Config {
            midi,
            audio: audio.map(String::from),
            ..Config::default()
        };
        NativeSession::open(&config, Box::new(Silence))
    }

    /// Whatever the machine has, it has no ports of these names.
    #[test]
    fn names_that_nothing_has_are_errors_of_their_own() {
        let midi = opened(MidiChoice::Named("no bass is called so".into()), None);
        assert!(matches!(
            midi.map(|_| ()),
            Err(OpenError::NoSuchMidiInput { .. } | OpenError::NoMidiInputs(_))
        ));
        let audio = opened(MidiChoice::Absent, Some("no phones are called so"));
        assert!(matches!(
            audio.map(|_| ()),
            Err(OpenError::NoSuchAudioOutput { .. } | OpenError::NoAudioOutputs(_))
        ));
    }

    #[test]
    fn what_is_missing_is_said_for_each_empty_list() {
        let ports = ports();
        let empty = [&ports.midi_inputs, &ports.audio_outputs].map(|names| names.is_empty());
        let said = empty.iter().filter(|is_empty| **is_empty).count();
        assert_eq!(ports.missing.len(), said, "{ports:?}");
    }
}
