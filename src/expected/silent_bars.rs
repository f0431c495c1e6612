//! Bars without the click, in which the player keeps the time alone.

use super::Expected;
use crate::units::Ticks;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// How many bars have the click and how many after them have none, again and again, in playing order from bar 1 (of an
/// excerpt: from its first full bar).
///
/// As JSON: `[on, off]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "[u32; 2]", into = "[u32; 2]")]
pub struct SilentBars {
    on: u32,
    off: u32,
}

/// The text names no such bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "write the bars with the click and the bars without, each 1 to {}, such as 3:1",
    SilentBars::MOST
)]
pub struct NotSilentBars;

impl SilentBars {
    /// Nobody keeps the time alone for longer, and a larger number is a slip of the finger.
    const MOST: u32 = 64;

    /// None, and the usual ones from the easiest on.
    pub const USUAL: [Option<SilentBars>; 4] = [
        None,
        Some(SilentBars { on: 3, off: 1 }),
        Some(SilentBars { on: 2, off: 2 }),
        Some(SilentBars { on: 1, off: 3 }),
    ];

    /// Whether the bar of this number in playing order, from 0 at the first full one, goes without the click.
    fn has(self, bar: u32) -> bool {
        bar % (self.on + self.off) >= self.on
    }
}

impl Expected {
    /// Sets which bars are silent. A pickup never is.
    pub fn silence(&mut self, silent: SilentBars) {
        let full = self.bars.iter_mut().filter(|bar| bar.start >= Ticks(0));
        for (number, bar) in (0..).zip(full) {
            bar.silent = silent.has(number);
        }
    }
}

impl FromStr for SilentBars {
    type Err = NotSilentBars;

    fn from_str(text: &str) -> Result<SilentBars, NotSilentBars> {
        let (on, off) = text.split_once(':').ok_or(NotSilentBars)?;
        let bars = |text: &str| text.trim().parse::<u32>().map_err(|_| NotSilentBars);
        [bars(on)?, bars(off)?].try_into()
    }
}

impl fmt::Display for SilentBars {
    /// `3 bars with the click, 1 without`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bars = if self.on == 1 { "bar" } else { "bars" };
        write!(f, "{} {bars} with the click, {} without", self.on, self.off)
    }
}

impl TryFrom<[u32; 2]> for SilentBars {
    type Error = NotSilentBars;

    fn try_from([on, off]: [u32; 2]) -> Result<SilentBars, NotSilentBars> {
        let some = 1..=SilentBars::MOST;
        if some.contains(&on) && some.contains(&off) {
            Ok(SilentBars { on, off })
        } else {
            Err(NotSilentBars)
        }
    }
}

impl From<SilentBars> for [u32; 2] {
    fn from(silent: SilentBars) -> [u32; 2] {
        [silent.on, silent.off]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;

    fn silent(line: &str, on_off: &str) -> Vec<bool> {
        let line = parse(line, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let mut expected = unroll(&line, Speed::WRITTEN);
        expected.silence(on_off.parse().expect("bars"));
        expected.bars.iter().map(|bar| bar.silent).collect()
    }

    const HEAD: &str = "title = \"a\"\nmeter = \"2/4\"\ntempo = 120\n";

    #[test]
    fn silence_is_counted_in_playing_order_through_passes_and_sections() {
        let line = format!(
            "{HEAD}[[section]]\nname = \"A\"\npasses = [0, 0]\nnotes = \"A1/2 | D2/2\"\n\
             [[section]]\nname = \"B\"\nnotes = \"r/2 | E1/2 | E1/2\""
        );
        let yes_at = |bars: &[usize]| (0..7).map(|n| bars.contains(&n)).collect::<Vec<_>>();
        assert_eq!(silent(&line, "2:1"), yes_at(&[2, 5]));
        assert_eq!(silent(&line, "1:2"), yes_at(&[1, 2, 4, 5]));
        assert_eq!(silent(&line, "64:64"), yes_at(&[]));
    }

    #[test]
    fn a_pickup_has_the_click_and_is_not_counted() {
        let line = format!(
            "pickup = true\n{HEAD}[[section]]\nname = \"A\"\nnotes = \"A1/4 | A1/2 | D2/2 | E1/2\""
        );
        assert_eq!(silent(&line, "1:1"), [false, false, true, false]);
    }

    #[test]
    fn bars_on_and_off_are_two_counts_within_reason() {
        for wrong in [
            "", "3", "3:0", "0:1", "3:65", "-1:1", "3:1:1", "a:b", "1.5:1",
        ] {
            assert_eq!(wrong.parse::<SilentBars>(), Err(NotSilentBars), "{wrong}");
        }
        let three_one: SilentBars = "3:1".parse().expect("bars");
        assert_eq!(three_one.to_string(), "3 bars with the click, 1 without");
        let json = serde_json::to_string(&three_one).expect("JSON");
        assert_eq!(json, "[3,1]");
        assert_eq!(serde_json::from_str(&json).ok(), Some(three_one));
        assert!(serde_json::from_str::<SilentBars>("[0,0]").is_err());
    }
}
