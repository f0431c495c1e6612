//! Plain lines: one a bar, nothing that moves; for a screen reader, a pipe, a log.

use super::face::{After, Begins, Face, Shown, Stage};
use super::sheet::Sheet;
use crate::backend::Input;
use crate::commands::shared::{self, note};
use crate::judge::Reading;
use crate::live::Said;
use crate::practice::announce;
use crate::practice::{Repeat, Start};
use crate::report::bar_line::{bar_line, heading};
use crate::report::words;
use crate::screen::keys;
use crossbeam_channel::{Receiver, unbounded};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use std::io::{self, BufRead, IsTerminal, Write};
use std::rc::Rc;
use std::thread;
use std::time::Duration;

/// See the module's head.
pub struct Plain {
    /// What is said before anything else.
    preface: Option<String>,
    /// Whether one take is all there is, so that its report comes instead of a few words.
    is_once: bool,
    /// What is typed, where somebody may type.
    typed: Option<Receiver<String>>,
    sheet: Option<Rc<Sheet>>,
    announced: Option<String>,
    /// The frames a block that were told of.
    period: Option<u32>,
    /// Why there is no session, as it was said.
    lost: Option<String>,
    /// The reader of our output has gone: a take is not ended by that, it is finished in silence.
    is_unread: bool,
}

impl Plain {
    /// What is typed is listened to, if anybody can type.
    pub fn new(repeat: Repeat) -> Plain {
        Plain {
            typed: io::stdin().is_terminal().then(listen),
            ..Plain::unasked(None, repeat)
        }
    }

    /// Nobody is there who could wish for something; `preface` is said before anything else.
    pub fn unasked(preface: Option<String>, repeat: Repeat) -> Plain {
        Plain {
            preface,
            is_once: repeat == Repeat::Once,
            typed: None,
            sheet: None,
            announced: None,
            period: None,
            lost: None,
            is_unread: false,
        }
    }

    fn say(&mut self, text: &str) {
        let text = words::wrap(text, shared::width(), "", "");
        self.print(&text);
    }

    fn print(&mut self, text: &str) {
        if !self.is_unread {
            self.is_unread = writeln!(io::stdout(), "{text}").is_err();
        }
    }

    fn first(&mut self, begins: &Begins<'_>) {
        if let Some(preface) = self.preface.take() {
            self.say(&preface);
            self.say("");
        }
        let sheet = begins.sheet;
        self.say(&words::line(&sheet.facts));
        self.say(begins.description);
        if let Some(latency) = begins.latency {
            self.say(latency);
        }
        self.say(&start(sheet.take.start));
        if let Some(silent) = sheet.take.silent {
            self.say(&format!("Then {silent}, and so on."));
        }
        begins.kept.iter().for_each(|line| self.say(line));
        self.say("Each note's offset in ms: minus is early, plus is late.");
        if self.typed.is_some() {
            self.say("Type ? and Enter for what you can ask for meanwhile.");
        }
    }

    fn bar(&mut self, sheet: &Sheet, bar: usize, readings: &[Reading]) {
        if let Some(heading) = heading(&sheet.expected, bar) {
            self.print(&heading);
        }
        let line = bar_line(&sheet.expected, bar, readings, shared::width() - 2);
        for line in line.lines() {
            self.print(&format!("  {line}"));
        }
    }

    fn help(&mut self) {
        // What is only seen on the screen is left out.
        let of_screen = [keys::Command::Big, keys::Command::Help];
        let bindings = keys::BINDINGS.iter();
        for binding in bindings.filter(|one| !of_screen.contains(&one.command)) {
            let letter = binding.keys.iter().find_map(|key| match key {
                KeyCode::Char(letter) if *letter != ' ' => Some(letter.to_string()),
                KeyCode::Char(_) => Some("space".into()),
                _ => None,
            });
            if let Some(letter) = letter {
                self.print(&format!("  {letter:<6} {}", binding.words));
            }
        }
    }
}

fn start(start: Start) -> String {
    let counted = match start {
        Start::CountedIn(1) => "1 bar counted in.".to_string(),
        Start::CountedIn(bars) => format!("{bars} bars counted in."),
        Start::WithFirstNote => "It starts with your first note; the click joins in.".into(),
    };
    format!("{counted} Ctrl-C ends the take and keeps it.")
}

/// What is typed, line by line, on a thread of its own, which ends with the program.
fn listen() -> Receiver<String> {
    let (sender, receiver) = unbounded();
    thread::spawn(move || {
        for line in io::stdin().lock().lines() {
            let Ok(line) = line else { return };
            if sender.send(line).is_err() {
                return;
            }
        }
    });
    receiver
}

/// What a line asks for: the key of the screen; an empty one asks for the same again, as Enter does there.
fn wish(line: &str) -> Option<keys::Command> {
    let code = match line.trim() {
        "" if line.is_empty() => KeyCode::Enter,
        "" | "space" => KeyCode::Char(' '),
        text => {
            let mut letters = text.chars();
            let letter = letters.next()?;
            if letters.next().is_some() {
                return None;
            }
            KeyCode::Char(letter)
        }
    };
    keys::command(KeyEvent::new(code, KeyModifiers::NONE))
}

impl Face for Plain {
    fn begins(&mut self, begins: &Begins<'_>) -> io::Result<()> {
        if self.sheet.is_none() {
            self.first(begins);
        } else {
            let take = &begins.sheet.take;
            self.say("");
            self.say(&format!("Take {}: {take}.", take.number));
            begins.kept.iter().for_each(|line| self.say(line));
        }
        self.say("");
        self.sheet = Some(Rc::clone(begins.sheet));
        self.announced = None;
        Ok(())
    }

    fn said(&mut self, said: &Said, sheet: &Rc<Sheet>) -> io::Result<()> {
        match said {
            Said::Bar(bar, readings) => self.bar(sheet, *bar, readings),
            Said::CannotWrite(why) => note(format!(
                "the take cannot be written ({why}); it goes on, and is tried again"
            )),
            Said::Input(Input::Away, at) => {
                let place = words::place_at(&sheet.expected, *at);
                self.print(&format!("  bass unplugged at {place}"));
            }
            Said::Input(Input::Here, _) => self.print("  bass is back"),
            Said::OrdinaryPriority => {
                self.say("Without real-time priority: on a busy machine readings show later.")
            }
            Said::Begun(_)
            | Said::Note(..)
            | Said::Corrected(_)
            | Said::Event(_)
            | Said::Over(_)
            | Said::Lost(_) => {}
        }
        Ok(())
    }

    fn over(&mut self, after: &After<'_>) -> io::Result<()> {
        let between = after.between;
        if self.is_once {
            return Ok(());
        }
        self.say("");
        self.say(&between.work_on);
        if let Some(advice) = between.advice {
            self.say(advice);
        }
        if let Some(compared) = &between.compared {
            self.say(compared);
        }
        after.said.iter().for_each(|sentence| self.say(sentence));
        self.say(&format!("Next: {}.", after.coming.take));
        Ok(())
    }

    fn told(&mut self, sentence: &str) -> io::Result<()> {
        self.say(sentence);
        Ok(())
    }

    fn coming(&mut self, _coming: &Rc<Sheet>) -> io::Result<()> {
        Ok(())
    }

    /// Told with the take's own words.
    fn input(&mut self, _input: Input) -> io::Result<()> {
        Ok(())
    }

    fn learning(&mut self, learning: Option<(&str, Option<&str>)>) -> io::Result<()> {
        match learning {
            None => {}
            Some((command, None)) => {
                self.say(&format!(
                    "Press the foot switch that is to mean: {command}."
                ));
            }
            Some((_, Some(said))) => self.say(said),
        }
        Ok(())
    }

    fn wishes(&mut self) -> io::Result<Vec<keys::Command>> {
        let Some(typed) = &self.typed else {
            return Ok(Vec::new());
        };
        let lines: Vec<String> = typed.try_iter().collect();
        let mut wishes = Vec::new();
        for line in lines {
            match wish(&line) {
                Some(keys::Command::Help) => self.help(),
                Some(wish) => wishes.push(wish),
                None => self.say(&format!(
                    "There is no key \"{}\"; ? lists them.",
                    line.trim()
                )),
            }
        }
        Ok(wishes)
    }

    fn look(&mut self, stage: Stage, shown: &Shown<'_>) -> io::Result<()> {
        if shown.lost != self.lost.as_deref() {
            self.lost = shown.lost.map(str::to_string);
            if let Some(why) = shown.lost {
                self.say(&format!("No sound, tried again: {why}."));
            }
        }
        // The delay is estimated anew all the time.
        if shown.blocks.period != self.period
            && let Some(words) = shown.blocks.in_words()
        {
            self.period = shown.blocks.period;
            self.say(&words);
        }
        // What changes is of use while it is played: not to a file.
        let (Stage::At(now), Some(sheet), Some(_)) = (stage, &self.sheet, &self.typed) else {
            return Ok(());
        };
        let text = announce::at(&sheet.announcements, now).map(|one| one.text.clone());
        if text != self.announced {
            self.announced = text.clone();
            if let Some(text) = text {
                self.print(&words::wrap(&text, shared::width(), "  ", "    "));
            }
        }
        Ok(())
    }

    fn patience(&self) -> Duration {
        Duration::from_millis(20)
    }

    fn waits(&self) -> bool {
        !self.is_once && self.typed.is_some()
    }

    fn says_where(&self) -> bool {
        true
    }

    /// The shell does that by itself where no screen is up.
    fn suspend(&mut self) -> io::Result<()> {
        Ok(())
    }
}
