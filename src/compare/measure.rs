//! What players are compared in, and what one take comes to in it.

use crate::expected::{Expected, ExpectedNote};
use crate::findings::FEWEST;
use crate::judge::cost::Pitch;
use crate::judge::summary::{
    FEWEST_PAIRS, is_timed, left_out, mean_and_sd, swing_logs, written_swing,
};
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

    /// Its place in [`Measure::ALL`].
    pub(super) fn place(self) -> usize {
        self as usize
    }
}

/// One number of a take, on the [`Scale`] on which it is compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number; of a ratio its natural logarithm.
    pub mean: f64,
    /// How far it would vary (variance) if only chance from note to note were at work, notes taken as independent.
    pub variance: f64,
}

/// What a take, or a section of it, comes to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measured {
    /// Notes of the line, as far as the take goes.
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// By measure, as in [`Measure::ALL`]; `None` where the take does not say.
    pub figures: [Option<Figure>; Measure::ALL.len()],
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
        let of_kind = timed().filter(|(note, partner)| Kind::of(expected, note, partner) == kind);
        of_kind
            .map(|(_, partner)| partner.off_grid.ms())
            .collect::<Vec<f64>>()
    };
    let on_click = mean_of(&offsets(Kind::OnClick));
    let later = |kind: Kind| Some(mean_of_few(&offsets(kind))?.less(on_click?));
    let all_offsets = timed().map(|(_, partner)| partner.off_grid.ms());
    let right = played().filter(|(_, partner)| partner.pitch == Pitch::Right);
    let pitched = played().filter(|(_, partner)| partner.pitch != Pitch::Unjudged);
    let lengths: Vec<f64> = played()
        .filter(|(note, _)| !(note.is.muted || note.is.dead))
        .filter_map(|(_, partner)| partner.length_ratio)
        .filter(|ratio| *ratio > 0.0)
        .map(f64::ln)
        .collect();
    let swing = written_swing(expected).and_then(|_| {
        let logs = swing_logs(expected, judgement, &belongs);
        mean_of(&logs).filter(|_| logs.len() >= FEWEST_PAIRS)
    });
    let figure = |measure: Measure| match measure {
        Measure::Pitch => share_of(right.clone().count(), pitched.clone().count()),
        Measure::Lean => on_click.filter(|_| tells_lean(checked)),
        Measure::Spread => spread_of(&all_offsets.clone().collect::<Vec<f64>>()),
        Measure::Entries => later(Kind::Entry),
        Measure::Upbeats => later(Kind::Upbeat),
        Measure::Swing => swing,
        Measure::Lengths => mean_of(&lengths),
    };
    let asked = readings().filter(|reading| !left_out(expected, reading));
    Measured {
        expected: asked.count(),
        matched: played().count(),
        figures: Measure::ALL.map(figure),
    }
}

impl Figure {
    fn less(self, other: Figure) -> Figure {
        Figure {
            mean: self.mean - other.mean,
            variance: self.variance + other.variance,
        }
    }
}

/// The mean of five values or more.
fn mean_of(values: &[f64]) -> Option<Figure> {
    mean_of_few(values).filter(|_| values.len() >= FEWEST)
}

/// The mean of one value or more. That of one has no variance that can be known: it counts as none.
fn mean_of_few(values: &[f64]) -> Option<Figure> {
    let (mean, sd) = mean_and_sd(values.iter().copied());
    Some(Figure {
        mean: mean?,
        variance: sd.map_or(0.0, |sd| sd * sd / values.len() as f64),
    })
}

/// The logarithm of a standard deviation; its variance is 1 / (2 (n − 1)) of normal values (Bartlett & Kendall 1946,
/// J. R. Statist. Soc. Suppl. 8:128; from memory).
fn spread_of(offsets_ms: &[f64]) -> Option<Figure> {
    let (_, sd) = mean_and_sd(offsets_ms.iter().copied());
    let sd = sd.filter(|_| offsets_ms.len() >= FEWEST)?;
    Some(Figure {
        mean: sd.max(SMALLEST_SPREAD_MS).ln(),
        variance: 0.5 / (offsets_ms.len() - 1) as f64,
    })
}

/// Percent of cases. Its variance is that of a share drawn to the middle by two cases of each kind (Agresti & Coull 1998,
/// The American Statistician 52:119): where nothing went wrong, something may another time.
fn share_of(count: usize, of: usize) -> Option<Figure> {
    let more = of as f64 + 4.0;
    let share = (count as f64 + 2.0) / more;
    (of > 0).then(|| Figure {
        mean: 100.0 * count as f64 / of as f64,
        variance: 1e4 * share * (1.0 - share) / more,
    })
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
