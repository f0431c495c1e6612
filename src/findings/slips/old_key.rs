//! Passages that move: what was played before comes again so many semitones higher or lower, and the hand stays.

use crate::expected::ExpectedNote;
use crate::findings::evidence::Evidence;
use crate::units::{Key, Ticks};
use std::collections::HashMap;
use std::ops::Range;

/// A passage that moved and was played on in the old key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OldKey {
    /// The passage that moved.
    pub moved: Moved,
    /// Its notes in the old key, as indices into [`Evidence::heard`].
    pub heard: Vec<usize>,
    /// How many notes were heard from the first of them to the last.
    pub of: usize,
}

/// One time through a section that repeats what was played before in another key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moved {
    /// Semitones up.
    pub by: i16,
    /// Its section and pass.
    pub section: u16,
    /// From 1.
    pub pass: u32,
    /// The section that it repeats.
    pub repeats: u16,
    /// Its notes in the line.
    notes: Range<usize>,
}

/// Fewer are no passage.
pub const FEWEST: usize = 4;

/// In a run of notes in the old key, one that is not outweighs this many that are.
const OTHER: i32 = 2;
/// So far a run may fall behind before it is over: three notes in a row that are right.
const OVER: i32 = 3 * OTHER;

/// Every passage that was played on in the old key.
pub(super) fn find(evidence: &Evidence) -> Vec<OldKey> {
    let moved = moved(evidence);
    let runs = moved.into_iter().flat_map(|moved| runs(evidence, &moved));
    runs.collect()
}

/// The notes, in passages that moved, that could have been played in the old key.
pub fn could(evidence: &Evidence) -> usize {
    let heard = |moved: &Moved| heard_in(evidence, moved).len();
    moved(evidence).iter().map(heard).sum()
}

/// What a passage looks like whatever key it is in: for each note its bar, its place in it, and how far it is from the
/// first one.
type Shape = Vec<(u32, Ticks, Option<i16>)>;

/// Every time through a section that is what was played before, moved; the latest one before it counts. The pickup, which
/// only the first pass has, is left out.
fn moved(evidence: &Evidence) -> Vec<Moved> {
    let notes = &evidence.expected.notes;
    let mut known: HashMap<Shape, (u16, Key)> = HashMap::new();
    let mut found = Vec::new();
    let mut end = 0;
    for pass in notes.chunk_by(|one, other| (one.section, one.pass) == (other.section, other.pass))
    {
        end += pass.len();
        let pickup = pass
            .iter()
            .take_while(|note| evidence.expected.bars[note.bar as usize].number == 0);
        let passage = &pass[pickup.count()..];
        let Some(first) = passage.iter().find_map(|note| note.key) else {
            continue;
        };
        let here = &passage[0];
        let before = known.insert(shape(passage, first), (here.section, first));
        let Some((repeats, before)) = before.filter(|(_, key)| *key != first) else {
            continue;
        };
        found.push(Moved {
            by: i16::from(first.0) - i16::from(before.0),
            section: here.section,
            pass: here.pass,
            repeats,
            notes: end - passage.len()..end,
        });
    }
    found
}

fn shape(passage: &[ExpectedNote], first: Key) -> Shape {
    let above = |key: Key| i16::from(key.0) - i16::from(first.0);
    let of_note = |note: &ExpectedNote| (note.bar - passage[0].bar, note.at, note.key.map(above));
    passage.iter().map(of_note).collect()
}

/// Where its notes are among the heard ones.
fn heard_in(evidence: &Evidence, moved: &Moved) -> Range<usize> {
    let at = |note: usize| {
        evidence
            .heard
            .partition_point(|heard| (heard.index as usize) < note)
    };
    at(moved.notes.start)..at(moved.notes.end)
}

/// The runs of at least [`FEWEST`] notes in the old key. A run begins with such a note; it is over when notes that are not
/// outweigh what it has, or have fallen so far behind that the hand has moved.
fn runs(evidence: &Evidence, moved: &Moved) -> Vec<OldKey> {
    let mut found = Vec::new();
    let mut run = Run::default();
    for at in heard_in(evidence, moved) {
        // A dead note has no key to be in.
        let Some(by) = evidence.heard[at].semitones() else {
            continue;
        };
        run.take(at, by == -moved.by);
        if run.is_over() {
            found.extend(std::mem::take(&mut run).told(moved));
        }
    }
    found.extend(run.told(moved));
    found
}

/// A run under way.
#[derive(Default)]
struct Run {
    /// The notes in the old key.
    old: Vec<usize>,
    /// How many notes it has, and how many up to its last one in the old key.
    notes: usize,
    up_to_last: usize,
    /// By how much those in the old key outweigh the others; and the most it was, with so many in the old key then.
    lead: i32,
    most: i32,
    old_at_most: usize,
}

impl Run {
    fn take(&mut self, at: usize, is_old: bool) {
        if !is_old && self.old.is_empty() {
            return;
        }
        self.notes += 1;
        if is_old {
            self.old.push(at);
            self.up_to_last = self.notes;
            self.lead += 1;
        } else {
            self.lead -= OTHER;
        }
        if self.lead > self.most {
            (self.most, self.old_at_most) = (self.lead, self.old.len());
        }
    }

    fn is_over(&self) -> bool {
        self.lead < 0 || self.lead <= self.most - OVER
    }

    fn told(self, moved: &Moved) -> Option<OldKey> {
        (self.old_at_most >= FEWEST).then(|| OldKey {
            moved: moved.clone(),
            heard: self.old,
            of: self.up_to_last,
        })
    }
}
