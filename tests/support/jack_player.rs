//! Plays MIDI at exact JACK frame times.

use jack::{AsyncClient, Client, ClientOptions, Control, MidiOut, Port, ProcessHandler};
use jack::{ProcessScope, RawMidi};
use ringbuf::traits::{Consumer, Observer, Producer, Split};
use ringbuf::{HeapCons, HeapProd, HeapRb};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

/// A message of three bytes and the JACK frame time at which it is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stroke {
    /// When.
    pub frame: u64,
    /// What.
    pub bytes: [u8; 3],
}

/// A JACK client with one MIDI output, `NAME:out`.
pub struct Player {
    client: AsyncClient<(), Fingers>,
    strokes: HeapProd<Stroke>,
    sent: HeapCons<(Stroke, Instant)>,
    late: Arc<AtomicU64>,
    stall_ms: Arc<AtomicU64>,
}

struct Fingers {
    output: Port<MidiOut>,
    strokes: HeapCons<Stroke>,
    sent: HeapProd<(Stroke, Instant)>,
    late: Arc<AtomicU64>,
    stall_ms: Arc<AtomicU64>,
}

impl Player {
    /// Starts a player that has nothing to play yet.
    pub fn start(name: &str) -> Player {
        let (client, _) = Client::new(name, ClientOptions::NO_START_SERVER).expect("a server");
        let output = client
            .register_port("out", MidiOut::default())
            .expect("a port");
        let (strokes, consumer) = HeapRb::new(16_384).split();
        let (producer, sent) = HeapRb::new(16_384).split();
        let late = Arc::new(AtomicU64::new(0));
        let fingers = Fingers {
            output,
            strokes: consumer,
            sent: producer,
            late: Arc::clone(&late),
            stall_ms: Arc::default(),
        };
        let stall_ms = Arc::clone(&fingers.stall_ms);
        let client = client.activate_async((), fingers).expect("a client");
        Player {
            client,
            strokes,
            sent,
            late,
            stall_ms,
        }
    }

    /// Makes the next block late by so many ms: the whole server waits for it, and loses blocks.
    pub fn stall(&self, ms: u64) {
        self.stall_ms.store(ms, Ordering::Release);
    }

    /// Adds to what is to be played, in order of frames. The ring holds 16 384 strokes.
    pub fn schedule(&mut self, strokes: impl IntoIterator<Item = Stroke>) {
        for stroke in strokes {
            self.strokes.try_push(stroke).expect("room in the ring");
        }
    }

    /// What was sent since the last call, and when by the system's clock: the others have it in the same block.
    pub fn sent(&mut self) -> impl Iterator<Item = (Stroke, Instant)> + '_ {
        self.sent.pop_iter()
    }

    /// Whether everything was played.
    pub fn is_finished(&self) -> bool {
        self.strokes.is_empty()
    }

    /// The server's frame time now, about.
    pub fn now(&self) -> u64 {
        u64::from(self.client.as_client().frame_time())
    }

    /// Strokes that were scheduled too late, or that the server lost a block for, and so were not sent at their frame.
    pub fn late(&self) -> u64 {
        self.late.load(Ordering::Relaxed)
    }
}

impl ProcessHandler for Fingers {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        match self.stall_ms.swap(0, Ordering::AcqRel) {
            0 => {}
            ms => std::thread::sleep(std::time::Duration::from_millis(ms)),
        }
        let first = u64::from(scope.last_frame_time());
        let end = first + u64::from(scope.n_frames());
        let mut writer = self.output.writer(scope);
        while let Some(stroke) = self.strokes.try_peek().copied().filter(|s| s.frame < end) {
            if stroke.frame < first {
                self.late.fetch_add(1, Ordering::Relaxed);
            }
            let message = RawMidi {
                time: stroke.frame.saturating_sub(first) as u32,
                bytes: &stroke.bytes,
            };
            if writer.write(&message).is_err() {
                break;
            }
            self.strokes.skip(1);
            // Full when nobody asks for it.
            let _ = self.sent.try_push((stroke, Instant::now()));
        }
        Control::Continue
    }
}
