//! The conductor of a take: its tempo map, meters, section markers and settings, all known before the first note, and
//! the clock that turns the time of an event into the tick that the file can say.
//!
//! # Division
//! [`DIVISION`] is 30 720 ticks a quarter note: 32 times the line's 960, below the format's limit of 32 767. One tick is 19.53 µs at 100 quarter notes a minute and shorter above; rounding to it
//! moves a note by half of that at most, a hundredth of the time that a note-on takes on a MIDI cable. Every written
//! position is a whole number of ticks ([`TICKS_PER_WRITTEN_TICK`]).

use super::smf::TAKE_TAG;
use super::tick_clock::{DEFAULT_TEMPO, Division, MAX_TEMPO, TickClock};
use super::track_bytes::{
    META_KEY_SIGNATURE, META_MARKER, META_TEMPO, META_TEXT, META_TIME_SIGNATURE, META_TRACK_NAME,
    TrackBytes,
};
use super::vlq;
use crate::line::key_signature::{KeySignature, Mode};
use crate::line::meter::Meter;
use crate::units::{Nanos, TICKS_PER_QUARTER};
use std::num::NonZeroU16;

/// Ticks a quarter note in a take.
pub const DIVISION: NonZeroU16 = NonZeroU16::new(30_720).unwrap();
/// File ticks in one tick of the line.
pub const TICKS_PER_WRITTEN_TICK: u64 = DIVISION.get() as u64 / TICKS_PER_QUARTER as u64;

/// What a take is conducted by.
#[derive(Clone, Debug)]
pub struct Conductor {
    name: String,
    take_json: Option<String>,
    tempi: Vec<(u64, u32)>,
    meters: Vec<(u64, Meter)>,
    keys: Vec<(u64, KeySignature)>,
    markers: Vec<(u64, String)>,
    clock: TickClock,
}

/// What a file cannot say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ConductorError {
    /// Zero, or slower than three bytes can say.
    #[error("a tempo of {0} µs a quarter note cannot be written: 1 to {MAX_TEMPO} can")]
    Tempo(u32),
    /// Out of order.
    #[error("tempo changes must come in the order of their ticks")]
    TempoOrder,
    /// More than 268 MB.
    #[error("the settings of a take must not be longer than {} bytes", vlq::MAX)]
    TextLength,
}

impl Conductor {
    /// A conductor with a title, the settings of the take as JSON, and tempo changes as (tick, microseconds a quarter
    /// note) with rising ticks. Before the first change the tempo is the standard's 500 000.
    pub fn new(
        name: impl Into<String>,
        take_json: impl Into<String>,
        tempi: Vec<(u64, u32)>,
    ) -> Result<Conductor, ConductorError> {
        let (name, take_json) = (name.into(), take_json.into());
        if let Some(&(_, tempo)) = tempi.iter().find(|t| !(1..=MAX_TEMPO).contains(&t.1)) {
            return Err(ConductorError::Tempo(tempo));
        }
        if !tempi.is_sorted_by(|a, b| a.0 < b.0) {
            return Err(ConductorError::TempoOrder);
        }
        if TAKE_TAG.len() + 1 + take_json.len() > vlq::MAX as usize || !fits(&name) {
            return Err(ConductorError::TextLength);
        }
        Ok(Conductor {
            name,
            take_json: Some(take_json),
            clock: TickClock::new(Division::PerQuarter(DIVISION), &tempi),
            tempi,
            meters: Vec::new(),
            keys: Vec::new(),
            markers: Vec::new(),
        })
    }

    /// The conductor of a line that nobody has played: as [`Conductor::new`] without settings of a take.
    pub fn of_line(
        name: impl Into<String>,
        tempi: Vec<(u64, u32)>,
    ) -> Result<Conductor, ConductorError> {
        Ok(Conductor {
            take_json: None,
            ..Conductor::new(name, "", tempi)?
        })
    }

    /// With keys from ticks on, in the order of their ticks; one of more than seven sharps or flats, which a file cannot
    /// say, is left out.
    pub fn with_keys(mut self, keys: Vec<(u64, KeySignature)>) -> Conductor {
        self.keys = keys;
        self
    }

    /// With meters from ticks on, in the order of their ticks.
    pub fn with_meters(mut self, meters: Vec<(u64, Meter)>) -> Conductor {
        self.meters = meters;
        self
    }

    /// With the names of sections at the ticks where they begin, in that order.
    pub fn with_markers(mut self, markers: Vec<(u64, String)>) -> Conductor {
        self.markers = markers;
        self
    }

    /// The tick nearest to a time since the start of the file; tick 0 for what lies before it.
    pub fn tick_of(&self, at: Nanos) -> u64 {
        self.clock.tick_of(at)
    }

    /// The time of a tick since the start of the file: what the reader of the file computes, to the bit.
    pub fn time_of(&self, tick: u64) -> Nanos {
        self.clock.time_of(tick)
    }

    /// The time that the file will give for an event at this time. A judge that is to agree with the file to the bit
    /// takes this instead of `at`.
    pub fn quantise(&self, at: Nanos) -> Nanos {
        self.time_of(self.tick_of(at))
    }

    pub(super) fn clock(&self) -> &TickClock {
        &self.clock
    }

    /// The track chunk, whole.
    pub(crate) fn chunk(&self) -> Vec<u8> {
        let mut track = TrackBytes::default();
        track.push_meta(0, META_TRACK_NAME, self.name.as_bytes());
        if let Some(json) = &self.take_json {
            let settings = format!("{TAKE_TAG} {json}");
            track.push_meta(0, META_TEXT, settings.as_bytes());
        }
        for (tick, event) in self.events() {
            track.push_meta(tick, event.kind, &event.data);
        }
        track.into_chunk()
    }

    /// Tempi, meters and markers by tick.
    fn events(&self) -> Vec<(u64, Meta)> {
        let starts_late = self.tempi.first().is_none_or(|first| first.0 > 0);
        let default = starts_late.then_some((0, DEFAULT_TEMPO));
        let tempi = default.iter().chain(&self.tempi).map(Meta::tempo);
        let meters = self.meters.iter().map(Meta::meter);
        let keys = self.keys.iter().filter_map(Meta::key);
        let markers = self.markers.iter().map(Meta::marker);
        let mut events: Vec<_> = tempi.chain(meters).chain(keys).chain(markers).collect();
        events.sort_by_key(|event| event.0);
        events
    }
}

/// A meta event without its time.
struct Meta {
    kind: u8,
    data: Vec<u8>,
}

impl Meta {
    fn tempo(&(tick, micros): &(u64, u32)) -> (u64, Meta) {
        let data = micros.to_be_bytes()[1..].to_vec();
        let kind = META_TEMPO;
        (tick, Meta { kind, data })
    }

    /// Upper number, power of the lower one, MIDI clocks (24 a quarter) a beat, thirty-seconds a quarter.
    fn meter(&(tick, meter): &(u64, Meter)) -> (u64, Meta) {
        let clocks = (meter.beat().0 * 24 / TICKS_PER_QUARTER) as u8;
        let power = meter.lower.max(1).ilog2() as u8;
        let data = vec![meter.upper, power, clocks, 8];
        let kind = META_TIME_SIGNATURE;
        (tick, Meta { kind, data })
    }

    /// Sharps or flats, and whether the scale is minor; a church mode has the signature alone.
    fn key(&(tick, key): &(u64, KeySignature)) -> Option<(u64, Meta)> {
        let sharps = Some(key.sharps()).filter(|sharps| sharps.abs() <= 7)?;
        let minor = matches!(
            key.mode,
            Mode::Minor | Mode::Aeolian | Mode::HarmonicMinor | Mode::MelodicMinor
        );
        let data = vec![sharps as u8, u8::from(minor)];
        let kind = META_KEY_SIGNATURE;
        Some((tick, Meta { kind, data }))
    }

    fn marker((tick, name): &(u64, String)) -> (u64, Meta) {
        let kept = if fits(name) { name.as_str() } else { "" };
        let data = kept.as_bytes().to_vec();
        let kind = META_MARKER;
        (*tick, Meta { kind, data })
    }
}

/// The file tempo nearest to `numerator / denominator` quarter notes a minute, held to what a file can say.
///
/// It is a whole number of microseconds, so the bars of the file drift from a tempo such as 126 by up to half a
/// microsecond a quarter note; the notes do not, because their times are what is kept.
pub fn micros_per_quarter(numerator: u64, denominator: u64) -> u32 {
    let micros_per_minute = 60_000_000 * u128::from(denominator);
    let numerator = u128::from(numerator.max(1));
    let micros = (micros_per_minute + numerator / 2) / numerator;
    u32::try_from(micros)
        .unwrap_or(MAX_TEMPO)
        .clamp(1, MAX_TEMPO)
}

fn fits(text: &str) -> bool {
    text.len() <= vlq::MAX as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tick_lasts_less_than_twenty_microseconds_at_100_quarters_a_minute() {
        let conductor = Conductor::new("", "{}", vec![(0, 600_000)]).expect("a tempo");
        assert_eq!(conductor.time_of(1), Nanos(19_531));
        assert_eq!(TICKS_PER_WRITTEN_TICK * 960, u64::from(DIVISION.get()));
    }

    #[test]
    fn what_a_file_cannot_say_is_refused() {
        let new = |tempi| Conductor::new("", "{}", tempi).map(|_| ());
        assert_eq!(new(vec![(0, 0)]), Err(ConductorError::Tempo(0)));
        assert_eq!(
            new(vec![(0, 1 << 24)]),
            Err(ConductorError::Tempo(16_777_216))
        );
        assert_eq!(
            new(vec![(5, 400_000), (5, 500_000)]),
            Err(ConductorError::TempoOrder)
        );
    }

    #[test]
    fn tempi_round_to_the_nearest_microsecond() {
        assert_eq!(micros_per_quarter(126, 1), 476_190);
        assert_eq!(micros_per_quarter(120_000, 1000), 500_000);
        assert_eq!(micros_per_quarter(1, 1), MAX_TEMPO);
        assert_eq!(micros_per_quarter(0, 0), 1);
    }
}
