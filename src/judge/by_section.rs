//! The numbers of a take by section, its passes pooled, or by pass. Linear in the notes; a section of which nothing is
//! expected (a take that stopped before it, or one of rests alone) is left out.

use super::cost::Pitch;
use super::judge::Judgement;
use super::reading::{Length, Partner, Reading, Timing};
use super::summary::{is_timed, left_out, mean_and_sd, tempo_drift};
use crate::expected::Expected;
use serde::Serialize;

/// What a section, or one pass of it, comes to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionSum {
    /// The section's name.
    pub name: String,
    /// How many passes of it are added up.
    pub passes: u32,
    /// The first of them.
    #[serde(skip)]
    pub first_pass: u32,
    /// Notes that had to be played (see [`super::summary::Summary::expected`]).
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// Those that nothing was played for.
    pub missed: usize,
    /// Matched notes of the right key.
    pub pitch_right: usize,
    /// Matched notes that have a pitch to judge: all but dead notes.
    #[serde(skip)]
    pub pitch_judged: usize,
    /// Mean offset in ms, displacement taken out; negative is early.
    pub offset_mean_ms: Option<f64>,
    /// Standard deviation of the same around that mean (n − 1), from two notes on.
    pub offset_sd_ms: Option<f64>,
    /// How much faster (positive) or slower than the line, in percent, within the passes; from
    /// [`FEWEST_FOR_DRIFT`] timed notes on.
    pub tempo_drift_pct: Option<f64>,
    /// Matched notes inside the timing window.
    pub timing_in: usize,
    /// Matched notes inside the length window.
    pub length_in: usize,
}

/// Fewer notes than this say nothing of a slope: with 12 ms of spread, eight notes over eight beats at 120 have a
/// standard error of 0.4 %.
pub const FEWEST_FOR_DRIFT: usize = 8;

/// By section, in the order of the line.
pub fn by_section(expected: &Expected, judgement: &Judgement) -> Vec<SectionSum> {
    let passes = passes(expected, &judgement.readings);
    let section = |pass: &&[Reading]| expected.notes[pass[0].note as usize].section;
    passes
        .chunk_by(|one, next| section(one) == section(next))
        .map(|passes| sum(expected, passes))
        .collect()
}

/// By pass, in playing order.
pub fn by_pass(expected: &Expected, judgement: &Judgement) -> Vec<SectionSum> {
    passes(expected, &judgement.readings)
        .iter()
        .map(|pass| sum(expected, std::slice::from_ref(pass)))
        .collect()
}

/// The readings of each pass; none of them is empty.
fn passes<'a>(expected: &Expected, readings: &'a [Reading]) -> Vec<&'a [Reading]> {
    let of = |reading: &Reading| {
        let note = &expected.notes[reading.note as usize];
        (note.section, note.pass)
    };
    readings.chunk_by(|one, next| of(one) == of(next)).collect()
}

/// Passes of one section, at least one.
fn sum(expected: &Expected, passes: &[&[Reading]]) -> SectionSum {
    let readings = || passes.iter().copied().flatten();
    let partners = || readings().filter_map(|reading| reading.partner.as_ref());
    let count = |holds: fn(&Partner) -> bool| partners().filter(|one| holds(one)).count();
    let timed = || partners().filter(|partner| is_timed(partner));
    let (mean, sd) = mean_and_sd(timed().map(|partner| partner.off_grid.ms()));
    let drift = tempo_drift(expected, passes);
    let asked = readings()
        .filter(|reading| !left_out(expected, reading))
        .count();
    let first = &expected.notes[passes[0][0].note as usize];
    SectionSum {
        name: expected.sections[usize::from(first.section)].clone(),
        passes: passes.len() as u32,
        first_pass: first.pass,
        expected: asked,
        matched: partners().count(),
        missed: asked - partners().count(),
        pitch_right: count(|partner| partner.pitch == Pitch::Right),
        pitch_judged: count(|partner| partner.pitch != Pitch::Unjudged),
        offset_mean_ms: mean,
        offset_sd_ms: sd,
        tempo_drift_pct: drift.filter(|_| timed().count() >= FEWEST_FOR_DRIFT),
        timing_in: count(|partner| partner.timing == Timing::In),
        length_in: count(|partner| partner.length == Some(Length::In)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;
    use crate::units::{Nanos, Ticks};

    /// Two passes of A (four quarters, half a second each), one of B (one note and a ghost note).
    const LINE: &str = "title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n\
         [[section]]\nname = \"A\"\npasses = [0, 0]\nnotes = \"A1/4 A1/4 A1/4 A1/4\"\n\
         [[section]]\nname = \"B\"\nnotes = \"D2/2 D2/2?\"";

    /// Offsets in ms by note; `None` where nothing was played.
    fn played(offsets: [Option<i64>; 10]) -> (Expected, Judgement) {
        let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let partner = |offset: i64| Partner {
            played: 0,
            offset: Nanos::from_ms(offset),
            displaced: Ticks(0),
            off_grid: Nanos::from_ms(offset),
            length_ratio: Some(1.0),
            ring_over: None,
            pitch: Pitch::Right,
            timing: if offset.abs() <= 30 {
                Timing::In
            } else {
                Timing::Late
            },
            length: Some(Length::In),
        };
        let readings = std::iter::zip(0.., offsets).map(|(note, offset)| Reading {
            note,
            partner: offset.map(partner),
            is_unheard: false,
        });
        let judgement = Judgement {
            readings: readings.collect(),
            played: Vec::new(),
            extra: Vec::new(),
            glitches: Vec::new(),
            cleaned: Vec::new(),
        };
        (unroll(&line, Speed::WRITTEN), judgement)
    }

    /// Pass 1 gets 5 ms later with each beat of 500 ms, pass 2 too, from 20 ms earlier on: 1 % too slow in both, which the
    /// step between them does not hide. Mean (0 + 5 + 10 + 15 − 20 − 15 − 10 − 5) / 8 = −2.5.
    #[test]
    fn passes_are_pooled_and_their_drift_is_that_within_them() {
        let offsets = [0, 5, 10, 15, -20, -15, -10, -5].map(Some);
        let (expected, judgement) = played(std::array::from_fn(|i| {
            offsets.get(i).copied().unwrap_or(None)
        }));
        let sums = by_section(&expected, &judgement);
        let names: Vec<(&str, u32)> = sums.iter().map(|s| (s.name.as_str(), s.passes)).collect();
        assert_eq!(names, [("A", 2), ("B", 1)]);
        let mean = sums[0].offset_mean_ms.expect("eight notes");
        assert!((mean + 2.5).abs() < 1e-9, "{mean}");
        let drift = sums[0].tempo_drift_pct.expect("eight notes");
        assert!((drift + 1.0).abs() < 1e-9, "{drift}");
        // The ghost note is not asked for; the note before it is missed.
        assert_eq!(
            (sums[1].expected, sums[1].matched, sums[1].missed),
            (1, 0, 1)
        );
        assert_eq!(
            (sums[1].offset_mean_ms, sums[1].tempo_drift_pct),
            (None, None)
        );
    }

    #[test]
    fn each_pass_can_be_added_up_alone_and_seven_notes_have_no_drift() {
        let (expected, judgement) = played([
            Some(0),
            Some(40),
            None,
            Some(0),
            Some(0),
            Some(0),
            Some(0),
            Some(0),
            Some(0),
            None,
        ]);
        let sums = by_pass(&expected, &judgement);
        assert_eq!(
            sums.iter().map(|s| s.timing_in).collect::<Vec<_>>(),
            [2, 4, 1]
        );
        assert_eq!(sums.iter().map(|s| s.missed).collect::<Vec<_>>(), [1, 0, 0]);
        assert_eq!(by_section(&expected, &judgement)[0].tempo_drift_pct, None);
    }

    #[test]
    fn what_is_not_expected_any_more_is_left_out() {
        let (mut expected, mut judgement) = played([Some(0); 10]);
        expected.notes.truncate(5);
        judgement.readings.truncate(5);
        let sums = by_section(&expected, &judgement);
        assert_eq!((sums.len(), sums[0].passes, sums[0].expected), (1, 2, 5));
        judgement.readings.clear();
        assert_eq!(by_section(&expected, &judgement), []);
    }
}
