//! Bars as a line writes them: notes and rests of written lengths, ties, marks, chords.

use super::lost::{Losses, Spot};
use super::performed::{self, PerformedBar, Settings};
use super::{Event, Sound, instrument, lengths};
use crate::line::chord::{ChordCell, PlacedChord};
use crate::line::length::NoteLength;
use crate::line::tuning::Tuning;
use crate::line::{Bar, Marks, Note, Place, Stroke};
use crate::units::Ticks;

/// A bar of the line, before sections are made.
#[derive(Clone, Debug)]
pub struct WrittenBar {
    pub name: String,
    pub settings: Settings,
    pub mark: Option<String>,
    pub begins: bool,
    pub bar: Bar,
    pub chords: ChordCell,
    /// One for each struck note.
    pub strokes: Vec<Option<Stroke>>,
    /// One for each struck note.
    pub fingers: Vec<Option<u8>>,
}

impl WrittenBar {
    /// Whether its last note is held into the next bar.
    pub fn ties_over(&self) -> bool {
        self.bar.notes.last().is_some_and(|note| note.tie)
    }
}

/// Writes the bars of a part.
pub fn write(mut bars: Vec<PerformedBar>, tuning: &Tuning, losses: &mut Losses) -> Vec<WrittenBar> {
    bars.iter_mut().for_each(|bar| fit_grid(bar, losses));
    performed::settle_ties(&mut bars);
    let mut tied: Option<Place> = None;
    let mut written = Vec::new();
    for (index, bar) in bars.into_iter().enumerate() {
        let mut writer = Writer {
            tuning,
            losses,
            tied: tied.take(),
            notes: Vec::new(),
            strokes: Vec::new(),
            fingers: Vec::new(),
        };
        writer.bar(&bar);
        tied = writer.tied.take();
        let Writer {
            notes,
            strokes,
            fingers,
            ..
        } = writer;
        let into = if index == 0 {
            bar.settings.meter.bar() - bar.length
        } else {
            Ticks(0)
        };
        written.push(WrittenBar {
            chords: chords(&bar, Ticks(into.0.max(0))),
            name: bar.name,
            settings: bar.settings,
            mark: bar.mark,
            begins: bar.begins,
            bar: Bar { notes },
            strokes,
            fingers,
        });
    }
    written
}

struct Writer<'w> {
    tuning: &'w Tuning,
    losses: &'w mut Losses,
    /// What is held into the next event.
    tied: Option<Place>,
    notes: Vec<Note>,
    strokes: Vec<Option<Stroke>>,
    fingers: Vec<Option<u8>>,
}

impl Writer<'_> {
    fn bar(&mut self, bar: &PerformedBar) {
        let mut at = Ticks(0);
        for event in &bar.events {
            self.rest(at, event.at - at);
            self.event(bar, event);
            at = event.end();
        }
        self.rest(at, bar.length - at);
    }

    fn rest(&mut self, at: Ticks, length: Ticks) {
        if length > Ticks(0) {
            self.tied = None;
            let rests = lengths::written(at, length).unwrap_or_default();
            self.notes
                .extend(rests.into_iter().map(|length| note(Place::Rest, length)));
        }
    }

    fn event(&mut self, bar: &PerformedBar, event: &Event) {
        let struck = self.tied.is_none();
        let place = match (self.tied.take(), &event.sound) {
            (Some(held), _) => held,
            (None, Sound::Dead(string)) => {
                let string = string.filter(|string| self.tuning.open_string(*string).is_some());
                Place::Dead(string.filter(|string| string.0 > 0))
            }
            (None, Sound::Pitches(pitches)) => {
                let stops = instrument::stops(self.tuning, pitches);
                let spot = || Spot::new(&bar.name, bar.settings.meter, event.at);
                if stops.len() < pitches.len() {
                    self.losses.add(
                        "chords with more notes than the strings can play (highest left out)",
                        spot(),
                    );
                }
                let strings = pitches.iter().filter(|at| at.string.is_some()).count();
                if strings > stops.iter().filter(|stop| stop.string().is_some()).count() {
                    self.losses.add("strings that the note is not on", spot());
                }
                Place::Struck(stops)
            }
        };
        let dead = matches!(place, Place::Dead(_));
        let single = lengths::single(event.length).filter(|_| dead);
        let written = match single {
            Some(length) => vec![length],
            None => lengths::written(event.at, event.length).unwrap_or_default(),
        };
        let last = written.len().saturating_sub(1);
        for (index, length) in written.into_iter().enumerate() {
            let mut note = note(place.clone(), length);
            if index == 0 && struck {
                note.marks = event.marks;
            }
            if dead && index > 0 {
                // A dead note is over at once.
                note.place = Place::Rest;
            } else if !dead {
                note.tie = index < last || event.tie;
            }
            self.notes.push(note);
        }
        if struck {
            self.strokes.push(event.stroke);
            self.fingers.push(event.finger);
        }
        self.tied = event.tie.then_some(place);
    }
}

fn note(place: Place, length: NoteLength) -> Note {
    Note {
        place,
        length,
        tie: false,
        marks: Marks::default(),
    }
}

/// The chords of a bar, `into` its meter from where it begins.
fn chords(bar: &PerformedBar, into: Ticks) -> ChordCell {
    let count = bar.chords.len() as i64;
    let even = |(index, (at, _)): (i64, &(Ticks, _))| at.0 * count == index * bar.length.0;
    let evenly = (0..).zip(&bar.chords).all(even);
    let beat = bar.settings.meter.beat();
    let place = |at: Ticks| u32::try_from(1000 + 1000 * (at + into).0 / beat.0).unwrap_or(1000);
    let mut chords: Vec<PlacedChord> = Vec::new();
    for (at, symbol) in &bar.chords {
        let beat = (!evenly).then(|| place(*at));
        // Two chords within a thousandth of a beat are one that was corrected.
        if beat.is_some() && chords.last().is_some_and(|before| before.beat >= beat) {
            chords.pop();
        }
        let symbol = symbol.clone();
        chords.push(PlacedChord { symbol, beat });
    }
    ChordCell { chords }
}

/// Moves what no written length can tell to the nearest thirty-second or triplet sixteenth.
fn fit_grid(bar: &mut PerformedBar, losses: &mut Losses) {
    let Some(wrong) = first_wrong(&bar.events, bar.length) else {
        return;
    };
    let spot = Spot::new(&bar.name, bar.settings.meter, wrong);
    losses.add(
        "figures that a line cannot write exactly (moved to the nearest thirty-second or triplet)",
        spot,
    );
    let (length, count) = (bar.length, bar.events.len());
    let near = |at: Ticks, grain: i64| Ticks((at.0 + grain / 2).div_euclid(grain) * grain);
    let both = |at: Ticks| {
        let (plain, triplet) = (near(at, 120), near(at, 80));
        if (plain - at).0.abs() <= (triplet - at).0.abs() {
            plain
        } else {
            triplet
        }
    };
    let snapped = snap(&bar.events, length, both);
    bar.events = if first_wrong(&snapped, length).is_none() {
        snapped
    } else {
        snap(&bar.events, length, |at| near(at, 120))
    };
    // What is still wrong has a bar that is no whole number of thirty-seconds.
    bar.events
        .retain(|event| lengths::written(event.at, event.length).is_some());
    for _ in bar.events.len()..count {
        let spot = Spot::new(&bar.name, bar.settings.meter, wrong);
        losses.add("notes shorter than a line can write (left out)", spot);
    }
}

/// Where the first note or rest begins that has no written length.
fn first_wrong(events: &[Event], length: Ticks) -> Option<Ticks> {
    let mut at = Ticks(0);
    for event in events {
        let gap = event.at - at;
        if gap > Ticks(0) && lengths::written(at, gap).is_none() {
            return Some(at);
        }
        if lengths::written(event.at, event.length).is_none() {
            return Some(event.at);
        }
        at = event.end();
    }
    let gap = length - at;
    (gap > Ticks(0) && lengths::written(at, gap).is_none()).then_some(at)
}

fn snap(events: &[Event], length: Ticks, to: impl Fn(Ticks) -> Ticks) -> Vec<Event> {
    let mut snapped: Vec<Event> = Vec::new();
    for event in events {
        let at = to(event.at).min(length);
        let end = to(event.end()).min(length);
        let mut event = event.clone();
        (event.at, event.length) = (at, end - at);
        if event.length > Ticks(0) {
            snapped.push(event);
        }
    }
    snapped
}
