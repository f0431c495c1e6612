//! A line, and takes of it, for the tests of practice.

use super::Part;
use super::take_sum::{How, TakeSum};
use crate::line::Line;
use crate::line::parse::parse;

/// Two sections of four bars.
pub fn line() -> Line {
    let bars = "A1/4 A1/4 D2/4 D2/4 | ".repeat(3) + "A1/4 A1/4 D2/4 D2/4";
    let text = format!(
        "title = \"Two Bells\"\nmeter = \"4/4\"\ntempo = 120\n\
         [[section]]\nname = \"A\"\nnotes = \"{bars}\"\n\
         [[section]]\nname = \"B\"\ntempo = 92\nnotes = \"{bars}\"\n"
    );
    parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)))
}

pub fn section(name: &str, bars: [u32; 2]) -> Part {
    Part::Section {
        name: name.into(),
        bars: bars.into(),
    }
}

/// A take of 20 notes of which so many are right and in time, with a spread of 20 ms.
pub fn take(right: usize, in_time: usize) -> TakeSum {
    TakeSum {
        how: How::Whole,
        expected: 20,
        right,
        extra: 0,
        heard: 20,
        timed: 20,
        in_time,
        window_ms: 30.0,
        spread_ms: Some(20.0),
        practice: None,
    }
}
