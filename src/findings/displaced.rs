//! `off-by-beats`: was a phrase played in another place than its own, a bar left out, or played twice?
//!
//! No statistic: the judge follows a phrase only where many right notes say so (see [`crate::judge::cost`]). Told are those
//! of at least [`FEWEST_NOTES`] notes, three quarters of them right, that begin with a jump: who drifts so far that the next
//! grid is nearer has another finding. All of them are one finding.

use super::evidence::{Evidence, Heard};
use super::finding::Finding;
use super::practice::Drill;
use super::{Answer, tempo};
use crate::judge::cost::Pitch;
use crate::units::{Ticks, beats_in_words, shortest};
use std::ops::Range;

/// Fewer notes may be a chance match of wrong ones.
const FEWEST_NOTES: usize = 4;
const RIGHT_SHARE: f64 = 0.75;
/// Notes on either side that say where the player was.
const AROUND: usize = 4;
/// Phrases that are told one by one.
const NAMED: usize = 3;

/// Notes in a row that are equally far from their place.
pub struct Phrase {
    /// Its notes, as indices of what was heard.
    pub heard: Range<usize>,
    /// How far they are from their place.
    pub displaced: Ticks,
    /// How it came about.
    pub cause: Cause,
}

/// How a phrase came to be in another place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cause {
    /// These bars of the line, by their place in playing order, were left out.
    LeftOut(Range<usize>),
    /// These were played twice.
    Twice(Range<usize>),
    /// Neither: it is late or early.
    Moved,
}

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let phrases = phrases(evidence);
    if phrases.is_empty() {
        return None;
    }
    let notes: Vec<u32> = phrases
        .iter()
        .flat_map(|phrase| &evidence.heard[phrase.heard.clone()])
        .map(|heard| heard.index)
        .collect();
    let mut parts: Vec<String> = phrases
        .iter()
        .take(NAMED)
        .map(|phrase| told(evidence, phrase))
        .collect();
    match phrases.len().saturating_sub(NAMED) {
        0 => {}
        1 => parts.push("and one more phrase was away from its place".into()),
        more => parts.push(format!(
            "and {more} more phrases were away from their places"
        )),
    }
    let text = parts.join("; ");
    let first = text.chars().take(1).flat_map(char::to_uppercase);
    let text: String = first.chain(text.chars().skip(1)).collect();
    let these = if phrases.len() == 1 { "it" } else { "them" };
    let finding = Finding::new("off-by-beats", notes, evidence.heard.len())
        .told(
            format!("{text}. The timing is judged where you played {these}; the rest of the take is in its place."),
            ADVICE,
        )
        .hurting_as_wrong(evidence)
        .drilled(evidence, Drill::at(0.8));
    Some(Answer::certain(finding))
}

/// All phrases that are to be told.
pub fn phrases(evidence: &Evidence) -> Vec<Phrase> {
    let heard = &evidence.heard;
    let mut phrases = Vec::new();
    let mut start = 0;
    for end in 1..=heard.len() {
        let ends = heard
            .get(end)
            .is_none_or(|next| next.partner.displaced != heard[start].partner.displaced);
        if !ends {
            continue;
        }
        let before = start
            .checked_sub(1)
            .map_or(Ticks(0), |before| heard[before].partner.displaced);
        let phrase = Phrase {
            displaced: heard[start].partner.displaced,
            cause: cause(evidence, start, before),
            heard: start..end,
        };
        if phrase.is_told(evidence) {
            phrases.push(phrase);
        }
        start = end;
    }
    phrases
}

impl Phrase {
    fn is_told(&self, evidence: &Evidence) -> bool {
        let notes = &evidence.heard[self.heard.clone()];
        let is_right =
            |heard: &&Heard| matches!(heard.partner.pitch, Pitch::Right | Pitch::Unjudged);
        let right = notes.iter().filter(is_right).count();
        self.displaced != Ticks(0)
            && notes.len() >= FEWEST_NOTES
            && right as f64 >= RIGHT_SHARE * notes.len() as f64
            && self.is_jump(evidence)
    }

    /// Whether the player came there at once: a drift goes on evenly where the judge changes the grid.
    fn is_jump(&self, evidence: &Evidence) -> bool {
        let heard = &evidence.heard;
        let start = self.heard.start;
        let mean = |notes: &[Heard]| {
            notes.iter().map(tempo::from_place_ms).sum::<f64>() / notes.len() as f64
        };
        let before = &heard[start.saturating_sub(AROUND)..start];
        let after = &heard[start..(start + AROUND).min(self.heard.end)];
        let moved = |heard: &Heard| (heard.partner.offset - heard.partner.off_grid).ms();
        let (was, jump) = match before.last() {
            Some(last) => (mean(before), moved(&after[0]) - moved(last)),
            None => (0.0, moved(&after[0])),
        };
        2.0 * (mean(after) - was).abs() > jump.abs()
    }
}

fn cause(evidence: &Evidence, start: usize, before: Ticks) -> Cause {
    let bars = &evidence.expected.bars;
    let heard = &evidence.heard;
    let moved = heard[start].partner.displaced - before;
    let first = heard[start].note.bar as usize;
    // The last bar that was begun before, and the first that was not.
    let last = start
        .checked_sub(1)
        .map_or(0, |before| heard[before].note.bar as usize);
    let length = |range: Range<usize>| -> i64 { bars[range].iter().map(|bar| bar.length.0).sum() };
    if moved.0 < 0 {
        // Bars of which nothing was heard, as long as the jump is.
        let from = if start == 0 { 0 } else { last + 1 };
        let ranges = (from..=first).rev().map(|from| from..first);
        return ranges
            .clone()
            .find(|range| !range.is_empty() && length(range.clone()) == -moved.0)
            .map_or(Cause::Moved, Cause::LeftOut);
    }
    // Bars right before, as long as the jump is, of which something was heard again.
    let twice = (0..first)
        .rev()
        .map(|from| from..first)
        .take_while(|range| length(range.clone()) <= moved.0)
        .find(|range| length(range.clone()) == moved.0 && start > 0);
    match twice {
        Some(range) if is_played_again(evidence, start) => Cause::Twice(range),
        _ => Cause::Moved,
    }
}

/// Whether notes that belong nowhere were played between the last note before a phrase and its first.
fn is_played_again(evidence: &Evidence, start: usize) -> bool {
    let onset = |heard: &Heard| heard.note.onset + heard.partner.offset;
    let between = onset(&evidence.heard[start - 1])..onset(&evidence.heard[start]);
    let judgement = evidence.judgement;
    let extra = judgement.extra.iter();
    extra
        .filter(|number| between.contains(&judgement.played[**number as usize].onset))
        .count()
        >= 2
}

/// `from bar 5 beat 2 to bar 7 beat 1 you were a beat late: 11 notes`.
fn told(evidence: &Evidence, phrase: &Phrase) -> String {
    let notes = phrase.heard.len();
    let place = |heard: &Heard| {
        let bar = &evidence.expected.bars[heard.note.bar as usize];
        let beat = shortest(bar.beat_number(heard.note.at));
        format!("bar {} beat {beat}", bar.number)
    };
    let [first, last] =
        [phrase.heard.start, phrase.heard.end - 1].map(|index| &evidence.heard[index]);
    let beat = evidence.expected.bars[first.note.bar as usize].beat;
    let amount = amount(phrase.displaced, beat, bar_length(evidence, first));
    match &phrase.cause {
        Cause::LeftOut(bars) => format!(
            "{} left out: the next {notes} notes came {amount}",
            named(evidence, bars, "was", "were")
        ),
        Cause::Twice(bars) => format!(
            "{} played twice: the next {notes} notes came {amount}",
            named(evidence, bars, "was", "were")
        ),
        Cause::Moved => format!(
            "from {} to {} you were {amount}: {notes} notes",
            place(first),
            place(last)
        ),
    }
}

fn bar_length(evidence: &Evidence, heard: &Heard) -> Ticks {
    let bar = &evidence.expected.bars[heard.note.bar as usize];
    bar.length + bar.offset
}

/// `bar 6 was`, `bars 6 to 7 were`.
fn named(evidence: &Evidence, bars: &Range<usize>, one: &str, many: &str) -> String {
    let number = |index: usize| evidence.expected.bars[index].number;
    match bars.len() {
        1 => format!("bar {} {one}", number(bars.start)),
        _ => format!(
            "bars {} to {} {many}",
            number(bars.start),
            number(bars.end - 1)
        ),
    }
}

/// `a beat late`, `half a beat early`, `a bar early`.
fn amount(displaced: Ticks, beat: Ticks, bar: Ticks) -> String {
    let way = if displaced.0 < 0 { "early" } else { "late" };
    let size = displaced.0.abs();
    let amount = match (size % bar.0, size / bar.0) {
        (0, 1) => "a bar".into(),
        (0, bars) => format!("{bars} bars"),
        _ => beats_in_words(displaced, beat),
    };
    format!("{amount} {way}")
}

const ADVICE: &str = "Say the bar numbers aloud over the click, one a bar, while you play; where you lost the place, come in only when you have said its number.";
