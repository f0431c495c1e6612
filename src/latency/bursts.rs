//! The sound of the bursts, at exact frames.

use super::Schedule;
use crate::click::{Level, Render, Stereo};
use crate::clock::frames::frame_at;
use crate::units::{Key, Nanos};
use std::f64::consts::{PI, TAU};

/// A burst sounds for this long, its fade included: more than five periods of the low E.
pub const LENGTH: Nanos = Nanos::from_ms(160);
/// The onset rises over this time, at every pitch alike, so that what it costs a converter is a part of the fixed
/// latency and does not pose as periods.
const ATTACK_S: f64 = 0.0005;
const FADE_S: f64 = 0.010;
/// Strength of the partials: a string has them, and a small headphone that loses the low E's fundamental still gives
/// its period.
const PARTIALS: [f64; 3] = [1.0, 1.0 / 2.0, 1.0 / 3.0];

/// Plays a [`Schedule`]. Each burst's first sample, which is not zero, is on exactly the frame nearest to its time.
pub struct BurstRenderer {
    schedule: Schedule,
    level: Level,
    /// Frame, and index of the tone.
    bursts: Vec<(u64, usize)>,
    tones: Vec<Vec<f32>>,
}

impl BurstRenderer {
    /// A renderer whose bursts peak at `level` at the most.
    pub fn new(schedule: Schedule, level: Level) -> BurstRenderer {
        BurstRenderer {
            schedule,
            level,
            bursts: Vec::new(),
            tones: Vec::new(),
        }
    }
}

impl Render for BurstRenderer {
    fn prepare(&mut self, sample_rate: u32) {
        let bursts = self.schedule.bursts();
        let mut keys: Vec<Key> = bursts.iter().map(|burst| burst.key).collect();
        keys.sort_unstable();
        keys.dedup();
        self.tones = keys
            .iter()
            .map(|key| tone(*key, self.level.peak(), sample_rate))
            .collect();
        let placed = |burst: &super::Burst| {
            let frame = frame_at(burst.at, sample_rate).max(0) as u64;
            (frame, keys.partition_point(|key| *key < burst.key))
        };
        self.bursts = bursts.iter().map(placed).collect();
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        out.fill_both(|out| self.fill(first_frame, out));
    }
}

impl BurstRenderer {
    fn fill(&self, first_frame: u64, out: &mut [f32]) {
        out.fill(0.0);
        let end = first_frame + out.len() as u64;
        let longest = self.tones.iter().map(Vec::len).max().unwrap_or(0) as u64;
        let first = self
            .bursts
            .partition_point(|(frame, _)| frame + longest <= first_frame);
        for &(frame, tone) in self.bursts[first..]
            .iter()
            .take_while(|(frame, _)| *frame < end)
        {
            let into_block = frame.saturating_sub(first_frame) as usize;
            let into_tone = first_frame.saturating_sub(frame) as usize;
            let rest = self.tones[tone].get(into_tone..).unwrap_or(&[]);
            for (sample, part) in out[into_block..].iter_mut().zip(rest) {
                *sample += part;
            }
        }
    }
}

/// Partials in cosine phase under a short attack: the first half wave is full at once whatever the pitch. A sine would
/// reach a converter's threshold after a share of its period, which would count as latency in periods.
fn tone(key: Key, peak: f64, sample_rate: u32) -> Vec<f32> {
    let rate = f64::from(sample_rate);
    let hz = key.frequency_hz();
    let length = (LENGTH.seconds() * rate).round();
    let (attack, fade) = ((ATTACK_S * rate).ceil(), (FADE_S * rate).ceil());
    let strength: f64 = PARTIALS.iter().sum();
    let sample = |n: u32| {
        let n = f64::from(n);
        let swing = |share: f64| 0.5 - 0.5 * (PI * share.clamp(0.0, 1.0)).cos();
        let envelope = swing((n + 1.0) / attack) * swing((length - n) / fade);
        let partials = PARTIALS.iter().zip(1..);
        let wave: f64 = partials
            .map(|(share, order)| share * (TAU * hz * f64::from(order) * n / rate).cos())
            .sum();
        (peak * envelope * wave / strength) as f32
    };
    (0..length as u32).map(sample).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rendered(blocks: &[usize], level: Level) -> (Schedule, Vec<f32>) {
        let schedule = Schedule::new(Nanos::from_ms(20), 20, 5);
        let mut renderer = BurstRenderer::new(schedule.clone(), level);
        renderer.prepare(48_000);
        let mut sound = Vec::new();
        for &length in blocks {
            let mut block = vec![f32::NAN; length];
            renderer.render(
                sound.len() as u64,
                Stereo::new(&mut block, &mut vec![0.0; length]),
            );
            sound.extend(block);
        }
        (schedule, sound)
    }

    #[test]
    fn each_burst_begins_on_its_frame_and_ends_in_silence() {
        let (schedule, sound) = rendered(&[400_000], Level::default());
        for burst in schedule.bursts() {
            let frame = frame_at(burst.at, 48_000) as usize;
            assert!(sound[frame - 32..frame].iter().all(|sample| *sample == 0.0));
            assert!(sound[frame] > 0.0);
            let end = frame + frame_at(LENGTH, 48_000) as usize;
            assert!(sound[end] == 0.0 && sound[end - 1] != 0.0);
        }
    }

    #[test]
    fn the_sound_does_not_depend_on_the_block_length() {
        let (_, whole) = rendered(&[100_000], Level::default());
        let (_, pieces) = rendered(&[7; 100_000 / 7], Level::default());
        assert_eq!(whole[..pieces.len()], pieces);
    }

    #[test]
    fn it_is_never_louder_than_its_level() {
        for level in [Level::default(), Level::dbfs(40.0)] {
            let (_, sound) = rendered(&[400_000], level);
            let peak = sound.iter().fold(0f32, |peak, s| peak.max(s.abs()));
            assert!(f64::from(peak) <= level.peak() + 1e-7 && peak > 0.1);
        }
    }

    #[test]
    fn half_the_level_is_there_within_a_millisecond_at_every_pitch() {
        for key in [28, 33, 38, 43, 55] {
            let tone = tone(Key(key), 1.0, 48_000);
            let loudest = tone[..48].iter().fold(0f32, |peak, s| peak.max(*s));
            assert!(loudest > 0.5, "key {key}: {loudest}");
        }
    }
}
