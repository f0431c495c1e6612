//! Tips: the chains of matches that may still turn out best, and what is best among them.

use super::cost;
use super::rows::Row;
use super::tree::NodeId;

/// The gain of a tip that is to be dropped.
pub const HOPELESS: i64 = i64::MIN / 2;
/// The index of no tip.
pub const NO_TIP: u32 = u32::MAX;

/// A chain that may still turn out best.
#[derive(Clone, Copy, Debug)]
pub struct Tip {
    /// Groups up to and including the last matched one; 0 for the empty chain.
    pub upto: u32,
    /// Which notes of the last group are matched, one bit each.
    pub mask: u8,
    /// The row of the last match.
    pub row: Row,
    /// What all matches gain, switches paid.
    pub gain: i64,
    /// The chain.
    pub node: NodeId,
}

impl Tip {
    /// What tips are sorted by, and no two have in common.
    pub fn place(&self) -> (u32, Row, u8) {
        (self.upto, self.row, self.mask)
    }
}

/// How far a tip came, and with what gain.
#[derive(Clone, Copy)]
pub struct Lead {
    /// See [`Tip::upto`].
    pub upto: u32,
    /// See [`Tip::gain`].
    pub gain: i64,
}

impl Lead {
    /// Nobody's.
    pub const NONE: Lead = Lead {
        upto: 0,
        gain: HOPELESS,
    };

    /// Whether this makes the tip worthless: gained more by less of the line, `apart` being what a change from the
    /// one's row to the other's costs.
    pub fn beats(self, tip: &Tip, apart: i64) -> bool {
        self.upto < tip.upto && tip.gain + apart < self.gain
    }

    /// This, or the tip's if it gained more.
    pub fn or_better(self, tip: &Tip) -> Lead {
        if tip.gain > self.gain {
            Lead {
                upto: tip.upto,
                gain: tip.gain,
            }
        } else {
            self
        }
    }
}

/// For each of a list of tips by [`Tip::place`], what is best up to there: answers which chain a match goes on from.
pub struct Standings {
    ahead: Vec<Ahead>,
    /// For each row the last of its tips.
    row_last: Vec<u32>,
}

/// What is best among the tips up to and including one, as indices of tips.
#[derive(Clone, Copy)]
struct Ahead {
    /// In any row.
    best: u32,
    /// In the row of that tip.
    best_of_row: u32,
    /// The tip before it in its row, or [`NO_TIP`].
    previous_of_row: u32,
}

impl Standings {
    /// Of no tips; room for `room` of them.
    pub fn new(rows: Row, room: usize) -> Standings {
        Standings {
            ahead: Vec::with_capacity(room),
            row_last: vec![NO_TIP; usize::from(rows)],
        }
    }

    /// Takes stock. Of equally good tips the earliest counts as best in any row, the latest in its own.
    pub fn of(&mut self, tips: &[Tip]) {
        self.ahead.clear();
        self.row_last.fill(NO_TIP);
        let mut best = 0;
        for (index, tip) in (0..).zip(tips) {
            let row_last = &mut self.row_last[usize::from(tip.row)];
            let previous_of_row = std::mem::replace(row_last, index);
            let best_of_row = match self.ahead.get(previous_of_row as usize) {
                Some(before) if tips[before.best_of_row as usize].gain > tip.gain => {
                    before.best_of_row
                }
                _ => index,
            };
            if tip.gain > tips[best as usize].gain {
                best = index;
            }
            self.ahead.push(Ahead {
                best,
                best_of_row,
                previous_of_row,
            });
        }
    }

    /// The best chain that ends before the group, a switch to the row paid where it needs one; among equals the one
    /// that needs none.
    pub fn best_before(&self, tips: &[Tip], group: u32, row: Row) -> Option<Tip> {
        let stay = self.best_in_row(tips, group, row);
        let switch = self.best_in_any_row(tips, group).map(|tip| Tip {
            gain: tip.gain - cost::SWITCH,
            ..tip
        });
        match (stay, switch) {
            (Some(stay), Some(switch)) if switch.gain > stay.gain => Some(switch),
            (stay, switch) => stay.or(switch),
        }
    }

    /// The best chain of this row that ends before the group.
    fn best_in_row(&self, tips: &[Tip], group: u32, row: Row) -> Option<Tip> {
        let last = self
            .ahead
            .get(self.last_in_row(tips, group, row) as usize)?;
        Some(tips[last.best_of_row as usize])
    }

    /// The best chain of any row that ends before the group.
    fn best_in_any_row(&self, tips: &[Tip], group: u32) -> Option<Tip> {
        let reached = tips.partition_point(|tip| tip.upto <= group);
        let last = self.ahead[..reached].last()?;
        Some(tips[last.best as usize])
    }

    /// The tip before this one in its row, or [`NO_TIP`].
    pub fn previous_in_row(&self, index: u32) -> u32 {
        self.ahead[index as usize].previous_of_row
    }

    /// Whether a row has no tip.
    pub fn is_empty(&self, row: Row) -> bool {
        self.row_last[usize::from(row)] == NO_TIP
    }

    /// The last tip of the row that has no more than these groups behind it, or [`NO_TIP`].
    pub fn last_in_row(&self, tips: &[Tip], upto: u32, row: Row) -> u32 {
        let mut index = self.row_last[usize::from(row)];
        while index != NO_TIP && tips[index as usize].upto > upto {
            index = self.ahead[index as usize].previous_of_row;
        }
        index
    }
}

/// Adds `fresh` to `tips`, both by [`Tip::place`] and no place in both, and empties it.
pub fn merge(tips: &mut Vec<Tip>, fresh: &mut Vec<Tip>) {
    // From the back, so that each tip is moved once.
    let mut from = tips.len();
    tips.extend_from_slice(fresh);
    let mut to = tips.len();
    while let Some(tip) = fresh.pop() {
        while from > 0 && tips[from - 1].place() > tip.place() {
            (from, to) = (from - 1, to - 1);
            tips[to] = tips[from];
        }
        to -= 1;
        tips[to] = tip;
    }
}
