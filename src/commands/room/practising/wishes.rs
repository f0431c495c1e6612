//! Keys: what each of them asks for.

use super::Practising;
use crate::click::{Level, Pattern, Subdivision};
use crate::commands::Failure;
use crate::expected::silent_bars::SilentBars;
use crate::line::bar_range::BarRange;
use crate::practice::{Change, Command, Guide, Part, Repeat, Start};
use crate::screen::keys::Command as Wish;

impl Practising<'_, '_> {
    pub(super) fn wish(&mut self, wish: Wish) -> Result<(), Failure> {
        let setup = self.plan.setup();
        match wish {
            Wish::Again => self.command(Command::Again),
            Wish::Next => self.command(Command::Next),
            Wish::Slower => self.command(Command::Slower),
            Wish::Faster => self.command(Command::Faster),
            Wish::Stop => self.command(Command::Stop),
            Wish::Loop => self.change(Change::Repeat(match setup.repeat {
                Repeat::Loop => Repeat::Wait,
                Repeat::Wait | Repeat::Once => Repeat::Loop,
            })),
            Wish::FromEarlier => self.bars(|bars| bars.first = bars.first.saturating_sub(1)),
            Wish::FromLater => self.bars(|bars| bars.first += 1),
            Wish::ToEarlier => self.bars(|bars| bars.last = bars.last.saturating_sub(1)),
            Wish::ToLater => self.bars(|bars| bars.last += 1),
            Wish::Section => self.change(Change::Part(self.plan.section_after())),
            Wish::Click => self.change(Change::Click(after(&Pattern::ALL, setup.click))),
            Wish::Between => self.change(Change::Between(after(&Subdivision::ALL, setup.between))),
            Wish::SilentBars => {
                self.change(Change::Silent(after(&SilentBars::USUAL, setup.silent)))
            }
            Wish::Start => self.change(Change::Start(self.other_start())),
            Wish::Guide => {
                let guides = Guide::NAMES.map(|(_, guide)| guide);
                self.change(Change::Guide(after(&guides, setup.guide)))
            }
            Wish::LevelUp => self.level(self.level.louder()),
            Wish::LevelDown => self.level(self.level.softer()),
            Wish::Learn => {
                self.hands.learn_next();
                Ok(self.face.learning(self.hands.learning())?)
            }
            Wish::Back => {
                self.hands.learn_no_more();
                Ok(self.face.learning(None)?)
            }
            Wish::Suspend => self.suspend(),
            Wish::Quit => self.leave(),
            Wish::Big | Wish::Help => Ok(()),
        }
    }

    /// Other bars, as far as the line has them.
    fn bars(&mut self, change: impl FnOnce(&mut BarRange)) -> Result<(), Failure> {
        let whole = self.room.about.line.bar_range();
        let mut bars = self.plan.setup().part.bars().unwrap_or(whole);
        change(&mut bars);
        let bars = BarRange {
            first: bars.first.clamp(whole.first, whole.last),
            last: bars.last.clamp(whole.first.max(1), whole.last),
        };
        if bars.first > bars.last {
            return Ok(());
        }
        let part = if bars == whole {
            Part::Whole
        } else {
            Part::Bars(bars)
        };
        self.change(Change::Part(part))
    }

    fn other_start(&self) -> Start {
        match self.plan.setup().start {
            Start::CountedIn(_) => Start::WithFirstNote,
            Start::WithFirstNote => self.counted_in,
        }
    }

    fn level(&mut self, level: Level) -> Result<(), Failure> {
        self.level = level;
        if let Some(opened) = &self.opened {
            opened.room.fader().set(level);
        }
        let level = level.as_dbfs();
        Ok(self.face.answered(&format!("Click at {level} dB."))?)
    }
}

/// The one after this; after the last the first.
fn after<T: PartialEq + Copy>(all: &[T], this: T) -> T {
    let at = all.iter().position(|one| *one == this);
    all[at.map_or(0, |at| (at + 1) % all.len())]
}
