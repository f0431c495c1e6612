//! The line and its click in one stream.

use super::{Tone, limited};
use crate::click::{ClickRenderer, ClickTrack, Level, Render, Stereo};
use crate::expected::Expected;
use crate::units::Nanos;
use std::sync::Arc;

/// After the line's end the last sound dies away.
const TAIL: Nanos = Nanos::from_ms(100);

/// Plays the line with the click. `level` is the peak of an accented click, and of an accented note.
#[derive(Clone, Debug)]
pub struct LineAndClick {
    expected: Arc<Expected>,
    clicks: ClickTrack,
    lead: Nanos,
    level: Level,
    click: ClickRenderer,
    tone: Option<Tone>,
}

impl LineAndClick {
    /// The first sound, click or note, comes `silence` after the stream's start.
    pub fn new(
        expected: Arc<Expected>,
        clicks: ClickTrack,
        silence: Nanos,
        level: Level,
    ) -> LineAndClick {
        // The click's lead is to the first click; without a count-in a pickup's notes may be before that.
        let first_note = expected
            .notes
            .first()
            .map_or(Nanos::ZERO, |note| note.onset);
        let first_click = clicks.start().min(Nanos::ZERO);
        let lead = silence + (first_click - first_note).max(Nanos::ZERO);
        LineAndClick {
            click: ClickRenderer::new(clicks.clone(), lead, level),
            expected,
            clicks,
            lead,
            level,
            tone: None,
        }
    }

    /// Bar 1 beat 1 in stream time, within half a frame.
    pub fn bar_1(&self) -> Nanos {
        self.lead - self.clicks.start().min(Nanos::ZERO)
    }

    /// When all is over, in stream time.
    pub fn end(&self) -> Nanos {
        self.bar_1() + self.expected.end + TAIL
    }
}

impl Render for LineAndClick {
    fn prepare(&mut self, sample_rate: u32) {
        self.click.prepare(sample_rate);
        let origin = self.clicks.origin_frame(self.lead, sample_rate);
        self.tone = Some(Tone::new(&self.expected, origin, sample_rate, self.level));
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        out.fill_both(|both| {
            both.fill(0.0);
            if let Some(tone) = &mut self.tone {
                tone.mix(first_frame, both);
            }
        });
        self.click.mix(first_frame, out.lend());
        for sample in out.left.iter_mut().chain(out.right) {
            *sample = limited(*sample);
        }
    }
}
