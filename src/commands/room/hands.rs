//! Foot switches and two quick notes: what is asked for without a free hand.

use crate::commands::control::Controls;
use crate::expected::Expected;
use crate::judge::settings::Intake;
use crate::played::TimedMessage;
use crate::practice::Command;
use crate::practice::control::{Learn, Learned, Listening, Mapping, Switches, TwoNotes};
use crate::units::Nanos;
use std::time::Instant;

/// See the module's head.
pub struct Hands {
    /// Absent: nothing is listened for.
    controls: Option<Controls>,
    switches: Switches,
    two_notes: Option<TwoNotes>,
    intake: Intake,
    clock: StreamClock,
    learning: Option<Learning>,
}

struct Learning {
    command: Command,
    learn: Learn,
    said: Option<String>,
}

/// What came of it.
pub enum Came {
    /// A command was asked for.
    Asked(Command),
    /// A switch was learned, or could not be kept.
    Learned,
}

/// Stream time, as far as it is known between two events.
#[derive(Default)]
struct StreamClock {
    last: Option<(Nanos, Instant)>,
}

impl StreamClock {
    fn hear(&mut self, at: Nanos) {
        self.last = Some((at, Instant::now()));
    }

    fn now(&self) -> Option<Nanos> {
        let (at, heard) = self.last?;
        Some(at + Nanos(heard.elapsed().as_nanos() as i64))
    }
}

impl Hands {
    /// With the switches that are bound; notes are read as `intake` reads them. An error where the two notes are on a string
    /// that the line's bass does not have: the strings that there are.
    pub fn new(
        controls: Controls,
        expected: &Expected,
        intake: Intake,
    ) -> Result<Hands, NoSuchString> {
        let two_notes = match &controls.mapping.two_notes {
            None => None,
            Some(two) => Some(TwoNotes::on(&two.string, two.command, expected).ok_or_else(
                || NoSuchString {
                    string: two.string.clone(),
                    strings: expected.strings.join(", "),
                },
            )?),
        };
        Ok(Hands {
            switches: Switches::new(&controls.mapping),
            two_notes,
            controls: Some(controls),
            intake,
            clock: StreamClock::default(),
            learning: None,
        })
    }

    /// Nobody's.
    pub fn none() -> Hands {
        Hands {
            controls: None,
            switches: Switches::new(&Mapping::default()),
            two_notes: None,
            intake: Intake::default(),
            clock: StreamClock::default(),
            learning: None,
        }
    }

    /// Something came that is kept in no take, or that may be a switch.
    pub fn heard(&mut self, event: TimedMessage, listening: Listening) -> Option<Came> {
        self.clock.hear(event.at);
        if self.learning.is_some() {
            return self.learn_from(|learn, mapping| learn.heard(event, mapping));
        }
        if let (Some(two), Some(note)) = (&mut self.two_notes, self.intake.admit(event)) {
            two.heard(note, listening);
        }
        self.switches.heard(event).map(Came::Asked)
    }

    /// Time went by.
    pub fn tick(&mut self, listening: Listening) -> Option<Came> {
        let now = self.clock.now()?;
        if self.learning.is_some() {
            return self.learn_from(|learn, mapping| learn.tick(now, mapping));
        }
        let two = self.two_notes.as_mut()?;
        two.tick(now, listening).map(Came::Asked)
    }

    /// Whether anything is bound.
    pub fn may_ask(&self) -> bool {
        let mapping = self.controls.as_ref().map(|controls| &controls.mapping);
        mapping.is_some_and(|mapping| *mapping != Mapping::default())
    }

    /// The input was away.
    pub fn let_go(&mut self) {
        self.switches.let_go();
    }

    /// The next command to be learned; after the last one none.
    pub fn learn_next(&mut self) {
        let next = match &self.learning {
            None => Some(Command::ALL[0]),
            Some(learning) => {
                let at = Command::ALL.iter().position(|one| *one == learning.command);
                at.and_then(|at| Command::ALL.get(at + 1)).copied()
            }
        };
        self.learning = next.map(|command| Learning {
            command,
            learn: Learn::new(command),
            said: None,
        });
    }

    /// Nothing more is learned.
    pub fn learn_no_more(&mut self) {
        self.learning = None;
    }

    /// What is being learned, and what has come of it.
    pub fn learning(&self) -> Option<(&str, Option<&str>)> {
        let learning = self.learning.as_ref()?;
        Some((learning.command.name(), learning.said.as_deref()))
    }

    fn learn_from(
        &mut self,
        listen: impl FnOnce(&mut Learn, &mut Mapping) -> Option<Learned>,
    ) -> Option<Came> {
        let (learning, controls) = (self.learning.as_mut()?, self.controls.as_mut()?);
        let learned = listen(&mut learning.learn, &mut controls.mapping)?;
        learning.said = Some(match controls.keep_bound(&learned.bound) {
            Ok(()) => learned.to_string(),
            Err(why) => format!("{learned} It holds for today only: {why}"),
        });
        self.switches = Switches::new(&controls.mapping);
        Some(Came::Learned)
    }
}

/// The two notes are on no string of the line.
#[derive(Debug, thiserror::Error)]
#[error("[control] two-notes is on the string \"{string}\"; the line's bass has {strings}")]
pub struct NoSuchString {
    string: String,
    strings: String,
}
