//! Traces of two clocks: what the callbacks of a machine would have said, and when each event really happened.
//!
//! A trace file has one step a line, numbers in nanoseconds, host times from one origin:
//!
//! ```text
//! rate 48000                       frames a second, nominal
//! block FRAME FRAMES HEARD CALLED  a block of sound: its first frame, its length, when it was said to be heard, when called
//! event STAMP ARRIVAL TRUTH        an event: its stamp, its arrival, and the stream time at which it really happened
//! xrun                             the driver tells that sound was lost
//! reconnect                        the port is connected anew
//! reset                            from here on the clocks have 2 s to settle
//! ```
#![allow(dead_code)] // each test file uses a part of it

pub mod machine;

use leadsman::units::Nanos;

/// One step of a trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    Block {
        frame: u64,
        frames: u32,
        heard: Nanos,
        called: Nanos,
    },
    Event {
        stamp: Nanos,
        arrival: Nanos,
        truth: Nanos,
    },
    Xrun,
    Reconnect,
    Reset,
}

/// A trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    pub rate: u32,
    pub steps: Vec<Step>,
}

impl Trace {
    pub fn parse(text: &str) -> Trace {
        let mut trace = Trace {
            rate: 0,
            steps: Vec::new(),
        };
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            let words: Vec<&str> = line.split_whitespace().collect();
            let number = |index: usize| words[index].parse::<i64>().expect("a number");
            let ns = |index: usize| Nanos(number(index));
            match words[0] {
                "rate" => trace.rate = number(1) as u32,
                "block" => trace.steps.push(Step::Block {
                    frame: number(1) as u64,
                    frames: number(2) as u32,
                    heard: ns(3),
                    called: ns(4),
                }),
                "event" => trace.steps.push(Step::Event {
                    stamp: ns(1),
                    arrival: ns(2),
                    truth: ns(3),
                }),
                "xrun" => trace.steps.push(Step::Xrun),
                "reconnect" => trace.steps.push(Step::Reconnect),
                "reset" => trace.steps.push(Step::Reset),
                other => panic!("no step {other}"),
            }
        }
        trace
    }

    pub fn print(&self) -> String {
        let mut text = format!("rate {}\n", self.rate);
        for step in &self.steps {
            text += &match *step {
                Step::Block {
                    frame,
                    frames,
                    heard,
                    called,
                } => format!("block {frame} {frames} {} {}\n", heard.0, called.0),
                Step::Event {
                    stamp,
                    arrival,
                    truth,
                } => format!("event {} {} {}\n", stamp.0, arrival.0, truth.0),
                Step::Xrun => "xrun\n".into(),
                Step::Reconnect => "reconnect\n".into(),
                Step::Reset => "reset\n".into(),
            };
        }
        text
    }
}

/// Something that gives events a stream time.
pub trait Model {
    fn block(&mut self, frame: u64, frames: u32, heard: Nanos);
    fn event(&mut self, stamp: Nanos, arrival: Nanos) -> Nanos;
    fn xrun(&mut self);
    fn reconnect(&mut self);
}

/// Time to settle.
const SETTLING: Nanos = Nanos::from_ms(2000);

/// How far a model's times are from the truth, in ms with their sign, after settling.
pub fn errors_ms(trace: &Trace, model: &mut dyn Model) -> Vec<f64> {
    let mut errors = Vec::new();
    let mut settled_at = SETTLING;
    let mut last = Nanos::ZERO;
    for step in &trace.steps {
        match *step {
            Step::Block {
                frame,
                frames,
                heard,
                ..
            } => model.block(frame, frames, heard),
            Step::Event {
                stamp,
                arrival,
                truth,
            } => {
                let error = model.event(stamp, arrival) - truth;
                last = truth;
                if truth >= settled_at {
                    errors.push(error.ms());
                }
            }
            Step::Xrun => model.xrun(),
            Step::Reconnect => model.reconnect(),
            Step::Reset => settled_at = last + SETTLING,
        }
    }
    errors
}

/// Median and 99th percentile of the sizes.
pub fn median_and_p99(errors: &[f64]) -> (f64, f64) {
    let mut sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    (sizes[sizes.len() / 2], sizes[sizes.len() * 99 / 100])
}
