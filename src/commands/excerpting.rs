//! `--bars` and `--section`: which bars of the line are played, and where those of a take are.

use super::{Failure, shared};
use crate::expected::Expected;
use crate::line::Line;
use crate::line::bar_range::BarRange;
use crate::played::{MidiMessage, TimedMessage};
use crate::units::Nanos;
use clap::Args;
use std::ops::Range;
use std::path::Path;

/// Which bars of the line.
#[derive(Args, Clone, Debug, Default)]
pub struct ExcerptOptions {
    /// Only these bars of the line, such as 5-8 or 5; a pickup is bar 0
    #[arg(long, value_name = "FIRST-LAST")]
    pub bars: Option<BarRange>,
    /// Only this section of the line
    #[arg(long, value_name = "NAME")]
    pub section: Option<String>,
}

/// A line, or some bars of it.
pub struct Played {
    /// What is played.
    pub line: Line,
    /// Its bars, where it is an excerpt.
    pub bars: Option<BarRange>,
}

impl ExcerptOptions {
    /// The line of a file, or what of it is asked for; where nothing is, `otherwise`.
    pub fn read(&self, path: &Path, otherwise: Option<BarRange>) -> Result<Played, Failure> {
        self.of(shared::read_line(path)?, otherwise)
    }

    /// Which bars are asked for; where none are, `otherwise`.
    pub fn bars_of(
        &self,
        line: &Line,
        otherwise: Option<BarRange>,
    ) -> Result<Option<BarRange>, Failure> {
        match &self.section {
            Some(name) => Ok(Some(
                line.section_bars(name, self.bars).map_err(Failure::input)?,
            )),
            None => Ok(self.bars.or(otherwise)),
        }
    }

    /// The line, or what of it is asked for; where nothing is, `otherwise`.
    pub fn of(&self, line: Line, otherwise: Option<BarRange>) -> Result<Played, Failure> {
        let bars = self.bars_of(&line, otherwise)?;
        let line = match bars {
            Some(range) => line.excerpt(range).map_err(Failure::input)?,
            None => line,
        };
        Ok(Played { line, bars })
    }
}

/// Where some bars were played in a take of more than them.
pub struct Stretch {
    /// Their time 0 in the time of the take's own bars.
    pub start: Nanos,
    /// From when to when what was played belongs to them, in their own time; open towards the ends of the take.
    within: Range<Nanos>,
}

impl Stretch {
    /// Finds the bars of `wanted` among those of `taken`, and has the click silent in the same ones; `None` where
    /// they were not played one after the other.
    pub fn find(taken: &Expected, wanted: &mut Expected) -> Option<Stretch> {
        let names = |expected: &Expected| -> Vec<(u32, u32)> {
            let bars = expected.bars.iter();
            bars.map(|bar| (bar.pass, bar.number)).collect()
        };
        let (all, some) = (names(taken), names(wanted));
        let first = all
            .windows(some.len().max(1))
            .position(|window| window == some)?;
        for (bar, taken) in wanted.bars.iter_mut().zip(&taken.bars[first..]) {
            bar.silent = taken.silent;
        }
        let start = taken.bars[first].onset - wanted.bars[0].onset;
        let notes = |bar: usize| {
            taken
                .notes
                .partition_point(|note| (note.bar as usize) < bar)
        };
        let between = |next: usize, open: Nanos| {
            let before = next.checked_sub(1).and_then(|n| taken.notes.get(n));
            before
                .zip(taken.notes.get(next))
                .map_or(open, |(before, next)| {
                    Nanos((before.onset.0 + next.onset.0) / 2) - start
                })
        };
        let within =
            between(notes(first), Nanos(i64::MIN))..between(notes(first + some.len()), Nanos::MAX);
        Some(Stretch { start, within })
    }

    /// Whether an event, in the time of the bars, belongs to them; what ends a note always does.
    pub fn has(&self, event: &TimedMessage) -> bool {
        let begins = matches!(event.message, MidiMessage::NoteOn { .. });
        !begins || self.within.contains(&event.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;

    const LINE: &str = "title = \"a\"\nmeter = \"2/4\"\ntempo = 120\n\
         [[section]]\nname = \"A\"\npasses = [0, 0]\nnotes = \"A1/4 A1/4 | D2/2\"\n\
         [[section]]\nname = \"B\"\nnotes = \"E1/4 E1/4 | A1/4 A1/4 | E1/2\"";

    fn expected(bars: Option<[u32; 2]>) -> Expected {
        let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let line = match bars {
            Some(bars) => line.excerpt(bars.into()).expect("bars of the line"),
            None => line,
        };
        unroll(&line, Speed::WRITTEN)
    }

    /// At 120 in 2/4 a bar lasts one second: A, A again, then bar 3 at 4 s.
    #[test]
    fn bars_in_a_row_are_found_in_the_take_with_their_notes_alone() {
        let mut taken = expected(None);
        taken.silence("4:1".parse().expect("bars"));
        let mut wanted = expected(Some([3, 4]));
        let stretch = Stretch::find(&taken, &mut wanted).expect("a stretch");
        assert_eq!(stretch.start, Nanos::from_ms(4000));
        let silent: Vec<bool> = wanted.bars.iter().map(|bar| bar.silent).collect();
        assert_eq!(silent, [true, false]);
        // Half-way from D2 at 3 s, and to E1 at 6 s, which a quarter is before.
        assert_eq!(stretch.within, Nanos::from_ms(-500)..Nanos::from_ms(1750));
    }

    #[test]
    fn a_stretch_is_open_towards_the_ends_of_the_take() {
        let taken = expected(None);
        let all = Stretch::find(&taken, &mut expected(Some([1, 5]))).expect("a stretch");
        assert_eq!(all.start, Nanos::ZERO);
        assert_eq!(all.within, Nanos(i64::MIN)..Nanos::MAX);
    }

    #[test]
    fn bars_with_others_between_their_passes_are_no_stretch() {
        let taken = expected(None);
        assert!(Stretch::find(&taken, &mut expected(Some([2, 2]))).is_none());
        let short = expected(Some([3, 4]));
        assert!(Stretch::find(&short, &mut expected(None)).is_none());
    }
}
