//! Matching: which played note is whose, order kept, the cheapest over the whole take, found while it is played.
//!
//! # The problem
//! A *chain* is a list of matches in which both the expected group and the played note rise (the notes of a double
//! stop may come in any order). Each match gains what [`cost::gain`] says; going on in another displacement
//! [row](super::rows) costs [`cost::SWITCH`], and so does starting outside row 0. The chain that gains most is the
//! cheapest alignment.
//!
//! # The method
//! Dynamic programming over played notes: a *tip* is a chain that may still turn out best. A new note extends the
//! best tip before each expected note within whose capture window it falls, in every row. Then tips that no future
//! can make best are dropped: tip A is dropped for tip B when A plus all that A could still match and B has behind it
//! gains less than B. What all remaining tips share is **final**: no later event can change it. Live and offline
//! are this same code, fed by the same events.
//!
//! Costs: O(n) memory; a note costs O(w), w the notes within a capture window, while the playing is in place, and
//! O(rows · w) where it is not. Nothing is allocated once the pools have grown to the longest undecided stretch.

use super::capture::{Capture, WIDEST, captures};
use super::cost;
use super::rows::{Row, Rows};
use super::tips::{self, HOPELESS, Lead, Standings, Tip};
use super::tree::{Pair, Tree};
use crate::expected::Expected;
use crate::units::{Key, Nanos};
use std::ops::Range;
use std::sync::Arc;

/// See the module's head.
pub struct Matcher {
    expected: Arc<Expected>,
    captures: Vec<Capture>,
    rows: Rows,
    /// Index of the first note of each group, and the number of notes as the last entry.
    groups: Vec<u32>,
    /// Chains that may still be best, by [`Tip::place`].
    tips: Vec<Tip>,
    /// The moment at which the hopeless among them were last dropped, if they are the same since.
    dropped_at: Option<Nanos>,
    tree: Tree,
    /// For each row, the first note whose widest window is still open.
    cursors: Vec<u32>,
    /// Scratch: the tips that the present note makes, by [`Tip::place`].
    fresh: Vec<Tip>,
    /// Scratch: the best of `fresh`, in any row and in the row being extended.
    lead: [Lead; 2],
    /// Scratch: what is best among the tips before the present note.
    standings: Standings,
    /// Scratch: for each row the best gain so far in a sweep.
    row_best: Vec<i64>,
}

/// Tips that are held without allocating; more are allowed.
const ROOM: usize = 1024;

/// One played note as the matcher sees it.
#[derive(Clone, Copy, Debug)]
pub struct Arrival {
    /// Its number, rising.
    pub played: u32,
    /// Its pitch.
    pub key: Key,
    /// When it began, latency taken out; never earlier than the one before.
    pub at: Nanos,
}

impl Matcher {
    /// A matcher before the first note.
    pub fn new(expected: Arc<Expected>) -> Matcher {
        let rows = Rows::new(&expected);
        let mut tree = Tree::new();
        let root = Tip {
            upto: 0,
            mask: 0,
            row: 0,
            gain: 0,
            node: tree.root(),
        };
        tree.hold(root.node);
        let mut matcher = Matcher {
            captures: captures(&expected),
            groups: group_starts(&expected),
            cursors: vec![0; usize::from(rows.count())],
            row_best: vec![HOPELESS; usize::from(rows.count())],
            tips: Vec::with_capacity(ROOM),
            dropped_at: None,
            fresh: Vec::with_capacity(ROOM),
            lead: [Lead::NONE; 2],
            standings: Standings::new(rows.count(), ROOM),
            rows,
            tree,
            expected,
        };
        matcher.tips.push(root);
        matcher
    }

    /// Takes the next played note. `settled` hears every match that became final, in order.
    pub fn push(&mut self, arrival: Arrival, settled: &mut impl FnMut(Pair)) {
        self.drop_hopeless(arrival.at);
        self.extend(arrival);
        self.drop_hopeless(arrival.at);
        self.tree
            .settle(self.tips.iter().map(|tip| tip.node), settled);
    }

    /// Says that no note before `now` will come any more.
    pub fn advance(&mut self, now: Nanos, settled: &mut impl FnMut(Pair)) {
        self.drop_hopeless(now);
        self.tree
            .settle(self.tips.iter().map(|tip| tip.node), settled);
    }

    /// Says that no note will come any more: everything becomes final.
    pub fn finish(&mut self, settled: &mut impl FnMut(Pair)) {
        let best = self.best();
        for tip in self.tips.drain(..).filter(|tip| tip.node != best.node) {
            self.tree.release(tip.node);
        }
        self.tips.push(best);
        self.tree.settle_all(best.node, settled);
    }

    /// The matches that are not final yet, as things stand, latest first.
    pub fn undecided(&self) -> impl Iterator<Item = Pair> + '_ {
        self.tree.path(self.best().node)
    }

    /// The gain of the best chain so far, for tests of optimality.
    pub fn best_gain(&self) -> i64 {
        self.best().gain
    }

    /// The displacement rows of this line.
    pub fn rows(&self) -> &Rows {
        &self.rows
    }

    /// The one that gains most; among equals the one that has used up least of the line.
    fn best(&self) -> Tip {
        let better = |a: &Tip, b: &Tip| (a.gain, b.upto, b.row).cmp(&(b.gain, a.upto, a.row));
        self.tips
            .iter()
            .copied()
            .max_by(better)
            .expect("there is always a tip")
    }

    fn extend(&mut self, arrival: Arrival) {
        self.standings.of(&self.tips);
        let best = self.best();
        self.lead = [Lead::NONE; 2];
        let reachable = self.reachable();
        self.extend_in_row(arrival, best.row, reachable.clone());
        if !self.is_plainly_in_place() {
            let worth_trying = self.worth_trying(best.gain);
            for row in (0..self.rows.count()).filter(|row| *row != best.row) {
                let notes = if row != 0 && self.standings.is_empty(row) {
                    &worth_trying
                } else {
                    &reachable
                };
                self.extend_in_row(arrival, row, notes.clone());
            }
        }
        self.merge_fresh();
    }

    /// Whether the note is so plainly where it should be that trying the other rows would be for nothing: there was
    /// one tip, in row 0, and matching its next note gained all that a displaced match could. Any displaced match
    /// would extend the same tip, end at the same group or later, gain no more, and have paid for a switch.
    fn is_plainly_in_place(&self) -> bool {
        let [only] = self.tips.as_slice() else {
            return false;
        };
        let next = self.groups.get(only.upto as usize..only.upto as usize + 2);
        let single = next.is_some_and(|bounds| bounds[1] - bounds[0] == 1);
        let plain = |made: &Tip| {
            made.upto == only.upto + 1 && made.gain - only.gain >= cost::MOST_DISPLACED
        };
        only.row == 0 && single && self.fresh.iter().any(plain)
    }

    fn extend_in_row(&mut self, arrival: Arrival, row: Row, notes: Range<usize>) {
        if notes.is_empty() {
            return;
        }
        self.lead[1] = Lead::NONE;
        for index in self.first_open(arrival.at, row).max(notes.start)..notes.end {
            let note = &self.expected.notes[index];
            let place = self.rows.onset(&self.expected, note.onset, row);
            let off_grid = arrival.at - place;
            if off_grid < -WIDEST {
                break;
            }
            let gain = cost::gain(note, arrival.key, off_grid, row);
            if self.captures[index].holds(off_grid) && gain > 0 {
                self.extend_to(
                    Pair {
                        note: index as u32,
                        played: arrival.played,
                        row,
                    },
                    gain,
                );
            }
        }
    }

    /// The notes that a match could still belong to: from the last group of the earliest tip on.
    fn reachable(&self) -> Range<usize> {
        let first = self
            .tips
            .first()
            .map_or(0, |tip| tip.upto.saturating_sub(1));
        self.groups[first as usize] as usize..self.expected.notes.len()
    }

    /// Those of them for which a displaced row without a tip is worth trying, once the best row was: a chain that comes over
    /// pays for it, and gains [`cost::MOST_DISPLACED`] at most. Where the lead gained more than that, a match behind it
    /// in the line is [beaten](Lead::beats) from the start.
    fn worth_trying(&self, best: i64) -> Range<usize> {
        let reachable = self.reachable();
        let [lead, _] = self.lead;
        if lead.gain > best + cost::MOST_DISPLACED {
            reachable.start..self.groups[lead.upto as usize] as usize
        } else {
            reachable
        }
    }

    /// Moves the row's cursor past every note that is over and returns it.
    fn first_open(&mut self, at: Nanos, row: Row) -> usize {
        let mut index = self.cursors[usize::from(row)] as usize;
        while let Some(note) = self.expected.notes.get(index) {
            if self.rows.onset(&self.expected, note.onset, row) + WIDEST >= at {
                break;
            }
            index += 1;
        }
        self.cursors[usize::from(row)] = index as u32;
        index
    }

    /// Makes the best chain that reaches this match from an earlier group, and those that go on inside its group.
    fn extend_to(&mut self, pair: Pair, gain: i64) {
        let group = self.expected.notes[pair.note as usize].group;
        let bit = 1u8 << (pair.note - self.groups[group as usize]).min(7);
        let grown = |from: Tip, mask| Tip {
            upto: group + 1,
            mask: mask | bit,
            row: pair.row,
            gain: from.gain + gain,
            ..from
        };
        if let Some(from) = self.standings.best_before(&self.tips, group, pair.row) {
            self.add(grown(from, 0), pair);
        }
        if self.size_of(group) > 1 {
            let mut index = self.standings.last_in_row(&self.tips, group + 1, pair.row);
            while let Some(from) = self.tips.get(index as usize).copied() {
                if from.upto != group + 1 {
                    break;
                }
                if from.mask & bit == 0 {
                    self.add(grown(from, from.mask), pair);
                }
                index = self.standings.previous_in_row(index);
            }
        }
    }

    fn size_of(&self, group: u32) -> u32 {
        self.groups[group as usize + 1] - self.groups[group as usize]
    }

    /// Notes a tip that the present note makes, unless another that it makes beats it, or is as good at the same place;
    /// `tip.node` is still the chain that it goes on from.
    fn add(&mut self, tip: Tip, pair: Pair) {
        let [of_any, of_row] = self.lead;
        if of_any.beats(&tip, cost::SWITCH) || of_row.beats(&tip, 0) {
            return;
        }
        self.lead = [of_any.or_better(&tip), of_row.or_better(&tip)];
        match self.fresh.binary_search_by_key(&tip.place(), Tip::place) {
            Ok(same) if self.fresh[same].gain >= tip.gain => {}
            Ok(same) => {
                let node = self.tree.grow(tip.node, pair);
                self.tree.discard(self.fresh[same].node);
                self.fresh[same] = Tip { node, ..tip };
            }
            Err(at) => {
                let node = self.tree.grow(tip.node, pair);
                self.fresh.insert(at, Tip { node, ..tip });
            }
        }
    }

    /// Adds what the present note made, but where a tip that stands at the same place is at least as good.
    fn merge_fresh(&mut self) {
        let Matcher {
            tips, fresh, tree, ..
        } = self;
        fresh.retain(|tip| {
            let same = tips.binary_search_by_key(&tip.place(), Tip::place);
            match same {
                Ok(same) if tips[same].gain >= tip.gain => tree.discard(tip.node),
                Ok(same) => {
                    tree.hold(tip.node);
                    tree.release(tips[same].node);
                    tips[same] = *tip;
                }
                Err(_) => tree.hold(tip.node),
            }
            same.is_err()
        });
        tips::merge(tips, fresh);
        self.dropped_at = None;
    }

    /// Drops the tips that no future can make best. The comparisons are strict, so that of equally good chains none
    /// is lost to the moment at which this is called: the outcome depends on the notes alone.
    fn drop_hopeless(&mut self, now: Nanos) {
        if self.tips.len() == 1 || self.dropped_at == Some(now) {
            return;
        }
        self.dropped_at = Some(now);
        self.mark_beaten_by_best(now);
        self.mark_beaten_by_earlier();
        let tree = &mut self.tree;
        self.tips.retain(|tip| {
            let keep = tip.gain != HOPELESS;
            if !keep {
                tree.release(tip.node);
            }
            keep
        });
    }

    /// Marks what the best tip beats even if everything that it has and the other has not came right for the other:
    /// `behind` adds up what the groups between the two could still gain.
    fn mark_beaten_by_best(&mut self, now: Nanos) {
        let best = self.best();
        let open = self.first_open(now, self.rows.latest());
        let open_group = self
            .expected
            .notes
            .get(open)
            .map_or(u32::MAX, |note| note.group);
        let (mut behind, mut counted) = (0, best.upto);
        for at in (0..self.tips.len()).rev() {
            let tip = self.tips[at];
            while counted > tip.upto.max(open_group) {
                counted -= 1;
                behind += self.promise(counted, now);
            }
            let switch = if tip.row == best.row { 0 } else { cost::SWITCH };
            let hope = tip.gain + behind + self.rest_of_group(tip, now) + switch;
            if hope < best.gain && tip.node != best.node {
                self.tips[at].gain = HOPELESS;
            }
        }
    }

    /// Marks the tips that gained less than one that has used up less of the line.
    fn mark_beaten_by_earlier(&mut self) {
        let Matcher { tips, row_best, .. } = self;
        row_best.fill(HOPELESS);
        let mut any = HOPELESS;
        for same in tips.chunk_by_mut(|one, other| one.upto == other.upto) {
            for tip in same.iter_mut() {
                if tip.gain < row_best[usize::from(tip.row)] || tip.gain + cost::SWITCH < any {
                    tip.gain = HOPELESS;
                }
            }
            for tip in same {
                let of_row = &mut row_best[usize::from(tip.row)];
                *of_row = tip.gain.max(*of_row);
                any = tip.gain.max(any);
            }
        }
    }

    /// The most that the notes of a group could still gain from notes played at `now` or later.
    fn promise(&mut self, group: u32, now: Nanos) -> i64 {
        let notes = self.groups[group as usize] as usize..self.groups[group as usize + 1] as usize;
        notes.map(|note| self.promise_of(note, now)).sum()
    }

    fn promise_of(&mut self, index: usize, now: Nanos) -> i64 {
        let (note, after) = (&self.expected.notes[index], self.captures[index].after());
        let in_place = if now <= note.onset + after {
            cost::most(note, 0) - (now - note.onset).0.max(0)
        } else {
            0
        };
        let latest = self.rows.latest();
        let last_chance = self.rows.onset(&self.expected, note.onset, latest) + after;
        let displaced = if latest != 0 && now <= last_chance {
            cost::most(note, latest)
        } else {
            0
        };
        in_place.max(displaced)
    }

    /// What a double stop that is not complete could still gain.
    fn rest_of_group(&mut self, tip: Tip, now: Nanos) -> i64 {
        match tip.upto.checked_sub(1) {
            Some(group) if self.size_of(group) > 1 => self.promise(group, now),
            _ => 0,
        }
    }
}

fn group_starts(expected: &Expected) -> Vec<u32> {
    let mut starts = Vec::with_capacity(expected.notes.len() + 1);
    for (index, note) in expected.notes.iter().enumerate() {
        if note.group as usize == starts.len() {
            starts.push(index as u32);
        }
    }
    starts.push(expected.notes.len() as u32);
    starts
}
