//! Whether the note before a move of the hand is cut short.

use super::contrast::Contrast;
use super::evidence::{Evidence, Heard};
use super::hand::{Deed, next_note};
use super::practice::Drill;
use super::{Answer, Finding};

/// How it is told.
pub struct Words {
    pub id: &'static str,
    /// "Notes before a …"
    pub before: &'static str,
    pub advice: &'static str,
    pub drill: Drill,
}

/// Statistic: the effect on the length of being followed by the move.
pub fn ask(evidence: &Evidence, deed: Deed, words: &Words) -> Option<Answer> {
    let is_followed = |heard: &Heard| deed.follows(evidence, heard).is_some();
    let seen = Contrast::of_lengths(evidence, |_| true).ask(is_followed)?;
    if seen.estimate.mean >= 0.0 {
        return Some(Answer {
            chance: 1.0,
            finding: None,
        });
    }
    let tell = || -> Finding {
        let finding = seen.finding(evidence, words.id);
        let moved = evidence.heard.iter().filter(|heard| is_followed(heard));
        let likely = deed.likely(
            evidence,
            moved.filter_map(|heard| next_note(evidence, heard)),
        );
        let text = format!(
            "{} of {} notes before a {likely}{} were cut short, by {} on average: {}.",
            finding.count,
            finding.of,
            words.before,
            seen.amount(),
            evidence.places(&finding.notes),
        );
        finding
            .told(text, words.advice)
            .drilled(evidence, words.drill)
    };
    Some(Answer {
        chance: seen.estimate.chance(),
        finding: seen.estimate.is_beyond(seen.harmless_ms).then(tell),
    })
}
