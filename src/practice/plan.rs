//! The plan: what the next take is, whatever happens.

use super::climbing::Moved;
use super::command::Command;
use super::going::{Going, Way};
use super::part::{Drill, Part, Route};
use super::setup::{Change, Guide, Method, NextTake, Repeat, Setup, Sounds};
use super::take_sum::{How, TakeSum};
use crate::click::Pattern;
use crate::expected::tempo_map::Speed;
use crate::findings::practice::Practice;
use crate::line::Line;
use crate::line::excerpt::NotInTheLine;

/// Decides what comes next. It begins nothing itself: [`Now::Take`] asks for a take to be played, [`Now::EndTake`] for the
/// one being played to be stopped; each take, stopped or not, is answered with [`Event::Over`], one that was not even begun
/// with [`Event::GivenUp`].
#[derive(Clone, Debug)]
pub struct Plan {
    line: Line,
    route: Route,
    setup: Setup,
    going: Going,
    /// What is gone back to after a drill.
    left: Option<Left>,
    /// What the last take of this part suggests.
    suggested: Option<Practice>,
    /// Whether a suggestion was followed since this part came up.
    is_drilled: bool,
    /// The take that was begun last.
    begun: Option<NextTake>,
    /// Whether a take of this part was played whole.
    is_heard: bool,
    takes: u32,
    state: State,
}

/// What was practised before a drill.
#[derive(Clone, Debug)]
struct Left {
    part: Part,
    going: Going,
    click: Pattern,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Playing(Then),
    Waiting,
    Gone,
}

/// What follows the take being played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Then {
    AsSetUp,
    Again,
    Next,
    Wait,
    Leave,
}

/// What happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The player is there: the first take may begin.
    Begin,
    /// The take being played is over.
    Over(TakeSum),
    /// The take that was asked for was given up before it was begun.
    GivenUp,
    /// The player wishes.
    Command(Command),
    /// The player sets something up anew.
    Change(Change),
    /// The player leaves; a take being played ends there.
    Leave,
}

/// What is to be done, and what is to be said of it (one sentence, where there is something to say).
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is to be done.
    pub now: Now,
    /// What is to be said.
    pub said: Option<String>,
}

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Now {
    /// Begin this take.
    Take(NextTake),
    /// Stop the take being played; [`Event::Over`] follows.
    EndTake,
    /// Go on with the take being played.
    PlayOn,
    /// Nothing, until the player wishes.
    Wait,
    /// The end.
    Leave,
}

impl Now {
    fn silently(self) -> Step {
        Step {
            now: self,
            said: None,
        }
    }

    fn saying(self, said: impl Into<String>) -> Step {
        Step {
            now: self,
            said: Some(said.into()),
        }
    }
}

impl Plan {
    /// A plan for a line; nothing is played before [`Event::Begin`] or a command. An error where the line has no such part.
    pub fn new(setup: Setup, line: &Line) -> Result<Plan, NotInTheLine> {
        setup.part.of(line)?;
        let mut plan = Plan {
            line: line.clone(),
            route: Route::of(line),
            going: Going::new(&setup.method, &setup.part),
            setup,
            left: None,
            suggested: None,
            is_drilled: false,
            begun: None,
            is_heard: false,
            takes: 0,
            state: State::Waiting,
        };
        plan.whole_for_play_through();
        plan.going = Going::new(&plan.setup.method, &plan.setup.part);
        Ok(plan)
    }

    /// What follows from an event.
    pub fn next(&mut self, event: Event) -> Step {
        if self.state == State::Gone {
            return Now::Leave.silently();
        }
        match event {
            Event::Begin if self.takes == 0 => self.take(None),
            Event::Begin => self.on().silently(),
            Event::Over(sum) => self.over(&sum),
            Event::GivenUp => self.given_up(),
            Event::Command(command) => self.command(command),
            Event::Change(change) => self.change(change),
            Event::Leave => self.end_or(Then::Leave),
        }
    }

    /// The take that would come now.
    pub fn coming(&self) -> NextTake {
        let guide = match self.setup.guide {
            Guide::On => Sounds::Yes,
            Guide::FirstTake if !self.is_heard => Sounds::Yes,
            Guide::FirstTake | Guide::Off => Sounds::No,
        };
        NextTake {
            number: self.takes + 1,
            part: self.setup.part.clone(),
            speed: self.going.speed(),
            click: self.setup.click,
            between: self.setup.between,
            silent: self.setup.silent,
            start: self.setup.start,
            guide,
        }
    }

    /// The take that was asked for and is not begun yet, as it is set up by now; `None` where none was asked for.
    pub fn renewed(&mut self) -> Option<NextTake> {
        let take = NextTake {
            number: self.takes,
            ..self.coming()
        };
        self.is_playing().then(|| self.begun.insert(take).clone())
    }

    /// The section after what is practised now; after the last one the whole line.
    pub fn section_after(&self) -> Part {
        self.route.section_after(&self.setup.part)
    }

    /// What holds now.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Whether a take is being played. While it is, foot switches count and two quick notes do not.
    pub fn is_playing(&self) -> bool {
        matches!(self.state, State::Playing(_))
    }

    fn take(&mut self, said: Option<String>) -> Step {
        let take = self.coming();
        self.takes = self.takes.saturating_add(1);
        self.begun = Some(take.clone());
        self.state = State::Playing(Then::AsSetUp);
        Step {
            now: Now::Take(take),
            said,
        }
    }

    /// Nothing new.
    fn on(&self) -> Now {
        match self.state {
            State::Playing(Then::AsSetUp) => Now::PlayOn,
            State::Playing(_) => Now::EndTake,
            State::Waiting => Now::Wait,
            State::Gone => Now::Leave,
        }
    }

    fn wait(&mut self, said: Option<String>) -> Step {
        self.state = State::Waiting;
        Step {
            now: Now::Wait,
            said,
        }
    }

    fn leave(&mut self, said: Option<String>) -> Step {
        self.state = State::Gone;
        Step {
            now: Now::Leave,
            said,
        }
    }

    /// Ends the take being played and does this then; does it at once where none is.
    fn end_or(&mut self, then: Then) -> Step {
        match self.state {
            // Who leaves has left.
            State::Playing(Then::Leave) => Now::EndTake.silently(),
            State::Playing(_) => {
                self.state = State::Playing(then);
                Now::EndTake.silently()
            }
            State::Waiting | State::Gone => self.follow(then, None),
        }
    }

    fn follow(&mut self, then: Then, said: Option<String>) -> Step {
        match then {
            Then::Again | Then::AsSetUp => self.take(said),
            Then::Next => {
                let next = self.go_on();
                self.take(Some(next))
            }
            Then::Wait => self.wait(said),
            Then::Leave => self.leave(said),
        }
    }

    fn over(&mut self, sum: &TakeSum) -> Step {
        let State::Playing(then) = self.state else {
            return self.on().silently();
        };
        let moved = self.learn_from(sum);
        let (moved, said) = moved.map_or((None, None), |(moved, said)| (Some(moved), Some(said)));
        match (then, self.setup.repeat) {
            (Then::AsSetUp | Then::Wait, Repeat::Once) => self.leave(said),
            (Then::AsSetUp, _) if sum.how == How::Stopped => self.wait(said),
            // Nobody is playing: the click does not go on for ever.
            (Then::AsSetUp, Repeat::Loop) if sum.is_silent() => {
                self.wait(Some(NOTHING_HEARD.into()))
            }
            (Then::AsSetUp, Repeat::Loop) if moved != Some(Moved::Arrived) => self.take(said),
            (Then::AsSetUp, _) => self.wait(said),
            // Who asked for it knows why the take was stopped.
            (then, _) => self.follow(then, said.filter(|_| moved != Some(Moved::Open))),
        }
    }

    /// It counts for nothing, not even among the numbers.
    fn given_up(&mut self) -> Step {
        let State::Playing(then) = self.state else {
            return self.on().silently();
        };
        self.begun = None;
        self.takes = self.takes.saturating_sub(1);
        match then {
            Then::AsSetUp | Then::Wait => self.wait(None),
            then => self.follow(then, None),
        }
    }

    /// What a take says about the speed and what comes next. One of another part, or at another speed than is set up by
    /// now, says nothing.
    fn learn_from(&mut self, sum: &TakeSum) -> Option<(Moved, String)> {
        let begun = self.begun.take()?;
        if begun.part != self.setup.part {
            return None;
        }
        self.suggested = sum.practice;
        self.is_heard |= sum.how == How::Whole && !sum.is_silent();
        if begun.speed != self.going.speed() {
            return None;
        }
        self.going.after(sum)
    }

    fn command(&mut self, command: Command) -> Step {
        match command {
            Command::Again => self.end_or(Then::Again),
            Command::Next => self.end_or(Then::Next),
            Command::Stop => self.end_or(Then::Wait),
            Command::Slower => self.pace(Way::Slower),
            Command::Faster => self.pace(Way::Faster),
        }
    }

    fn pace(&mut self, way: Way) -> Step {
        let said = self.going.pace(way);
        self.on().saying(said)
    }

    fn change(&mut self, change: Change) -> Step {
        match change {
            Change::Part(part) => {
                if let Err(why) = part.of(&self.line) {
                    return self.on().saying(why.to_string());
                }
                self.forget_drill();
                self.begin_at(part);
            }
            Change::Method(method) => {
                self.forget_drill();
                self.setup.method = method;
                self.whole_for_play_through();
                self.going = Going::new(&method, &self.setup.part);
            }
            Change::Click(click) => self.setup.click = click,
            Change::Between(between) => self.setup.between = between,
            Change::Silent(silent) => self.setup.silent = silent,
            Change::Start(start) => self.setup.start = start,
            Change::Guide(guide) => self.setup.guide = guide,
            Change::Repeat(repeat) => self.setup.repeat = repeat,
        }
        let said = format!("Next: {}.", self.coming());
        self.on().saying(said)
    }

    /// On to the next part; what is said of it.
    fn go_on(&mut self) -> String {
        let suggested = self.suggested.take().filter(|_| !self.is_drilled);
        if let Some(left) = self.left.take() {
            self.going = left.going;
            self.setup.click = left.click;
            self.enter(left.part);
            self.is_drilled = true;
            return format!("Back to {}.", self.coming());
        }
        let now = (self.going.speed(), self.setup.click);
        let drill =
            suggested.and_then(|practice| self.route.drill(&practice, &self.setup.part, now));
        if let Some(drill) = drill {
            return self.enter_drill(drill);
        }
        let part = self.route.after(&self.setup.part);
        if part == self.setup.part {
            self.is_drilled = false;
            return format!("Once more: {}.", self.coming());
        }
        self.begin_at(part);
        format!("Next: {}.", self.coming())
    }

    /// A speed that was set by hand holds for another part as well; a climb begins at its start.
    fn begin_at(&mut self, part: Part) {
        if !matches!(
            (&self.going, self.setup.method),
            (Going::Steady(_), Method::Steady(_))
        ) {
            self.going = Going::new(&self.setup.method, &part);
        }
        self.enter(part);
    }

    fn enter_drill(&mut self, drill: Drill) -> String {
        let slowest = self.going.slowest();
        let drill = Drill {
            speed: Speed(drill.speed.0.max(slowest.0)),
            ..drill
        };
        let said = format!("Next: {drill}.");
        self.left = Some(Left {
            part: self.setup.part.clone(),
            going: std::mem::replace(&mut self.going, Going::Steady(drill.speed)),
            click: std::mem::replace(&mut self.setup.click, drill.click),
        });
        self.enter(drill.part);
        said
    }

    /// There is no way back from the drill any more; its click and its speed go with it.
    fn forget_drill(&mut self) {
        if let Some(left) = self.left.take() {
            self.setup.click = left.click;
            self.going = left.going;
        }
    }

    fn enter(&mut self, part: Part) {
        self.setup.part = part;
        self.suggested = None;
        self.is_heard = false;
        self.is_drilled = false;
    }

    fn whole_for_play_through(&mut self) {
        if self.setup.method == Method::PlayThrough && self.setup.part != Part::Whole {
            self.enter(Part::Whole);
        }
    }
}

const NOTHING_HEARD: &str = "Nothing was heard: waiting for you.";

#[cfg(test)]
#[path = "plan_tests.rs"]
mod tests;
