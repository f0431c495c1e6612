//! What practice needs to know of a take that is over.

use crate::findings::practice::Practice;
use crate::judge::cost::Pitch;
use crate::report::Checked;

/// How a take ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Played to the end of what was set up.
    Whole,
    /// Stopped before it.
    Stopped,
}

/// A take in the numbers that decide what comes next.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeSum {
    /// How it ended.
    pub how: How,
    /// Notes that had to be played.
    pub expected: usize,
    /// Those that were played and are not of a wrong pitch (a dead note has none).
    pub right: usize,
    /// Played notes that belong nowhere.
    pub extra: usize,
    /// Notes of the line that something was played for.
    pub heard: usize,
    /// Those whose timing is judged.
    pub timed: usize,
    /// Those inside the timing window.
    pub in_time: usize,
    /// Half width of that window, ms.
    pub window_ms: f64,
    /// Standard deviation of the offsets, ms, as the report has it; from two notes on.
    pub spread_ms: Option<f64>,
    /// What the finding that hurts most (of those that have one) suggests to set up.
    pub practice: Option<Practice>,
}

impl TakeSum {
    /// Adds a take up.
    pub fn of(checked: &Checked, how: How) -> TakeSum {
        let readings = checked.judgement.readings.iter();
        // A ghost note that was played counts for nothing: it was not among those that had to be.
        let is_asked = |note: u32| !checked.expected.notes[note as usize].is.optional;
        let right = readings
            .filter(|reading| is_asked(reading.note))
            .filter_map(|reading| reading.partner)
            .filter(|partner| matches!(partner.pitch, Pitch::Right | Pitch::Unjudged))
            .count();
        let sum = &checked.summary;
        let ghosts = checked.judgement.readings.iter();
        let ghosts = ghosts
            .filter(|reading| !is_asked(reading.note) && reading.partner.is_some())
            .count();
        TakeSum {
            how,
            expected: sum.expected - ghosts,
            right,
            extra: sum.extra,
            heard: sum.matched,
            timed: sum.matched - sum.timing_unjudged,
            in_time: sum.timing_in,
            window_ms: checked.settings.windows.timing.ms(),
            spread_ms: sum.offset_sd_ms,
            practice: checked.findings.iter().find_map(|finding| finding.practice),
        }
    }

    /// Whether nothing at all was heard: nobody played.
    pub fn is_silent(&self) -> bool {
        self.heard == 0 && self.extra == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::Sample;

    const SECTION: &str = "[[section]]\nname = \"A\"\nnotes = \"A1/4 x/4 A1/4? D2/4 | A1/2 r/2\"";

    #[test]
    fn dead_notes_are_right_when_they_are_played_and_ghost_notes_count_for_nothing() {
        let sample = Sample::new(SECTION, "steady");
        let sum = TakeSum::of(&sample.checked(), How::Whole);
        assert_eq!((sum.expected, sum.right, sum.extra), (4, 4, 0));
        assert_eq!(sum.window_ms, 30.0);
        assert!(!sum.is_silent());
    }

    #[test]
    fn a_take_that_nobody_played_is_silent() {
        let mut sample = Sample::new(SECTION, "steady");
        for reading in &mut sample.judgement.readings {
            reading.partner = None;
        }
        let sum = TakeSum::of(&sample.checked(), How::Whole);
        assert_eq!((sum.expected, sum.right, sum.spread_ms), (4, 0, None));
        assert!(sum.is_silent());
    }
}
