//! Written lengths from sounding ones.
//!
//! A bass sounds shorter than it is written; the share that sounds is the gate. The gate of a part is the commonest share
//! of the distance to the next note, among those of 0.55 and more. Where at least half of those lie within 0.02 or 12 ms
//! of it, the part was played by a machine or as strictly as by one, and of all ways to write a note (as long as the next is away, or
//! shorter with rests; plain, short `'` or full `_`) the one is taken that sounds for as long. Where none does, and in
//! all other parts, a note that sounds for [`REACHES`] or more of the distance is written up to the next one. A shorter
//! one is staccato where the next comes within a quarter and it sounds for [`STACCATO_FROM`] of the distance; else it is
//! as long as its sound divided by the gate and followed by rests.
//!
//! Where nearly all notes are shorter than [`BLIP_MS`], lengths say nothing (drum machines): every note reaches the next,
//! for a quarter at most.

use super::feel::{Feel, Place};
use super::frame::Bar;
use super::grid::Grid;
use crate::line::Gate;
use crate::units::TICKS_PER_QUARTER;

/// The share of the distance from which on a note reaches the next one.
const REACHES: f64 = 0.6;
/// The share from which on a short note close to the next is staccato rather than a shorter value.
const STACCATO_FROM: f64 = 0.3;
const BLIP_MS: f64 = 40.0;
/// How far a share may be from the gate of a strict part.
const STRICT: f64 = 0.02;
/// How far the end of a note may be from it.
const STRICT_MS: f64 = 12.0;
/// What a gate mostly is: the middle of the scale on which the commonest share is looked for.
const USUAL_GATE: i32 = 90;
/// How exact lengths are at best.
const SHARPEST_MS: f64 = 4.0;

/// A strike whose place is settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounded {
    /// Written onset since the start of the file, in ticks.
    pub at: i64,
    /// How long it sounds, in ticks.
    pub sounds: f64,
    /// What a tick lasts there.
    pub ms_per_tick: f64,
}

/// How a strike is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// Its length in ticks.
    pub length: i64,
    /// How much of it sounds.
    pub held: Held,
}

/// How much of a written length sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the marks of a line
pub enum Held {
    Plain,
    Short,
    Full,
}

/// What the lengths of a part are read with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rule {
    /// Sounding lengths are exact to so many ms.
    Strict {
        /// One standard deviation.
        spread_ms: f64,
    },
    /// They are a player's.
    Free,
    /// They say nothing.
    Blips,
}

/// All strikes as they are written, the gate and the rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Lengths {
    /// One a strike.
    pub written: Vec<Written>,
    /// The share of a plain note that sounds.
    pub gate: Gate,
    /// What they were read with.
    pub rule: Rule,
}

/// What lengths are measured in.
pub struct Ruler<'r> {
    /// The bars.
    pub bars: &'r [Bar],
    /// The swing.
    pub feel: &'r Feel,
    /// The grid.
    pub grid: Grid,
    /// How widely onsets lie about it, in ms.
    pub spread_ms: f64,
}

/// One note and the room it has.
struct Room {
    from: i64,
    /// Where the next one begins, or the bar ends.
    next: i64,
    sounds: f64,
    ms_per_tick: f64,
}

impl Ruler<'_> {
    /// Writes every strike; they are in order, each at a place of its own.
    pub fn write(&self, strikes: &[Sounded]) -> Lengths {
        let rooms = self.rooms(strikes);
        let blips = rooms.iter().filter(|r| r.sounds * r.ms_per_tick < BLIP_MS);
        let (gate, rule) = match blips.count() * 5 > rooms.len() * 4 {
            true => (0.9, Rule::Blips),
            false => self.gate(&rooms),
        };
        let written = rooms.iter().map(|room| match rule {
            Rule::Blips => plain((room.next - room.from).min(TICKS_PER_QUARTER)),
            Rule::Free => self.free(room, gate),
            Rule::Strict { spread_ms } => self
                .strict(room, gate, spread_ms)
                .unwrap_or_else(|| self.free(room, gate)),
        });
        Lengths {
            written: written.collect(),
            gate: Gate((gate * 1000.0).round() as u16),
            rule,
        }
    }

    fn rooms(&self, strikes: &[Sounded]) -> Vec<Room> {
        let nexts = strikes.iter().skip(1).map(|next| Some(next.at));
        let rooms = strikes.iter().zip(nexts.chain([None]));
        rooms
            .map(|(strike, next)| {
                let end = strike.at + strike.sounds.min(1e12) as i64;
                let next = next.unwrap_or_else(|| self.bar_end(end.max(strike.at + 1)));
                let next = next.max(strike.at + 1);
                Room {
                    from: strike.at,
                    next,
                    sounds: strike.sounds.min(self.lasts(strike.at, next)),
                    ms_per_tick: strike.ms_per_tick,
                }
            })
            .collect()
    }

    /// The commonest share of the distance that sounds, and whether it is kept to strictly.
    fn gate(&self, rooms: &[Room]) -> (f64, Rule) {
        let share = |room: &Room| room.sounds / self.lasts(room.from, room.next);
        let held: Vec<(f64, &Room)> = rooms
            .iter()
            .map(|room| (share(room), room))
            .filter(|(share, _)| *share >= 0.55)
            .collect();
        let near = |gate: f64| {
            held.iter().filter(move |(share, room)| {
                let off_ms =
                    (share - gate).abs() * self.lasts(room.from, room.next) * room.ms_per_tick;
                (share - gate).abs() <= STRICT || off_ms <= STRICT_MS
            })
        };
        let share_of = |percent: i32| f64::from(percent) / 100.0;
        let common = (55..=100)
            .max_by_key(|percent| {
                (
                    near(share_of(*percent)).count(),
                    -(percent - USUAL_GATE).abs(),
                )
            })
            .map(share_of);
        let Some(common) = common.filter(|_| !held.is_empty()) else {
            return (0.9, Rule::Free);
        };
        let count = near(common).count();
        let mean = near(common).map(|(share, _)| share).sum::<f64>() / count.max(1) as f64;
        let gate = (mean * 100.0).round() / 100.0;
        if count * 2 < held.len() || held.len() < 4 {
            return (gate, Rule::Free);
        }
        let off = near(common).map(|(_, room)| {
            let expected = gate * self.lasts(room.from, room.next);
            (room.sounds - expected).abs() * room.ms_per_tick
        });
        let spread_ms = (super::quantise::median(off) / 0.6745).max(SHARPEST_MS);
        (gate, Rule::Strict { spread_ms })
    }

    /// The way to write a note that sounds for as long as it does; the plainest where several do.
    fn strict(&self, room: &Room, gate: f64, spread_ms: f64) -> Option<Written> {
        let whole = room.next - room.from;
        let shares = [(Held::Plain, gate), (Held::Short, 0.5), (Held::Full, 1.0)];
        // Where a note is cut by the hand, the spread of its onset is in its length.
        let furthest = 4.0 * spread_ms.max(self.spread_ms);
        let mut best: Option<(f64, Written)> = None;
        let shorter = self.ends(room).map(|end| end - room.from);
        for length in [whole].into_iter().chain(shorter) {
            let lasts = self.lasts(room.from, room.from + length);
            for ((held, share), odd) in shares.into_iter().zip([0.0, 0.5, 1.0]) {
                let rests = if length < whole { 0.8 } else { 0.0 };
                // Staccato is for short values.
                let long = held == Held::Short && length > TICKS_PER_QUARTER;
                let odd = odd + if long { 2.0 } else { 0.0 };
                let off_ms = (room.sounds - share * lasts).abs() * room.ms_per_tick;
                let cost = off_ms / spread_ms + odd + rests;
                if off_ms <= furthest && best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, Written { length, held }));
                }
            }
        }
        best.map(|(_, written)| written)
    }

    fn free(&self, room: &Room, gate: f64) -> Written {
        let whole = room.next - room.from;
        let share = room.sounds / self.lasts(room.from, room.next);
        if share >= REACHES {
            return plain(whole);
        }
        let close = whole <= TICKS_PER_QUARTER;
        if close && share >= STACCATO_FROM {
            return Written {
                length: whole,
                held: Held::Short,
            };
        }
        let sounds_written = room.sounds / gate;
        let off = |end: &i64| (self.lasts(room.from, *end) - sounds_written).abs();
        let ends = self.ends(room).chain([room.next]);
        let end = ends.min_by(|a, b| off(a).total_cmp(&off(b)));
        let end = end.unwrap_or(room.next);
        let short = room.sounds < REACHES * self.lasts(room.from, end);
        Written {
            length: end - room.from,
            held: if short { Held::Short } else { Held::Plain },
        }
    }

    /// Places of the grid inside the room: triplets where it begins or ends on one.
    fn ends(&self, room: &Room) -> impl Iterator<Item = i64> {
        let bar = self.bar_of(room.from);
        let start = self.bars.get(bar).map_or(0, |bar| bar.start);
        let straight = self.grid.straight_ticks();
        let triplet = self.grid.triplet_ticks();
        let off = |at: i64, step: i64| (at - start) % step != 0;
        let plain = straight.unwrap_or(TICKS_PER_QUARTER / 2);
        let tripled = off(room.from, plain) || off(room.next, plain);
        let step = triplet.filter(|_| tripled).unwrap_or(plain);
        let first = start + ((room.from - start) / step + 1) * step;
        let far = room.from + (room.sounds * 4.0) as i64 + 2 * step;
        (first..room.next.min(far)).step_by(step as usize)
    }

    /// How long a written stretch lasts, in ticks.
    fn lasts(&self, from: i64, to: i64) -> f64 {
        (self.bent(to) - self.bent(from)).max(1.0)
    }

    fn bent(&self, at: i64) -> f64 {
        let bar = self.bar_of(at);
        let start = self.bars.get(bar).map_or(0, |bar| bar.start);
        let place = Place {
            bar,
            at: (at - start) as f64,
        };
        start as f64 + self.feel.bend(place)
    }

    fn bar_of(&self, at: i64) -> usize {
        let after = self.bars.partition_point(|bar| bar.start <= at);
        after.saturating_sub(1)
    }

    /// The end of the bar that sounds up to here.
    fn bar_end(&self, end: i64) -> i64 {
        let bar = self.bars.get(self.bar_of(end - 1));
        bar.map_or(end, |bar| bar.start + bar.length)
    }
}

fn plain(length: i64) -> Written {
    Written {
        length,
        held: Held::Plain,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::meter::Meter;

    fn written(sounds: &[(i64, f64)]) -> (Vec<(i64, Held)>, Rule) {
        let bars: Vec<Bar> = (0..4)
            .map(|n| Bar {
                start: n * 3840,
                length: 3840,
                into: 0,
                meter: Meter { upper: 4, lower: 4 },
                tempo: None,
                key: None,
                mark: None,
                swing: None,
            })
            .collect();
        let ruler = Ruler {
            bars: &bars,
            feel: &Feel::new(None, &[], &bars),
            grid: "1/8".parse().expect("a grid"),
            spread_ms: 2.0,
        };
        let sounded = sounds.iter().map(|(at, sounds)| Sounded {
            at: *at,
            sounds: *sounds,
            ms_per_tick: 0.5,
        });
        let lengths = ruler.write(&sounded.collect::<Vec<_>>());
        let written = lengths.written.iter();
        (
            written.map(|note| (note.length, note.held)).collect(),
            lengths.rule,
        )
    }

    /// Shares of a quarter: 0.95, 0.62, 0.4 and 0.25, then 0.7 and 0.2 of a half.
    #[test]
    fn a_player_s_lengths_are_read_by_the_share_that_sounds() {
        let played = [
            (0, 912.0),
            (960, 595.0),
            (1920, 384.0),
            (2880, 240.0),
            (3840, 1344.0),
            (5760, 384.0),
            (7680, 2900.0),
        ];
        let (written, rule) = written(&played);
        assert_eq!(rule, Rule::Free);
        assert_eq!(
            written,
            [
                (960, Held::Plain),
                (960, Held::Plain),
                (960, Held::Short),
                (480, Held::Short),
                (1920, Held::Plain),
                (480, Held::Plain),
                (3840, Held::Plain),
            ]
        );
    }

    #[test]
    fn a_machine_s_lengths_are_read_exactly() {
        let played = [
            (0, 864.0),
            (960, 432.0),
            (1920, 480.0),
            (2880, 864.0),
            (3840, 1296.0),
            (5760, 1920.0),
            (7680, 864.0),
            (8640, 864.0),
        ];
        let (written, rule) = written(&played);
        assert!(matches!(rule, Rule::Strict { .. }));
        assert_eq!(
            written,
            [
                (960, Held::Plain),
                (480, Held::Plain),
                (960, Held::Short),
                (960, Held::Plain),
                (1440, Held::Plain),
                (1920, Held::Full),
                (960, Held::Plain),
                (960, Held::Plain),
            ]
        );
    }
}
