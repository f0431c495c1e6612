//! What is known now.

use super::piece::Piece;
use crate::backend::Input;
use crate::click::{ClickTrack, Pattern, Stress};
use crate::expected::tempo_map::Speed;
use crate::judge::Reading;
use crate::line::bar_range::BarRange;
use crate::units::Nanos;
use std::rc::Rc;

/// All that a picture is drawn from: equal views give equal pictures.
#[derive(Clone, Debug)]
pub struct View {
    /// What is played; between takes, what will be.
    pub piece: Rc<Piece>,
    /// The present, in line time; what the player hears now.
    pub now: Nanos,
    /// Where the player is.
    pub state: State,
    /// What was heard in this take.
    pub heard: Heard,
    /// What covers the music.
    pub over: Over,
    /// Which take this is, from 1.
    pub take: u32,
    /// At which speed it is played.
    pub speed: Speed,
    /// The bars that are practised; `None` for all of them.
    pub bars: Option<BarRange>,
    /// Whether the same bars come again and again.
    pub turn: Turn,
    /// Where the click sounds.
    pub click: Pattern,
    /// Whether the bass is there.
    pub input: Input,
    /// What changes with the next bar: `B · quarter = 92 · from the next bar`.
    pub announcement: Option<String>,
    /// What else is to be said, the latest last: `a rest would be good: 25 minutes played`.
    pub notices: Vec<String>,
    /// The sound's level, as it is to be printed: `click -18 dB`.
    pub level: Option<String>,
    /// What is known of the latency, as it is to be printed: `latency 5.8 ms`.
    pub latency: Option<String>,
}

/// Where the player is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// The click counts in.
    CountIn {
        /// The beat that sounds now, from 1.
        beat: u32,
        /// The bar of the count-in, from 1.
        bar: u32,
        /// How many bars are counted in.
        bars: u32,
    },
    /// The line starts with the player's first note.
    Waiting,
    /// A take is played.
    Playing,
    /// A take is over.
    Between(Between),
}

impl State {
    /// Where a take with these clicks is at a line time: counted in, so many bars, or played. `None` before that. From its
    /// first note on it is played as well, which may be early: its mark is to be seen at once.
    pub fn of_take(
        piece: &Piece,
        clicks: &ClickTrack,
        count_in: u32,
        now: Nanos,
        heard: &Heard,
    ) -> Option<State> {
        let first = piece.expected().bars.first();
        let begins = first.map_or(Nanos::ZERO, |bar| bar.onset);
        if now >= begins || heard.latest().is_some() {
            return Some(State::Playing);
        }
        let clicks = clicks.clicks().iter();
        let counted =
            clicks.filter(|click| click.at < Nanos::ZERO && click.stress != Stress::Between);
        let times: Vec<Nanos> = counted.map(|click| click.at).collect();
        let heard = times.partition_point(|at| *at <= now).checked_sub(1)? as u32;
        let beats = (times.len() as u32 / count_in).max(1);
        Some(State::CountIn {
            beat: heard % beats + 1,
            bar: heard / beats + 1,
            bars: count_in,
        })
    }
}

/// What is said between two takes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Between {
    /// The one thing to work on, in one sentence.
    pub work_on: String,
    /// Whether it got better than in the take before.
    pub compared: Option<String>,
    /// What else there is to say, one sentence or two each.
    pub said: Vec<String>,
    /// What comes next: speed, bars, click.
    pub next: String,
}

/// Whether the same bars come again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Once.
    Once,
    /// Again and again.
    Over,
}

/// What covers the music.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Over {
    /// Nothing.
    Nothing,
    /// The keys and the signs; which page of them, from 0 (after the last one the first comes again).
    Help(usize),
    /// A foot switch is being learned.
    Learn {
        /// What for: `again`.
        command: String,
        /// What has come of it so far.
        said: Option<String>,
    },
}

/// What was heard in a take.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// By index of the expected note, as they stand; `None` where nothing is known yet.
    readings: Vec<Option<Reading>>,
    /// When notes began that belong nowhere, in line time.
    extra: Vec<Nanos>,
}

impl Heard {
    /// A reading that is new or has changed.
    pub fn reading(&mut self, reading: Reading) {
        let index = reading.note as usize;
        if self.readings.len() <= index {
            self.readings.resize(index + 1, None);
        }
        self.readings[index] = Some(reading);
    }

    /// Nothing is known of a note any more: what was played for it belongs to another.
    pub fn forget(&mut self, note: u32) {
        if let Some(reading) = self.readings.get_mut(note as usize) {
            *reading = None;
        }
    }

    /// All notes that belong nowhere, as they stand.
    pub fn set_extra(&mut self, onsets: Vec<Nanos>) {
        self.extra = onsets;
    }

    pub(super) fn of(&self, note: u32) -> Option<&Reading> {
        self.readings.get(note as usize)?.as_ref()
    }

    pub(super) fn extra(&self) -> &[Nanos] {
        &self.extra
    }

    /// The reading of the latest note that was played.
    pub(super) fn latest(&self) -> Option<&Reading> {
        let known = self.readings.iter().rev().flatten();
        known.into_iter().find(|reading| reading.partner.is_some())
    }
}

impl View {
    /// Between takes the music is that of the take that comes, nothing of it heard.
    pub(super) fn coming(&self) -> Option<View> {
        let first = self.piece.expected().bars.first()?;
        matches!(self.state, State::Between(_)).then(|| View {
            now: first.onset - Nanos(1),
            heard: Heard::default(),
            ..self.clone()
        })
    }

    /// A view before anything is played.
    pub fn new(piece: Rc<Piece>) -> View {
        View {
            piece,
            now: Nanos::ZERO,
            state: State::Playing,
            heard: Heard::default(),
            over: Over::Nothing,
            take: 1,
            speed: Speed::WRITTEN,
            bars: None,
            turn: Turn::Once,
            click: Pattern::Beats,
            input: Input::Here,
            announcement: None,
            notices: Vec::new(),
            level: None,
            latency: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::click::Subdivision;
    use crate::expected::unroll;
    use crate::line::parse::parse;
    use std::sync::Arc;

    /// At 120 quarters a minute, counted in for two bars of 2 s.
    fn state(sections: &str, ms: i64) -> Option<State> {
        let text = format!("title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n{sections}");
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let clicks = ClickTrack::subdivided(&expected, 2, Pattern::Bar, Subdivision::Halves);
        let piece = Piece::new(Arc::new(line), expected);
        State::of_take(&piece, &clicks, 2, Nanos::from_ms(ms), &Heard::default())
    }

    const WHOLE: &str = "[[section]]\nname = \"A\"\nnotes = \"G1/1\"";

    #[test]
    fn each_beat_of_the_count_in_has_its_number_whatever_sounds_between() {
        let counted = |bar, beat| Some(State::CountIn { beat, bar, bars: 2 });
        assert_eq!(state(WHOLE, -4001), None);
        assert_eq!(state(WHOLE, -4000), counted(1, 1));
        assert_eq!(state(WHOLE, -2250), counted(1, 4));
        assert_eq!(state(WHOLE, -2000), counted(2, 1));
        assert_eq!(state(WHOLE, -1), counted(2, 4));
        assert_eq!(state(WHOLE, 0), Some(State::Playing));
    }

    #[test]
    fn a_pickup_is_played_while_its_bar_is_still_counted() {
        let pickup = "pickup = true\n[[section]]\nname = \"A\"\nnotes = \"D2/4 | G1/1\"";
        let last = State::CountIn {
            beat: 3,
            bar: 2,
            bars: 2,
        };
        assert_eq!(state(pickup, -501), Some(last));
        assert_eq!(state(pickup, -500), Some(State::Playing));
    }
}
