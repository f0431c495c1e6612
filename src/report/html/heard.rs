//! A note of the take with all that is told of it.

use crate::chart::Mark;
use crate::expected::{ExpectedBar, ExpectedNote};
use crate::fingering::{Fingering, Placed};
use crate::judge::cost::Pitch;
use crate::judge::{Length, Partner, Reading, Timing};
use crate::played::PlayedNote;
use crate::report::words::{self, is_missed, shortest};
use crate::report::{Checked, signed_ms};

/// An expected note and what was played for it.
pub(super) struct Note<'a> {
    pub(super) index: u32,
    pub(super) note: &'a ExpectedNote,
    pub(super) bar: &'a ExpectedBar,
    reading: &'a Reading,
    pub(super) placed: Placed,
    played: Option<&'a PlayedNote>,
    is_missed: bool,
    /// `A pass 2, bar 7 beat 2.5`.
    pub(super) place: String,
}

/// All notes of a take, in order.
pub(super) fn notes<'a>(checked: &'a Checked<'a>, fingering: &Fingering) -> Vec<Note<'a>> {
    let expected = checked.expected;
    let bars = BarNames::of(checked);
    let note = |reading: &'a Reading| {
        let note = &expected.notes[reading.note as usize];
        let bar = &expected.bars[note.bar as usize];
        let partner = reading.partner.as_ref();
        Note {
            index: reading.note,
            note,
            bar,
            reading,
            placed: fingering.places[reading.note as usize],
            played: partner.map(|partner| &checked.judgement.played[partner.played as usize]),
            is_missed: is_missed(expected, reading),
            place: format!(
                "{} beat {}",
                bars.0[note.bar as usize],
                shortest(bar.beat_number(note.at))
            ),
        }
    };
    checked.judgement.readings.iter().map(note).collect()
}

/// What each bar is called; a long line is gone through once.
struct BarNames(Vec<String>);

impl BarNames {
    fn of(checked: &Checked) -> BarNames {
        let bars = checked.expected.bars.iter();
        BarNames(
            bars.map(|bar| words::bar_name(checked.expected, bar))
                .collect(),
        )
    }
}

impl Note<'_> {
    pub(super) fn partner(&self) -> Option<&Partner> {
        self.reading.partner.as_ref()
    }

    fn timed(&self) -> Option<&Partner> {
        self.partner()
            .filter(|partner| partner.timing != Timing::Unjudged)
    }

    /// From the grid its phrase is on; none of a note that was not played or whose time is in doubt.
    pub(super) fn offset_ms(&self) -> Option<f64> {
        self.timed().map(|partner| partner.off_grid.ms())
    }

    /// Seconds since bar 1 beat 1, as written.
    pub(super) fn time_s(&self) -> f64 {
        self.note.onset.seconds()
    }

    pub(super) fn sounded_ms(&self) -> Option<f64> {
        Some(self.played?.length?.ms())
    }

    pub(super) fn asked_ms(&self) -> f64 {
        self.note.sounding.ms()
    }

    /// How long it sounded into the next note or a rest.
    pub(super) fn ring_ms(&self) -> Option<f64> {
        let over = self.partner()?.ring_over?.ms();
        (over > 0.0).then_some(over)
    }

    pub(super) fn length(&self) -> Option<Length> {
        self.partner()?.length
    }

    pub(super) fn timing_mark(&self) -> Mark {
        match self.partner().map(|partner| partner.timing) {
            Some(Timing::Early) => Mark::Down,
            Some(Timing::Late) => Mark::Up,
            _ => Mark::Disc,
        }
    }

    pub(super) fn length_mark(&self) -> Mark {
        match self.length() {
            Some(Length::Short) => Mark::Down,
            Some(Length::Long) => Mark::Up,
            Some(Length::Rings) => Mark::Diamond,
            _ => Mark::Disc,
        }
    }

    /// The offset as it is written: `+12`, or a word where there is none.
    pub(super) fn offset_words(&self) -> String {
        match self.timed() {
            Some(partner) => signed_ms(partner.off_grid),
            None if self.partner().is_some() || self.reading.is_unheard => "not judged".into(),
            None if self.is_missed => "not played".into(),
            None => "left out".into(),
        }
    }

    /// What was heard beside the numbers: `late, C3 played, rings over`.
    pub(super) fn verdict(&self) -> String {
        let Some(partner) = self.partner() else {
            return String::new();
        };
        let timing = match partner.timing {
            Timing::Early => Some("early".to_string()),
            Timing::Late => Some("late".to_string()),
            Timing::In | Timing::Unjudged => None,
        };
        let is_other = matches!(partner.pitch, Pitch::Wrong | Pitch::Octave);
        let other = self.played.filter(|_| is_other);
        let other = other.map(|played| format!("{} played", played.key));
        let moved = (partner.displaced.0 != 0)
            .then(|| words::displacement(partner.displaced, self.bar.beat));
        let length = self.length().and_then(|length| match length {
            Length::In => None,
            Length::Short => Some("short".to_string()),
            Length::Long => Some("long".to_string()),
            Length::Rings => Some("rings over".to_string()),
        });
        let all = [timing, other, moved, length];
        all.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    /// All in one sentence, for who points at it.
    pub(super) fn sentence(&self) -> String {
        let mut parts = vec![format!("{}: {}", self.place, self.note.name())];
        parts.push(match self.offset_ms() {
            Some(_) => format!("{} ms", self.offset_words()),
            None => self.offset_words(),
        });
        let asked = self.asked_ms();
        if let Some(sounded) = self.sounded_ms() {
            parts.push(format!("sounded {sounded:.0} of {asked:.0} ms"));
        }
        if let Some(over) = self.ring_ms() {
            parts.push(format!("{over:.0} ms into what follows"));
        }
        let verdict = self.verdict();
        if !verdict.is_empty() {
            parts.push(verdict);
        }
        parts.join(" · ")
    }
}
