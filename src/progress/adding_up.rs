//! A judged take becomes its figures.

use super::figures::{FindingFigures, Group, Part, Scatter, SectionFigures, TakeFigures, VERSION};
use crate::expected::Expected;
use crate::findings::evidence::{Evidence, Heard};
use crate::findings::model::Model;
use crate::findings::stats::estimate::Estimate;
use crate::findings::stats::mean_estimate;
use crate::findings::stats::spread::{Spread, excess_kurtosis};
use crate::findings::{FEWEST, Finding, swing};
use crate::judge::by_section::SectionSum;
use crate::judge::summary::{PLAUSIBLE_RATIOS, mean_and_sd};
use crate::judge::{Length, Timing};
use crate::line::bar_range::BarRange;
use crate::report::Checked;

/// A spread on fewer degrees of freedom says next to nothing: of eight, its interval goes from two thirds to twice as much.
const LEAST_FREEDOM: f64 = 8.0;

impl TakeFigures {
    /// What a judged take comes to.
    pub fn of(checked: &Checked<'_>) -> TakeFigures {
        let (expected, judgement) = (checked.expected, checked.judgement);
        let heard = Evidence::new(expected, judgement, &checked.settings.windows).heard;
        let mut whole = part(expected, &checked.sections, &heard);
        whole.extra = judgement.extra.len() as u32;
        TakeFigures {
            v: VERSION,
            whole,
            sections: sections(checked, &heard),
            findings: checked.findings.iter().map(finding).collect(),
        }
    }
}

/// The sections of which notes are expected, in the order in which [`crate::judge::by_section`] has them.
fn sections(checked: &Checked<'_>, heard: &[Heard<'_>]) -> Vec<SectionFigures> {
    let expected = checked.expected;
    let runs = expected
        .notes
        .chunk_by(|one, next| one.section == next.section);
    let section = |(sum, notes): (&SectionSum, &[crate::expected::ExpectedNote])| {
        let section = notes[0].section;
        let bars = || {
            let of_section = expected.bars.iter().filter(|bar| bar.section == section);
            of_section.map(|bar| bar.number)
        };
        let of_section: Vec<Heard<'_>> = heard
            .iter()
            .filter(|heard| heard.note.section == section)
            .copied()
            .collect();
        SectionFigures {
            name: sum.name.clone(),
            bars: BarRange {
                first: bars().min().unwrap_or(0),
                last: bars().max().unwrap_or(0),
            },
            part: part(expected, std::slice::from_ref(sum), &of_section),
        }
    };
    std::iter::zip(&checked.sections, runs)
        .map(section)
        .collect()
}

fn part(expected: &Expected, sums: &[SectionSum], heard: &[Heard<'_>]) -> Part {
    let sum = |of: fn(&SectionSum) -> usize| sums.iter().map(of).sum::<usize>() as u32;
    let count = |holds: fn(&&Heard<'_>) -> bool| heard.iter().filter(holds).count() as u32;
    let offsets: Vec<f64> = heard.iter().map(|heard| heard.offset_ms).collect();
    let swing = swing_logs(expected, heard);
    let kinds = Kinds::of(&offsets, heard);
    Part {
        expected: sum(|sum| sum.expected),
        matched: sum(|sum| sum.matched),
        missed: sum(|sum| sum.missed),
        extra: 0,
        pitched: sum(|sum| sum.pitch_judged),
        pitch_right: sum(|sum| sum.pitch_right),
        timed: heard.len() as u32,
        timing_in: count(|heard| heard.partner.timing == Timing::In),
        lengths: count(|heard| heard.partner.length.is_some()),
        length_in: count(|heard| heard.length_is(Length::In)),
        rings: count(|heard| heard.length_is(Length::Rings)),
        lean: group(&offsets),
        spread: kinds.as_ref().and_then(Kinds::spread),
        entries: kinds.as_ref().and_then(|kinds| kinds.group(Kind::Entry)),
        upbeats: kinds.as_ref().and_then(|kinds| kinds.group(Kind::Upbeat)),
        swing_asked: mean_and_sd(swing.iter().map(|pair| pair[0])).0.map(rounded),
        swing: group(&swing.iter().map(|pair| pair[1]).collect::<Vec<f64>>()),
        length: group(&length_logs(heard)),
    }
}

/// Logarithms of what the line asks for and of what was played, a swung pair each.
fn swing_logs(expected: &Expected, heard: &[Heard<'_>]) -> Vec<[f64; 2]> {
    swing::ratios(expected, heard)
        .into_iter()
        .filter(|[_, played]| PLAUSIBLE_RATIOS.contains(played))
        .map(|ratios| ratios.map(f64::ln))
        .collect()
}

/// Muted and dead notes cannot be too short: their length says nothing.
fn length_logs(heard: &[Heard<'_>]) -> Vec<f64> {
    heard
        .iter()
        .filter(|heard| !(heard.note.is.muted || heard.note.is.dead))
        .filter_map(|heard| heard.partner.length_ratio)
        .filter(|ratio| *ratio > 0.0)
        .map(f64::ln)
        .collect()
}

fn group(values: &[f64]) -> Option<Group> {
    let estimate = mean_estimate(values).filter(|_| values.len() >= FEWEST)?;
    let sd = mean_and_sd(values.iter().copied()).1?;
    Some(rounded_group(values.len(), estimate, sd))
}

/// The kinds of note that are asked for beside each other.
#[derive(Clone, Copy)]
enum Kind {
    Entry,
    Upbeat,
}

/// The offsets without the slow wandering, and what the kinds of note have of their own.
struct Kinds {
    plain: Model,
    /// With both kinds taken out.
    left: Model,
    entries: Vec<f64>,
    upbeats: Vec<f64>,
}

impl Kinds {
    fn of(offsets: &[f64], heard: &[Heard<'_>]) -> Option<Kinds> {
        let column = |is_of_kind: fn(&Heard<'_>) -> bool| -> Vec<f64> {
            let share = |heard: &Heard<'_>| f64::from(u8::from(is_of_kind(heard)));
            heard.iter().map(share).collect()
        };
        let entries = column(|heard| heard.note.is.entry);
        let upbeats = column(|heard| heard.note.is.upbeat);
        let plain = Model::new(offsets, heard);
        let left = plain.clone().with(&upbeats).with(&entries);
        (left.freedom() >= LEAST_FREEDOM).then_some(Kinds {
            plain,
            left,
            entries,
            upbeats,
        })
    }

    fn spread(&self) -> Option<Scatter> {
        let left = self.left.left();
        let squares = left.iter().map(|value| value * value).sum();
        let alike = self.left.correlation();
        let kurtosis = excess_kurtosis(left.iter().copied());
        let spread = Spread::new(squares, self.left.freedom(), alike, kurtosis)?;
        // Nobody plays without any spread, and its logarithm is asked for.
        (spread.sd > 0.0).then(|| Scatter {
            sd: rounded(spread.sd).max(0.001),
            freedom: rounded(spread.freedom),
            alike: rounded(alike),
        })
    }

    fn group(&self, kind: Kind) -> Option<Group> {
        let (column, other) = match kind {
            Kind::Entry => (&self.entries, &self.upbeats),
            Kind::Upbeat => (&self.upbeats, &self.entries),
        };
        let count = column.iter().filter(|share| **share > 0.0).count();
        let is_told_apart = count >= FEWEST && column.len() - count >= FEWEST;
        let estimate = is_told_apart.then(|| self.plain.clone().with(other).ask(column))??;
        let own = std::iter::zip(column, self.left.left())
            .filter(|(share, _)| **share > 0.0)
            .map(|(_, left)| *left);
        Some(rounded_group(count, estimate, mean_and_sd(own).1?))
    }
}

fn rounded_group(n: usize, estimate: Estimate, sd: f64) -> Group {
    Group {
        n: n as u32,
        mean: rounded(estimate.mean),
        sd: rounded(sd),
        se: rounded(estimate.standard_error),
    }
}

fn finding(finding: &Finding) -> FindingFigures {
    let practice = finding.practice.as_ref();
    FindingFigures {
        id: finding.id.into(),
        count: finding.count as u32,
        of: finding.of as u32,
        hurt: rounded(finding.hurt),
        mean_ms: finding.mean_ms.map(rounded),
        interval_ms: finding.interval_ms.map(|interval| interval.map(rounded)),
        bars: practice.map(|practice| practice.bars.into()),
        speed: practice.map(|practice| practice.speed),
    }
}

/// To a thousandth: a microsecond, where it is ms.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::Sample;

    const SECTIONS: &str = "swing = \"2:1\"\nswung = \"1/8\"\n\
        [[section]]\nname = \"A\"\npasses = [0, 0, 0, 0, 0, 0]\n\
        notes = \"r/8 A2/8 D3/4 D3/8 C3/8 A2/4 | D2/8 E2/8 F2/8 A2/8 r/4 r/8 A2/8\"\n\
        [[section]]\nname = \"B\"\nnotes = \"D2/4 r/4 D2/2m | D2/1\"\n";

    fn figures(habits: &str) -> TakeFigures {
        TakeFigures::of(&Sample::new(SECTIONS, habits).checked())
    }

    #[test]
    fn entries_upbeats_and_lean_are_told_apart() {
        let whole = figures("mean-ms=-15,spread-ms=6,late-entries-ms=25").whole;
        let [lean, entries, upbeats] =
            [whole.lean, whole.entries, whole.upbeats].map(Option::unwrap);
        assert!(
            (entries.mean - 25.0).abs() < 4.0 * entries.se && entries.se < 4.0,
            "{entries:?}"
        );
        assert!(upbeats.mean.abs() < 4.0 * upbeats.se, "{upbeats:?}");
        // The entries, 25 ms late, are in the mean of all.
        let share = f64::from(entries.n) / f64::from(lean.n);
        assert!(
            (lean.mean - (25.0 * share - 15.0)).abs() < 4.0 * lean.se,
            "{lean:?}"
        );
    }

    #[test]
    fn the_spread_is_without_what_entries_have_of_their_own() {
        let spread = |habits| figures(habits).whole.spread.unwrap();
        let (plain, late) = (
            spread("spread-ms=12"),
            spread("spread-ms=12,late-entries-ms=60"),
        );
        assert!((plain.sd - 12.0).abs() < 3.0, "{plain:?}");
        assert!((late.sd - plain.sd).abs() < 0.5, "{late:?} {plain:?}");
    }

    #[test]
    fn sections_add_up_to_the_whole() {
        let figures = figures("spread-ms=10,dropped=0.1,extra=0.05");
        let of = |count: fn(&Part) -> u32| -> [u32; 2] {
            let sections = figures.sections.iter().map(|section| count(&section.part));
            [sections.sum(), count(&figures.whole)]
        };
        for [sections, whole] in [
            of(|part| part.expected),
            of(|part| part.missed),
            of(|part| part.timed),
            of(|part| part.lengths),
        ] {
            assert_eq!(sections, whole);
        }
        let bars: Vec<[u32; 2]> = figures.sections.iter().map(|s| s.bars.into()).collect();
        assert_eq!(bars, [[1, 2], [3, 4]]);
    }

    #[test]
    fn swing_is_told_as_the_line_has_it_and_as_it_was_played() {
        let whole = figures("spread-ms=3").whole;
        assert!((whole.swing_asked.unwrap() - 2f64.ln()).abs() < 1e-3);
        let swing = whole.swing.unwrap();
        assert!((swing.mean - 2f64.ln()).abs() < 4.0 * swing.se, "{swing:?}");
    }

    #[test]
    fn a_take_without_notes_has_figures() {
        let mut sample = Sample::new(SECTIONS, "");
        sample
            .judgement
            .readings
            .iter_mut()
            .for_each(|reading| reading.partner = None);
        let whole = TakeFigures::of(&sample.checked()).whole;
        assert_eq!((whole.matched, whole.missed), (0, whole.expected));
        assert_eq!((whole.lean, whole.spread), (None, None));
    }

    #[test]
    fn figures_are_the_same_when_they_are_read_back_and_are_small() {
        let figures = figures("spread-ms=12,late-entries-ms=40,dropped=0.02");
        let json = serde_json::to_string(&figures).expect("JSON");
        assert_eq!(
            serde_json::from_str::<TakeFigures>(&json).expect("figures"),
            figures
        );
        assert!(json.len() < 1500, "{} bytes: {json}", json.len());
    }
}
