//! The line and its click in one stream.

use super::{Tone, limit};
use crate::click::{ClickRenderer, ClickSound, ClickTrack, Level, Render, Stereo};
use crate::expected::Expected;
use crate::units::Nanos;
use std::sync::Arc;

/// After the line's end the last sound dies away.
const TAIL: Nanos = Nanos::from_ms(100);

/// What sounds of a line and its click.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mix {
    /// The click.
    pub click: ClickSound,
    /// The peak of an accented note of the line; absent: the click sounds alone.
    pub line: Option<Level>,
}

impl From<ClickSound> for Mix {
    /// The click alone.
    fn from(click: ClickSound) -> Mix {
        Mix { click, line: None }
    }
}

impl From<Level> for Mix {
    /// The line and the click, equally loud.
    fn from(level: Level) -> Mix {
        Mix {
            click: level.into(),
            line: Some(level),
        }
    }
}

/// Plays the line with the click.
#[derive(Clone, Debug)]
pub struct LineAndClick {
    expected: Arc<Expected>,
    clicks: ClickTrack,
    lead: Nanos,
    mix: Mix,
    click: ClickRenderer,
    tone: Option<Tone>,
}

impl LineAndClick {
    /// The first sound, click or note, comes `silence` after the stream's start.
    pub fn new(
        expected: Arc<Expected>,
        clicks: ClickTrack,
        silence: Nanos,
        mix: impl Into<Mix>,
    ) -> LineAndClick {
        let mix = mix.into();
        // The click's lead is to the first click; without a count-in a pickup's notes may be before that.
        let first_note = expected
            .notes
            .first()
            .filter(|_| mix.line.is_some())
            .map_or(Nanos::ZERO, |note| note.onset);
        let first_click = clicks.start().min(Nanos::ZERO);
        let lead = silence + (first_click - first_note).max(Nanos::ZERO);
        LineAndClick {
            click: ClickRenderer::new(clicks.clone(), lead, mix.click),
            expected,
            clicks,
            lead,
            mix,
            tone: None,
        }
    }

    /// Bar 1 beat 1 in stream time, within half a frame.
    pub fn bar_1(&self) -> Nanos {
        self.lead - self.clicks.start().min(Nanos::ZERO)
    }

    /// The frame of bar 1 beat 1.
    pub fn origin_frame(&self, sample_rate: u32) -> u64 {
        self.clicks.origin_frame(self.lead, sample_rate)
    }

    /// When all is over, in stream time.
    pub fn end(&self) -> Nanos {
        self.bar_1() + self.expected.end + TAIL
    }

    /// Fills a block with the sum of both as it is, which may be beyond full scale: for one that limits what it makes of
    /// it. Real-time safe.
    pub fn sum(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        out.fill_both(|both| {
            both.fill(0.0);
            if let Some(tone) = &mut self.tone {
                tone.mix(first_frame, both);
            }
        });
        self.click.mix(first_frame, out);
    }
}

impl Render for LineAndClick {
    fn prepare(&mut self, sample_rate: u32) {
        self.click.prepare(sample_rate);
        let origin = self.origin_frame(sample_rate);
        let tone = |level| Tone::new(&self.expected, origin, sample_rate, level);
        self.tone = self.mix.line.map(tone);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.sum(first_frame, out.lend());
        limit(out);
    }
}
