//! Line to expected notes: each pass of each section laid down one after the other.

use super::harmony::Harmony;
use super::strike::{EIGHTH, Passage, Strike, StrikeStop};
use super::tempo_map::{Rate, Speed, TempoMap};
use super::transposition::Transposition;
use super::{ChordTone, Expected, ExpectedBar, ExpectedNote, NoteTraits};
use crate::line::meter::Meter;
use crate::line::pitch::PitchClass;
use crate::line::tuning::HIGHEST_FRET;
use crate::line::{Gate, Line, Section};
use crate::units::{Key, Nanos, Ticks};

/// Unrolls a line at a speed: every pass, key shift, tie, swing and tempo applied. Bar 1 beat 1 is time 0; the notes
/// of a pickup come before it.
///
/// Costs O(n) for n expected notes. A line that the line reader has accepted always unrolls; in one that it would
/// refuse, a stop that a pass moves off the instrument is left without a key or fret.
pub fn unroll(line: &Line, speed: Speed) -> Expected {
    let mut roll = Roll::new(line, speed);
    for (index, section) in line.sections.iter().enumerate() {
        roll.add_section(index, section);
    }
    roll.finish()
}

/// The unrolling under way.
struct Roll<'a> {
    line: &'a Line,
    speed: Speed,
    expected: Expected,
    /// Where the next bar starts: written, and in time.
    position: Ticks,
    now: Nanos,
    /// The number of the next section's first full bar.
    bar_number: u32,
    group: u32,
    last: Option<LastStrike>,
}

/// The strike before, whose notes still wait to know what follows them.
struct LastStrike {
    /// Its first note in [`Expected::notes`].
    first: usize,
    /// Where it ends as written.
    end: Ticks,
    /// When it ends.
    end_at: Nanos,
    leads_on: bool,
}

/// One time through a section: what all its notes have in common.
struct Pass {
    section: u16,
    number: u32,
    shift: i8,
    names: Transposition,
    /// Index of its first bar in [`Expected::bars`].
    first_bar: u32,
    /// Where it starts.
    start: Ticks,
    /// The duration of a beat.
    beat: Nanos,
}

impl<'a> Roll<'a> {
    fn new(line: &'a Line, speed: Speed) -> Roll<'a> {
        let first = line.sections.first().and_then(|section| section.tempo);
        let strings = || line.tuning.strings();
        Roll {
            line,
            speed,
            expected: Expected {
                notes: Vec::new(),
                bars: Vec::new(),
                sections: line.sections.iter().map(|s| s.name.clone()).collect(),
                strings: strings().map(|n| line.tuning.label(n)).collect(),
                open: strings().filter_map(|n| line.tuning.key_at(n, 0)).collect(),
                tempo_map: TempoMap::new(Rate::new(first.unwrap_or(line.tempo), speed)),
                end: Nanos::ZERO,
            },
            position: Ticks(0),
            now: Nanos::ZERO,
            bar_number: line.first_bar,
            group: 0,
            last: None,
        }
    }

    fn add_section(&mut self, index: usize, section: &Section) {
        let rate = Rate::new(section.tempo.unwrap_or(self.line.tempo), self.speed);
        let meter = section.meter.unwrap_or(self.line.meter);
        let pickup = self.line.pickup && index == 0;
        let first_time = Passage::of(self.line, section, 0, pickup);
        // A pickup is played once, before the first pass.
        let again = pickup.then(|| Passage::of(self.line, section, 1, true));
        let again = again.as_ref().unwrap_or(&first_time);
        if pickup {
            self.position = -first_time.bars[0].length;
            self.now = self.time_at(self.position.0, 1);
        } else {
            self.expected.tempo_map.change(self.position, rate);
        }
        let later_passes = section.passes.len().saturating_sub(1);
        self.expected
            .notes
            .reserve_exact(first_time.stops.len() + again.stops.len() * later_passes);
        self.expected
            .bars
            .reserve_exact(first_time.bars.len() + again.bars.len() * later_passes);
        for (number, shift) in (1..).zip(&section.passes) {
            let passage = if number == 1 { &first_time } else { again };
            let pass = Pass {
                section: index as u16,
                number,
                shift: *shift,
                names: Transposition::new(section.key.or(self.line.key), *shift),
                first_bar: self.expected.bars.len() as u32,
                start: self.position,
                beat: rate.duration(meter.beat()),
            };
            self.add_bars(&pass, passage, meter, pickup && number == 1);
            for strike in &passage.strikes {
                self.add_strike(&pass, passage, strike);
            }
        }
        self.bar_number += again.bars.len() as u32;
    }

    fn add_bars(&mut self, pass: &Pass, passage: &Passage, meter: Meter, from_pickup: bool) {
        let first_number = self.bar_number - u32::from(from_pickup);
        for (number, bar) in (first_number..).zip(&passage.bars) {
            let (onset, start) = (self.now, self.position);
            self.position += bar.length;
            self.now = self.time_at(self.position.0, 1);
            self.expected.bars.push(ExpectedBar {
                section: pass.section,
                pass: pass.number,
                number,
                onset,
                end: self.now,
                beat: meter.beat(),
                start,
                length: bar.length,
                offset: bar.offset,
                upbeat: passage.upbeat,
                silent: false,
            });
        }
    }

    fn add_strike(&mut self, pass: &Pass, passage: &Passage, strike: &Strike) {
        let time = |at: i64| {
            let parts = i128::from(pass.start.0) * i128::from(passage.divisor) + i128::from(at);
            let map = &self.expected.tempo_map;
            map.time_at(parts, i128::from(passage.divisor))
        };
        let start = pass.start + strike.start;
        let rest = self.last.as_ref().map(|last| start - last.end);
        let onset = match &self.last {
            Some(last) if last.end == start => last.end_at,
            _ => time(strike.onset),
        };
        let end_at = time(strike.end);
        self.settle_last(rest);
        self.last = Some(LastStrike {
            first: self.expected.notes.len(),
            end: start + strike.length,
            end_at,
            leads_on: strike.leads_on,
        });
        let written = end_at - onset;
        let common = ExpectedNote {
            section: pass.section,
            pass: pass.number,
            bar: pass.first_bar + strike.bar,
            at: strike.at,
            length: strike.length,
            group: self.group,
            key: None,
            string: None,
            fret: None,
            signature: pass.names.key(),
            degree: None,
            chord: None,
            spelled: None,
            onset,
            written,
            sounding: sounding(written, strike.gate),
            rest_at: None,
            beat: pass.beat,
            is: NoteTraits {
                entry: rest.is_none_or(|rest| rest >= EIGHTH),
                ..strike.is
            },
            stroke: strike.stroke,
            finger: strike.finger,
        };
        self.group += 1;
        let stops = &passage.stops[strike.stops.clone()];
        let notes = stops.iter().map(|stop| stop.played_in(pass, &common));
        self.expected.notes.extend(notes);
    }

    /// Tells the notes of the strike before what follows them: a note after a rest this long, or (`None`) nothing more.
    fn settle_last(&mut self, rest: Option<Ticks>) {
        let Some(last) = &self.last else { return };
        let follows_directly = rest == Some(Ticks(0));
        for note in &mut self.expected.notes[last.first..] {
            note.is.skip = last.leads_on && follows_directly;
            note.rest_at = (!follows_directly).then_some(last.end_at);
        }
    }

    fn time_at(&self, ticks: i64, divisor: i64) -> Nanos {
        self.expected
            .tempo_map
            .time_at(i128::from(ticks), i128::from(divisor))
    }

    fn finish(mut self) -> Expected {
        self.settle_last(None);
        self.expected.end = self.now;
        self.expected
    }
}

impl StrikeStop {
    /// The stop as a note of a pass: a named string stays, its fret moves.
    fn played_in(&self, pass: &Pass, common: &ExpectedNote) -> ExpectedNote {
        let key = self.key.map(|key| key + i16::from(pass.shift));
        let fret = key
            .zip(self.open)
            .and_then(|(key, open)| u8::try_from(key - open).ok());
        let key = key
            .and_then(|key| u8::try_from(key).ok())
            .filter(|key| *key < 128)
            .map(Key);
        let chord = self.chord.map(|tone| ChordTone {
            root: pass.names.chord(tone.into()).root,
            ..tone
        });
        ExpectedNote {
            key,
            string: self.string,
            fret: fret.filter(|fret| *fret <= HIGHEST_FRET),
            degree: self.degree,
            chord,
            spelled: self.spelled_in(pass, chord, key),
            ..common.clone()
        }
    }

    fn spelled_in(
        &self,
        pass: &Pass,
        chord: Option<ChordTone>,
        key: Option<Key>,
    ) -> Option<PitchClass> {
        let roots = self
            .chord
            .zip(chord)
            .map(|(written, now)| (written.root, now.root));
        let moved = pass.names.note(self.spelled?, roots);
        let harmony = Harmony {
            key: pass.names.key(),
            chord: chord.map(Into::into),
        };
        moved.or_else(|| harmony.spell(key?))
    }
}

/// Written length × gate, to the nearest nanosecond.
fn sounding(written: Nanos, gate: Gate) -> Nanos {
    Nanos((written.0 * i64::from(gate.0) + 500) / 1000)
}
