//! The sound of the click, at exact frames.

use super::{Accent, ClickSound, ClickTrack, Render, Stereo, Stress};
use crate::units::Nanos;
use std::f64::consts::TAU;

/// A click between the beats against a plain one: -6 dB.
const BETWEEN_GAIN: f64 = 0.501;
/// After this long a tone is down to 1/e. Short enough that tones 6 ms apart add up to less than twice one of them.
const DECAY_S: f64 = 0.008;
/// A tone ends after this many decays, at −60 dB.
const DECAYS: f64 = 7.0;

/// Plays a [`ClickTrack`]. Each click's first sample is on exactly the frame nearest to its time, at the full level.
/// Clicks before the first block that is asked for are left out, so that none begins in its middle.
#[derive(Clone, Debug)]
pub struct ClickRenderer {
    track: ClickTrack,
    lead: Nanos,
    sound: ClickSound,
    frames: Vec<u64>,
    /// What each click is multiplied by.
    gains: Vec<f32>,
    tones: Tones,
    /// The first click that is heard, once a block was asked for.
    first: Option<usize>,
}

#[derive(Clone, Debug, Default)]
struct Tones {
    accent: Vec<f32>,
    plain: Vec<f32>,
    between: Vec<f32>,
    longest: u64,
}

impl ClickRenderer {
    /// A renderer whose first click comes `lead` after the stream's start; see [`ClickTrack::origin_frame`].
    pub fn new(track: ClickTrack, lead: Nanos, sound: impl Into<ClickSound>) -> ClickRenderer {
        ClickRenderer {
            track,
            lead,
            sound: sound.into(),
            frames: Vec::new(),
            gains: Vec::new(),
            tones: Tones::default(),
            first: None,
        }
    }

    /// The stream's frame of each click, in order; empty before [`Render::prepare`].
    pub fn frames(&self) -> &[u64] {
        &self.frames
    }

    /// Adds the clicks to a block whose first sample is frame `first_frame`. Real-time safe.
    pub fn mix(&mut self, first_frame: u64, out: Stereo<'_>) {
        let end = first_frame + out.frames() as u64;
        let frames = &self.frames;
        let heard = *self
            .first
            .get_or_insert_with(|| frames.partition_point(|frame| *frame < first_frame));
        let longest = self.tones.longest;
        let sounding = frames.partition_point(|frame| frame + longest <= first_frame);
        let first = sounding.max(heard);
        let clicks = frames[first..]
            .iter()
            .zip(&self.track.clicks()[first..])
            .zip(&self.gains[first..]);
        let [left, right] = self.sound.pan.gains();
        for ((&frame, click), &gain) in clicks.take_while(|((frame, _), _)| **frame < end) {
            let into_block = frame.saturating_sub(first_frame) as usize;
            let into_tone = first_frame.saturating_sub(frame) as usize;
            let rest = self.tones.of(click.stress).get(into_tone..).unwrap_or(&[]);
            add(rest, gain * left, &mut out.left[into_block..]);
            add(rest, gain * right, &mut out.right[into_block..]);
        }
    }
}

fn add(tone: &[f32], gain: f32, out: &mut [f32]) {
    for (sample, part) in out.iter_mut().zip(tone) {
        *sample += gain * part;
    }
}

impl Tones {
    fn new(sound: &ClickSound, sample_rate: u32) -> Tones {
        let (peak, plain) = (sound.level.peak(), sound.accent.plain_gain());
        let high = match sound.accent {
            Accent::None => sound.pitch.plain_hz(),
            Accent::Db(_) => sound.pitch.accent_hz(),
        };
        let low = sound.pitch.plain_hz();
        let accent = tone(high, peak, sample_rate);
        Tones {
            longest: accent.len() as u64,
            plain: tone(low, plain * peak, sample_rate),
            between: tone(low, BETWEEN_GAIN * plain * peak, sample_rate),
            accent,
        }
    }

    fn of(&self, stress: Stress) -> &[f32] {
        match stress {
            Stress::Accent => &self.accent,
            Stress::Plain => &self.plain,
            Stress::Between => &self.between,
        }
    }
}

impl Render for ClickRenderer {
    fn prepare(&mut self, sample_rate: u32) {
        let origin = self.track.origin_frame(self.lead, sample_rate);
        self.frames = self.track.frames(origin, sample_rate).collect();
        let clicks = self.track.clicks();
        let before = clicks.partition_point(|click| click.at < Nanos::ZERO);
        let fade = self.sound.fade;
        self.gains = (0..clicks.len())
            .map(|click| fade.gain(click, before))
            .collect();
        self.tones = Tones::new(&self.sound, sample_rate);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        out.silence();
        self.mix(first_frame, out);
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
    use crate::click::{FadeIn, Level, Pan, Pattern};
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

    /// What each ear hears.
    fn rendered(
        track: ClickTrack,
        sound: impl Into<ClickSound>,
        rate: u32,
        blocks: &[usize],
    ) -> [Vec<f32>; 2] {
        let mut renderer = ClickRenderer::new(track, Nanos::from_ms(10), sound);
        renderer.prepare(rate);
        let mut ears = [Vec::new(), Vec::new()];
        for &length in blocks {
            let [mut left, mut right] = [(); 2].map(|()| vec![f32::NAN; length]);
            renderer.render(ears[0].len() as u64, Stereo::new(&mut left, &mut right));
            ears[0].extend(left);
            ears[1].extend(right);
        }
        ears
    }

    fn peak(sound: &[f32]) -> f32 {
        sound
            .iter()
            .fold(0f32, |peak, sample| peak.max(sample.abs()))
    }

    #[test]
    fn each_click_begins_on_its_frame_at_its_full_level() {
        let rate = 44_100;
        let track = track(127, 7, 1);
        let [sound, right] = rendered(track.clone(), Level::default(), rate, &[rate as usize * 8]);
        assert_eq!(sound, right);
        let origin = track.origin_frame(Nanos::from_ms(10), rate);
        for (frame, click) in track.frames(origin, rate).zip(track.clicks()) {
            let gain = if click.stress == Stress::Accent {
                1.0
            } else {
                Accent::default().plain_gain()
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
        let [sound, _] = rendered(track(9600, 400, 0), Level::CAP, 48_000, &[140_000]);
        let peak = peak(&sound);
        assert!(peak > 0.5 && peak < 1.0, "{peak}");
    }

    #[test]
    fn an_ear_that_the_click_is_panned_away_from_hears_nothing_and_the_other_hears_all() {
        let middle = rendered(track(120, 4, 0), Level::CAP, 48_000, &[100_000]);
        let sound = ClickSound {
            pan: Pan::LEFT,
            ..Level::CAP.into()
        };
        let [left, right] = rendered(track(120, 4, 0), sound, 48_000, &[100_000]);
        assert_eq!(left, middle[0]);
        assert!(right.iter().all(|sample| *sample == 0.0));
    }

    #[test]
    fn without_an_accent_every_beat_sounds_alike() {
        let sound = ClickSound {
            accent: Accent::None,
            ..Level::default().into()
        };
        let [sound, _] = rendered(track(120, 2, 0), sound, 48_000, &[48_000]);
        assert_eq!(sound[480..4000], sound[24_480..28_000]);
        assert_eq!(sound[480], Level::default().peak() as f32);
    }

    #[test]
    fn the_count_in_starts_low_and_bar_1_has_the_full_level() {
        let sound = ClickSound {
            accent: Accent::None,
            fade: FadeIn::CountIn,
            ..Level::CAP.into()
        };
        let [sound, _] = rendered(track(120, 4, 1), sound, 48_000, &[240_000]);
        let levels: Vec<f32> = (0..8)
            .map(|beat| peak(&sound[480 + 24_000 * beat..][..24_000]))
            .collect();
        assert!(levels.is_sorted(), "{levels:?}");
        assert!((levels[0] / levels[4] - 0.251).abs() < 1e-3, "{levels:?}");
        assert_eq!(levels[4], Level::CAP.peak() as f32);
    }

    #[test]
    fn a_click_that_should_have_begun_before_the_first_block_is_left_out() {
        let mut renderer = ClickRenderer::new(track(120, 4, 0), Nanos::ZERO, Level::default());
        renderer.prepare(48_000);
        let [mut left, mut right] = [[1.0; 48_000]; 2];
        renderer.render(24_001, Stereo::new(&mut left, &mut right));
        let first = left.iter().position(|sample| *sample != 0.0);
        assert_eq!(first, Some(23_999));
    }
}
