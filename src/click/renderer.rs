//! The sound of the click, at exact frames.

use super::{ClickTrack, Render, Stress};
use crate::units::Nanos;
use std::f64::consts::TAU;

const ACCENT_HZ: f64 = 1500.0;
const PLAIN_HZ: f64 = 1000.0;
/// A plain click against an accent.
const PLAIN_GAIN: f64 = 0.7;
/// After this long a tone is down to 1/e. Short enough that tones 6 ms apart add up to less than twice one of them.
const DECAY_S: f64 = 0.008;
/// A tone ends after this many decays, at −60 dB.
const DECAYS: f64 = 7.0;

/// How loud the click is: the peak of an accent in dB below full scale. Starts low and is capped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level(f64);

impl Level {
    /// The loudest that there is, −6 dBFS.
    pub const CAP: Level = Level(-6.0);

    /// A level in dBFS; what is above [`Level::CAP`] (or is no number) becomes the cap.
    pub fn dbfs(level: f64) -> Level {
        Level(level.min(Level::CAP.0))
    }

    /// The level in dBFS.
    pub fn as_dbfs(self) -> f64 {
        self.0
    }

    /// The peak, at most 0.501.
    pub fn peak(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }
}

impl Default for Level {
    /// −18 dBFS.
    fn default() -> Level {
        Level(-18.0)
    }
}

/// Plays a [`ClickTrack`]. Each click's first sample is on exactly the frame nearest to its time, at the full level.
#[derive(Clone, Debug)]
pub struct ClickRenderer {
    track: ClickTrack,
    lead: Nanos,
    level: Level,
    frames: Vec<u64>,
    accent: Vec<f32>,
    plain: Vec<f32>,
}

impl ClickRenderer {
    /// A renderer whose first click comes `lead` after the stream's start; see [`ClickTrack::origin_frame`].
    pub fn new(track: ClickTrack, lead: Nanos, level: Level) -> ClickRenderer {
        ClickRenderer {
            track,
            lead,
            level,
            frames: Vec::new(),
            accent: Vec::new(),
            plain: Vec::new(),
        }
    }

    /// The stream's frame of each click, in order; empty before [`Render::prepare`].
    pub fn frames(&self) -> &[u64] {
        &self.frames
    }
}

impl Render for ClickRenderer {
    fn prepare(&mut self, sample_rate: u32) {
        let origin = self.track.origin_frame(self.lead, sample_rate);
        self.frames = self.track.frames(origin, sample_rate).collect();
        let peak = self.level.peak();
        self.accent = tone(ACCENT_HZ, peak, sample_rate);
        self.plain = tone(PLAIN_HZ, PLAIN_GAIN * peak, sample_rate);
    }

    fn render(&mut self, first_frame: u64, out: &mut [f32]) {
        out.fill(0.0);
        let end = first_frame + out.len() as u64;
        let longest = self.accent.len().max(self.plain.len()) as u64;
        let first = self
            .frames
            .partition_point(|frame| frame + longest <= first_frame);
        let clicks = self.frames[first..]
            .iter()
            .zip(&self.track.clicks()[first..]);
        for (&frame, click) in clicks.take_while(|(frame, _)| **frame < end) {
            let tone = match click.stress {
                Stress::Accent => &self.accent,
                Stress::Plain => &self.plain,
            };
            let into_block = frame.saturating_sub(first_frame) as usize;
            let into_tone = first_frame.saturating_sub(frame) as usize;
            let rest = tone.get(into_tone..).unwrap_or(&[]);
            for (sample, part) in out[into_block..].iter_mut().zip(rest) {
                *sample += part;
            }
        }
    }
}

/// A decaying cosine: it starts at its peak, so that its first sample is its onset, and ends in zero.
fn tone(hz: f64, peak: f64, sample_rate: u32) -> Vec<f32> {
    let rate = f64::from(sample_rate);
    let length = (DECAYS * DECAY_S * rate).ceil();
    let sample = |n: u32| {
        let t = f64::from(n) / rate;
        let fade = 1.0 - f64::from(n) / length;
        (peak * fade * (-t / DECAY_S).exp() * (TAU * hz * t).cos()) as f32
    };
    (0..length as u32).map(sample).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::click::Pattern;
    use crate::expected::tempo_map::{Rate, Speed, TempoMap};
    use crate::expected::{Expected, ExpectedBar};
    use crate::line::Tempo;
    use crate::units::Ticks;

    fn track(bpm: u32, beats: i64, count_in: u32) -> ClickTrack {
        let bar = ExpectedBar {
            section: 0,
            pass: 1,
            number: 1,
            onset: Nanos::ZERO,
            end: Nanos::ZERO,
            beat: Ticks(960),
            start: Ticks(0),
            length: Ticks(960 * beats),
            offset: Ticks(0),
            upbeat: (Ticks(480), 1),
            silent: false,
        };
        let expected = Expected {
            notes: vec![],
            bars: vec![bar],
            sections: vec!["A".into()],
            strings: vec![],
            open: vec![],
            tempo_map: TempoMap::new(Rate::new(Tempo(bpm * 1000), Speed::WRITTEN)),
            end: Nanos::ZERO,
        };
        ClickTrack::new(&expected, count_in, Pattern::Beats)
    }

    fn rendered(track: ClickTrack, level: Level, rate: u32, blocks: &[usize]) -> Vec<f32> {
        let mut renderer = ClickRenderer::new(track, Nanos::from_ms(10), level);
        renderer.prepare(rate);
        let mut sound = Vec::new();
        for &length in blocks {
            let mut block = vec![f32::NAN; length];
            renderer.render(sound.len() as u64, &mut block);
            sound.extend(block);
        }
        sound
    }

    #[test]
    fn each_click_begins_on_its_frame_at_its_full_level() {
        let rate = 44_100;
        let track = track(127, 7, 1);
        let sound = rendered(track.clone(), Level::default(), rate, &[rate as usize * 8]);
        let origin = track.origin_frame(Nanos::from_ms(10), rate);
        for (frame, click) in track.frames(origin, rate).zip(track.clicks()) {
            let gain = if click.stress == Stress::Accent {
                1.0
            } else {
                PLAIN_GAIN
            };
            let expected = (gain * Level::default().peak()) as f32;
            assert_eq!(sound[frame as usize - 1], 0.0);
            assert_eq!(sound[frame as usize], expected);
        }
    }

    #[test]
    fn frames_do_not_drift_in_an_hour() {
        // 7200 beats at 120: every 24 000 frames, to the frame.
        let track = track(120, 7200, 0);
        let frames: Vec<u64> = track.frames(100, 48_000).collect();
        assert!((0..7200).all(|n| frames[n] == 100 + 24_000 * n as u64));
    }

    #[test]
    fn the_sound_does_not_depend_on_the_block_length() {
        let whole = rendered(track(300, 8, 0), Level::default(), 48_000, &[64_000]);
        let pieces = rendered(track(300, 8, 0), Level::default(), 48_000, &[1; 64_000]);
        assert_eq!(whole, pieces);
    }

    #[test]
    fn overlapping_clicks_at_the_cap_do_not_clip() {
        // 6.25 ms apart: thirty-seconds at 300 quarters a minute, at a speed of 400 %.
        let sound = rendered(track(9600, 400, 0), Level::CAP, 48_000, &[140_000]);
        let peak = sound
            .iter()
            .fold(0f32, |peak, sample| peak.max(sample.abs()));
        assert!(peak > 0.5 && peak < 1.0, "{peak}");
    }

    #[test]
    fn a_level_above_the_cap_is_the_cap() {
        assert_eq!(Level::dbfs(3.0), Level::CAP);
        assert_eq!(Level::dbfs(f64::NAN), Level::CAP);
        assert_eq!(Level::dbfs(-30.0).as_dbfs(), -30.0);
    }
}
