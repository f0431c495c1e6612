//! What the player sees, and where wishes come from.

use super::sheet::Sheet;
use crate::backend::Input;
use crate::click::Level;
use crate::live::Said;
use crate::practice::{Between, Setup};
use crate::screen::keys;
use crate::units::Nanos;
use std::io;
use std::rc::Rc;
use std::time::Duration;

/// A take that begins.
pub struct Begins<'a> {
    /// What is played.
    pub sheet: &'a Rc<Sheet>,
    /// What is connected.
    pub description: &'a str,
    /// What is said about the latency.
    pub latency: Option<&'a str>,
    /// Where it is kept, in words.
    pub kept: Vec<String>,
}

/// After a take.
pub struct After<'a> {
    /// What to work on, and whether it got better.
    pub between: &'a Between,
    /// What else there is to say, one sentence or two each.
    pub said: &'a [String],
    /// What would be played next.
    pub coming: &'a Rc<Sheet>,
}

/// What holds in the room.
pub struct Shown<'a> {
    /// What is set up.
    pub setup: &'a Setup,
    /// How loud.
    pub level: Level,
    /// How the sound goes out.
    pub blocks: Blocks,
    /// Why there is no session; it is tried again.
    pub lost: Option<&'a str>,
}

/// How the sound goes out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Blocks {
    /// Frames a block that were asked for.
    pub asked: Option<u32>,
    /// Those that there are, where it is known.
    pub period: Option<u32>,
    /// From the audio callback to the ear, where it is known.
    pub delay: Option<Nanos>,
}

impl Blocks {
    /// What there is to say when all of it is known: how soon the click is heard.
    pub fn in_words(self) -> Option<String> {
        let (period, delay) = (self.period?, self.delay?);
        let not_asked = self.asked.filter(|asked| *asked != period);
        let not_asked = not_asked.map_or(String::new(), |asked| format!(", not {asked}"));
        Some(format!(
            "Sound in blocks of {period} frames{not_asked}; heard after {:.1} ms.",
            delay.ms()
        ))
    }
}

/// Where a take is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// None is played.
    Empty,
    /// One is begun, but bar 1 has no place yet.
    Coming,
    /// One is played, and this is its line time.
    At(Nanos),
}

/// The screen, plain lines, or nothing. An error ends practising: nobody sees it any more.
pub trait Face {
    /// A take begins; its first click comes after this silence.
    fn begins(&mut self, begins: &Begins<'_>) -> io::Result<()>;

    /// Something that happens to the take that is played.
    fn said(&mut self, said: &Said, sheet: &Rc<Sheet>) -> io::Result<()>;

    /// A take is over.
    fn over(&mut self, after: &After<'_>) -> io::Result<()>;

    /// Something has happened, in a sentence.
    fn told(&mut self, sentence: &str) -> io::Result<()>;

    /// The answer to a wish, in a sentence: the one before it holds no longer.
    fn answered(&mut self, sentence: &str) -> io::Result<()> {
        self.told(sentence)
    }

    /// What would be played next is another by now.
    fn coming(&mut self, coming: &Rc<Sheet>) -> io::Result<()>;

    /// Whether the bass is there.
    fn input(&mut self, input: Input) -> io::Result<()>;

    /// A switch is being learned for this command, with what came of it; `None`: no longer.
    fn learning(&mut self, learning: Option<(&str, Option<&str>)>) -> io::Result<()>;

    /// What the player wished since the last call; what only the face knows about is done.
    fn wishes(&mut self) -> io::Result<Vec<keys::Command>>;

    /// Time went by.
    fn look(&mut self, stage: Stage, shown: &Shown<'_>) -> io::Result<()>;

    /// How long nothing new may be seen.
    fn patience(&self) -> Duration;

    /// Whether a player is there who waits while the sound is away.
    fn waits(&self) -> bool;

    /// Whether it is said of each take where it is kept, as it begins.
    fn says_where(&self) -> bool;

    /// Puts the program aside; returns when it goes on.
    fn suspend(&mut self) -> io::Result<()>;
}

/// Shows nothing: a program reads the report.
pub struct Mute;

impl Face for Mute {
    fn begins(&mut self, _: &Begins<'_>) -> io::Result<()> {
        Ok(())
    }

    fn said(&mut self, _: &Said, _: &Rc<Sheet>) -> io::Result<()> {
        Ok(())
    }

    fn over(&mut self, _: &After<'_>) -> io::Result<()> {
        Ok(())
    }

    fn told(&mut self, _: &str) -> io::Result<()> {
        Ok(())
    }

    fn coming(&mut self, _: &Rc<Sheet>) -> io::Result<()> {
        Ok(())
    }

    fn input(&mut self, _: Input) -> io::Result<()> {
        Ok(())
    }

    fn learning(&mut self, _: Option<(&str, Option<&str>)>) -> io::Result<()> {
        Ok(())
    }

    fn wishes(&mut self) -> io::Result<Vec<keys::Command>> {
        Ok(Vec::new())
    }

    fn look(&mut self, _: Stage, _: &Shown<'_>) -> io::Result<()> {
        Ok(())
    }

    fn patience(&self) -> Duration {
        Duration::from_millis(50)
    }

    fn waits(&self) -> bool {
        false
    }

    fn says_where(&self) -> bool {
        true
    }

    fn suspend(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_told_when_all_is_known_and_say_what_could_not_be_had() {
        let blocks = Blocks {
            asked: Some(128),
            period: Some(64),
            delay: Some(Nanos(2_666_667)),
        };
        let words = "Sound in blocks of 64 frames, not 128; heard after 2.7 ms.";
        assert_eq!(blocks.in_words().as_deref(), Some(words));
        let as_asked = Blocks {
            asked: Some(64),
            ..blocks
        };
        let words = "Sound in blocks of 64 frames; heard after 2.7 ms.";
        assert_eq!(as_asked.in_words().as_deref(), Some(words));
        let unknown = Blocks {
            delay: None,
            ..blocks
        };
        assert_eq!(unknown.in_words(), None);
    }
}
