//! The audio output through cpal. Everything of cpal stays in here.

use super::host_now;
use super::stage::{Lent, Outputs, Stage, StageState, Wishes};
use crate::backend::ring::{RingReceiver, RingSender, ring};
use crate::backend::{Config, OpenError, Render, port_choice};
use crate::click::Stereo;
use crate::clock::frames::frame_at;
use crate::units::Nanos;
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, Device, ErrorKind, FromSample, OutputCallbackInfo, SampleFormat};
use cpal::{SizedSample, Stream, StreamConfig, SupportedBufferSize, SupportedStreamConfig};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// What to do when there is no audio output.
pub const WHEN_NONE: &str = "connect or switch on a sound device; `leadsman demo` needs none";

/// A device that asks for no block within this time does not play: being listed proves nothing.
const PROBE: Duration = Duration::from_secs(3);
/// Blocks between two polls: a second at 64 frames and 192 kHz.
const BLOCKS: usize = 4096;
/// A longer block is rendered in pieces.
const PIECE: usize = 4096;

/// One block that the device asked for.
#[derive(Clone, Copy, Debug)]
pub struct Block {
    /// Its first frame.
    pub frame: u64,
    /// How many frames.
    pub frames: u32,
    /// When the callback began, in host time.
    pub called: Nanos,
    /// When its first frame is heard, as far as the driver knows, in host time.
    pub heard: Nanos,
}

/// What the callbacks tell the judging thread besides blocks.
#[derive(Debug, Default)]
pub struct Shared {
    is_running: AtomicBool,
    stage: Arc<StageState>,
    has_break: AtomicBool,
    xruns: AtomicU64,
    period: AtomicU32,
}

impl Shared {
    /// Blocks that came too late.
    pub fn xruns(&self) -> u64 {
        self.xruns.load(Ordering::Relaxed)
    }

    /// Frames a block of the stream that plays, as its driver says; `None` where it does not, and while none plays.
    pub fn period(&self) -> Option<u32> {
        Some(self.period.load(Ordering::Relaxed)).filter(|period| *period > 0)
    }

    /// Whether frames and time are related anew since the last call.
    pub fn take_break(&self) -> bool {
        self.has_break.swap(false, Ordering::AcqRel)
    }

    fn report(&self, kind: ErrorKind) {
        match kind {
            ErrorKind::Xrun => {
                self.xruns.fetch_add(1, Ordering::Relaxed);
                self.has_break.store(true, Ordering::Release);
            }
            ErrorKind::DeviceChanged => self.has_break.store(true, Ordering::Release),
            ErrorKind::DeviceNotAvailable
            | ErrorKind::StreamInvalidated
            | ErrorKind::HostUnavailable => self.stage.break_off(),
            // A device that stops over any other error is noticed by its silence.
            _ => {}
        }
    }
}

/// A playing audio output.
pub struct AudioOutput {
    // Dropped first: once it is closed its callbacks do not run any more.
    _stage: Stage,
    blocks: RingReceiver<Block>,
    shared: Arc<Shared>,
    name: String,
    sample_rate: u32,
}

impl AudioOutput {
    /// Opens the output that is meant and waits until it plays. Host time starts at `epoch`.
    pub fn open(
        config: &Config,
        mut render: Box<dyn Render>,
        epoch: Instant,
    ) -> Result<AudioOutput, OpenError> {
        let device = output_device(config.audio.as_deref())?;
        let name = device.to_string();
        let silent = |reason: String| OpenError::AudioDoesNotPlay {
            name: name.clone(),
            reason,
        };
        let supported = stream_config(&device, config).map_err(|e| silent(e.to_string()))?;
        render.prepare(supported.sample_rate());
        let (sender, blocks) = ring(BLOCKS);
        let shared = Arc::new(Shared::default());
        let sample_rate = supported.sample_rate();
        let voice = Voice {
            render,
            left: vec![0.0; PIECE],
            right: vec![0.0; PIECE],
            channels: usize::from(supported.channels()).max(1),
            next_frame: 0,
            called: (host_now(epoch), 0),
            blocks: sender,
            shared: Arc::clone(&shared),
            epoch,
        };
        let system = System {
            config: Config {
                sample_rate: Some(sample_rate),
                ..config.clone()
            },
            sample_rate,
            shared: Arc::clone(&shared),
        };
        let state = Arc::clone(&shared.stage);
        Ok(AudioOutput {
            _stage: Stage::open(system, voice, state).map_err(silent)?,
            blocks,
            shared,
            sample_rate,
            name,
        })
    }

    /// Whether the device is gone and no other could be had.
    pub fn is_lost(&self) -> bool {
        self.shared.stage.is_lost()
    }

    /// Whether the device is gone and is being waited for.
    pub fn is_reopening(&self) -> bool {
        self.shared.stage.is_reopening()
    }

    /// The blocks that were played.
    pub fn blocks(&mut self) -> &mut RingReceiver<Block> {
        &mut self.blocks
    }

    /// What the callbacks say.
    pub fn shared(&self) -> &Shared {
        &self.shared
    }

    /// The device's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Frames a second.
    pub fn sample_rate(&self) -> u32 {
        self.sample_rate
    }
}

fn wait_until_it_plays(shared: &Shared) -> Result<(), String> {
    let start = Instant::now();
    while !shared.is_running.load(Ordering::Acquire) {
        if shared.stage.is_broken() {
            return Err("it went away at once".into());
        }
        if start.elapsed() > PROBE {
            return Err(format!("it took no sound for {} seconds", PROBE.as_secs()));
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    Ok(())
}

/// The system's audio outputs, of which one is wanted at one rate.
struct System {
    config: Config,
    sample_rate: u32,
    shared: Arc<Shared>,
}

impl Outputs for System {
    type Voice = Voice;
    type Stream = Stream;

    /// What is wished for is the length of the blocks.
    fn has_wishes(&self) -> bool {
        self.config.period.is_some()
    }

    fn open(&mut self, mut lent: Lent<Voice>, wishes: Wishes) -> Result<Stream, String> {
        self.shared.period.store(0, Ordering::Relaxed);
        let device = output_device(self.config.audio.as_deref()).map_err(|e| e.to_string())?;
        let supported = stream_config(&device, &self.config).map_err(|e| e.to_string())?;
        if supported.sample_rate() != self.sample_rate {
            return Err(format!("it cannot play {} Hz", self.sample_rate));
        }
        if let Some(voice) = lent.as_mut() {
            voice.channels = usize::from(supported.channels()).max(1);
        }
        self.shared.is_running.store(false, Ordering::Release);
        let period = match wishes {
            Wishes::Kept => self.config.period,
            Wishes::Dropped => None,
        };
        let stream = build(&device, &supported, period, lent);
        let stream = stream.map_err(|e| e.to_string())?;
        stream.play().map_err(|e| e.to_string())?;
        wait_until_it_plays(&self.shared)?;
        let period = stream.buffer_size().unwrap_or(0);
        self.shared.period.store(period, Ordering::Relaxed);
        Ok(stream)
    }

    /// The stream goes on where it would be by now: the line does not wait for a device. What was not heard counts as a
    /// late block.
    fn catch_up(&mut self, voice: &mut Voice) {
        voice.catch_up(host_now(voice.epoch), self.sample_rate);
        self.shared.report(ErrorKind::Xrun);
    }
}

/// The audio callback's state.
struct Voice {
    render: Box<dyn Render>,
    left: Vec<f32>,
    right: Vec<f32>,
    channels: usize,
    next_frame: u64,
    /// When the last block was asked for, in host time, and its first frame.
    called: (Nanos, u64),
    blocks: RingSender<Block>,
    shared: Arc<Shared>,
    epoch: Instant,
}

impl Voice {
    /// Leaves out what was not played between the last block and `now`.
    fn catch_up(&mut self, now: Nanos, sample_rate: u32) {
        let (called, frame) = self.called;
        let passed = frame_at((now - called).max(Nanos::ZERO), sample_rate).unsigned_abs();
        self.next_frame = self.next_frame.max(frame + passed);
    }

    /// The audio callback: the left ear's block to every odd channel (the first, the third), the right ear's to every even
    /// one; the mean of both to the only one. Real-time safe.
    fn play<T: FromSample<f32> + Copy>(&mut self, out: &mut [T], delay: Duration) {
        let called = host_now(self.epoch);
        self.called = (called, self.next_frame);
        let delay = Nanos(i64::try_from(delay.as_nanos()).unwrap_or(0));
        let frames = out.len() / self.channels;
        // A full ring only makes the fit rest until the next block.
        let _ = self.blocks.send(Block {
            frame: self.next_frame,
            frames: frames as u32,
            called,
            heard: called + delay,
        });
        for piece in out.chunks_mut(self.left.len() * self.channels) {
            let length = piece.len() / self.channels;
            let mut block = Stereo::new(&mut self.left[..length], &mut self.right[..length]);
            self.render.render(self.next_frame, block.lend());
            self.next_frame += length as u64;
            if self.channels == 1 {
                block.mean_into_left();
            }
            let samples = block.left.iter().zip(&*block.right);
            for (frame, (&left, &right)) in piece.chunks_exact_mut(self.channels).zip(samples) {
                for pair in frame.chunks_mut(2) {
                    pair[0] = T::from_sample_(left);
                    pair[1..].fill(T::from_sample_(right));
                }
            }
        }
        self.shared.is_running.store(true, Ordering::Release);
    }
}

fn build(
    device: &Device,
    supported: &SupportedStreamConfig,
    period: Option<u32>,
    voice: Lent<Voice>,
) -> Result<Stream, cpal::Error> {
    let mut config = supported.config();
    config.buffer_size = buffer_size(supported.buffer_size(), period);
    match supported.sample_format() {
        SampleFormat::I16 => build_as::<i16>(device, config, voice),
        SampleFormat::I24 => build_as::<cpal::I24>(device, config, voice),
        SampleFormat::I32 => build_as::<i32>(device, config, voice),
        SampleFormat::U8 => build_as::<u8>(device, config, voice),
        SampleFormat::U16 => build_as::<u16>(device, config, voice),
        SampleFormat::F32 => build_as::<f32>(device, config, voice),
        SampleFormat::F64 => build_as::<f64>(device, config, voice),
        other => Err(cpal::Error::with_message(
            ErrorKind::UnsupportedConfig,
            format!("its sample format {other} is not supported"),
        )),
    }
}

fn build_as<T: SizedSample + FromSample<f32>>(
    device: &Device,
    config: StreamConfig,
    mut lent: Lent<Voice>,
) -> Result<Stream, cpal::Error> {
    let shared = lent.as_ref().map(|voice| Arc::clone(&voice.shared));
    let on_block = move |out: &mut [T], info: &OutputCallbackInfo| {
        let times = info.timestamp();
        if let Some(voice) = lent.as_mut() {
            voice.play(out, times.playback.duration_since(times.callback));
        }
    };
    let on_error = move |error: cpal::Error| {
        if let Some(shared) = &shared {
            shared.report(error.kind());
        }
    };
    device.build_output_stream(config, on_block, on_error, Some(PROBE))
}

/// The wanted length, unless the device is known not to have it; else its own.
fn buffer_size(supported: &SupportedBufferSize, period: Option<u32>) -> BufferSize {
    let can_be = |period: &u32| match supported {
        SupportedBufferSize::Range { min, max } => (*min..=*max).contains(period),
        // As Windows has it: asking shows.
        SupportedBufferSize::Unknown => true,
    };
    period
        .filter(can_be)
        .map_or(BufferSize::Default, BufferSize::Fixed)
}

/// The device's own format, at the wanted rate if it can have it.
fn stream_config(device: &Device, config: &Config) -> Result<SupportedStreamConfig, cpal::Error> {
    let own = device.default_output_config()?;
    let Some(rate) = config.sample_rate else {
        return Ok(own);
    };
    let mut formats = device.supported_output_configs()?;
    let wanted = formats.find_map(|format| {
        let is_own =
            format.sample_format() == own.sample_format() && format.channels() == own.channels();
        is_own.then(|| format.try_with_sample_rate(rate)).flatten()
    });
    Ok(wanted.unwrap_or(own))
}

fn output_device(wanted: Option<&str>) -> Result<Device, OpenError> {
    let mut devices = devices();
    let Some(wanted) = wanted else {
        // A default is listed even where there is nothing behind it.
        let default = cpal::default_host().default_output_device();
        let playable = default
            .filter(|default| !devices.is_empty() || default.default_output_config().is_ok());
        return playable.ok_or(OpenError::NoAudioOutputs(WHEN_NONE));
    };
    let names: Vec<String> = devices.iter().map(ToString::to_string).collect();
    let index = port_choice::audio_output(wanted, &names, WHEN_NONE)?;
    Ok(devices.swap_remove(index))
}

/// The names of all audio outputs.
pub fn names() -> Vec<String> {
    devices().iter().map(ToString::to_string).collect()
}

/// All outputs but ALSA's `null`, which swallows sound a hundred times faster than time passes.
fn devices() -> Vec<Device> {
    let is_null = |device: &Device| device.id().is_ok_and(|id| id.id() == "null");
    let all = cpal::default_host().output_devices();
    all.into_iter()
        .flatten()
        .filter(|device| !is_null(device))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every sample of the left channel is the number of its frame.
    struct Count {
        /// The right channel against the left.
        right: f32,
    }

    impl Render for Count {
        fn prepare(&mut self, _sample_rate: u32) {}

        fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
            out.fill_both(|both| {
                for (frame, sample) in (first_frame..).zip(both) {
                    *sample = frame as f32;
                }
            });
            out.right
                .iter_mut()
                .for_each(|sample| *sample *= self.right);
        }
    }

    fn voice(piece: usize, channels: usize) -> (Voice, RingReceiver<Block>) {
        let (sender, blocks) = ring(BLOCKS);
        let voice = Voice {
            render: Box::new(Count { right: 1.0 }),
            left: vec![0.0; piece],
            right: vec![0.0; piece],
            channels,
            next_frame: 0,
            called: (Nanos::ZERO, 0),
            blocks: sender,
            shared: Arc::default(),
            epoch: Instant::now(),
        };
        (voice, blocks)
    }

    #[test]
    fn a_voice_on_a_new_device_goes_on_where_it_would_be() {
        let (mut voice, mut blocks) = voice(PIECE, 1);
        voice.play(&mut [0.0f32; 64], Duration::ZERO);
        voice.called.0 = Nanos::from_ms(100);
        voice.catch_up(Nanos::from_ms(1100), 48_000);
        // Time that runs back leaves nothing out.
        voice.catch_up(Nanos::from_ms(900), 48_000);
        voice.play(&mut [0.0f32; 64], Duration::ZERO);
        let frames: Vec<u64> =
            std::iter::from_fn(|| blocks.receive().map(|block| block.frame)).collect();
        assert_eq!(frames, [0, 48_000]);
    }

    #[test]
    fn every_channel_gets_the_same_sound_however_long_the_block() {
        let (mut voice, mut blocks) = voice(4, 3);
        let shared = Arc::clone(&voice.shared);
        let mut sound = Vec::new();
        for length in [2, 10, 1] {
            let mut out = vec![f64::NAN; 3 * length];
            voice.play(&mut out, Duration::from_millis(7));
            sound.extend(out);
        }
        let expected: Vec<f64> = (0..13).flat_map(|n| [f64::from(n); 3]).collect();
        assert_eq!(sound, expected);
        let seen: Vec<Block> = std::iter::from_fn(|| blocks.receive()).collect();
        let spans: Vec<_> = seen
            .iter()
            .map(|block| (block.frame, block.frames))
            .collect();
        assert_eq!(spans, [(0, 2), (2, 10), (12, 1)]);
        assert!(
            seen.iter()
                .all(|block| block.heard - block.called == Nanos::from_ms(7))
        );
        assert!(shared.is_running.load(Ordering::Acquire));
    }

    #[test]
    fn odd_channels_are_the_left_ear_even_ones_the_right_and_a_single_one_the_mean() {
        let sound = |channels: usize| {
            let (mut voice, _blocks) = voice(PIECE, channels);
            voice.render = Box::new(Count { right: 3.0 });
            let mut out = vec![f64::NAN; 3 * channels];
            voice.play(&mut out, Duration::ZERO);
            out
        };
        assert_eq!(sound(1), [0.0, 2.0, 4.0]);
        assert_eq!(sound(2), [0.0, 0.0, 1.0, 3.0, 2.0, 6.0]);
        let four: Vec<f64> = (0..3)
            .flat_map(|n| [n, 3 * n, n, 3 * n])
            .map(f64::from)
            .collect();
        assert_eq!(sound(4), four);
    }

    #[test]
    fn the_audio_callback_does_not_allocate() {
        let (mut voice, mut blocks) = voice(PIECE, 2);
        let shared = Arc::clone(&voice.shared);
        let mut out = vec![0i16; 2 * (PIECE + 100)];
        assert_no_alloc::assert_no_alloc(|| {
            // More blocks than the ring holds, and one that is longer than a piece.
            for _ in 0..BLOCKS + 10 {
                voice.play(&mut out[..128], Duration::from_millis(5));
            }
            voice.play(&mut out, Duration::ZERO);
            shared.report(ErrorKind::Xrun);
        });
        assert_eq!(blocks.overflows(), 11);
        assert_eq!(blocks.receive().map(|block| block.frame), Some(0));
    }

    #[test]
    fn an_xrun_is_counted_and_breaks_the_fit_once() {
        let shared = Shared::default();
        shared.report(ErrorKind::Xrun);
        assert_eq!(shared.xruns(), 1);
        assert!(shared.take_break() && !shared.take_break());
        assert!(!shared.stage.is_reopening());
        shared.report(ErrorKind::DeviceNotAvailable);
        assert!(shared.stage.is_reopening() && !shared.stage.is_lost());
    }

    #[test]
    fn a_wanted_period_is_used_where_the_device_can() {
        let range = SupportedBufferSize::Range { min: 64, max: 512 };
        assert_eq!(buffer_size(&range, Some(128)), BufferSize::Fixed(128));
        assert_eq!(buffer_size(&range, Some(32)), BufferSize::Default);
        assert_eq!(buffer_size(&range, None), BufferSize::Default);
        assert_eq!(
            buffer_size(&SupportedBufferSize::Unknown, Some(128)),
            BufferSize::Fixed(128)
        );
    }
}
