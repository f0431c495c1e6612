//! What is set up for practice, and what of it makes the next take.

use super::climb::Climb;
use super::criteria::Criteria;
use super::part::Part;
use super::percent;
use crate::click::{Pattern, Subdivision};
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::line::Line;
use crate::line::excerpt::NotInTheLine;
use std::fmt;
use std::str::FromStr;

/// What is set up.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// What of the line.
    pub part: Part,
    /// How fast, and whether that changes.
    pub method: Method,
    /// Where the click sounds.
    pub click: Pattern,
    /// Where it sounds between the beats besides.
    pub between: Subdivision,
    /// Which bars go without it.
    pub silent: Option<SilentBars>,
    /// How a take begins.
    pub start: Start,
    /// Whether the line itself sounds, softly.
    pub guide: Guide,
    /// What comes after a take.
    pub repeat: Repeat,
}

/// How fast, and whether that changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// At one speed, until the player changes it.
    Steady(Speed),
    /// Up by steps.
    Climb(Climb, Criteria),
    /// The whole line, each section at its own tempo as written.
    PlayThrough,
}

/// How a take begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// After so many bars of click.
    CountedIn(u32),
    /// With the player's first note.
    WithFirstNote,
}

/// Whether the line itself sounds, softly.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Guide {
    /// Never.
    #[default]
    Off,
    /// In each take.
    On,
    /// Until one take of the part was played whole.
    FirstTake,
}

/// What comes after a take that was played whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Repeat {
    /// The next one, by itself.
    #[default]
    Loop,
    /// Nothing until the player asks.
    Wait,
    /// The end.
    Once,
}

/// Something that is set up anew; it holds from the next take on.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Another part; a climb begins at its start.
    Part(Part),
    /// Another method, from its start.
    Method(Method),
    /// The click.
    Click(Pattern),
    /// The click between the beats.
    Between(Subdivision),
    /// The silent bars.
    Silent(Option<SilentBars>),
    /// How a take begins.
    Start(Start),
    /// The guide part.
    Guide(Guide),
    /// What comes after a take.
    Repeat(Repeat),
}

/// Everything that a take needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NextTake {
    /// Its number in the room, from 1.
    pub number: u32,
    /// What of the line.
    pub part: Part,
    /// How fast.
    pub speed: Speed,
    /// Where the click sounds.
    pub click: Pattern,
    /// Where it sounds between the beats besides.
    pub between: Subdivision,
    /// Which bars go without it.
    pub silent: Option<SilentBars>,
    /// How it begins.
    pub start: Start,
    /// Whether the guide part sounds.
    pub guide: Sounds,
}

/// Whether something is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sounds {
    /// It is.
    Yes,
    /// It is not.
    No,
}

/// The text is no such choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAChoice {
    /// Of the guide part.
    #[error("write off, on or first-take")]
    Guide,
    /// Of what comes after a take.
    #[error("write loop, wait or once")]
    Repeat,
}

impl Guide {
    /// All of them, by the names that options give them.
    pub const NAMES: [(&'static str, Guide); 3] = [
        ("off", Guide::Off),
        ("on", Guide::On),
        ("first-take", Guide::FirstTake),
    ];
}

impl Repeat {
    /// All of them, by the names that options give them.
    pub const NAMES: [(&'static str, Repeat); 3] = [
        ("loop", Repeat::Loop),
        ("wait", Repeat::Wait),
        ("once", Repeat::Once),
    ];
}

impl FromStr for Guide {
    type Err = NotAChoice;

    fn from_str(text: &str) -> Result<Guide, NotAChoice> {
        named(&Guide::NAMES, text).ok_or(NotAChoice::Guide)
    }
}

impl FromStr for Repeat {
    type Err = NotAChoice;

    fn from_str(text: &str) -> Result<Repeat, NotAChoice> {
        named(&Repeat::NAMES, text).ok_or(NotAChoice::Repeat)
    }
}

fn named<T: Copy>(names: &[(&str, T)], text: &str) -> Option<T> {
    let found = names.iter().find(|(name, _)| *name == text.trim());
    found.map(|(_, choice)| *choice)
}

impl Default for Setup {
    fn default() -> Setup {
        Setup {
            part: Part::Whole,
            method: Method::Steady(Speed::WRITTEN),
            click: Pattern::default(),
            between: Subdivision::default(),
            silent: None,
            start: Start::CountedIn(1),
            guide: Guide::Off,
            repeat: Repeat::Loop,
        }
    }
}

impl NextTake {
    /// The bars that are played, as a line of their own; and what is expected of them.
    pub fn unrolled(&self, line: &Line) -> Result<(Line, Expected), NotInTheLine> {
        let line = self.part.of(line)?;
        let mut expected = unroll(&line, self.speed);
        if let Some(silent) = self.silent {
            expected.silence(silent);
        }
        Ok((line, expected))
    }
}

impl fmt::Display for NextTake {
    /// `section B (bars 5 to 8) at 65 %, then 3 bars with the click, 1 without`: what comes, for the player.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at {}", self.part, percent(self.speed))?;
        if self.click != Pattern::Beats {
            write!(f, ", the click {}", self.click.words())?;
        }
        if self.between != Subdivision::None {
            write!(f, ", the beats in {}", self.between.name())?;
        }
        if let Some(silent) = self.silent {
            write!(f, ", {silent}")?;
        }
        if self.guide == Sounds::Yes {
            f.write_str(", with the guide part")?;
        }
        match self.start {
            Start::CountedIn(1) | Start::CountedIn(0) => Ok(()),
            Start::CountedIn(bars) => write!(f, ", {bars} bars counted in"),
            Start::WithFirstNote => f.write_str(", from your first note"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{line, section};
    use super::*;

    fn take() -> NextTake {
        NextTake {
            number: 1,
            part: section("B", [5, 8]),
            speed: Speed(65_000),
            click: Pattern::Beats,
            between: Subdivision::None,
            silent: Some("1:1".parse().expect("bars")),
            start: Start::CountedIn(2),
            guide: Sounds::Yes,
        }
    }

    #[test]
    fn a_take_is_unrolled_with_its_bars_speed_and_silence() {
        let (line, expected) = take().unrolled(&line()).expect("bars of the line");
        assert_eq!(line.first_bar, 5);
        let numbers: Vec<u32> = expected.bars.iter().map(|bar| bar.number).collect();
        let silent: Vec<bool> = expected.bars.iter().map(|bar| bar.silent).collect();
        assert_eq!(numbers, [5, 6, 7, 8]);
        assert_eq!(silent, [false, true, false, true]);
        // 16 quarters at 92 · 0.65 a minute.
        assert!((expected.end.seconds() - 16.0 * 60.0 / (92.0 * 0.65)).abs() < 1e-6);
    }

    #[test]
    fn a_take_is_said_in_one_line() {
        let words = "section B (bars 5 to 8) at 65 %, 1 bar with the click, 1 without, \
                     with the guide part, 2 bars counted in";
        assert_eq!(take().to_string(), words);
        let start = Start::WithFirstNote;
        let plain = NextTake {
            click: Pattern::TwoAndFour,
            between: Subdivision::Thirds,
            silent: None,
            guide: Sounds::No,
            start,
            ..take()
        };
        let words = "section B (bars 5 to 8) at 65 %, the click on two and four, the beats in thirds, \
                     from your first note";
        assert_eq!(plain.to_string(), words);
    }

    #[test]
    fn choices_are_read_by_their_names() {
        assert_eq!("first-take".parse(), Ok(Guide::FirstTake));
        assert_eq!("wait".parse(), Ok(Repeat::Wait));
        assert_eq!("first take".parse::<Guide>(), Err(NotAChoice::Guide));
        assert_eq!("".parse::<Repeat>(), Err(NotAChoice::Repeat));
    }
}
