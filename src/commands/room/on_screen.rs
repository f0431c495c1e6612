//! The practice room's screen, kept up to date.

use super::face::{After, Begins, Blocks, Face, Shown, Stage};
use super::sheet::Sheet;
use crate::backend::Input;
use crate::judge::Reading;
use crate::live::Said;
use crate::played::PlayedNote;
use crate::practice::{Repeat, announce};
use crate::screen::terminal::{Asked, Screen};
use crate::screen::{Between, Heard, Look, Over, Piece, Size, State, Turn, View, keys};
use crate::take::StartedBy;
use crate::units::Nanos;
use crossbeam_channel::{Receiver, TryRecvError, unbounded};
use ratatui::crossterm::event::{self, Event, KeyEvent};
use std::io;
use std::rc::Rc;
use std::thread;
use std::time::{Duration, Instant};

/// 60 pictures a second while something moves.
const FRAME: Duration = Duration::from_millis(16);
/// As long as nothing does, but keys are to be answered at once.
const IDLE: Duration = Duration::from_millis(33);
/// So long a sentence stands at the bottom.
const NOTICE: Duration = Duration::from_secs(8);
/// So long it is said what a take came to, before it is said that the first note is waited for.
const TIME_TO_READ: Duration = Duration::from_secs(5);

/// See the module's head.
pub struct OnScreen {
    screen: Screen,
    look: Look,
    view: View,
    keys: Receiver<KeyEvent>,
    sheet: Rc<Sheet>,
    /// When notes of this take began that belong nowhere, in line time.
    extra: Vec<Nanos>,
    /// What is said between takes, and since when.
    between: Option<(Between, Instant)>,
    notices: Vec<Notice>,
    /// The frames a block that were told of.
    period: Option<u32>,
    is_moving: bool,
}

/// A sentence at the bottom.
struct Notice {
    text: String,
    since: Instant,
    /// Whether it answers a wish; there is one answer at a time.
    is_answer: bool,
}

impl OnScreen {
    /// Takes the terminal; `sheet` is the first take.
    pub fn open(look: Look, sheet: &Rc<Sheet>) -> io::Result<OnScreen> {
        Ok(OnScreen {
            screen: Screen::open()?,
            look,
            view: View::new(piece(sheet)),
            keys: listen(),
            sheet: Rc::clone(sheet),
            extra: Vec::new(),
            between: None,
            notices: Vec::new(),
            period: None,
            is_moving: false,
        })
    }

    /// Turns to a take's music.
    fn turn_to(&mut self, sheet: &Rc<Sheet>) {
        // What is laid out stays as long as it is the same music.
        if !self.sheet.is_same_music(sheet) {
            self.view.piece = piece(sheet);
        }
        self.view.take = sheet.take.number;
        self.view.speed = sheet.take.speed;
        self.view.bars = sheet.take.part.bars();
        self.view.click = sheet.take.click;
        self.sheet = Rc::clone(sheet);
    }

    fn note(&mut self, note: &PlayedNote, reading: Option<Reading>) {
        match reading {
            Some(reading) => self.view.heard.reading(reading),
            None => self.extra.push(note.onset),
        }
        self.view.heard.set_extra(self.extra.clone());
    }

    /// What was taken for nothing may be a note by now; a note without a partner is not missed before its bar is over.
    fn corrected(&mut self, reading: Reading) {
        let Some(partner) = reading.partner else {
            return self.view.heard.forget(reading.note);
        };
        let onset = self.sheet.expected.notes[reading.note as usize].onset + partner.offset;
        self.extra.retain(|extra| *extra != onset);
        self.view.heard.set_extra(self.extra.clone());
        self.view.heard.reading(reading);
    }

    fn state(&self, stage: Stage) -> State {
        let between = || {
            let said = self.between.as_ref().map(|(said, _)| said.clone());
            State::Between(said.unwrap_or_default())
        };
        match stage {
            Stage::Empty => between(),
            Stage::Coming => self.coming_state().unwrap_or_else(between),
            Stage::At(now) => {
                let (clicks, count_in) = (&self.sheet.clicks, self.sheet.count_in());
                let view = &self.view;
                let state = State::of_take(&view.piece, clicks, count_in, now, &view.heard);
                state.unwrap_or_else(|| match self.between {
                    Some(_) => between(),
                    None => State::Playing,
                })
            }
        }
    }

    /// Where the take is.
    fn place(&mut self, stage: Stage) {
        self.view.state = self.state(stage);
        if let Stage::At(now) = stage {
            self.view.now = now;
            if now >= Nanos::ZERO {
                self.between = None;
            }
        }
        self.is_moving = stage != Stage::Empty;
    }

    /// What holds in the room.
    fn set_up(&mut self, shown: &Shown<'_>) -> io::Result<()> {
        self.view.turn = match shown.setup.repeat {
            Repeat::Loop => Turn::Over,
            Repeat::Wait | Repeat::Once => Turn::Once,
        };
        self.view.level = Some(format!("click {} dB", shown.level.as_dbfs()));
        let Blocks {
            asked,
            period,
            delay,
        } = shown.blocks;
        self.view.latency = delay.map(|delay| format!("sound after {:.1} ms", delay.ms()));
        // Told once: the delay is estimated anew all the time.
        match shown.blocks.in_words() {
            Some(words) if asked.is_some() && period != self.period => {
                self.period = period;
                self.told(&words)
            }
            _ => Ok(()),
        }
    }

    /// What stands above the music.
    fn announcement(&self, lost: Option<&str>) -> Option<String> {
        if let Some(why) = lost {
            return Some(format!("no sound, tried again: {why}"));
        }
        let announced = announce::at(&self.sheet.announcements, self.view.now);
        let is_playing = self.view.state == State::Playing;
        announced.filter(|_| is_playing).map(|one| one.text.clone())
    }

    /// Before bar 1 has its place. `None`: it is still said what the take before came to.
    fn coming_state(&self) -> Option<State> {
        let is_read = |(_, since): &(_, Instant)| since.elapsed() >= TIME_TO_READ;
        let is_read = self.between.as_ref().is_none_or(is_read);
        match self.sheet.started_by() {
            StartedBy::FirstNote if is_read => Some(State::Waiting),
            StartedBy::FirstNote => None,
            StartedBy::Click => self.between.is_none().then_some(State::Playing),
        }
    }

    fn here(&mut self, wish: keys::Command) -> Option<keys::Command> {
        match wish {
            keys::Command::Big => {
                self.look.size = match self.look.size {
                    Size::Usual => Size::Big,
                    Size::Big => Size::Usual,
                };
                None
            }
            keys::Command::Help => {
                self.view.over = match self.view.over {
                    Over::Help(page) => Over::Help(page + 1),
                    _ => Over::Help(0),
                };
                None
            }
            keys::Command::Back => {
                self.view.over = Over::Nothing;
                Some(wish)
            }
            wish => Some(wish),
        }
    }

    fn notices(&mut self) -> Vec<String> {
        self.notices
            .retain(|notice| notice.since.elapsed() < NOTICE);
        let notices = self.notices.iter();
        notices.map(|notice| notice.text.clone()).collect()
    }
}

fn piece(sheet: &Sheet) -> Rc<Piece> {
    let piece = Piece::new(
        std::sync::Arc::clone(&sheet.line),
        std::sync::Arc::clone(&sheet.expected),
    );
    Rc::new(piece)
}

/// Keys, read on a thread of their own, which ends with the program: where the terminal hangs up, crossterm's reading
/// never returns.
fn listen() -> Receiver<KeyEvent> {
    let (sender, receiver) = unbounded();
    thread::spawn(move || {
        while let Ok(event) = event::read() {
            if let Event::Key(key) = event
                && sender.send(key).is_err()
            {
                return;
            }
        }
    });
    receiver
}

impl Face for OnScreen {
    fn begins(&mut self, begins: &Begins<'_>) -> io::Result<()> {
        self.turn_to(begins.sheet);
        if let Some((said, _)) = &mut self.between {
            said.next = begins.sheet.take.to_string();
        }
        let first = begins.sheet.expected.bars.first();
        self.view.now = first.map_or(Nanos::ZERO, |bar| bar.onset) - Nanos(1);
        self.view.heard = Heard::default();
        self.extra.clear();
        Ok(())
    }

    fn said(&mut self, said: &Said, _sheet: &Rc<Sheet>) -> io::Result<()> {
        match said {
            Said::Begun(_) => {}
            Said::Note(note, reading) => self.note(note, *reading),
            Said::Corrected(reading) => self.corrected(*reading),
            Said::Bar(_, readings) => {
                for reading in readings {
                    self.view.heard.reading(*reading);
                }
            }
            Said::CannotWrite(why) => {
                self.told(&format!(
                    "The take cannot be written ({why}); it is tried again."
                ))?;
            }
            Said::OrdinaryPriority => {
                self.told("Without real-time priority: on a busy machine marks come later.")?;
            }
            Said::Input(..) | Said::Event(_) | Said::Over(_) | Said::Lost(_) => {}
        }
        Ok(())
    }

    fn over(&mut self, after: &After<'_>) -> io::Result<()> {
        let said = Between {
            work_on: after.between.work_on.clone(),
            compared: after.between.compared.clone(),
            said: after.said.to_vec(),
            next: after.coming.take.to_string(),
        };
        self.between = Some((said, Instant::now()));
        self.turn_to(after.coming);
        Ok(())
    }

    fn told(&mut self, sentence: &str) -> io::Result<()> {
        self.notices.retain(|notice| notice.text != sentence);
        self.notices.push(Notice {
            text: sentence.to_string(),
            since: Instant::now(),
            is_answer: false,
        });
        Ok(())
    }

    fn answered(&mut self, sentence: &str) -> io::Result<()> {
        self.notices.retain(|notice| !notice.is_answer);
        self.notices.push(Notice {
            text: sentence.to_string(),
            since: Instant::now(),
            is_answer: true,
        });
        Ok(())
    }

    fn coming(&mut self, coming: &Rc<Sheet>) -> io::Result<()> {
        if let Some((said, _)) = &mut self.between {
            said.next = coming.take.to_string();
        }
        self.turn_to(coming);
        Ok(())
    }

    fn input(&mut self, input: Input) -> io::Result<()> {
        self.view.input = input;
        Ok(())
    }

    fn learning(&mut self, learning: Option<(&str, Option<&str>)>) -> io::Result<()> {
        self.view.over = match learning {
            Some((command, said)) => Over::Learn {
                command: command.to_string(),
                said: said.map(str::to_string),
            },
            None => Over::Nothing,
        };
        Ok(())
    }

    fn wishes(&mut self) -> io::Result<Vec<keys::Command>> {
        if self.screen.is_gone() {
            return Ok(vec![keys::Command::Quit]);
        }
        let mut wishes = Vec::new();
        loop {
            match self.keys.try_recv() {
                Ok(key) => wishes.extend(keys::command(key).and_then(|wish| self.here(wish))),
                Err(TryRecvError::Empty) => break,
                // There is no terminal any more.
                Err(TryRecvError::Disconnected) => {
                    wishes.push(keys::Command::Quit);
                    break;
                }
            }
        }
        match self.screen.asked() {
            Some(Asked::Suspend) => wishes.push(keys::Command::Suspend),
            Some(Asked::Resume) => self.screen.resume()?,
            None => {}
        }
        Ok(wishes)
    }

    fn look(&mut self, stage: Stage, shown: &Shown<'_>) -> io::Result<()> {
        self.place(stage);
        self.set_up(shown)?;
        self.view.announcement = self.announcement(shown.lost);
        self.view.notices = self.notices();
        if self.screen.is_gone() {
            // What was played is still to be judged and kept.
            return Ok(());
        }
        self.screen.draw(&self.view, self.look)
    }

    fn patience(&self) -> Duration {
        if self.is_moving { FRAME } else { IDLE }
    }

    fn waits(&self) -> bool {
        true
    }

    fn says_where(&self) -> bool {
        false
    }

    fn suspend(&mut self) -> io::Result<()> {
        self.screen.suspend()
    }
}
