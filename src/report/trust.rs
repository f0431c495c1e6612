//! How far the milliseconds of a take can be trusted, and what limits it.

use crate::clock::glitch::{Glitch, GlitchKind};
use crate::expected::Expected;
use crate::judge::settings::Latency;
use crate::judge::{Judgement, Timing};
use crate::midi::conductor::DIVISION;
use crate::units::{Key, Nanos};
use serde::Serialize;

/// Three bytes on a MIDI cable: 31.25 kBd, 10 bits a byte (IEC 63035:2017). Where it is not known whether there is a
/// cable, or a running status that saves a byte, this much is open.
const CABLE_MS: f64 = 0.96;
/// "Within" means 95 % of the time: two standard deviations.
const DEVIATIONS: f64 = 2.0;

/// What a take says of its own measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measured {
    /// Root mean square of how well the clocks knew the times of events, one standard deviation each.
    pub residual: Nanos,
    /// Audio blocks that came too late.
    pub xruns: u64,
    /// Events that were lost.
    pub lost: u64,
    /// Events that were moved.
    pub moved: u64,
}

/// How far the milliseconds of one take can be trusted; the JSON's `trust`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trust {
    /// A note's offset is right to within this many ms either side, 95 % of the time, notes in glitches and a latency
    /// that was never measured aside; null when the take does not say, because it broke off.
    pub within_ms: Option<f64>,
    /// What most of that is.
    pub mostly: Option<Limit>,
    /// The clock's residual, ms.
    pub residual_ms: Option<f64>,
    /// Audio blocks that came too late.
    pub xruns: Option<u64>,
    /// Events that were lost.
    pub lost: Option<u64>,
    /// Events that were moved.
    pub moved: Option<u64>,
    /// The latency that was taken out.
    pub latency: LatencyFacts,
    /// Where times were in doubt.
    pub glitches: Vec<GlitchFacts>,
    /// Notes that fell into a glitch, played or not.
    #[serde(skip)]
    unjudged: usize,
    /// Whether there was an instrument, whose latency can be measured.
    #[serde(skip)]
    has_port: bool,
}

/// What limits a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Limit {
    /// The clocks' fit.
    Clock,
    /// What is not known of a message's way over a MIDI cable.
    Cable,
    /// The error of the measured latency.
    Latency,
    /// Rounding to the ticks of the file.
    Rounding,
}

/// The latency that was taken out, in ms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LatencyFacts {
    fixed_ms: f64,
    periods: f64,
    fixed_se_ms: Option<f64>,
    periods_se: Option<f64>,
}

/// A glitch in seconds since bar 1 beat 1, latency left in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GlitchFacts {
    from_s: f64,
    until_s: f64,
    what: GlitchKind,
}

/// What came between the player and us.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// A stand-in's notes come straight.
    Direct,
    /// A port of a program or of a device.
    Port {
        /// Whether there may be a MIDI cable behind it.
        has_cable: bool,
    },
}

impl Trust {
    /// Adds up what is known. `measured` is none for a take that broke off.
    pub fn new(
        measured: Option<Measured>,
        way: Way,
        latency: &Latency,
        expected: &Expected,
        judgement: &Judgement,
    ) -> Trust {
        let has_port = way != Way::Direct;
        let cable = way == Way::Port { has_cable: true };
        let limits = |measured: Measured| {
            [
                (Limit::Clock, DEVIATIONS * measured.residual.ms()),
                (Limit::Cable, if cable { CABLE_MS } else { 0.0 }),
                (
                    Limit::Latency,
                    DEVIATIONS * latency_error_ms(latency, judgement),
                ),
                (Limit::Rounding, half_tick_ms(expected)),
            ]
        };
        let limits = measured.map(limits);
        let within = |limits: [(Limit, f64); 4]| {
            limits
                .iter()
                .map(|limit| limit.1 * limit.1)
                .sum::<f64>()
                .sqrt()
        };
        let largest = |limits: [(Limit, f64); 4]| {
            limits
                .into_iter()
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map(|limit| limit.0)
        };
        Trust {
            within_ms: limits.map(within),
            mostly: limits.and_then(largest),
            residual_ms: measured.map(|measured| measured.residual.ms()),
            xruns: measured.map(|measured| measured.xruns),
            lost: measured.map(|measured| measured.lost),
            moved: measured.map(|measured| measured.moved),
            latency: LatencyFacts::from(latency),
            glitches: judgement.glitches.iter().map(GlitchFacts::from).collect(),
            unjudged: unjudged(judgement),
            has_port,
        }
    }

    /// One line for the player.
    pub fn in_words(&self) -> String {
        let mut text = match (self.within_ms, self.mostly) {
            (Some(within), Some(mostly)) => {
                let tenths = (10.0 * within).ceil().max(1.0) / 10.0;
                format!("Measured to within ±{tenths:.1} ms; {}.", mostly.in_words())
            }
            _ => "The take breaks off, so it does not say how well it was measured.".into(),
        };
        let is_measured = self
            .latency
            .fixed_se_ms
            .or(self.latency.periods_se)
            .is_some();
        if self.has_port && !is_measured {
            text += if self.latency.fixed_ms == 0.0 && self.latency.periods == 0.0 {
                " What the instrument's own latency adds is not known and is in every offset."
            } else {
                " The latency taken out was given, not measured: how exact it is is not known."
            };
        }
        let faults = self.faults();
        if !faults.is_empty() {
            text += &format!(" On the way: {}.", faults.join(", "));
        }
        text
    }

    fn faults(&self) -> Vec<String> {
        let unjudged = Some(self.unjudged as u64);
        let faults = [
            (self.xruns, "late audio block", "late audio blocks"),
            (self.lost, "lost event", "lost events"),
            (self.moved, "event out of order", "events out of order"),
            (
                unjudged,
                "note in a glitch and unjudged",
                "notes in a glitch and unjudged",
            ),
        ];
        let some = faults.into_iter().filter(|fault| fault.0.unwrap_or(0) > 0);
        some.map(|(count, one, many)| {
            let count = count.unwrap_or(0);
            format!("{count} {}", if count == 1 { one } else { many })
        })
        .collect()
    }
}

impl Limit {
    fn in_words(self) -> &'static str {
        match self {
            Limit::Clock => "the clocks of sound and MIDI allow no better",
            Limit::Cable => "most of that is the time that a note takes on a MIDI cable",
            Limit::Latency => "most of that is how well the latency is known",
            Limit::Rounding => "most of that is rounding in the take's file",
        }
    }
}

impl From<&Latency> for LatencyFacts {
    fn from(latency: &Latency) -> LatencyFacts {
        LatencyFacts {
            fixed_ms: latency.fixed.ms(),
            periods: latency.periods,
            fixed_se_ms: latency.fixed_se.map(Nanos::ms),
            periods_se: latency.periods_se,
        }
    }
}

impl From<&Glitch> for GlitchFacts {
    fn from(glitch: &Glitch) -> GlitchFacts {
        GlitchFacts {
            from_s: glitch.from.seconds(),
            until_s: glitch.until.seconds(),
            what: glitch.what,
        }
    }
}

/// The largest error over the keys that were played.
fn latency_error_ms(latency: &Latency, judgement: &Judgement) -> f64 {
    let keys = judgement.played.iter().map(|note| note.key);
    let lowest: Option<Key> = keys.min();
    lowest
        .and_then(|key| latency.standard_error(key))
        .map_or(0.0, Nanos::ms)
}

/// Half a tick of the file where the line is slowest.
fn half_tick_ms(expected: &Expected) -> f64 {
    let tempi = expected.tempo_map.changes();
    let slowest = tempi
        .map(|(_, _, rate)| rate.quarters_per_minute())
        .fold(f64::INFINITY, f64::min);
    60_000.0 / slowest / f64::from(DIVISION.get()) / 2.0
}

fn unjudged(judgement: &Judgement) -> usize {
    let is_unjudged = |reading: &&crate::judge::Reading| {
        let timing = reading.partner.map(|partner| partner.timing);
        reading.is_unheard || timing == Some(Timing::Unjudged)
    };
    judgement.readings.iter().filter(is_unjudged).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::{Rate, Speed, TempoMap};
    use crate::line::Tempo;
    use crate::played::PlayedNote;

    fn expected() -> Expected {
        Expected {
            notes: vec![],
            bars: vec![],
            sections: vec![],
            strings: vec![],
            open: vec![],
            tempo_map: TempoMap::new(Rate::new(Tempo(100_000), Speed::WRITTEN)),
            end: Nanos::ZERO,
        }
    }

    fn judgement(keys: &[u8]) -> Judgement {
        let played = |key: &u8| PlayedNote {
            key: Key(*key),
            channel: 0,
            onset: Nanos::ZERO,
            length: None,
            velocity: 80,
        };
        Judgement {
            readings: vec![],
            played: keys.iter().map(played).collect(),
            extra: vec![],
            cleaned: Vec::new(),
            glitches: vec![],
        }
    }

    fn measured(residual_us: i64) -> Option<Measured> {
        Some(Measured {
            residual: Nanos(1000 * residual_us),
            xruns: 0,
            lost: 0,
            moved: 0,
        })
    }

    const CABLE: Way = Way::Port { has_cable: true };

    /// √(0.96² + (2·0.2)² + 0.0098²) = 1.04 ms; half a tick at 100 quarters a minute is 9.77 µs.
    #[test]
    fn independent_parts_add_up_by_their_squares() {
        let trust = Trust::new(
            measured(200),
            CABLE,
            &Latency::default(),
            &expected(),
            &judgement(&[40]),
        );
        assert!((trust.within_ms.unwrap() - 1.04).abs() < 5e-4, "{trust:?}");
        assert_eq!(trust.mostly, Some(Limit::Cable));
        assert_eq!(
            trust.in_words(),
            "Measured to within ±1.1 ms; most of that is the time that a note takes on a MIDI cable. What the \
             instrument's own latency adds is not known and is in every offset."
        );
    }

    /// At E1, 41.203 Hz, 0.1 periods are 2.427 ms; twice that and 1 ms of the fixed part: 2·√(2.427² + 0.5²) = 4.956.
    #[test]
    fn a_measured_latency_counts_at_the_lowest_key_that_was_played() {
        let latency = Latency {
            fixed_se: Some(Nanos(500_000)),
            periods_se: Some(0.1),
            ..Latency::default()
        };
        let way = Way::Port { has_cable: false };
        let trust = Trust::new(
            measured(0),
            way,
            &latency,
            &expected(),
            &judgement(&[45, 28]),
        );
        assert!((trust.within_ms.unwrap() - 4.956).abs() < 1e-3, "{trust:?}");
        assert_eq!(
            trust.in_words(),
            "Measured to within ±5.0 ms; most of that is how well the latency is known."
        );
    }

    #[test]
    fn a_stand_in_has_no_latency_of_its_own_and_a_broken_take_says_nothing() {
        let none = Latency::default();
        let trust = Trust::new(
            measured(0),
            Way::Direct,
            &none,
            &expected(),
            &judgement(&[]),
        );
        assert_eq!(
            trust.in_words(),
            "Measured to within ±0.1 ms; most of that is rounding in the take's file."
        );
        let trust = Trust::new(None, Way::Direct, &none, &expected(), &judgement(&[]));
        assert_eq!(trust.within_ms, None);
        assert!(trust.in_words().starts_with("The take breaks off"));
    }

    #[test]
    fn faults_are_counted_out() {
        let measured = Some(Measured {
            residual: Nanos(400_000),
            xruns: 2,
            lost: 1,
            moved: 0,
        });
        let none = Latency::default();
        let trust = Trust::new(measured, Way::Direct, &none, &expected(), &judgement(&[]));
        assert_eq!(
            trust.in_words(),
            "Measured to within ±0.9 ms; the clocks of sound and MIDI allow no better. On the way: 2 late audio blocks, \
             1 lost event."
        );
    }
}
