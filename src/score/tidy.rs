//! From a score to a line file that a person would have written.

use super::instrument::{self, OutOfReach};
use super::lost::{Losses, Spot};
use super::performed;
use super::sections::{self, Stretch};
use super::written::{self, WrittenBar};
use super::{Score, Sound};
use crate::line::chord::ChordCell;
use crate::line::key_signature::KeySignature;
use crate::line::tuning::Tuning;
use crate::line::{Gate, Line, Section, SwingRatio, Tempo};
use std::collections::{HashMap, HashSet};

/// How a score is to be written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wishes {
    /// Moves every note by so many octaves.
    pub octaves: i32,
    /// The open strings, in the place of those that the score names or that fit.
    pub tuning: Option<Tuning>,
    /// The title of a score that has none.
    pub title: String,
}

/// Why no line can be made of a score.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoLine {
    /// No bar is played.
    #[error("the part has no bar")]
    Empty,
    /// Nothing sounds in any bar.
    #[error("the part has only rests")]
    Silent,
    /// No bass reaches all notes.
    #[error(
        "the part goes from {} to {} as it sounds, which {} does not reach{}",
        .0.range.0, .0.range.1, instrument(*.1), octaves_help(.0.octaves)
    )]
    OutOfReach(OutOfReach, Instrument),
}

/// What does not reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Instrument {
    /// The strings that were asked for.
    Wanted,
    /// Any bass of four to six strings.
    AnyBass,
}

fn instrument(instrument: Instrument) -> &'static str {
    match instrument {
        Instrument::Wanted => "the tuning",
        Instrument::AnyBass => "a bass of up to six strings",
    }
}

fn octaves_help(octaves: Option<i32>) -> String {
    octaves.map_or_else(String::new, |octaves| {
        format!(": --octave {octaves} would bring it there")
    })
}

/// Quarter notes a minute where the source names no tempo.
const DEFAULT_TEMPO: Tempo = Tempo(120_000);
const STRAIGHT: SwingRatio = SwingRatio {
    long: 1000,
    short: 1000,
};

/// The tidy line of a score and everything that was lost on the way, the reader's losses first.
pub fn tidy(score: &Score, wishes: &Wishes) -> Result<(Line, Losses), NoLine> {
    let mut losses = score.losses.clone();
    let mut bars = performed::bars(score, &mut losses);
    move_octaves(&mut bars, wishes.octaves);
    if bars.is_empty() {
        return Err(NoLine::Empty);
    }
    if bars.iter().all(|bar| bar.events.is_empty()) {
        return Err(NoLine::Silent);
    }
    let kind = match wishes.tuning {
        Some(_) => Instrument::Wanted,
        None => Instrument::AnyBass,
    };
    let tuning = instrument::choose(&bars, wishes.tuning.as_ref(), score.tuning.as_ref()).map_err(
        |out| {
            let octaves = out.octaves.map(|octaves| octaves + wishes.octaves);
            NoLine::OutOfReach(OutOfReach { octaves, ..out }, kind)
        },
    )?;
    let pickup = performed::settle_pickup(&mut bars, &mut losses);
    let mut written = written::write(bars, &tuning, &mut losses);
    let stretches = sections::cut(&mut written, pickup, &tuning, &mut losses);
    let line = line(score, wishes, tuning, &written, stretches, &mut losses);
    Ok((line, losses))
}

fn move_octaves(bars: &mut [performed::PerformedBar], octaves: i32) {
    let events = bars.iter_mut().flat_map(|bar| &mut bar.events);
    for event in events.filter(|_| octaves != 0) {
        if let Sound::Pitches(pitches) = &mut event.sound {
            for at in pitches {
                let moved = i32::from(at.pitch.octave) + octaves;
                at.pitch.octave = moved.clamp(-100, 100) as i8;
                // The string belongs to the pitch that it was written for.
                at.string = None;
            }
        }
    }
}

fn line(
    score: &Score,
    wishes: &Wishes,
    tuning: Tuning,
    bars: &[WrittenBar],
    stretches: Vec<Stretch>,
    losses: &mut Losses,
) -> Line {
    let first = bars[0].settings;
    let pickup = stretches.first().is_some_and(|first| first.pickup > 0);
    let mut line = Line {
        title: name(score.title.as_deref()).unwrap_or_else(|| wishes.title.clone()),
        meter: first.meter,
        tempo: first.tempo.unwrap_or(DEFAULT_TEMPO),
        swing: first.swing,
        swung: first.swung,
        tuning,
        gate: score.gate.unwrap_or(Gate::DEFAULT),
        // A section without a key has the line's, if there is one.
        key: first
            .key
            .filter(|_| bars.iter().all(|bar| bar.settings.key.is_some())),
        pickup,
        first_bar: 1,
        sections: Vec::new(),
    };
    let mut names = Names::default();
    names.take(&stretches);
    for stretch in stretches {
        let name = names.next(stretch.mark.as_deref());
        let section = section(&line, name, stretch, bars, losses);
        line.sections.push(section);
    }
    line
}

fn section(
    line: &Line,
    name: String,
    stretch: Stretch,
    bars: &[WrittenBar],
    losses: &mut Losses,
) -> Section {
    let bars = &bars[stretch.start..stretch.end];
    let settings = bars[0].settings;
    let differs = |key: Option<KeySignature>| key.filter(|key| line.key != Some(*key));
    let tempo = settings.tempo.unwrap_or(DEFAULT_TEMPO);
    let swing = (settings.swing != line.swing).then(|| settings.swing.unwrap_or(STRAIGHT));
    let chords: Vec<ChordCell> = bars.iter().map(|bar| bar.chords.clone()).collect();
    Section {
        name,
        tempo: (tempo != line.tempo).then_some(tempo),
        meter: (settings.meter != line.meter).then_some(settings.meter),
        swing,
        swung: (settings.swung != line.swung).then_some(settings.swung),
        key: differs(settings.key),
        gate: None,
        passes: stretch.passes,
        bars: bars.iter().map(|bar| bar.bar.clone()).collect(),
        chords: chords
            .iter()
            .any(|cell| !cell.chords.is_empty())
            .then_some(chords),
        strokes: layer(bars, "strokes", |bar| &bar.strokes, losses),
        fingers: layer(bars, "fingers", |bar| &bar.fingers, losses),
    }
}

/// A layer has a mark for every struck note of the section, or there is none.
fn layer<T: Copy>(
    bars: &[WrittenBar],
    what: &str,
    of: impl Fn(&WrittenBar) -> &Vec<Option<T>>,
    losses: &mut Losses,
) -> Option<Vec<Vec<T>>> {
    let whole: Option<Vec<Vec<T>>> = bars
        .iter()
        .map(|bar| of(bar).iter().copied().collect())
        .collect();
    let whole = whole.filter(|layer| layer.iter().any(|bar| !bar.is_empty()));
    if whole.is_none() {
        for bar in bars {
            let marked = of(bar).iter().flatten().count();
            let spot = Spot {
                measure: bar.name.clone(),
                beat: None,
            };
            for _ in 0..marked {
                losses.add(
                    format!("{what} (a line needs one for every note of a section)"),
                    spot.clone(),
                );
            }
        }
    }
    whole
}

/// Text fit for a title or a name: one line, not empty, not too long.
fn name(text: Option<&str>) -> Option<String> {
    let words = text?.split(|c: char| c.is_whitespace() || c.is_control());
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    let text: String = words.join(" ").chars().take(80).collect();
    Some(text).filter(|text| !text.trim().is_empty())
}

/// Names of sections: those of the source, else letters that it does not use; each once.
#[derive(Default)]
struct Names {
    used: HashSet<String>,
    /// How often each name was asked for.
    asked: HashMap<String, usize>,
    letters: usize,
}

impl Names {
    /// Keeps the names of the source from being given to others.
    fn take(&mut self, stretches: &[Stretch]) {
        let marks = stretches
            .iter()
            .filter_map(|stretch| name(stretch.mark.as_deref()));
        self.asked.extend(marks.map(|mark| (mark, 0)));
    }

    fn next(&mut self, mark: Option<&str>) -> String {
        let plain = name(mark).unwrap_or_else(|| self.letter());
        loop {
            let count = self.asked.entry(plain.clone()).or_insert(0);
            *count += 1;
            let chosen = match *count {
                1 => plain.clone(),
                count => format!("{plain} {count}"),
            };
            if self.used.insert(chosen.clone()) {
                return chosen;
            }
        }
    }

    /// A to Z, then A1 to Z1 and so on.
    fn letter(&mut self) -> String {
        loop {
            let letter = char::from(b'A' + (self.letters % 26) as u8);
            let name = match self.letters / 26 {
                0 => letter.to_string(),
                round => format!("{letter}{round}"),
            };
            self.letters += 1;
            if !self.asked.contains_key(&name) {
                return name;
            }
        }
    }
}
