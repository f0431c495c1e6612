//! What players are compared in, and what one take comes to in it.

use crate::expected::{Expected, ExpectedNote};
use crate::findings::FEWEST;
use crate::findings::stats::proportion::Proportion;
use crate::judge::cost::Pitch;
use crate::judge::summary::{is_timed, left_out, mean_and_sd, swing_ratio_of, written_swing};
use crate::judge::{Partner, Reading};
use crate::report::{Checked, StartFrom};

/// One number that a take comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Measure {
    /// Notes of the right pitch, in percent of those played that have one.
    Pitch,
    /// Mean offset in ms of the notes on the click: on a beat that sounds, no entry, in place. Negative is ahead. Not for
    /// takes whose start was estimated from their notes, nor where the latency is suspected.
    Lean,
    /// Standard deviation of the offsets, in ms, as `check` tells it.
    Spread,
    /// How much later than the notes on the click entries come, in ms.
    Entries,
    /// How much later than the notes on the click upbeats come, in ms, against the line's own place for them.
    Upbeats,
    /// Long half over short half of swung pairs as played, where the line swings.
    Swing,
    /// How long notes sound, in percent of what is expected (geometric mean); muted and dead notes aside.
    Lengths,
}

/// How values of a measure are averaged and compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// As they are; a difference is a difference.
    Plain,
    /// Percent of cases; a difference is one of percent points.
    Share,
    /// By their logarithms; a difference is a ratio.
    Ratio,
}

impl Measure {
    /// All of them, in the order in which they are told.
    pub const ALL: [Measure; 7] = [
        Measure::Pitch,
        Measure::Lean,
        Measure::Spread,
        Measure::Entries,
        Measure::Upbeats,
        Measure::Swing,
        Measure::Lengths,
    ];

    /// Its name in JSON and CSV, with its unit.
    pub fn name(self) -> &'static str {
        match self {
            Measure::Pitch => "pitch_pct",
            Measure::Lean => "lean_ms",
            Measure::Spread => "spread_ms",
            Measure::Entries => "entries_ms",
            Measure::Upbeats => "upbeats_ms",
            Measure::Swing => "swing_ratio",
            Measure::Lengths => "length_pct",
        }
    }

    /// Standard deviations and ratios are compared by ratio: their errors grow with them.
    pub fn scale(self) -> Scale {
        match self {
            Measure::Pitch => Scale::Share,
            Measure::Lean | Measure::Entries | Measure::Upbeats => Scale::Plain,
            Measure::Spread | Measure::Swing | Measure::Lengths => Scale::Ratio,
        }
    }

    /// What a take comes to; `None` where it does not say.
    pub fn of(self, take: &Measured) -> Option<f64> {
        match self {
            Measure::Pitch => (take.pitch.of > 0).then(|| 100.0 * take.pitch.share()),
            Measure::Lean => take.lean_ms,
            Measure::Spread => take.spread_ms,
            Measure::Entries => take.entries_ms,
            Measure::Upbeats => take.upbeats_ms,
            Measure::Swing => take.swing_ratio,
            Measure::Lengths => take.length_pct,
        }
    }
}

/// What a take, or a section of it, comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Notes of the line, as far as the take goes.
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// Right notes of those that have a pitch.
    pub pitch: Proportion,
    /// See [`Measure::Lean`].
    pub lean_ms: Option<f64>,
    /// See [`Measure::Spread`].
    pub spread_ms: Option<f64>,
    /// See [`Measure::Entries`].
    pub entries_ms: Option<f64>,
    /// See [`Measure::Upbeats`].
    pub upbeats_ms: Option<f64>,
    /// See [`Measure::Swing`].
    pub swing_ratio: Option<f64>,
    /// See [`Measure::Lengths`].
    pub length_pct: Option<f64>,
}

/// A take with its sections.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeMeasured {
    /// All of it.
    pub whole: Measured,
    /// By section name, all passes together, in the order of the line.
    pub sections: Vec<(String, Measured)>,
}

impl TakeMeasured {
    /// What a judged take comes to.
    pub fn of(checked: &Checked) -> TakeMeasured {
        let names = &checked.expected.sections;
        let of_section = |section: u16| measured(checked, |note| note.section == section);
        TakeMeasured {
            whole: measured(checked, |_| true),
            sections: std::iter::zip(0.., names)
                .map(|(section, name)| (name.clone(), of_section(section)))
                .filter(|(_, sum)| sum.expected > 0)
                .collect(),
        }
    }
}

/// What no clock here can tell from none: spreads below are taken as this much, so that they have a logarithm.
const SMALLEST_SPREAD_MS: f64 = 0.1;

fn measured(checked: &Checked, belongs: impl Fn(&ExpectedNote) -> bool) -> Measured {
    let (expected, judgement) = (checked.expected, checked.judgement);
    let note = |reading: &Reading| &expected.notes[reading.note as usize];
    let readings = || judgement.readings.iter().filter(|r| belongs(note(r)));
    let played =
        || readings().filter_map(|reading| Some((note(reading), reading.partner.as_ref()?)));
    let timed = || played().filter(|(_, partner)| is_timed(partner));
    let offsets = |kind: Kind| {
        let of_kind =
            timed().filter(move |(note, partner)| Kind::of(expected, note, partner) == kind);
        mean_and_count(of_kind.map(|(_, partner)| partner.off_grid.ms()))
    };
    let on_click = offsets(Kind::OnClick).filter(|(_, count)| *count >= FEWEST);
    let later = |kind: Kind| {
        let (mean, _) = offsets(kind)?;
        Some(mean - on_click?.0)
    };
    let (_, sd) = mean_and_sd(timed().map(|(_, partner)| partner.off_grid.ms()));
    let right = played().filter(|(_, partner)| partner.pitch == Pitch::Right);
    let pitched = played().filter(|(_, partner)| partner.pitch != Pitch::Unjudged);
    let ratios = played()
        .filter(|(note, _)| !(note.is.muted || note.is.dead))
        .filter_map(|(_, partner)| partner.length_ratio)
        .filter(|ratio| *ratio > 0.0);
    Measured {
        expected: readings()
            .filter(|reading| !left_out(expected, reading))
            .count(),
        matched: played().count(),
        pitch: Proportion::new(right.count(), pitched.count()),
        lean_ms: on_click
            .map(|(mean, _)| mean)
            .filter(|_| tells_lean(checked)),
        spread_ms: sd
            .filter(|_| timed().count() >= FEWEST)
            .map(|sd| sd.max(SMALLEST_SPREAD_MS)),
        entries_ms: later(Kind::Entry),
        upbeats_ms: later(Kind::Upbeat),
        swing_ratio: written_swing(expected)
            .and_then(|_| swing_ratio_of(expected, judgement, &belongs)),
        length_pct: mean_and_count(ratios.map(f64::ln))
            .filter(|(_, count)| *count >= FEWEST)
            .map(|(mean, _)| 100.0 * mean.exp()),
    }
}

/// Where a note stands in its bar.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    OnClick,
    Entry,
    Upbeat,
    /// Out of its place, or on a beat that nobody hears.
    Apart,
}

impl Kind {
    fn of(expected: &Expected, note: &ExpectedNote, partner: &Partner) -> Kind {
        let is_silent = expected.bars[note.bar as usize].silent;
        match note.is {
            _ if is_silent || partner.displaced.0 != 0 => Kind::Apart,
            is if is.entry => Kind::Entry,
            is if is.upbeat => Kind::Upbeat,
            _ => Kind::OnClick,
        }
    }
}

/// Whether milliseconds against the click are the player's own, and not of an estimated start or of the way in.
fn tells_lean(checked: &Checked) -> bool {
    let is_suspected = checked
        .findings
        .iter()
        .any(|finding| finding.id == "latency-suspect");
    checked.take.start_from != StartFrom::Notes && !is_suspected
}

fn mean_and_count(values: impl Iterator<Item = f64>) -> Option<(f64, usize)> {
    let (sum, count) = values.fold((0.0, 0), |(sum, count), value| (sum + value, count + 1));
    (count > 0).then(|| (sum / count as f64, count))
}
