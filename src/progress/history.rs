//! All that one player played of one line.

use super::figures::TakeFigures;
use crate::line::bar_range::BarRange;
use serde::Serialize;

/// One take.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its number.
    pub take: i64,
    /// The number of its session.
    pub session: i64,
    /// When the session began, ms since 1970, UTC.
    pub session_begun_ms: i64,
    /// When the take began, ms since 1970, UTC.
    pub begun_ms: i64,
    /// How far the player's clock was ahead of UTC then, in seconds: a night lies between two local days.
    pub utc_offset_s: i32,
    /// Percent of the written tempo.
    pub speed: f64,
    /// The bars that were played; `None`: all of the line.
    pub bars: Option<BarRange>,
    /// What it came to.
    pub figures: TakeFigures,
}

/// The takes of one player on one line, in the order in which they were played.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    entries: Vec<Entry>,
}

impl Entry {
    /// The player's own day, counted from 1970.
    pub fn day(&self) -> i64 {
        (self.begun_ms.div_euclid(1000) + i64::from(self.utc_offset_s)).div_euclid(86_400)
    }

    /// What it may be compared with.
    pub fn footing(&self) -> Footing {
        Footing {
            bars: self.bars,
            speed: self.speed.round() as u32,
        }
    }
}

/// Takes on the same footing may be compared: the same bars, at the same speed to the whole percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Footing {
    /// The bars; null: all of the line.
    pub bars: Option<BarRange>,
    /// Percent of the written tempo.
    pub speed: u32,
}

impl History {
    /// These takes, put in order.
    pub fn new(mut entries: Vec<Entry>) -> History {
        entries.sort_by_key(|entry| {
            let session = (entry.session_begun_ms, entry.session);
            (session, entry.begun_ms, entry.take)
        });
        History { entries }
    }

    /// The takes, sessions one after the other, in each as they were played.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }
}
