//! A take from its beginning to what it came to.

use super::{Furnished, Practising};
use crate::click::{ClickSound, Level};
use crate::commands::Failure;
use crate::commands::room::door::Opened;
use crate::commands::room::face::{After, Begins};
use crate::commands::room::over::{OnStage, PlayedTake};
use crate::commands::room::sheet::{LEAD, Sheet};
use crate::judge::Settings;
use crate::live::{Over, Pace, TakeSetup};
use crate::played::TimedMessage;
use crate::practice::setup::Sounds;
use crate::practice::{Command, Event, How, NextTake, Now, Start, TakeSum, between};
use crate::stand_in;
use crate::take::TakeHead;
use crate::tone::Mix;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// After a take there is time to read what it came to before the next one is counted in.
const TIME_TO_READ: Duration = Duration::from_millis(2500);
/// The guide part is softer than the click by so many dB.
const GUIDE_BELOW: f64 = 6.0;

impl Practising<'_, '_> {
    pub(super) fn begin(&mut self, take: NextTake) -> Result<(), Failure> {
        let sheet = self.sheet(take)?;
        let Some(opened) = &mut self.opened else {
            return Ok(());
        };
        let mut settings = self.room.about.settings;
        if let Some((latency, _)) = &opened.latency {
            settings.latency = *latency;
        }
        let mut head = head(&sheet, settings, opened);
        let conductor = sheet.conducted(&mut head)?;
        let keeping = (self.room.keep)(sheet.take.number)?;
        let (keepers, kept) = keeping.begin(&conductor, &head, sheet.length())?;
        self.face.begins(&Begins {
            sheet: &sheet,
            description: &opened.description,
            latency: opened.latency.as_ref().map(|(_, line)| line.as_str()),
            kept: kept.lines().collect(),
        })?;
        let setup = TakeSetup {
            expected: Arc::clone(&sheet.expected),
            settings,
            conductor,
            start: head.start(),
            keepers,
            clicks: sheet.clicks.clone(),
            mix: self.room.mix(&sheet),
            lead: LEAD,
            started_by: sheet.started_by(),
            stand_in: self.room.script(&sheet),
        };
        self.on_stage = Some(OnStage {
            sheet,
            settings,
            start: head.start(),
            way: head.way(),
            kept,
            is_begun: false,
        });
        // A room that is closed says why it is.
        let _ = opened.room.begin(setup);
        Ok(())
    }

    pub(super) fn over(&mut self, over: Over) -> Result<(), Failure> {
        let Some(stage) = self.on_stage.take() else {
            return Ok(());
        };
        let take = PlayedTake::of(stage, over);
        let entered = self.enter(&take);
        if self.room.stop.is_asked() {
            self.plan.next(Event::Leave);
        } else if take.end.lost.is_some() {
            // Nothing begins by itself where there is no sound.
            self.plan.next(Event::Command(Command::Stop));
        }
        let now = self.tell_over(&take, entered.as_ref().err())?;
        let how = take.how();
        self.put_away(take, entered);
        match now {
            // Who plays from the first note on may do so at once.
            Now::Take(take) if how == How::Whole && take.start != Start::WithFirstNote => {
                self.soon = Some((take, Instant::now() + self.time_to_read()));
                Ok(())
            }
            now => self.follow(now),
        }
    }

    /// Says what a take came to; what the plan wants done now.
    fn tell_over(&mut self, take: &PlayedTake, trouble: Option<&String>) -> Result<Now, Failure> {
        let checked = take.checked();
        let step = self
            .plan
            .next(Event::Over(TakeSum::of(&checked, take.how())));
        // Who leaves reads the report.
        if step.now == Now::Leave {
            return Ok(step.now);
        }
        let before = self.before.as_ref().map(PlayedTake::checked);
        let troubles = [take.whole.as_ref().err(), trouble].map(Option::<&String>::cloned);
        let said = troubles
            .into_iter()
            .chain([step.said, self.care.reminder()]);
        self.face.over(&After {
            between: &between(&checked, before.as_ref()),
            said: &said.flatten().collect::<Vec<String>>(),
            coming: &self.sheet(self.plan.coming())?,
        })?;
        Ok(step.now)
    }

    /// Keeps what the take was judged to be.
    fn enter(&self, take: &PlayedTake) -> Result<(), String> {
        let not_kept = |why| format!("the take is kept, what it was judged to be is not: {why}");
        take.kept.judged(&take.checked()).map_err(not_kept)?;
        if take.is_nothing() {
            take.kept.put_aside()?;
        }
        Ok(())
    }

    /// The take is the one before by now.
    fn put_away(&mut self, take: PlayedTake, entered: Result<(), String>) {
        let whole = take.whole.clone();
        let whole = whole.map_err(|why| format!("the take could not be kept whole: {why}"));
        let failed = whole.and(entered).err().map(Failure::NotJudged);
        self.failure = self.failure.take().or(failed);
        if !take.is_nothing() {
            self.kept.push(take.kept.clone());
        }
        if !take.is_silent() || self.before.is_none() {
            self.before = Some(take);
        }
    }

    fn time_to_read(&self) -> Duration {
        match self.room.door.pace {
            Pace::RealTime => TIME_TO_READ,
            Pace::Virtual => Duration::ZERO,
        }
    }
}

impl Furnished<'_> {
    /// The click at the cap, which the fader brings down, and the guide part below it.
    fn mix(&self, sheet: &Sheet) -> Mix {
        let guide = Level::dbfs(Level::CAP.as_dbfs() - GUIDE_BELOW);
        Mix {
            click: ClickSound {
                level: Level::CAP,
                ..self.click
            },
            line: (sheet.take.guide == Sounds::Yes).then_some(guide),
        }
    }

    /// What the stand-in plays, each take with chances of its own.
    fn script(&self, sheet: &Sheet) -> Option<Vec<TimedMessage>> {
        let (habits, seed) = self.stand_in.as_ref()?;
        let seed = seed.wrapping_add(u64::from(sheet.take.number) - 1);
        Some(stand_in::play(&sheet.expected, habits, seed))
    }
}

fn head(sheet: &Sheet, settings: Settings, opened: &Opened) -> TakeHead {
    TakeHead {
        line: sheet.facts.title.clone(),
        line_file: sheet.facts.file.clone(),
        speed: sheet.take.speed.0,
        start_ns: 0,
        bars: sheet.facts.bars,
        silent: sheet.take.silent,
        settings,
        player: opened.description.clone(),
        has_port: opened.has_port,
        has_cable: opened.has_cable,
        begun: jiff::ZonedDateTime::now().to_string(),
    }
}
