//! The tempo map of a file as the tempi of bars. Many small changes are a tempo that was played, and are averaged.

use super::frame::{Bar, Scale};
use crate::line::Tempo;
use crate::midi::smf::{SmfFile, TempoSource};
use crate::score::lost::{Losses, Spot};
use crate::units::Ticks;

/// More changes than this, and more than one in two bars, are a performance.
const MOST_CHANGES: usize = 8;
/// A change this close to a bar line belongs to it, in ticks.
const ON_LINE: i64 = 60;

/// What the bars of a file have.
#[derive(Clone, Debug, PartialEq)]
pub enum Tempi {
    /// The file names none.
    None,
    /// The same throughout.
    One(Tempo),
    /// One for each bar.
    Bars(Vec<Tempo>),
}

/// The tempi of the bars, and what is to be said of them.
pub fn settle(
    file: &SmfFile,
    scale: Scale,
    bars: &[Bar],
    until: i64,
    losses: &mut Losses,
) -> (Tempi, Option<String>) {
    if file.tempi.iter().all(|t| t.source == TempoSource::Default) {
        return (Tempi::None, None);
    }
    let changes: Vec<(i64, u32)> = file
        .tempi
        .iter()
        .map(|tempo| (scale.near(tempo.tick), tempo.micros_per_quarter))
        .filter(|(at, _)| *at < until.max(1))
        .collect();
    if changes.len() > MOST_CHANGES && changes.len() * 2 > bars.len() {
        let average = average(&changes, until);
        let said = format!(
            "the tempo was played ({} changes): {} throughout is its average",
            changes.len(),
            number(average)
        );
        return (Tempi::One(average), Some(said));
    }
    let in_force = |at: i64| changes.iter().rfind(|change| change.0 <= at + ON_LINE);
    let mut held = false;
    let tempi: Vec<Tempo> = bars
        .iter()
        .map(|bar| {
            let micros = in_force(bar.start).map_or(500_000, |change| change.1);
            let (tempo, was_held) = within(nearest(micros));
            held |= was_held;
            tempo
        })
        .collect();
    if held {
        losses.say("tempi below 20 or above 400 quarter notes a minute (held there)");
    }
    for (at, _) in &changes {
        let index = bars
            .partition_point(|bar| bar.start <= *at)
            .saturating_sub(1);
        let Some(bar) = bars.get(index) else { continue };
        let into = at - bar.start;
        if into > ON_LINE && into < bar.length - ON_LINE {
            let spot = Spot::new(&(index + 1).to_string(), bar.meter, Ticks(into));
            losses.add("tempo changes inside a bar (made at the next bar)", spot);
        }
    }
    (Tempi::Bars(tempi), None)
}

/// All quarters over all minutes, to the whole number.
fn average(changes: &[(i64, u32)], until: i64) -> Tempo {
    let ends = changes.iter().skip(1).map(|change| change.0).chain([until]);
    let weighted = changes
        .iter()
        .zip(ends)
        .map(|((at, micros), end)| (end - at).max(0) as f64 * f64::from(*micros));
    let micros = weighted.sum::<f64>() / until.max(1) as f64;
    let tempo = (60e6 / micros.max(1.0)).round().clamp(20.0, 400.0);
    Tempo(tempo as u32 * 1000)
}

/// The tempo with the fewest decimals that a file writes with these microseconds a quarter.
fn nearest(micros: u32) -> u64 {
    let exact = 60e9 / f64::from(micros.max(1));
    let written = |tempo: f64| (60e9 / tempo).round() == f64::from(micros);
    [1000.0, 100.0, 10.0, 1.0]
        .into_iter()
        .map(|grain| (exact / grain).round() * grain)
        .find(|tempo| *tempo > 0.0 && written(*tempo))
        .unwrap_or(exact.round()) as u64
}

fn within(tempo: u64) -> (Tempo, bool) {
    let held = tempo.clamp(20_000, 400_000);
    (Tempo(held as u32), held != tempo)
}

fn number(tempo: Tempo) -> String {
    tempo.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 60 000 000 / 126 = 476 190.47…; 60 000 000 / 92.5 = 648 648.6…
    #[test]
    fn a_tempo_is_the_plainest_that_a_file_writes_so() {
        for (micros, tempo) in [
            (500_000, 120_000),
            (476_190, 126_000),
            (648_649, 92_500),
            (455_927, 131_600),
        ] {
            assert_eq!(nearest(micros), tempo);
        }
    }

    #[test]
    fn an_average_counts_each_tempo_for_as_long_as_it_lasts() {
        // Three quarters at 120 and one at 60: 4 quarters in 2.5 s.
        let changes = [(0, 500_000), (2880, 1_000_000)];
        assert_eq!(average(&changes, 3840), Tempo(96_000));
    }
}
