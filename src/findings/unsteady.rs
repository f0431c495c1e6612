//! `unsteady`: how much do the notes scatter, and where more than elsewhere?
//!
//! Both on what is left of the offsets without the slow wandering and the kinds of note ([`Model`]): lean, drift and habits are
//! no unsteadiness.
//! - **The whole take.** Statistic: the standard deviation with its interval ([`Spread`]), beyond the timing window with its lower
//!   bound. Recorded bass spreads by 18 to 28 ms (p10 to p90 of an annotated set), so that most players stay inside.
//! - **Places.** Written bars, all passes together, about the bar's own mean: what is always wrong in the same way is no unsteadiness. Statistic:
//!   the ratio of the spreads, by F, at least [`TIMES`], the chance multiplied by the bars that are asked (Bonferroni). The worst
//!   is taken out of the rest before the next is asked. Harmless: a spread that cannot be heard.

use super::evidence::{Evidence, Heard};
use super::model::Model;
use super::practice::Drill;
use super::stats::discovery::FALSE_SHARE;
use super::stats::spread::{Spread, excess_kurtosis};
use super::tempo::Taken;
use super::{Answer, FEWEST, Finding, model, tempo};
use crate::judge::cost::Pitch;
use crate::units::Nanos;
use std::collections::BTreeMap;
use std::ops::Range;

/// A bar scatters at least so many times as much as the rest.
const TIMES: f64 = 1.5;
/// And without its worst note still so many times.
const STILL: f64 = 1.2;
/// Half the window of the model's moving mean.
const HALF_WINDOW_BEATS: f64 = 4.0;
/// Fewer notes say nothing about a bar: of five the interval of a spread goes from half of it to three times as much.
const FEWEST_IN_BAR: usize = 8;
/// Fewer notes say nothing about a whole take.
const FEWEST_NOTES: usize = 16;

pub fn ask(evidence: &Evidence) -> Vec<Answer> {
    let heard = certain(evidence);
    let plain: Vec<f64> = heard.iter().map(Heard::plain_ms).collect();
    if plain.len() < FEWEST_NOTES {
        return Vec::new();
    }
    let model = Model::new(&plain, &heard);
    let scatter = Scatter::of(evidence, &heard, &model);
    let (chance, rough) = scatter.rough_bars(evidence);
    let whole = scatter.whole(evidence, &rough);
    let places = chance.map(|chance| Answer {
        chance,
        finding: (!rough.is_empty()).then(|| scatter.tell_places(evidence, &rough)),
    });
    [whole, places].into_iter().flatten().collect()
}

/// The notes that are surely the line's: of the right pitch, and not where a phrase changes its place, half a window of the
/// model on either side, nor where an old tempo was kept, nor where the player has wandered so far from the grid that notes
/// are taken for their neighbours.
fn certain<'a>(evidence: &Evidence<'a>) -> Vec<Heard<'a>> {
    let heard = &evidence.heard;
    let changes: Vec<f64> = heard
        .windows(2)
        .filter(|pair| pair[0].partner.displaced != pair[1].partner.displaced)
        .map(|pair| pair[1].note.onset.ms())
        .collect();
    let is_near_change = |heard: &Heard| {
        let half = HALF_WINDOW_BEATS * heard.note.beat.ms();
        let at = heard.note.onset.ms();
        let next = changes.partition_point(|change| *change < at - half);
        changes.get(next).is_some_and(|change| *change <= at + half)
    };
    let kept = kept_tempi(evidence);
    let is_in_old_tempo =
        |heard: &Heard| kept.iter().any(|range| range.contains(&heard.note.onset));
    let offsets: Vec<f64> = heard.iter().map(|heard| heard.offset_ms).collect();
    let far = 2.0 * evidence.windows.timing.ms();
    let wandering = model::wandering(&offsets, heard);
    let is_right = |heard: &Heard| matches!(heard.partner.pitch, Pitch::Right | Pitch::Unjudged);
    std::iter::zip(heard, wandering)
        .filter(|(_, wandering)| wandering.abs() <= far)
        .map(|(heard, _)| heard)
        .filter(|heard| is_right(heard) && !is_near_change(heard) && !is_in_old_tempo(heard))
        .copied()
        .collect()
}

/// When an old tempo was kept into a new section: until the player is back, and half a window on either side. Of a player
/// who does so anywhere, every new tempo that was not taken at once for certain.
fn kept_tempi(evidence: &Evidence) -> Vec<Range<Nanos>> {
    let taken = |section: &tempo::SectionTempo| section.new_tempo.map(|new| new.taken);
    let sections = tempo::by_section(evidence);
    let is_kept = |section| matches!(taken(section), Some(Taken::DriftedInto { .. }));
    if !sections.iter().any(is_kept) {
        return Vec::new();
    }
    let may_be_kept =
        |section: &tempo::SectionTempo| taken(section).is_some_and(|taken| taken != Taken::AtOnce);
    let range = |section: tempo::SectionTempo| {
        let of_section = |heard: &&Heard| heard.note.section == section.section;
        let first = evidence.heard.iter().find(of_section)?.note;
        let beats = |beats: f64| Nanos::from_ms_f64(beats * first.beat.ms());
        let until = tempo::KEPT_BEATS + HALF_WINDOW_BEATS;
        Some(first.onset - beats(HALF_WINDOW_BEATS)..first.onset + beats(until))
    };
    sections
        .into_iter()
        .filter(may_be_kept)
        .filter_map(range)
        .collect()
}

/// What is left of the offsets, by bar.
struct Scatter<'a> {
    /// The notes that count.
    heard: &'a [Heard<'a>],
    left: &'a [f64],
    /// For each written bar its notes, as indices of those that count.
    bars: BTreeMap<u32, Vec<usize>>,
    correlation: f64,
    /// Degrees of freedom of each note: the moving mean takes a part.
    freedom_each: f64,
}

impl<'a> Scatter<'a> {
    fn of(evidence: &Evidence, heard: &'a [Heard<'a>], model: &'a Model) -> Scatter<'a> {
        let mut bars: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (index, heard) in heard.iter().enumerate() {
            let number = evidence.bar_number(heard.index);
            bars.entry(number).or_default().push(index);
        }
        Scatter {
            heard,
            left: model.left(),
            bars,
            correlation: model.correlation(),
            freedom_each: model.freedom() / model.left().len() as f64,
        }
    }

    /// The whole take but for the bars that are told apart.
    fn whole(&self, evidence: &Evidence, rough: &[u32]) -> Option<Answer> {
        let rest = || {
            let smooth = self.bars.iter().filter(|(bar, _)| !rough.contains(bar));
            smooth.flat_map(|(_, notes)| notes).copied()
        };
        let left = || rest().map(|note| self.left[note]);
        let squares: f64 = left().map(|left| left * left).sum();
        let count = rest().count();
        if count < FEWEST_NOTES {
            return None;
        }
        let spread = Spread::new(
            squares,
            count as f64 * self.freedom_each,
            self.correlation,
            excess_kurtosis(left().collect::<Vec<_>>().into_iter()),
        )?;
        let window = evidence.windows.timing.ms();
        let [low, high] = spread.interval();
        let chance = spread.chance_below(window);
        let notes: Vec<u32> = rest()
            .filter(|note| self.left[*note].abs() > window)
            .map(|note| self.heard[note].index)
            .collect();
        let is_found = low > window && notes.len() >= FEWEST;
        let finding = is_found.then(|| {
            let text = format!(
                "Your notes are spread by {:.0} ms ({low:.0} to {high:.0}) around your own time, more than the window of {window:.0} ms; recorded bass players are at 18 to 28 ms. {} of {count} notes are outside it.",
                spread.sd,
                notes.len(),
            );
            let mut finding = Finding::new("unsteady", notes, count)
                .told(text, WHOLE)
                .hurting(evidence, spread.sd / window)
                .drilled(evidence, Drill::at(0.8));
            finding.interval_ms = Some([low, high]);
            finding
        });
        Some(Answer { chance, finding })
    }

    /// The bars that scatter more than the rest, and how likely chance alone shows the worst of them; `None` where no
    /// bar has notes enough.
    fn rough_bars(&self, evidence: &Evidence) -> (Option<f64>, Vec<u32>) {
        let mut open: Vec<Bar> = self
            .bars
            .iter()
            .filter(|(_, notes)| notes.len() >= FEWEST_IN_BAR)
            .map(|(number, notes)| self.bar(evidence, *number, notes))
            .collect();
        let asked = open.len();
        if asked < 2 {
            return (None, Vec::new());
        }
        let mut rough = Vec::new();
        let mut first = None;
        while open.len() > 1 {
            let kurtosis = self.kurtosis(&open);
            let squares: f64 = open.iter().map(|bar| bar.squares).sum();
            let freedom: f64 = open.iter().map(|bar| bar.freedom).sum();
            let against_rest = |bar: &Bar| -> Option<(f64, bool)> {
                let own = self.spread(bar.squares, bar.freedom, kurtosis)?;
                let rest = self.spread(squares - bar.squares, freedom - bar.freedom, kurtosis)?;
                let [low, _] = own.interval();
                // One stray note is a slip, or another note taken for it.
                let still = (bar.squares_less_worst / (bar.freedom - self.freedom_each)).sqrt();
                let is_heard = still >= STILL * rest.sd
                    && own.sd >= TIMES * rest.sd
                    && low > rest.sd
                    && low > bar.harmless_ms;
                Some((own.chance_alike(&rest) * asked as f64, is_heard))
            };
            let worst = open
                .iter()
                .enumerate()
                .filter_map(|(index, bar)| Some((index, against_rest(bar)?)))
                .min_by(|one, other| one.1.0.total_cmp(&other.1.0));
            let Some((index, (chance, is_heard))) = worst else {
                break;
            };
            first.get_or_insert(chance.min(1.0));
            if chance > FALSE_SHARE || !is_heard {
                break;
            }
            rough.push(open.swap_remove(index).number);
        }
        rough.sort_unstable();
        (first, rough)
    }

    fn spread(&self, squares: f64, freedom: f64, kurtosis: f64) -> Option<Spread> {
        Spread::new(squares, freedom, self.correlation, kurtosis)
    }

    fn bar(&self, evidence: &Evidence, number: u32, notes: &[usize]) -> Bar {
        let count = notes.len() as f64;
        let mean = notes.iter().map(|note| self.left[*note]).sum::<f64>() / count;
        let squares: f64 = notes
            .iter()
            .map(|note| (self.left[*note] - mean).powi(2))
            .sum();
        let worst = notes
            .iter()
            .map(|note| (self.left[*note] - mean).powi(2))
            .fold(0.0, f64::max);
        Bar {
            number,
            mean,
            squares,
            squares_less_worst: (squares - worst * count / (count - 1.0)).max(0.0),
            freedom: (count - 1.0) * self.freedom_each,
            harmless_ms: evidence.harmless_ms(notes.iter().map(|note| &self.heard[*note])),
        }
    }

    /// Of each note against its own bar's spread, so that bars of different spreads are no heavy tail.
    fn kurtosis(&self, bars: &[Bar]) -> f64 {
        let of_bar = |bar: &Bar| {
            let (mean, sd) = (bar.mean, (bar.squares / bar.freedom).sqrt());
            let notes = self.bars[&bar.number].iter();
            notes
                .map(move |note| (self.left[*note] - mean) / sd.max(f64::MIN_POSITIVE))
                .collect::<Vec<f64>>()
        };
        let all: Vec<f64> = bars.iter().flat_map(of_bar).collect();
        excess_kurtosis(all.into_iter())
    }

    fn tell_places(&self, evidence: &Evidence, rough: &[u32]) -> Finding {
        let (inside, outside): (Vec<Bar>, Vec<Bar>) = self
            .bars
            .iter()
            .filter(|(_, notes)| notes.len() > 1)
            .map(|(number, notes)| self.bar(evidence, *number, notes))
            .partition(|bar| rough.contains(&bar.number));
        let of = |bars: &[Bar]| {
            let squares = bars.iter().map(|bar| bar.squares).sum();
            let freedom = bars.iter().map(|bar| bar.freedom).sum();
            self.spread(squares, freedom, self.kurtosis(bars))
        };
        let (own, rest) = (of(&inside), of(&outside));
        let sd = |spread: Option<Spread>| spread.map_or(0.0, |spread| spread.sd);
        let interval = own.map(|own| own.interval());
        let [low, high] = interval.unwrap_or_default();
        let all = || rough.iter().flat_map(|bar| &self.bars[bar]).copied();
        let notes: Vec<u32> = all()
            .filter(|note| self.left[*note].abs() > TIMES * sd(rest))
            .map(|note| self.heard[note].index)
            .collect();
        let in_all: Vec<u32> = all().map(|note| self.heard[note].index).collect();
        let places = evidence.places(&in_all);
        let text = format!(
            "{}{} {} unsteady: spread {:.0} ms ({low:.0} to {high:.0}) where the rest has {:.0} ms.",
            places[..1].to_uppercase(),
            &places[1..],
            if rough.len() == 1 { "is" } else { "are" },
            sd(own),
            sd(rest),
        );
        let harmless = inside.iter().map(|bar| bar.harmless_ms).sum::<f64>() / inside.len() as f64;
        let extra = (sd(own).powi(2) - sd(rest).powi(2)).max(0.0).sqrt();
        let mut finding = Finding::new("unsteady", notes, in_all.len())
            .told(text, PLACES)
            .hurting(evidence, extra / harmless)
            .drilled(evidence, Drill::at(0.75));
        finding.interval_ms = Some([low, high]);
        finding
    }
}

struct Bar {
    number: u32,
    mean: f64,
    /// About its mean.
    squares: f64,
    /// About the mean of the others, without the note that is farthest from it.
    squares_less_worst: f64,
    freedom: f64,
    harmless_ms: f64,
}

const WHOLE: &str = "Slow down until two bars in a row feel even, say the subdivision aloud all the way, and only then go up a step.";
const PLACES: &str = "Take these bars alone and slowly, four times in a row without a stumble, then with the bar before and the bar after.";
