//! What happens in the room, one thing after the other, on the caller's thread.

mod takes;
mod wishes;

use super::door::{Door, Opened};
use super::face::{Blocks, Face, Shown, Stage};
use super::hands::{Came, Hands};
use super::over::{OnStage, PlayedTake};
use super::sheet::{About, Sheet};
use crate::backend::Input;
use crate::click::{ClickSound, Level};
use crate::commands::Failure;
use crate::commands::keeping::{Keeping, Kept};
use crate::live::{Said, Stop};
use crate::played::{MidiMessage, TimedMessage};
use crate::practice::care::{Care, RestAfter};
use crate::practice::control::Listening;
use crate::practice::{Change, Command, Event, NextTake, Now, Plan, Start, Step};
use crate::stand_in::Habits;
use crate::units::Nanos;
use crossbeam_channel::{RecvTimeoutError, TryRecvError};
use std::rc::Rc;
use std::thread;
use std::time::{Duration, Instant};

/// A session that was lost is tried again so often.
const TRY_AGAIN: Duration = Duration::from_secs(2);

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
        self.follow(step.now)
    }

    fn follow(&mut self, now: Now) -> Result<(), Failure> {
        match now {
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
