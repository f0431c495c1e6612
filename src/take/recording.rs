//! A take in progress: events of the stream become events of the file, and are judged as the file will say them.
//!
//! Three clocks meet here. *Stream time* is what a session reports, *file time* what the take's file can say, and
//! *line time* starts at bar 1 beat 1. An event is moved to file time and rounded to the file's ticks **before** it
//! is judged, so that the file gives the same readings when it is read back.

use super::TakeHead;
use crate::clock::glitch::Glitch;
use crate::expected::tempo_map::Rate;
use crate::expected::{Expected, ExpectedBar};
use crate::judge::{Judge, Judgement, Settings};
use crate::line::meter::Meter;
use crate::midi::conductor::{
    Conductor, ConductorError, TICKS_PER_WRITTEN_TICK, micros_per_quarter,
};
use crate::played::TimedMessage;
use crate::units::{Nanos, Ticks};
use std::sync::Arc;

/// How long after its last beat a bar is called: its last note has to be given time to come late and to ring over.
const CALL_AFTER: Nanos = Nanos::from_ms(300);
/// Rounding to ticks moves an event by less than this.
const ROUNDING: Nanos = Nanos(50_000);

/// See the module's head.
pub struct Recording {
    judge: Judge,
    conductor: Conductor,
    /// Bar 1 beat 1 in stream time.
    origin: Nanos,
    /// Bar 1 beat 1 in file time.
    start: Nanos,
    last: Nanos,
    next_bar: usize,
}

/// Lays the take's file out: the line's tempo map after one bar of room and the count-in. `head` is told where bar 1
/// beat 1 falls.
pub fn conduct(
    expected: &Expected,
    count_in: u32,
    head: &mut TakeHead,
) -> Result<Conductor, ConductorError> {
    let full = expected
        .bars
        .first()
        .map_or(Ticks(3840), |bar| bar.offset + bar.length);
    let room = full.0 * i64::from(count_in + 1);
    let tick = |written: Ticks| ((room + written.0).max(0) as u64) * TICKS_PER_WRITTEN_TICK;
    let tempi = tempi(expected, tick);
    // The head is part of the file and says where bar 1 is, which the tempi alone decide.
    let start = Conductor::new("", "", tempi.clone())?.time_of(tick(Ticks(0)));
    head.start_ns = start.0;
    let json = serde_json::to_string(head).unwrap_or_default();
    let title = match head.bars {
        Some(bars) => format!("{}, {bars}", head.line),
        None => head.line.clone(),
    };
    let conductor = Conductor::new(title, json, tempi)?;
    Ok(conductor
        .with_meters(meters(&expected.bars, tick))
        .with_markers(markers(expected, head.bars.is_some(), tick)))
}

/// Where each tempo begins, in microseconds a quarter note, the first at tick 0.
pub(crate) fn tempi(expected: &Expected, tick: impl Fn(Ticks) -> u64) -> Vec<(u64, u32)> {
    let changes = expected.tempo_map.changes().enumerate();
    let tempo = |(index, (at, _, rate)): (usize, (Ticks, Nanos, Rate))| {
        let from = if index == 0 { 0 } else { tick(at) };
        (from, micros_per_quarter(rate.numerator, rate.denominator))
    };
    changes.map(tempo).collect()
}

/// Where each meter begins, the first at tick 0.
pub(crate) fn meters(bars: &[ExpectedBar], tick: impl Fn(Ticks) -> u64) -> Vec<(u64, Meter)> {
    let mut meters: Vec<(u64, Meter)> = Vec::new();
    for bar in bars {
        let at = if meters.is_empty() {
            0
        } else {
            tick(bar.start)
        };
        if meters.last().is_none_or(|(_, meter)| *meter != bar.meter()) {
            meters.push((at, bar.meter()));
        }
    }
    meters
}

/// Where each pass begins; in an excerpt with the bar that it begins at.
pub(crate) fn markers(
    expected: &Expected,
    is_excerpt: bool,
    tick: impl Fn(Ticks) -> u64,
) -> Vec<(u64, String)> {
    let mut markers = Vec::new();
    let mut last = None;
    for bar in &expected.bars {
        if last.replace((bar.section, bar.pass)) != Some((bar.section, bar.pass)) {
            let name = &expected.sections[usize::from(bar.section)];
            let mut name = if bar.pass > 1 {
                format!("{name}, pass {}", bar.pass)
            } else {
                name.clone()
            };
            if is_excerpt {
                name += &format!(", bar {}", bar.number);
            }
            markers.push((tick(bar.start), name));
        }
    }
    markers
}

impl Recording {
    /// Before the first event. `origin` is bar 1 beat 1 in stream time, `start` in file time.
    pub fn new(
        expected: Arc<Expected>,
        settings: &Settings,
        conductor: Conductor,
        origin: Nanos,
        start: Nanos,
    ) -> Recording {
        let judge = Judge::new(expected, settings);
        Recording {
            judge,
            conductor,
            origin,
            start,
            last: Nanos::ZERO,
            next_bar: 0,
        }
    }

    /// Before the first event: bar 1 beat 1 falls here in stream time.
    pub fn place(&mut self, origin: Nanos) {
        self.origin = origin;
    }

    /// Judges an event of the stream and returns it as the file has it.
    pub fn hear(&mut self, event: TimedMessage) -> TimedMessage {
        let in_file = self
            .conductor
            .quantise(event.at - self.origin + self.start)
            .max(self.last);
        self.last = in_file;
        self.judge.push(TimedMessage {
            at: in_file - self.start,
            ..event
        });
        TimedMessage {
            at: in_file,
            ..event
        }
    }

    /// A glitch of the stream as the file has it.
    pub fn in_file(&self, glitch: Glitch) -> Glitch {
        glitch.map(|at| self.conductor.quantise(at - self.origin + self.start))
    }

    /// Judges as times were in doubt; the glitch is in file time.
    pub fn doubt(&mut self, glitch: Glitch) {
        self.judge.doubt(glitch.map(|at| at - self.start));
    }

    /// Says that the stream has come to `watermark`: nothing earlier will come.
    pub fn advance(&mut self, watermark: Nanos) {
        self.judge.advance(self.line_time(watermark) - ROUNDING);
    }

    /// Stream time to line time.
    pub fn line_time(&self, stream: Nanos) -> Nanos {
        stream - self.origin
    }

    /// Line time to file time.
    pub fn file_time(&self, line: Nanos) -> Nanos {
        (line + self.start).max(self.last)
    }

    /// The next bar that is over and has not been called yet.
    pub fn next_bar_over(&mut self, watermark: Nanos) -> Option<usize> {
        let bar = self.judge.expected().bars.get(self.next_bar)?;
        let over = self.line_time(watermark) >= bar.end + CALL_AFTER;
        over.then(|| {
            self.next_bar += 1;
            self.next_bar - 1
        })
    }

    /// The judge, to be asked.
    pub fn judge(&self) -> &Judge {
        &self.judge
    }

    /// Says that nothing more will come.
    pub fn finish(self) -> Judgement {
        self.judge.finish()
    }
}
