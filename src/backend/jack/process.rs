//! JACK's callbacks: the process callback on the real-time thread, and the notifications beside it.

use crate::backend::Render;
use crate::backend::intake::Intake;
use crate::backend::ring::RingSender;
use crate::click::Stereo;
use jack::{
    AudioOut, Client, ClientStatus, Control, LatencyType, MidiIn, NotificationHandler, Port,
    PortId, ProcessHandler, ProcessScope,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering};

/// What the callbacks tell the judging thread besides events.
#[derive(Debug)]
pub struct Shared {
    started: AtomicBool,
    shut_down: AtomicBool,
    ports_left: AtomicBool,
    xruns: AtomicU64,
    heard: AtomicI64,
    playback: AtomicU32,
    period: AtomicU32,
}

const NOT_YET: i64 = i64::MIN;

impl Default for Shared {
    fn default() -> Shared {
        Shared {
            started: AtomicBool::new(false),
            shut_down: AtomicBool::new(false),
            ports_left: AtomicBool::new(false),
            xruns: AtomicU64::new(0),
            heard: AtomicI64::new(NOT_YET),
            playback: AtomicU32::new(0),
            period: AtomicU32::new(0),
        }
    }
}

impl Shared {
    /// Everything is connected: the next block is the stream's first.
    pub fn start(&self) {
        self.started.store(true, Ordering::Release);
    }

    /// The stream frame before which no event can come any more, once a block has run.
    pub fn heard(&self) -> Option<i64> {
        Some(self.heard.load(Ordering::Acquire)).filter(|frame| *frame != NOT_YET)
    }

    /// Frames from us to the ear, as of the last block.
    pub fn playback(&self) -> u32 {
        self.playback.load(Ordering::Relaxed)
    }

    /// Frames of the last block; 0 before the first.
    pub fn period(&self) -> u32 {
        self.period.load(Ordering::Relaxed)
    }

    /// Whether the server has let go of us.
    pub fn is_shut_down(&self) -> bool {
        self.shut_down.load(Ordering::Acquire)
    }

    /// Whether a port has left the graph since the last call.
    pub fn take_ports_left(&self) -> bool {
        self.ports_left.swap(false, Ordering::AcqRel)
    }

    /// Blocks that came too late.
    pub fn xruns(&self) -> u64 {
        self.xruns.load(Ordering::Relaxed)
    }
}

/// What the two audio ports carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ears {
    /// An ear each.
    Two,
    /// The mean on the left port, which is the only one connected: there is but one sink.
    One,
}

/// The audio ports, and what they carry.
pub struct Outputs {
    /// The left ear's.
    pub left: Port<AudioOut>,
    /// The right ear's.
    pub right: Port<AudioOut>,
    /// What they carry.
    pub ears: Ears,
}

/// The process callback's state.
pub struct Process {
    outputs: Outputs,
    notes: Port<MidiIn>,
    cycle: Cycle,
}

/// What the process callback does, its ports aside.
struct Cycle {
    ears: Ears,
    render: Box<dyn Render>,
    intake: Intake<i64>,
    shared: Arc<Shared>,
    position: Option<Position>,
    gaps: RingSender<Gap>,
}

/// Stream frames, as they are heard, that no callback ran for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The first one.
    pub from: i64,
    /// The first one of the block after the one that came next: what came in meanwhile is shown in that block.
    pub until: i64,
}

/// When a block is.
#[derive(Clone, Copy, Debug)]
struct Moment {
    /// The server's count at its first frame.
    jack: u32,
    /// Frames from the player's device to us, and from us to the ear.
    latency: i64,
}

/// Where the stream is: a JACK frame time and the stream frame that it is.
#[derive(Clone, Copy, Debug)]
struct Position {
    jack: u32,
    stream: u64,
    /// How many frames the stream leaves out before this block.
    left_out: u64,
}

impl Position {
    /// The position of the block that starts at a JACK frame time. JACK's count wraps after 2³² frames and leaves
    /// frames out after an xrun; it does not go back.
    fn next(self, jack: u32, period: u32) -> Position {
        let step = jack.wrapping_sub(self.jack);
        let goes_back = step > u32::MAX / 2;
        let step = u64::from(if goes_back { period } else { step });
        Position {
            jack,
            stream: self.stream + step,
            left_out: step.saturating_sub(u64::from(period)),
        }
    }
}

impl Process {
    /// A process that plays silence and takes nothing until [`Shared::start`].
    pub fn new(
        outputs: Outputs,
        notes: Port<MidiIn>,
        render: Box<dyn Render>,
        intake: Intake<i64>,
        shared: Arc<Shared>,
        gaps: RingSender<Gap>,
    ) -> Process {
        Process {
            notes,
            cycle: Cycle {
                ears: outputs.ears,
                render,
                intake,
                shared,
                position: None,
                gaps,
            },
            outputs,
        }
    }
}

impl Cycle {
    /// One block: the events that came in, each with its place in it, and the sound that goes out. Real-time safe.
    fn run<'a>(
        &mut self,
        moment: Moment,
        events: impl Iterator<Item = (u32, &'a [u8])>,
        mut out: Stereo<'_>,
    ) {
        if !self.shared.started.load(Ordering::Acquire) {
            out.silence();
            return;
        }
        let frames = out.frames() as u32;
        self.shared.period.store(frames, Ordering::Relaxed);
        let position = self.advance(moment.jack, frames);
        let block = position.stream as i64 - moment.latency;
        for (at, bytes) in events {
            self.intake.receive(block + i64::from(at), bytes);
        }
        self.render.render(position.stream, out.lend());
        if self.ears == Ears::One {
            out.mean_into_left();
        }
        let end = block + i64::from(frames);
        if position.left_out > 0 {
            // A full ring: the judging thread has not looked for seconds, and the take has worse troubles.
            let _ = self.gaps.send(Gap {
                from: block - position.left_out as i64,
                until: end,
            });
        }
        self.shared.heard.store(end, Ordering::Release);
    }

    fn advance(&mut self, jack: u32, frames: u32) -> Position {
        let position = match self.position {
            Some(position) => position.next(jack, frames),
            None => Position {
                jack,
                stream: 0,
                left_out: 0,
            },
        };
        self.position = Some(position);
        position
    }
}

impl ProcessHandler for Process {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        // As the graph stands now; a reading costs no lock.
        let (_, capture) = self.notes.get_latency_range(LatencyType::Capture);
        let (_, playback) = self.outputs.left.get_latency_range(LatencyType::Playback);
        let shared = &self.cycle.shared;
        shared.playback.store(playback, Ordering::Relaxed);
        let moment = Moment {
            jack: scope.last_frame_time(),
            latency: i64::from(capture) + i64::from(playback),
        };
        let events = self
            .notes
            .iter(scope)
            .map(|event| (event.time, event.bytes));
        let Outputs { left, right, .. } = &mut self.outputs;
        let out = Stereo::new(left.as_mut_slice(scope), right.as_mut_slice(scope));
        self.cycle.run(moment, events, out);
        Control::Continue
    }
}

/// The notifications' state.
#[derive(Debug)]
pub struct Watch {
    shared: Arc<Shared>,
}

impl Watch {
    /// Watches for `shared`.
    pub fn new(shared: Arc<Shared>) -> Watch {
        Watch { shared }
    }
}

impl NotificationHandler for Watch {
    #[expect(
        unsafe_code,
        reason = "the trait declares it so: it runs like a signal handler, and storing a flag is safe there"
    )]
    unsafe fn shutdown(&mut self, _: ClientStatus, _reason: &str) {
        self.shared.shut_down.store(true, Ordering::Release);
    }

    fn port_registration(&mut self, _: &Client, _: PortId, is_registered: bool) {
        if !is_registered {
            self.shared.ports_left.store(true, Ordering::Release);
        }
    }

    fn xrun(&mut self, _: &Client) -> Control {
        self.shared.xruns.fetch_add(1, Ordering::Relaxed);
        Control::Continue
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_goes_on_when_the_count_of_the_server_wraps() {
        let start = Position {
            jack: u32::MAX - 63,
            stream: 1000,
            left_out: 0,
        };
        let next = start.next(0, 64);
        assert_eq!((next.jack, next.stream, next.left_out), (0, 1064, 0));
    }

    #[test]
    fn frames_that_an_xrun_leaves_out_are_left_out() {
        let start = Position {
            jack: 0,
            stream: 0,
            left_out: 0,
        };
        let next = start.next(256, 64);
        assert_eq!((next.stream, next.left_out), (256, 192));
    }

    /// A second at 64 frames, notes and garbage in every block, more of them than the ring holds.
    #[test]
    fn the_process_callback_does_not_allocate() {
        let (intake, mut events) = Intake::new();
        let (gaps, mut gaps_seen) = crate::backend::ring::ring(8);
        let shared = Arc::new(Shared::default());
        let mut cycle = Cycle {
            ears: Ears::One,
            render: Box::new(crate::click::Silence),
            intake,
            shared: Arc::clone(&shared),
            position: None,
            gaps,
        };
        let messages: [(u32, &[u8]); 8] = [
            (0, &[0x90, 40, 100]),
            (1, &[0xF0, 1, 2]),
            (2, &[0xFE]),
            (3, &[]),
            (9, &[0x80, 40, 0]),
            (9, &[0x90, 200]),
            (10, &[0xE0, 0, 64]),
            (63, &[0xB0, 123, 0]),
        ];
        let (mut left, mut right) = ([1.0; 64], [1.0; 64]);
        let mut heard = 0;
        assert_no_alloc::assert_no_alloc(|| {
            let mut run = |block: u32| {
                let moment = Moment {
                    jack: (u32::MAX - 1000).wrapping_add(64 * block),
                    latency: 320,
                };
                let out = Stereo::new(&mut left, &mut right);
                cycle.run(moment, messages.into_iter(), out);
            };
            run(0);
            shared.start();
            (1..=1500).for_each(&mut run);
            // Two blocks are left out.
            run(1503);
            while let Some(event) = events.receive() {
                let expected = heard / 4 * 64 + [0, 9, 10, 63][heard as usize % 4] - 320;
                assert_eq!(event.stamp, expected);
                heard += 1;
            }
        });
        assert_eq!(shared.heard(), Some(1503 * 64 - 320));
        assert_eq!(shared.period(), 64);
        assert_eq!(events.overflows() + heard as u64, 4 * 1501);
        let gap = Gap {
            from: 1500 * 64 - 320,
            until: 1503 * 64 - 320,
        };
        assert_eq!(gaps_seen.receive(), Some(gap));
        assert!(events.overflows() > 0);
        assert_eq!((left, right), ([0.0; 64], [0.0; 64]));
    }

    #[test]
    fn the_stream_never_goes_back() {
        let start = Position {
            jack: 1000,
            stream: 500,
            left_out: 0,
        };
        assert_eq!(start.next(900, 64).stream, 564);
    }
}
