//! The line in frames: which string is struck when, and until when it sounds.

use super::recipe::{Recipe, Sound, Touch};
use crate::clock::frames::frame_at;
use crate::expected::{Expected, ExpectedNote};
use crate::units::{Key, Nanos};
use std::collections::BTreeMap;

/// A dead note is no longer than this, whatever is written.
const DEAD: Nanos = Nanos::from_ms(60);
/// What a dead note sounds like when the line names no string and no tuning: the A string.
const SOME_STRING: Key = Key(33);

/// One strike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Strike {
    /// The frame of its first sample.
    pub frame: u64,
    /// The frame from which it is stopped.
    pub end: u64,
    /// Index into [`Score::recipes`].
    pub recipe: usize,
    /// Which voice it has for itself.
    pub voice: usize,
}

/// All strikes by frame.
#[derive(Clone, Debug)]
pub struct Score {
    /// In order of their frames.
    pub strikes: Vec<Strike>,
    /// One a pitch and touch.
    pub recipes: Vec<Recipe>,
    /// How many sound at once at the most, releases counted.
    pub voices: usize,
}

/// Where and how the score is laid out.
#[derive(Clone, Copy, Debug)]
pub struct Layout {
    /// The frame of bar 1 beat 1.
    pub origin_frame: u64,
    /// Frames a second.
    pub sample_rate: u32,
    /// The peak of an accented note.
    pub peak: f64,
    /// Frames that a voice needs after its end.
    pub release: u64,
}

impl Score {
    /// Lays the line out. A note that would begin before frame 0 begins there.
    pub fn new(expected: &Expected, layout: Layout) -> Score {
        let place = |at: Nanos| {
            let frame = frame_at(at, layout.sample_rate);
            layout.origin_frame.saturating_add_signed(frame)
        };
        let mut indices: BTreeMap<(Sound, Touch), usize> = BTreeMap::new();
        let mut score = Score {
            strikes: Vec::with_capacity(expected.notes.len()),
            recipes: Vec::new(),
            voices: 0,
        };
        let mut busy_until: Vec<u64> = Vec::new();
        for note in &expected.notes {
            let (sound, touch) = (sound(note, &expected.open), touch(note));
            let recipe = *indices.entry((sound, touch)).or_insert_with(|| {
                let recipe = Recipe::new(sound, touch, layout.peak, layout.sample_rate);
                score.recipes.push(recipe);
                score.recipes.len() - 1
            });
            let (frame, end) = (place(note.onset), place(end(note)));
            let free = busy_until.iter().position(|until| *until <= frame);
            let voice = free.unwrap_or_else(|| {
                busy_until.push(0);
                busy_until.len() - 1
            });
            busy_until[voice] = end + layout.release;
            score.strikes.push(Strike {
                frame,
                end,
                recipe,
                voice,
            });
        }
        score.voices = busy_until.len();
        score
    }
}

fn sound(note: &ExpectedNote, open: &[Key]) -> Sound {
    let own = || open.get(usize::from(note.string?).checked_sub(1)?);
    match note.key {
        Some(key) => Sound::Pitch(key),
        None => Sound::Dead(*own().or(open.get(open.len() / 2)).unwrap_or(&SOME_STRING)),
    }
}

fn touch(note: &ExpectedNote) -> Touch {
    match (note.is.accent, note.is.optional) {
        (true, _) => Touch::Accent,
        (false, true) => Touch::Ghost,
        (false, false) => Touch::Plain,
    }
}

fn end(note: &ExpectedNote) -> Nanos {
    match note.key {
        Some(_) => note.end(),
        None => note.onset + note.sounding.min(DEAD),
    }
}
