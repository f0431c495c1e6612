//! `leadsman learn`: which foot switch, or which two notes, mean what.

use super::control::Controls;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::{Backend, Config, Input, Session, SessionLost};
use crate::cli::learn::LearnArgs;
use crate::click::Silence;
use crate::live::{Pace, Stop};
use crate::played::TimedMessage;
use crate::practice::Command;
use crate::practice::control::mapping::TwoNotesSetting;
use crate::practice::control::{DEBOUNCE, Learn, Learned, Mapping, Trigger};
use crate::quiet::quietly;
use crate::units::Nanos;
use std::io::{self, Write};
use std::path::Path;
use std::thread;
use std::time::Duration;

const POLL_EVERY: Duration = Duration::from_millis(1);
/// How long a switch is waited for.
const PATIENCE: Nanos = Nanos::from_ms(60_000);

/// Runs the command on the settings that were named, or the usual ones.
pub fn run(args: &LearnArgs, named: Option<&Path>) -> Outcome {
    match &args.two_notes {
        _ if args.forget => forget(args.commands(), named),
        Some(string) => two_notes(string, args.commands(), named),
        None => by_foot(args, named),
    }
}

fn forget(commands: &[Command], named: Option<&Path>) -> Outcome {
    let mut controls = Controls::read(named)?;
    let before = controls.mapping.clone();
    let said: Vec<String> = commands
        .iter()
        .map(|command| controls.mapping.unbind(*command).to_string())
        .collect();
    let said = said.join("\n");
    if controls.mapping == before {
        return Ok(writeln!(io::stdout(), "{said}")?);
    }
    keep(&controls, &said)
}

fn two_notes(string: &str, commands: &[Command], named: Option<&Path>) -> Outcome {
    let [command] = commands else {
        return Err(Failure::input(
            "two quick notes mean one thing: name one of again, next, slower, faster, stop",
        ));
    };
    let mut controls = Controls::read(named)?;
    let bound = controls.mapping.bind_two_notes(TwoNotesSetting {
        string: string.to_owned(),
        command: *command,
    });
    keep(&controls, &bound.to_string())
}

/// Keeps what is bound, then says so.
fn keep(controls: &Controls, said: &str) -> Outcome {
    controls.keep(&controls.mapping).map_err(Failure::input)?;
    let mut out = io::stdout().lock();
    writeln!(out, "{said}")?;
    if let Some(file) = controls.file() {
        writeln!(out, "Kept in {}.", file.display())?;
    }
    Ok(())
}

fn by_foot(args: &LearnArgs, named: Option<&Path>) -> Outcome {
    // Settings that are wrong are told before anybody presses anything.
    Controls::read(named)?;
    let mut session = open(args)?;
    let stop = shared::stop_on_signal()?;
    writeln!(io::stdout(), "{}\n", session.description())?;
    for command in args.commands() {
        let mut asking = Asking {
            session: &mut *session,
            pace: Pace::RealTime,
            stop: &stop,
            say: &mut |words| writeln!(io::stdout(), "{words}"),
        };
        match asking.ask(*command)? {
            Answer::Pressed(trigger) => {
                // Read again: another leadsman may have written meanwhile.
                let mut controls = Controls::read(named)?;
                let bound = controls.mapping.bind(*command, trigger);
                keep(&controls, &Learned { bound }.to_string())?;
            }
            Answer::Stopped => {
                return Ok(writeln!(io::stdout(), "\"{command}\" is as it was.")?);
            }
            Answer::None => {
                let seconds = PATIENCE.seconds();
                return Err(Failure::NotJudged(format!(
                    "no switch was pressed for {seconds:.0} seconds: \"{command}\" is as it was"
                )));
            }
        }
    }
    Ok(())
}

fn open(args: &LearnArgs) -> Result<Box<dyn Session>, Failure> {
    let backend = Backend::from(args.ports.backend);
    if backend == Backend::Silent {
        return Err(Failure::input(
            "the silent backend hears no foot switch: choose another --backend",
        ));
    }
    let config = Config {
        midi: shared::midi_choice(false, args.ports.midi.as_deref(), backend)?,
        audio: args.ports.audio.clone(),
        ..Config::default()
    };
    quietly(|| backend.open(&config, Box::new(Silence))).map_err(Failure::input)
}

/// What came of asking for a switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Answer {
    Pressed(Trigger),
    /// Nothing for [`PATIENCE`].
    None,
    /// Ctrl-C.
    Stopped,
}

struct Asking<'a> {
    session: &'a mut dyn Session,
    pace: Pace,
    stop: &'a Stop,
    say: &'a mut dyn FnMut(&str) -> io::Result<()>,
}

impl Asking<'_> {
    /// Asks for the switch that shall mean this, and waits for it.
    fn ask(&mut self, command: Command) -> Result<Answer, Failure> {
        let mut learn = Learn::new(command);
        // What it meant before is the matter of the settings as they are when it is learned.
        let mut mapping = Mapping::default();
        let (mut input, mut since) = (Input::Here, self.settle()?);
        let mut asked = learn.asks();
        (self.say)(&asked)?;
        while !self.stop.is_asked() {
            let mut learned = None;
            let now = self.poll(&mut |event| {
                if learned.is_none() {
                    learned = learn.heard(event, &mut mapping);
                }
            })?;
            if let Some(learned) = learned.or_else(|| learn.tick(now, &mut mapping)) {
                return Ok(Answer::Pressed(learned.bound.trigger));
            }
            match (std::mem::replace(&mut input, self.session.input()), input) {
                (Input::Here, Input::Away) => (self.say)("The MIDI input is unplugged.")?,
                (Input::Away, Input::Here) => {
                    (self.say)("The MIDI input is back.")?;
                    asked.clear();
                }
                _ => {}
            }
            if input == Input::Away {
                // What was down may be up by now, and nobody can press anything.
                (learn, since) = (Learn::new(command), now);
            } else if learn.asks() != asked {
                asked = learn.asks();
                (self.say)(&asked)?;
            }
            if now - since >= PATIENCE {
                return Ok(Answer::None);
            }
        }
        Ok(Answer::Stopped)
    }

    /// Passes over what was sent before anybody was asked, and a contact of the last switch that still bounces. When it is.
    fn settle(&mut self) -> Result<Nanos, Failure> {
        let begun = self.poll(&mut |_| {})?;
        loop {
            let now = self.poll(&mut |_| {})?;
            if now - begun >= DEBOUNCE || self.stop.is_asked() {
                return Ok(now);
            }
        }
    }

    /// Looks once, and says how far the stream is.
    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Nanos, Failure> {
        let lost = |lost: SessionLost| Failure::NotJudged(lost.to_string());
        let poll = self.session.poll(sink).map_err(lost)?;
        if self.pace == Pace::RealTime {
            thread::sleep(POLL_EVERY);
        }
        Ok(poll.watermark)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::backend::scripted::ScriptedSession;
    use crate::backend::virtual_time::VirtualSession;
    use crate::midi::message::parse;
    use crate::practice::control::Press;

    /// The answers to these questions, asked one after the other, where these bytes come at these ms; and what is said.
    fn answers(
        commands: &[Command],
        messages: &[(i64, &[u8])],
        stop: &Stop,
    ) -> (Vec<Answer>, Vec<String>) {
        let script = messages.iter().map(|(ms, bytes)| TimedMessage {
            at: Nanos::from_ms(*ms),
            message: parse(bytes).expect("a message"),
        });
        let inner = VirtualSession::open(&Config::default(), Box::new(Silence));
        let mut session = ScriptedSession::new(inner, script.collect());
        let mut said = Vec::new();
        let mut asking = Asking {
            session: &mut session,
            pace: Pace::Virtual,
            stop,
            say: &mut |words| {
                said.push(words.to_owned());
                Ok(())
            },
        };
        let ask = |command: &Command| asking.ask(*command).expect("a session");
        (commands.iter().map(ask).collect(), said)
    }

    fn pedal(number: u8) -> Answer {
        Answer::Pressed(Trigger::Control {
            number,
            channel: Some(0),
            press: Press::Rise,
        })
    }

    #[test]
    fn each_is_asked_for_in_turn_and_a_contact_that_bounces_answers_one() {
        let messages: [(i64, &[u8]); 8] = [
            // Before anybody is asked.
            (20, &[0xB0, 60, 127]),
            (60, &[0xB0, 60, 0]),
            (1000, &[0xB0, 64, 127]),
            (1300, &[0xB0, 64, 0]),
            (1304, &[0xB0, 64, 127]),
            (1308, &[0xB0, 64, 0]),
            (3000, &[0xB0, 65, 127]),
            (3200, &[0xB0, 65, 0]),
        ];
        let commands = [Command::Again, Command::Next];
        let (answers, said) = answers(&commands, &messages, &Stop::default());
        assert_eq!(answers, [pedal(64), pedal(65)]);
        assert_eq!(
            said,
            [
                "Press the switch for \"again\" once.",
                "Let it go.",
                "Press the switch for \"next\" once.",
                "Let it go."
            ]
        );
    }

    #[test]
    fn a_minute_of_notes_alone_is_no_answer() {
        let notes: Vec<(i64, &[u8])> = (0..600).map(|n| (n * 100, &[0x90, 40, 90][..])).collect();
        let late: [(i64, &[u8]); 1] = [(61_000, &[0xC0, 3])];
        let messages = [&notes[..], &late[..]].concat();
        let (answers, said) = answers(&[Command::Stop], &messages, &Stop::default());
        assert_eq!(answers, [Answer::None]);
        assert_eq!(said, ["Press the switch for \"stop\" once."]);
    }

    #[test]
    fn a_stop_answers_nothing() {
        let stop = Stop::default();
        stop.now();
        let (answers, _) = answers(&[Command::Stop], &[(500, &[0xC0, 3])], &stop);
        assert_eq!(answers, [Answer::Stopped]);
    }
}
