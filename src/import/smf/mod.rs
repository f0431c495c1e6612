//! A part of a Standard MIDI File, formats 0 and 1, into a [`Score`]: chosen, put into bars, quantised, un-swung, its
//! sounding lengths read as written ones.
//!
//! `parts` chooses, `frame` and `tempo` make the bars, `strikes` joins double stops, `feel` finds swing, `quantise` finds
//! the grid, `lengths` and `touch` read lengths and velocities. Everything is pure and panics on no input.

pub mod error;
pub mod feel;
pub mod frame;
pub mod grid;
mod key;
mod lengths;
mod parts;
mod quantise;
mod strikes;
mod tempo;
mod touch;

use crate::line::{Marks, SwingRatio, Swung};
use crate::midi::smf::{self, SmfFile, TextKind};
use crate::midi::tick_clock::Division;
use crate::score::lost::{Losses, Spot};
use crate::score::{Event, Measure, PitchAt, Score, Sound};
use crate::units::Ticks;
use error::Unreadable;
use feel::{Feel, Place, SwingChoice};
use frame::{Bar, Scale};
use grid::Grid;
use lengths::{Held, Lengths, Rule, Ruler, Sounded, Written};
use parts::Part;
use quantise::{Fit, Moved, Onset, Room};
use strikes::Strike;
use touch::Touch;

/// How many of the notes that were moved far are named.
const NAMED: usize = 6;

/// What is taken of a file, and how.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// A track by its number from 1, its name, or a piece of its name.
    pub track: Option<String>,
    /// A channel, 1 to 16.
    pub channel: Option<u8>,
    /// The grid; `None` is the coarsest that explains the onsets.
    pub grid: Option<Grid>,
    /// The swing; `None` looks for it.
    pub swing: Option<SwingChoice>,
}

/// How far the notes were moved to the grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Moves {
    /// The grid.
    pub grid: Grid,
    /// The mean distance in ms, without signs.
    pub mean_ms: f64,
    /// The mean of played minus written in ms; negative is early.
    pub bias_ms: f64,
    /// The largest distance in ms: negative is early, and where.
    pub largest: (f64, Spot),
    /// Notes that were moved by more than a third of the grid's shorter step.
    pub far: Vec<(f64, Spot)>,
}

/// A part that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// The part: `track 2 "Bass", channel 1`.
    pub part: String,
    /// What was chosen and found, and how to choose otherwise.
    pub said: Vec<String>,
    /// How far notes were moved.
    pub moves: Moves,
    /// The part.
    pub score: Score,
}

/// Whether the bytes look like a MIDI file.
pub fn is_smf(bytes: &[u8]) -> bool {
    bytes.starts_with(b"MThd") || bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"RMID")
}

/// Reads one part of a file.
pub fn read(bytes: &[u8], choice: &Choice) -> Result<Read, Unreadable> {
    let file = smf::read(bytes)?;
    if file.take_json().is_some() {
        return Err(Unreadable::Take);
    }
    let Division::PerQuarter(division) = file.division else {
        return Err(Unreadable::Frames);
    };
    let scale = Scale {
        division: division.get(),
    };
    let mut losses = Losses::default();
    losses_of_file(&file, &mut losses);
    let parts = parts::list(&file);
    if parts.is_empty() {
        let damage = file.damage.iter().map(ToString::to_string).collect();
        return Err(Unreadable::NoNotes(damage));
    }
    let (part, chosen) = parts::choose(parts, choice.track.as_deref(), choice.channel)?;
    let mut said: Vec<String> = chosen.into_iter().collect();
    losses_of_part(&part, &mut losses);
    let strikes = strikes::join(&part.notes, &file.clock, scale);
    let until = strikes.iter().map(|strike| strike.end).fold(0.0, f64::max);
    // A last note that is played early may belong to the bar after it.
    let last = strikes.last().map_or(0.0, |strike| strike.from + 480.0);
    let until = until.max(last).min(1e15) as i64;
    let bars = frame::bars(&file, scale, until, &mut said, &mut losses)?;
    let part_read = Reading::new(strikes, &bars, choice, &mut said)?;
    let moves = part_read.moves(&bars);
    said.extend(moves.told());
    let score = part_read.score(&file, &part, bars, &mut said, losses);
    Ok(Read {
        part: part.label(),
        said,
        moves,
        score,
    })
}

fn losses_of_file(file: &SmfFile, losses: &mut Losses) {
    for damage in &file.damage {
        losses.say(format!("damage: {damage}"));
    }
    let lyrics = file.texts.iter().filter(|t| t.kind == TextKind::Lyric);
    count(losses, lyrics.count(), "lyrics");
}

fn losses_of_part(part: &Part, losses: &mut Losses) {
    let of = |status: u8| {
        let others = part.others.iter();
        others.filter(move |bytes| bytes[0] & 0xF0 == status)
    };
    let bends = of(0xE0).filter(|bytes| bytes[1..] != [0, 64]);
    count(losses, bends.count(), "pitch bends");
    let pedal = of(0xB0).filter(|bytes| bytes[1] == 64 && bytes[2] >= 64);
    count(losses, pedal.count(), "strokes of the sustain pedal");
}

fn count(losses: &mut Losses, count: usize, what: &str) {
    if count > 0 {
        losses.say(format!("{count} {what}"));
    }
}

/// The strikes of a part on their grid.
struct Reading {
    strikes: Vec<Strike>,
    feel: Feel,
    fit: Fit,
    /// Which quantised place each strike is at: places are in order, and several strikes may share one.
    places: Vec<Moved>,
}

impl Reading {
    fn new(
        strikes: Vec<Strike>,
        bars: &[Bar],
        choice: &Choice,
        said: &mut Vec<String>,
    ) -> Result<Reading, Unreadable> {
        let place = |strike: &Strike| {
            let after = bars.partition_point(|bar| bar.start as f64 <= strike.from);
            let bar = after.saturating_sub(1);
            let at = strike.from - bars[bar].start as f64;
            Onset {
                place: Place { bar, at },
                ms_per_tick: strike.ms_per_tick,
            }
        };
        let onsets: Vec<Onset> = strikes.iter().map(place).collect();
        let places: Vec<Place> = onsets.iter().map(|onset| onset.place).collect();
        let swing = match choice.swing {
            Some(SwingChoice::Straight) => None,
            Some(SwingChoice::Ratio(ratio)) => Some((ratio, Default::default())),
            // The file says how its straight notes swing.
            None if bars.iter().any(|bar| bar.swing.is_some()) => None,
            None => feel::find(&places, bars).map(|found| {
                said.push(found.to_string());
                (found.ratio, found.swung)
            }),
        };
        let feel = Feel::new(swing, &places, bars);
        let room = Room {
            onsets: &onsets,
            bars,
            feel: &feel,
        };
        let fit = match choice.grid {
            Some(grid) => room.fit(grid),
            None => quantise::coarsest(&room)?,
        };
        let mut places = fit.moved.clone();
        // Triplets beside straight notes may change places: the later one stays behind.
        for index in 1..places.len() {
            let before = places[index - 1];
            if (places[index].bar, places[index].at) < (before.bar, before.at) {
                (places[index].bar, places[index].at) = (before.bar, before.at);
            }
        }
        Ok(Reading {
            strikes,
            feel,
            fit,
            places,
        })
    }

    fn moves(&self, bars: &[Bar]) -> Moves {
        let spot = |moved: &Moved| spot(bars, moved.bar, moved.at);
        let late: Vec<f64> = self.fit.moved.iter().map(|moved| moved.late_ms).collect();
        let count = late.len().max(1) as f64;
        let further = |a: &&Moved, b: &&Moved| a.late_ms.abs().total_cmp(&b.late_ms.abs());
        let largest = self.fit.moved.iter().max_by(further);
        let step = self.fit.grid.finest() as f64 / 3.0;
        let far = self.strikes.iter().zip(&self.fit.moved);
        let far = far.filter(|(strike, moved)| moved.late_ms.abs() > step * strike.ms_per_tick);
        Moves {
            grid: self.fit.grid,
            mean_ms: late.iter().map(|late| late.abs()).sum::<f64>() / count,
            bias_ms: late.iter().sum::<f64>() / count,
            largest: largest.map_or((0.0, spot_of_start()), |m| (m.late_ms, spot(m))),
            far: far.map(|(_, moved)| (moved.late_ms, spot(moved))).collect(),
        }
    }

    fn score(
        self,
        file: &SmfFile,
        part: &Part,
        bars: Vec<Bar>,
        said: &mut Vec<String>,
        mut losses: Losses,
    ) -> Score {
        let swings = swings(&bars, self.feel.swing);
        let grid = self.fit.grid;
        let feel = self.feel;
        let struck = strikes::settle(self.strikes, &self.places, &bars, &mut losses);
        let sounded: Vec<Sounded> = struck
            .iter()
            .map(|(at, strike)| Sounded {
                at: *at,
                sounds: strike.end - strike.from,
                ms_per_tick: strike.ms_per_tick,
            })
            .collect();
        let ruler = Ruler {
            bars: &bars,
            feel: &feel,
            grid,
            spread_ms: self.fit.spread_ms,
        };
        let lengths = ruler.write(&sounded);
        said.push(told(&lengths));
        let touch = Touch::of(struck.iter().map(|(_, strike)| strike.velocity));
        said.extend(touch.map(|touch| touch.to_string()));
        let mut measures: Vec<Measure> = (1..)
            .zip(std::iter::zip(&bars, swings))
            .map(|(number, (bar, swing)): (usize, (&Bar, _))| Measure {
                name: number.to_string(),
                meter: bar.meter,
                length: Ticks(bar.length),
                tempo: bar.tempo,
                swing: swing.map(|(ratio, _)| ratio),
                swung: swing.map(|(_, swung)| swung).unwrap_or_default(),
                key: bar.key,
                mark: bar.mark.clone(),
                begins: false,
                events: Vec::new(),
                chords: Vec::new(),
            })
            .collect();
        for ((at, strike), written) in struck.iter().zip(&lengths.written) {
            let marks = marks(*written, strike.velocity, touch);
            place(&mut measures, &bars, (*at, written.length), strike, marks);
        }
        while measures.len() > 1 && measures.last().is_some_and(|m| m.events.is_empty()) {
            measures.pop();
        }
        Score {
            title: title(file, part),
            tuning: None,
            gate: Some(lengths.gate),
            playing: (0..measures.len()).collect(),
            measures,
            losses,
        }
    }
}

/// The swing of each bar: as the onsets have it, or as the file's own markers say.
fn swings(bars: &[Bar], found: Option<(SwingRatio, Swung)>) -> Vec<Option<(SwingRatio, Swung)>> {
    let mut now = found;
    bars.iter()
        .map(|bar| {
            if let Some(marker) = bar.swing.filter(|_| found.is_none()) {
                now = marker.swing();
            }
            now
        })
        .collect()
}

fn spot(bars: &[Bar], bar: usize, at: i64) -> Spot {
    Spot::new(&(bar + 1).to_string(), bars[bar].meter, Ticks(at))
}

fn spot_of_start() -> Spot {
    Spot {
        measure: "1".to_owned(),
        beat: None,
    }
}

fn marks(written: Written, velocity: u8, touch: Option<Touch>) -> Marks {
    let touched = touch.map_or(Marks::default(), |touch| touch.marks(velocity));
    Marks {
        short: written.held == Held::Short,
        full: written.held == Held::Full,
        ..touched
    }
}

/// Puts a note into its bars, tied over the bar lines.
fn place(
    measures: &mut [Measure],
    bars: &[Bar],
    (at, length): (i64, i64),
    strike: &Strike,
    marks: Marks,
) {
    let end = at + length;
    let mut from = at;
    while from < end {
        let index = bars
            .partition_point(|bar| bar.start <= from)
            .saturating_sub(1);
        let bar = &bars[index];
        let to = end.min(bar.start + bar.length);
        if to <= from {
            return;
        }
        let key = bar.key;
        let pitches = strike.keys.iter().map(|sounding| PitchAt {
            pitch: key::spell(*sounding, key),
            string: None,
        });
        measures[index].events.push(Event {
            at: Ticks(from - bar.start),
            length: Ticks(to - from),
            sound: Sound::Pitches(pitches.collect()),
            tie: to < end && index + 1 < bars.len(),
            marks,
            stroke: None,
            finger: None,
        });
        from = to;
    }
}

/// The name of the sequence, which is that of a first track without notes, else that of the part's track.
fn title(file: &SmfFile, part: &Part) -> Option<String> {
    let first = file.tracks.first().filter(|_| part.track > 0);
    let sequence = first.and_then(|track| track.name.clone());
    sequence
        .filter(|name| !name.trim().is_empty())
        .or_else(|| part.name.clone())
}

fn told(lengths: &Lengths) -> String {
    let gate = f64::from(lengths.gate.0) / 1000.0;
    match lengths.rule {
        Rule::Strict { .. } => {
            format!("lengths are exact: plain notes sound for {gate} of what is written (gate)")
        }
        Rule::Free => format!(
            "a note that sounds for 0.6 of the way to the next is written up to it, others get rests or staccato; gate {gate}"
        ),
        Rule::Blips => {
            "notes are too short to tell lengths: each is written up to the next, a quarter at most"
                .to_owned()
        }
    }
}

impl Moves {
    /// The error report, in lines.
    pub fn told(&self) -> Vec<String> {
        let (largest, at) = &self.largest;
        let mut told = vec![format!(
            "grid {}: notes were moved by {:.1} ms on average (they lie at {:+.1} ms), by {:.1} ms at most ({at})",
            self.grid,
            self.mean_ms,
            self.bias_ms,
            largest.abs()
        )];
        if !self.far.is_empty() {
            let one = |(late, at): &(f64, Spot)| format!("{at} ({late:+.0} ms)");
            let named: Vec<String> = self.far.iter().take(NAMED).map(one).collect();
            let more = self.far.len().saturating_sub(NAMED);
            let more = match more {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            told.push(format!(
                "{} were moved by more than a third of the grid: {}{more}",
                self.far.len(),
                named.join(", ")
            ));
        }
        told
    }
}
