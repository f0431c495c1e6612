//! The struck notes of a section as written: ties joined and swing applied, passes and tempo not yet.

use super::chords_of_bar::{CellGround, ChordsOfBar};
use super::harmony::{Chord, Harmony};
use super::swing::BarGrid;
use super::{ChordTone, Degree, NoteTraits};
use crate::line::key_signature::KeySignature;
use crate::line::pitch::PitchClass;
use crate::line::tuning::{StringNumber, Tuning};
use crate::line::{Bar, Gate, Line, Marks, Note, Place, Section, Stop, Stroke};
use crate::units::{Key, TICKS_PER_WHOLE, Ticks};
use std::ops::Range;

/// An eighth: the longest skip, and the shortest rest that makes an entry.
pub(super) const EIGHTH: Ticks = Ticks(TICKS_PER_WHOLE / 8);

/// One time through a section, positions counted from its first tick.
#[derive(Debug)]
pub(super) struct Passage {
    pub(super) bars: Vec<PassageBar>,
    pub(super) strikes: Vec<Strike>,
    pub(super) stops: Vec<StrikeStop>,
    /// `Strike::onset` and `Strike::end` count in this many parts of a tick.
    pub(super) divisor: i64,
    /// See [`super::ExpectedBar::upbeat`].
    pub(super) upbeat: (Ticks, i64),
}

/// A bar of a passage.
#[derive(Debug)]
pub(super) struct PassageBar {
    pub(super) length: Ticks,
    /// Position in a full bar of its first tick.
    pub(super) offset: Ticks,
}

/// A note or a double stop, struck once.
#[derive(Debug)]
pub(super) struct Strike {
    /// Index into [`Passage::bars`].
    pub(super) bar: u32,
    /// Written position in the bar.
    pub(super) at: Ticks,
    /// Written position in the passage.
    pub(super) start: Ticks,
    /// Written length, tied notes added up.
    pub(super) length: Ticks,
    /// Where it begins once swing is applied.
    pub(super) onset: i64,
    /// Where it ends once swing is applied.
    pub(super) end: i64,
    /// Into [`Passage::stops`].
    pub(super) stops: Range<usize>,
    pub(super) gate: Gate,
    /// What can be told without knowing the notes around it.
    pub(super) is: NoteTraits,
    /// A skip if a note follows directly.
    pub(super) leads_on: bool,
    pub(super) stroke: Option<Stroke>,
    pub(super) finger: Option<u8>,
}

/// One sounding (or dead) string of a strike, before the pass shifts it.
#[derive(Clone, Copy, Debug)]
pub(super) struct StrikeStop {
    pub(super) key: Option<i16>,
    pub(super) string: Option<u8>,
    /// The key of the named string when open.
    pub(super) open: Option<i16>,
    pub(super) degree: Option<Degree>,
    pub(super) chord: Option<ChordTone>,
    /// The note name: as written, or for a fret as the harmony spells it.
    pub(super) spelled: Option<PitchClass>,
}

/// What a section takes from the line unless it says otherwise.
struct Setting<'a> {
    grid: BarGrid,
    bar: Ticks,
    beat: Ticks,
    gate: Gate,
    key: Option<KeySignature>,
    tuning: &'a Tuning,
}

impl Passage {
    /// The section from its bar `first` on; `pickup` says whether its bar 0 is incomplete.
    pub(super) fn of(line: &Line, section: &Section, first: usize, pickup: bool) -> Passage {
        let meter = section.meter.unwrap_or(line.meter);
        let swing = section.swing.or(line.swing);
        let setting = Setting {
            grid: BarGrid::new(meter, swing, section.swung.unwrap_or(line.swung)),
            bar: meter.bar(),
            beat: meter.beat(),
            gate: section.gate.unwrap_or(line.gate),
            key: section.key.or(line.key),
            tuning: &line.tuning,
        };
        let mut passage = Passage {
            bars: Vec::with_capacity(section.bars.len()),
            strikes: Vec::new(),
            stops: Vec::new(),
            divisor: setting.grid.divisor(),
            upbeat: setting.grid.upbeat(),
        };
        let mut start = Ticks(0);
        let mut tied = first > 0 && ends_tied(&section.bars[first - 1]);
        let cells = section.chords.as_deref().unwrap_or_default();
        let skipped = cells.iter().take(first);
        let mut chord = skipped
            .filter_map(|cell| cell.chords.last())
            .next_back()
            .map(|last| Chord::of(&last.symbol));
        for (index, bar) in section.bars.iter().enumerate().skip(first) {
            let length = written_length(bar);
            let is_pickup = pickup && index == 0;
            let offset = Ticks(if is_pickup {
                (setting.bar - length).0.max(0)
            } else {
                0
            });
            passage.bars.push(PassageBar { length, offset });
            let ground = CellGround {
                length,
                offset,
                beat: setting.beat,
            };
            let chords = ChordsOfBar::new(cells.get(index), chord, ground);
            chord = chords.last();
            let layers = Layers {
                strokes: layer(&section.strokes, index),
                fingers: layer(&section.fingers, index),
                chords,
            };
            tied = passage.add_bar(&setting, bar, start, tied, layers);
            start += length;
        }
        passage
    }

    /// Adds a bar's strikes and returns whether its last note ties on.
    fn add_bar(
        &mut self,
        setting: &Setting,
        bar: &Bar,
        start: Ticks,
        mut tied: bool,
        mut layers: Layers<'_>,
    ) -> bool {
        let lengths: Vec<_> = bar.notes.iter().map(|note| note.length).collect();
        let offset = self.bars[self.bars.len() - 1].offset;
        let bent = setting.grid.bend(offset, &lengths);
        let base = start.0 * self.divisor;
        let mut at = Ticks(0);
        for (note, points) in bar.notes.iter().zip(bent.windows(2)) {
            let length = note.length.ticks();
            let end = base + points[1];
            let end_on_beat = setting.grid.is_beat(offset + at + length);
            if note.place != Place::Rest {
                let marks = if tied {
                    Default::default()
                } else {
                    layers.next()
                };
                match self.strikes.last_mut().filter(|_| tied) {
                    Some(struck) => {
                        struck.length += length;
                        struck.end = end;
                    }
                    None => {
                        let strike = Strike {
                            at,
                            start: start + at,
                            length,
                            onset: base + points[0],
                            end,
                            ..self.strike(setting, note, offset + at, marks, layers.chords.at(at))
                        };
                        self.strikes.push(strike);
                    }
                }
                if let Some(struck) = self.strikes.last_mut() {
                    struck.leads_on = struck.is.upbeat && struck.length <= EIGHTH && end_on_beat;
                }
            }
            tied = note.tie;
            at += length;
        }
        tied
    }

    /// A strike with everything but its times.
    fn strike(
        &mut self,
        setting: &Setting,
        note: &Note,
        in_bar: Ticks,
        (stroke, finger): (Option<Stroke>, Option<u8>),
        chord: Option<Chord>,
    ) -> Strike {
        let first = self.stops.len();
        match &note.place {
            Place::Rest => {}
            Place::Dead(string) => self.stops.push(setting.dead(*string)),
            Place::Struck(stops) => self
                .stops
                .extend(stops.iter().map(|stop| setting.stop(*stop, chord))),
        }
        let dead = matches!(note.place, Place::Dead(_));
        Strike {
            bar: (self.bars.len() - 1) as u32,
            at: Ticks(0),
            start: Ticks(0),
            length: Ticks(0),
            onset: 0,
            end: 0,
            stops: first..self.stops.len(),
            gate: gate(note.marks, dead, setting.gate),
            is: NoteTraits {
                upbeat: setting.grid.is_upbeat(in_bar),
                dead,
                short: note.marks.short,
                muted: note.marks.muted,
                accent: note.marks.accent,
                optional: note.marks.optional,
                ..NoteTraits::default()
            },
            leads_on: false,
            stroke,
            finger,
        }
    }
}

impl Setting<'_> {
    fn dead(&self, string: Option<StringNumber>) -> StrikeStop {
        StrikeStop {
            key: None,
            string: string.map(|string| string.0),
            open: None,
            degree: None,
            chord: None,
            spelled: None,
        }
    }

    fn stop(&self, stop: Stop, chord: Option<Chord>) -> StrikeStop {
        let (pitch, string) = match stop {
            Stop::Pitch(pitch) => (Some(pitch), None),
            Stop::PitchOn { pitch, string } => (Some(pitch), Some(string)),
            Stop::Fret { string, .. } => (None, Some(string)),
        };
        let key = match stop {
            Stop::Fret { string, fret } => self.tuning.key_at(string, fret),
            Stop::Pitch(pitch) | Stop::PitchOn { pitch, .. } => pitch.key(),
        };
        let open = string.and_then(|string| self.tuning.open_string(string)?.key());
        let harmony = Harmony {
            key: self.key,
            chord,
        };
        let spelled = match pitch {
            Some(pitch) => Some(pitch.class),
            None => key.and_then(|key| harmony.spell(key)),
        };
        StrikeStop {
            key: key.map(|key| i16::from(key.0)),
            string: string.map(|string| string.0),
            open: open.map(|key| i16::from(key.0)),
            degree: self.degree(spelled, key),
            chord: chord.and_then(|chord| Some(chord.tone(key?, spelled?))),
            spelled,
        }
    }

    fn degree(&self, spelled: Option<PitchClass>, key: Option<Key>) -> Option<Degree> {
        let signature = self.key?;
        match spelled {
            Some(class) => Some(Degree::of_spelled(class, signature)),
            None => Some(Degree::of_key(key?, signature)),
        }
    }
}

/// What is left of a bar's layers: one mark a struck note; and its chords.
struct Layers<'a> {
    strokes: &'a [Stroke],
    fingers: &'a [u8],
    chords: ChordsOfBar,
}

impl Layers<'_> {
    fn next(&mut self) -> (Option<Stroke>, Option<u8>) {
        (take_first(&mut self.strokes), take_first(&mut self.fingers))
    }
}

fn take_first<T: Copy>(marks: &mut &[T]) -> Option<T> {
    let (first, rest) = marks.split_first()?;
    *marks = rest;
    Some(*first)
}

fn layer<T>(layer: &Option<Vec<Vec<T>>>, bar: usize) -> &[T] {
    layer
        .as_ref()
        .and_then(|bars| bars.get(bar))
        .map_or(&[], Vec::as_slice)
}

fn written_length(bar: &Bar) -> Ticks {
    Ticks(bar.notes.iter().map(|note| note.length.ticks().0).sum())
}

fn ends_tied(bar: &Bar) -> bool {
    bar.notes.last().is_some_and(|note| note.tie)
}

fn gate(marks: Marks, dead: bool, unmarked: Gate) -> Gate {
    if marks.full {
        Gate::FULL
    } else if marks.short || marks.muted || dead {
        Gate::SHORT
    } else {
        unmarked
    }
}
