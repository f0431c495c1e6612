//! What findings look at: the matched notes of a take with what stands around them.

use super::slips::Slips;
use super::stats;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, ExpectedNote};
use crate::fingering::Fingering;
use crate::judge::settings::{Latency, Windows};
use crate::judge::{Judgement, Length, Partner, Timing};
use crate::played::PlayedNote;
use crate::units::{Key, Nanos};
use std::sync::{Arc, OnceLock};

/// A take as the findings see it.
pub struct Evidence<'a> {
    /// The line.
    pub expected: &'a Expected,
    /// What the judge made of the take.
    pub judgement: &'a Judgement,
    /// Its notes that something was played for, in order; not those that fell into a glitch.
    pub heard: Vec<Heard<'a>>,
    /// How the line is played by the hands: as it says, else in the likely way.
    pub fingering: Arc<Fingering>,
    /// The tolerances that the readings were made with.
    pub windows: &'a Windows,
    /// What was taken off the notes as the port's latency.
    pub latency: Latency,
    /// The speed it was played at.
    pub speed: Speed,
    slips: OnceLock<Slips>,
}

/// One note that was played.
#[derive(Clone, Copy)]
pub struct Heard<'a> {
    /// Its index in the line.
    pub index: u32,
    /// What was expected.
    pub note: &'a ExpectedNote,
    /// What was played.
    pub partner: &'a Partner,
    /// The key that sounded.
    pub played: Key,
    /// How hard it was played, 1 to 127.
    pub velocity: u8,
    /// Its offset from the grid it is on, in ms.
    pub offset_ms: f64,
    /// Up to here nothing can be heard: `max(6 ms, 2.5 % of the interval between notes)`, the just noticeable
    /// displacement of one tone (Friberg & Sundberg 1995, JASA 98:2524). The interval is that to what is heard
    /// before: a note, or the click of a beat.
    pub harmless_ms: f64,
    /// What of its delay a converter is suspected of, in ms; already taken out of the offset.
    pub suspected_ms: f64,
    /// What of the offset is explained by the kind of note it is (see `effect`), in ms; still in the offset.
    pub explained_ms: f64,
}

const SMALLEST_HEARD_MS: f64 = 6.0;
const HEARD_SHARE: f64 = 0.025;

impl<'a> Evidence<'a> {
    /// Gathers what was played.
    pub fn new(
        expected: &'a Expected,
        judgement: &'a Judgement,
        windows: &'a Windows,
    ) -> Evidence<'a> {
        let heard: Vec<Heard<'a>> = judgement
            .readings
            .iter()
            .filter_map(|reading| {
                let partner = reading.partner.as_ref()?;
                let is_timed = partner.timing != Timing::Unjudged;
                let played = &judgement.played[partner.played as usize];
                is_timed.then(|| Heard::new(expected, reading.note as usize, partner, played))
            })
            .collect();
        Evidence {
            expected,
            judgement,
            heard,
            fingering: Arc::new(Fingering::of(expected)),
            windows,
            latency: Latency::default(),
            speed: Speed::WRITTEN,
            slips: OnceLock::new(),
        }
    }

    /// Says at what speed it was played.
    pub fn at_speed(mut self, speed: Speed) -> Evidence<'a> {
        self.speed = speed;
        self
    }

    /// Says what of each offset is explained by the kind of note it is.
    pub fn explained(mut self, explained_ms: &[f64]) -> Evidence<'a> {
        for (heard, explained_ms) in self.heard.iter_mut().zip(explained_ms) {
            heard.explained_ms = *explained_ms;
        }
        self
    }

    /// Why each note of a wrong pitch is wrong; worked out when it is first asked for.
    pub fn slips(&self) -> &Slips {
        self.slips.get_or_init(|| Slips::of(self))
    }

    /// One number a heard note: 1 for those of a kind, 0 for the others.
    pub fn column(&self, is_of_kind: impl Fn(&Heard) -> bool) -> Vec<f64> {
        let share = |heard: &Heard| f64::from(u8::from(is_of_kind(heard)));
        self.heard.iter().map(share).collect()
    }

    /// The number of a note's bar in the line.
    pub fn bar_number(&self, note: u32) -> u32 {
        self.expected.bars[self.expected.notes[note as usize].bar as usize].number
    }

    /// Says what was taken off the notes as the port's latency.
    pub fn with_latency(mut self, latency: Latency) -> Evidence<'a> {
        self.latency = latency;
        self
    }

    /// The same take as it would be with so many more periods of each note's pitch taken off: what no converter may
    /// be blamed for is left.
    pub fn less_periods(&self, periods: f64) -> Evidence<'a> {
        let less = |heard: &Heard<'a>| {
            let suspected_ms = heard.period_ms().map_or(0.0, |period| periods * period);
            Heard {
                offset_ms: heard.offset_ms - suspected_ms,
                suspected_ms,
                ..*heard
            }
        };
        Evidence {
            heard: self.heard.iter().map(less).collect(),
            slips: self.slips.clone(),
            fingering: Arc::clone(&self.fingering),
            ..*self
        }
    }

    /// The mean harmless displacement of a group of notes, in ms.
    pub fn harmless_ms<'b>(&self, group: impl Iterator<Item = &'b Heard<'b>>) -> f64 {
        let (sum, n) = group.fold((0.0, 0), |(sum, n), heard| (sum + heard.harmless_ms, n + 1));
        if n == 0 {
            SMALLEST_HEARD_MS
        } else {
            sum / f64::from(n)
        }
    }

    /// Where the player's notes usually sit, in ms, away from entries: on the beat, or on the upbeats. Where those
    /// are fewer than [`super::FEWEST`], all notes but entries say it, and where these are too few as well, the
    /// offset that the player aims for.
    pub fn usual_ms(&self, upbeat: bool) -> f64 {
        let of_kind =
            self.median_of(|heard| !heard.note.is.entry && heard.note.is.upbeat == upbeat);
        let of_any_kind = || self.median_of(|heard| !heard.note.is.entry);
        of_kind
            .or_else(of_any_kind)
            .unwrap_or(self.windows.lean.ms())
    }

    fn median_of(&self, belongs: impl Fn(&Heard) -> bool) -> Option<f64> {
        let chosen = self.heard.iter().filter(|heard| belongs(heard));
        let mut offsets: Vec<f64> = chosen.map(|heard| heard.offset_ms).collect();
        if offsets.len() < super::FEWEST {
            None
        } else {
            stats::median(&mut offsets)
        }
    }

    /// "bars 2, 4 to 7 and 9": where the notes are, each bar once, at most six places named.
    pub fn places(&self, notes: &[u32]) -> String {
        let mut bars: Vec<u32> = notes.iter().map(|note| self.bar_number(*note)).collect();
        bars.sort_unstable();
        bars.dedup();
        bars_in_words(&bars)
    }
}

/// Bars that rise, in words; three or more in a row as one place.
fn bars_in_words(bars: &[u32]) -> String {
    const NAMED: usize = 6;
    let runs = bars.chunk_by(|bar, next| bar + 1 == *next);
    let places: Vec<&[u32]> = runs
        .flat_map(|run| run.chunks(if run.len() > 2 { run.len() } else { 1 }))
        .collect();
    let name = |place: &&[u32]| match place {
        [first, .., last] => format!("{first} to {last}"),
        [bar] => bar.to_string(),
        [] => String::new(),
    };
    let named: Vec<String> = places.iter().take(NAMED).map(name).collect();
    let more: usize = places.iter().skip(NAMED).map(|place| place.len()).sum();
    match (named.as_slice(), bars, more) {
        ([], ..) => String::new(),
        ([one], [_], _) => format!("bar {one}"),
        ([one], ..) => format!("bars {one}"),
        ([several @ .., last], _, 0) => format!("bars {} and {last}", several.join(", ")),
        (several, _, more) => format!("bars {} and {more} more", several.join(", ")),
    }
}

/// How long before a note the click of a beat was heard; `None` while the click is off.
fn since_click(expected: &Expected, note: &ExpectedNote) -> Option<Nanos> {
    let bar = &expected.bars[note.bar as usize];
    if bar.silent {
        return None;
    }
    let into_beat = (note.at + bar.offset).0 % bar.beat.0;
    let beat_at = i128::from((bar.start + note.at).0 - into_beat);
    let since_beat = note.onset - expected.tempo_map.time_at(beat_at, 1);
    // A note on the beat comes with its click: the one before is a beat ago.
    Some(if since_beat > Nanos::ZERO {
        since_beat
    } else {
        note.beat
    })
}

impl<'a> Heard<'a> {
    fn new(
        expected: &'a Expected,
        index: usize,
        partner: &'a Partner,
        played: &PlayedNote,
    ) -> Heard<'a> {
        let note = &expected.notes[index];
        let before = expected.notes[..index]
            .iter()
            .rev()
            .find(|other| other.group < note.group);
        let since_note = before.map(|before| note.onset - before.onset);
        let since_click = since_click(expected, note);
        let interval = since_note.into_iter().chain(since_click).min();
        let interval = interval.unwrap_or(note.beat);
        Heard {
            index: index as u32,
            note,
            partner,
            played: played.key,
            velocity: played.velocity,
            offset_ms: partner.off_grid.ms(),
            suspected_ms: 0.0,
            explained_ms: 0.0,
            harmless_ms: (HEARD_SHARE * interval.ms()).max(SMALLEST_HEARD_MS),
        }
    }

    /// How many semitones above the expected key it sounded; `None` for a dead note.
    pub fn semitones(&self) -> Option<i16> {
        let expected = self.note.key?;
        Some(i16::from(self.played.0) - i16::from(expected.0))
    }

    /// Its offset without what the kind of note explains, in ms.
    pub fn plain_ms(&self) -> f64 {
        self.offset_ms - self.explained_ms
    }

    /// One period of the note's pitch in ms; a dead note has none.
    pub fn period_ms(&self) -> Option<f64> {
        self.note.key.map(|key| 1000.0 / key.frequency_hz())
    }

    /// Played − expected sounding length in ms: negative is too short. `None` where the end is not known.
    pub fn length_off_ms(&self) -> Option<f64> {
        let ratio = self.partner.length_ratio?;
        Some(self.note.sounding.ms() * (ratio - 1.0))
    }

    /// Whether the length verdict is this one.
    pub fn length_is(&self, length: Length) -> bool {
        self.partner.length == Some(length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_in_a_row_are_one_place_and_more_than_six_places_are_counted() {
        for (bars, words) in [
            (&[][..], ""),
            (&[3], "bar 3"),
            (&[3, 4], "bars 3 and 4"),
            (&[3, 4, 5], "bars 3 to 5"),
            (&[1, 3, 4, 5, 9], "bars 1, 3 to 5 and 9"),
            (
                &[0, 2, 4, 6, 8, 10, 12, 13, 14],
                "bars 0, 2, 4, 6, 8, 10 and 3 more",
            ),
        ] {
            assert_eq!(bars_in_words(bars), words);
        }
    }
}
