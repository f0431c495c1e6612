//! What happens in the room, one thing after the other, on the caller's thread.

use super::door::{Door, Opened};
use super::face::{After, Begins, Blocks, Face, Shown, Stage};
use super::hands::{Came, Hands};
use super::over::{OnStage, PlayedTake};
use super::sheet::{About, LEAD, Sheet};
use crate::backend::Input;
use crate::click::{ClickSound, Level, Pattern, Subdivision};
use crate::commands::Failure;
use crate::commands::keeping::{Keeping, Kept};
use crate::expected::silent_bars::SilentBars;
use crate::line::bar_range::BarRange;
use crate::live::{Over, Pace, Said, Stop, TakeSetup};
use crate::played::{MidiMessage, TimedMessage};
use crate::practice::care::{Care, RestAfter};
use crate::practice::control::Listening;
use crate::practice::setup::Sounds;
use crate::practice::{
    Change, Command, Event, Guide, How, NextTake, Now, Part, Plan, Repeat, Start, Step, TakeSum,
    between,
};
use crate::screen::keys;
use crate::stand_in::{self, Habits};
use crate::take::TakeHead;
use crate::tone::Mix;
use crate::units::Nanos;
use crossbeam_channel::{RecvTimeoutError, TryRecvError};
use std::rc::Rc;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

/// After a take there is time to read what it came to before the next one is counted in.
const TIME_TO_READ: Duration = Duration::from_millis(2500);
/// A session that was lost is tried again so often.
const TRY_AGAIN: Duration = Duration::from_secs(2);
/// The guide part is softer than the click by so many dB.
const GUIDE_BELOW: f64 = 6.0;

const SILENT: [Option<SilentBars>; 4] = SilentBars::USUAL;
const GUIDES: [(&str, Guide); 3] = Guide::NAMES;

/// Says where a take of this number, from 1, is kept.
pub type KeepTake<'a> = Box<dyn Fn(u32) -> Result<Keeping, Failure> + 'a>;

/// What a room is furnished with.
pub struct Furnished<'a> {
    /// What is practised.
    pub about: About,
    /// What is opened.
    pub door: Door,
    /// How the click sounds; its level is what the fader begins with.
    pub click: ClickSound,
    /// What a stand-in does, and the seed of its first take.
    pub stand_in: Option<(Habits, u64)>,
    /// Where takes are kept.
    pub keep: KeepTake<'a>,
    /// When a rest is spoken of.
    pub rest_after: RestAfter,
    /// Ends it all.
    pub stop: Stop,
}

/// What is left when practising is over.
pub struct Left {
    /// The last take in which something was heard; else the last one.
    pub last: Option<PlayedTake>,
    /// Where all takes are kept.
    pub kept: Vec<Kept>,
    /// Whether that was said of each as it began.
    pub is_said: bool,
    /// What went wrong with one of them, or why it could not go on.
    pub failure: Option<Failure>,
}

/// See the module's head.
pub struct Practising<'a, 'f> {
    room: Furnished<'a>,
    /// How it begins when it is counted in.
    counted_in: Start,
    face: &'f mut dyn Face,
    hands: Hands,
    plan: Plan,
    opened: Option<Opened>,
    /// Why the session is lost, or could not be opened again.
    lost: Option<String>,
    /// When it is tried again.
    again_at: Instant,
    level: Level,
    care: Care,
    since: Instant,
    on_stage: Option<OnStage>,
    /// A take that is begun at this time: until then there is time to read, and two notes may ask for something else.
    soon: Option<(NextTake, Instant)>,
    before: Option<PlayedTake>,
    kept: Vec<Kept>,
    is_gone: bool,
    /// What went wrong.
    failure: Option<Failure>,
}

impl<'a, 'f> Practising<'a, 'f> {
    /// In a session that is open; nothing is played yet.
    pub fn new(
        room: Furnished<'a>,
        plan: Plan,
        opened: Opened,
        hands: Hands,
        face: &'f mut dyn Face,
    ) -> Practising<'a, 'f> {
        Practising {
            counted_in: match plan.setup().start {
                Start::WithFirstNote => Start::CountedIn(1),
                counted_in => counted_in,
            },
            hands,
            plan,
            opened: Some(opened),
            lost: None,
            again_at: Instant::now(),
            level: room.click.level,
            care: Care::new(room.rest_after),
            since: Instant::now(),
            on_stage: None,
            soon: None,
            before: None,
            kept: Vec::new(),
            is_gone: false,
            failure: None,
            face,
            room,
        }
    }

    /// Practises until the player leaves, or it cannot go on.
    pub fn run(mut self) -> Result<Left, Failure> {
        let begin = self.plan.next(Event::Begin);
        self.act(begin)?;
        while !self.is_gone {
            self.hear()?;
            self.wishes()?;
            self.tick()?;
            self.look()?;
        }
        self.close()?;
        Ok(Left {
            last: self.before,
            kept: self.kept,
            is_said: self.face.says_where(),
            failure: self.failure,
        })
    }

    /// Ends the session; what is still to be heard of it is.
    fn close(&mut self) -> Result<(), Failure> {
        let Some(opened) = self.opened.take() else {
            return Ok(());
        };
        for said in opened.room.close() {
            self.said(said)?;
        }
        Ok(())
    }

    /// Waits for what is said, and a little while at the most.
    fn hear(&mut self) -> Result<(), Failure> {
        let Some(opened) = &self.opened else {
            thread::sleep(self.face.patience());
            return self.open_again();
        };
        let first = match opened.room.said().recv_timeout(self.face.patience()) {
            Ok(said) => said,
            Err(RecvTimeoutError::Timeout) => return Ok(()),
            Err(RecvTimeoutError::Disconnected) => {
                self.is_gone = true;
                return Ok(());
            }
        };
        self.said(first)?;
        loop {
            let next = self
                .opened
                .as_ref()
                .map(|opened| opened.room.said().try_recv());
            match next {
                Some(Ok(said)) => self.said(said)?,
                None | Some(Err(TryRecvError::Empty | TryRecvError::Disconnected)) => return Ok(()),
            }
        }
    }

    fn said(&mut self, said: Said) -> Result<(), Failure> {
        match said {
            Said::Over(over) => self.over(*over),
            Said::Lost(why) => self.lost(why),
            Said::Event(event) => self.event(event),
            Said::Input(input, _) => {
                if input == Input::Away {
                    self.hands.let_go();
                }
                self.show(&said)?;
                Ok(self.face.input(input)?)
            }
            Said::Begun(_) => {
                if let Some(stage) = &mut self.on_stage {
                    stage.is_begun = true;
                }
                self.show(&said)
            }
            Said::Note(..) => {
                self.played_something();
                self.show(&said)
            }
            Said::Corrected(_) | Said::Bar(..) | Said::CannotWrite(_) | Said::OrdinaryPriority => {
                self.show(&said)
            }
        }
    }

    fn show(&mut self, said: &Said) -> Result<(), Failure> {
        let sheet = match &self.on_stage {
            Some(stage) => Rc::clone(&stage.sheet),
            None => self.sheet(self.plan.coming())?,
        };
        Ok(self.face.said(said, &sheet)?)
    }

    fn played_something(&mut self) {
        let now = Nanos(self.since.elapsed().as_nanos() as i64);
        self.care.note(now);
    }

    fn listening(&self) -> Listening {
        match self.on_stage {
            Some(_) => Listening::No,
            None => Listening::Yes,
        }
    }

    fn event(&mut self, event: TimedMessage) -> Result<(), Failure> {
        if matches!(event.message, MidiMessage::NoteOn { .. }) {
            self.played_something();
        }
        let came = self.hands.heard(event, self.listening());
        self.came(came)
    }

    fn came(&mut self, came: Option<Came>) -> Result<(), Failure> {
        match came {
            None => Ok(()),
            Some(Came::Asked(command)) => self.command(command),
            Some(Came::Learned) => Ok(self.face.learning(self.hands.learning())?),
        }
    }

    fn command(&mut self, command: Command) -> Result<(), Failure> {
        self.ask(Event::Command(command))
    }

    fn change(&mut self, change: Change) -> Result<(), Failure> {
        self.ask(Event::Change(change))
    }

    /// Something is wished of the plan, which needs a session.
    fn ask(&mut self, event: Event) -> Result<(), Failure> {
        if self.opened.is_none() {
            return Ok(());
        }
        let step = self.plan.next(event);
        self.act(step)?;
        self.renew()
    }

    /// A take that is not begun yet is as it is set up by now.
    fn renew(&mut self) -> Result<(), Failure> {
        let Some((take, _)) = &mut self.soon else {
            return Ok(());
        };
        if let Some(renewed) = self.plan.renewed() {
            *take = renewed;
        }
        let coming = take.clone();
        let coming = self.sheet(coming)?;
        Ok(self.face.coming(&coming)?)
    }

    fn wishes(&mut self) -> Result<(), Failure> {
        for wish in self.face.wishes()? {
            self.wish(wish)?;
        }
        Ok(())
    }

    fn wish(&mut self, wish: keys::Command) -> Result<(), Failure> {
        use keys::Command::*;
        let setup = self.plan.setup();
        match wish {
            Again => self.command(Command::Again),
            Next => self.command(Command::Next),
            Slower => self.command(Command::Slower),
            Faster => self.command(Command::Faster),
            Stop => self.command(Command::Stop),
            Loop => self.change(Change::Repeat(match setup.repeat {
                Repeat::Loop => Repeat::Wait,
                Repeat::Wait | Repeat::Once => Repeat::Loop,
            })),
            FromEarlier => self.bars(|bars| bars.first = bars.first.saturating_sub(1)),
            FromLater => self.bars(|bars| bars.first += 1),
            ToEarlier => self.bars(|bars| bars.last = bars.last.saturating_sub(1)),
            ToLater => self.bars(|bars| bars.last += 1),
            Section => self.change(Change::Part(self.plan.section_after())),
            Click => self.change(Change::Click(after(&Pattern::ALL, setup.click))),
            Between => self.change(Change::Between(after(&Subdivision::ALL, setup.between))),
            SilentBars => self.change(Change::Silent(after(&SILENT, setup.silent))),
            Start => self.change(Change::Start(self.other_start())),
            Guide => {
                let guides = GUIDES.map(|(_, guide)| guide);
                self.change(Change::Guide(after(&guides, setup.guide)))
            }
            LevelUp => self.level(self.level.louder()),
            LevelDown => self.level(self.level.softer()),
            Learn => {
                self.hands.learn_next();
                Ok(self.face.learning(self.hands.learning())?)
            }
            Back => {
                self.hands.learn_no_more();
                Ok(self.face.learning(None)?)
            }
            Suspend => self.suspend(),
            Quit => self.leave(),
            Big | Help => Ok(()),
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

    fn leave(&mut self) -> Result<(), Failure> {
        let step = self.plan.next(Event::Leave);
        self.is_gone |= self.opened.is_none();
        self.act(step)
    }

    /// Does what the plan says.
    fn act(&mut self, step: Step) -> Result<(), Failure> {
        if let Some(said) = &step.said {
            self.face.answered(said)?;
        }
        match step.now {
            Now::Take(take) => self.begin(take)?,
            Now::EndTake if self.soon.is_some() => return self.give_up(),
            Now::EndTake => {
                if let Some(opened) = &self.opened {
                    // A room that is closed has said that the take is over.
                    let _ = opened.room.stop_take();
                }
            }
            Now::Wait if !self.may_be_asked() => self.is_gone = true,
            Now::Wait => self.show_coming()?,
            Now::PlayOn => {}
            Now::Leave => self.is_gone = true,
        }
        Ok(())
    }

    /// Whether anybody could ever ask for something: at the keys, or with a switch.
    fn may_be_asked(&self) -> bool {
        let has_port = self.opened.as_ref().is_some_and(|opened| opened.has_port);
        self.face.waits() || (has_port && self.hands.may_ask())
    }

    /// The take that would be begun soon is not.
    fn give_up(&mut self) -> Result<(), Failure> {
        self.soon = None;
        let step = self.plan.next(Event::GivenUp);
        self.act(step)
    }

    fn show_coming(&mut self) -> Result<(), Failure> {
        let coming = self.sheet(self.plan.coming())?;
        Ok(self.face.coming(&coming)?)
    }

    fn sheet(&self, take: NextTake) -> Result<Rc<Sheet>, Failure> {
        Ok(Rc::new(Sheet::of(take, &self.room.about)?))
    }

    fn begin(&mut self, take: NextTake) -> Result<(), Failure> {
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

    fn over(&mut self, over: Over) -> Result<(), Failure> {
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
            now => self.act(now.silently()),
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

    /// The session is lost: it is tried again while somebody waits for it.
    fn lost(&mut self, why: String) -> Result<(), Failure> {
        self.opened = None;
        if self.soon.is_some() {
            self.plan.next(Event::Command(Command::Stop));
            self.give_up()?;
        }
        if !self.face.waits() || self.room.stop.is_asked() {
            let why = format!("{why}; the take was kept up to there");
            self.failure.get_or_insert(Failure::NotJudged(why));
            self.is_gone = true;
            return Ok(());
        }
        self.lost = Some(why);
        self.again_at = Instant::now() + TRY_AGAIN;
        Ok(())
    }

    fn open_again(&mut self) -> Result<(), Failure> {
        if self.room.stop.is_asked() {
            self.is_gone = true;
        }
        if self.is_gone || Instant::now() < self.again_at {
            return Ok(());
        }
        match self.room.door.open(self.level, &self.room.stop) {
            Ok(opened) => {
                self.opened = Some(opened);
                self.lost = None;
                self.face.input(Input::Here)?;
                self.face.told("The sound is back.")?;
                self.show_coming()
            }
            Err(why) => {
                self.lost = Some(why.into_text());
                self.again_at = Instant::now() + TRY_AGAIN;
                Ok(())
            }
        }
    }

    /// While the program is stopped nobody serves the sound: the take ends, the session is closed, and opened anew.
    fn suspend(&mut self) -> Result<(), Failure> {
        self.command(Command::Stop)?;
        self.close()?;
        self.face.suspend()?;
        self.again_at = Instant::now();
        self.open_again()
    }

    fn time_to_read(&self) -> Duration {
        match self.room.door.pace {
            Pace::RealTime => TIME_TO_READ,
            Pace::Virtual => Duration::ZERO,
        }
    }

    fn tick(&mut self) -> Result<(), Failure> {
        if let Some((take, _)) = self.soon.take_if(|(_, at)| Instant::now() >= *at) {
            self.begin(take)?;
        }
        let came = self.hands.tick(self.listening());
        self.came(came)
    }

    fn look(&mut self) -> Result<(), Failure> {
        let room = self.opened.as_ref().map(|opened| &opened.room);
        let blocks = Blocks {
            asked: self.room.door.config.period,
            period: room.and_then(|room| room.period()),
            delay: room.and_then(|room| room.output_delay()),
        };
        let shown = Shown {
            setup: self.plan.setup(),
            level: self.level,
            blocks,
            lost: self.lost.as_deref(),
        };
        let stage = match (&self.on_stage, room.and_then(|room| room.position().now())) {
            (None, _) => Stage::Empty,
            (Some(stage), Some(now)) if stage.is_begun => Stage::At(now),
            (Some(_), _) => Stage::Coming,
        };
        Ok(self.face.look(stage, &shown)?)
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

fn head(sheet: &Sheet, settings: crate::judge::Settings, opened: &Opened) -> TakeHead {
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

/// The one after this; after the last the first.
fn after<T: PartialEq + Copy>(all: &[T], this: T) -> T {
    let at = all.iter().position(|one| *one == this);
    all[at.map_or(0, |at| (at + 1) % all.len())]
}
