//! Records when a click begins, in JACK frame times.

use jack::{
    AsyncClient, AudioIn, Client, ClientOptions, Control, LatencyType, NotificationHandler, Port,
    ProcessHandler, ProcessScope,
};
use ringbuf::traits::{Consumer, Producer, Split};
use ringbuf::{HeapCons, HeapProd, HeapRb};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// This many samples of exact silence end a click; a tone crosses zero, but never stays there.
const SILENCE: u32 = 32;

/// A click as it was recorded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// The JACK frame time of its first sample that is not zero.
    pub frame: u64,
    /// That sample.
    pub level: f32,
}

/// A JACK client with one audio input, `NAME:in`.
pub struct Recorder {
    client: AsyncClient<Xruns, Ear>,
    onsets: HeapCons<Onset>,
    xruns: Arc<AtomicU64>,
}

struct Ear {
    input: Port<AudioIn>,
    onsets: HeapProd<Onset>,
    silent_for: u32,
}

struct Xruns(Arc<AtomicU64>);

impl Recorder {
    /// Starts recording.
    pub fn start(name: &str) -> Recorder {
        let (client, _) = Client::new(name, ClientOptions::NO_START_SERVER).expect("a server");
        let input = client
            .register_port("in", AudioIn::default())
            .expect("a port");
        let (producer, onsets) = HeapRb::new(16_384).split();
        let ear = Ear {
            input,
            onsets: producer,
            silent_for: SILENCE,
        };
        let xruns = Arc::new(AtomicU64::new(0));
        let client = client
            .activate_async(Xruns(Arc::clone(&xruns)), ear)
            .expect("a client");
        Recorder {
            client,
            onsets,
            xruns,
        }
    }

    /// The clicks that began since the last call.
    pub fn onsets(&mut self) -> impl Iterator<Item = Onset> + '_ {
        self.onsets.pop_iter()
    }

    /// Listens to an audio output as well.
    pub fn listen_to(&self, source: &str) {
        let client = self.client.as_client();
        let own = format!("{}:in", client.name());
        client
            .connect_ports_by_name(source, &own)
            .expect("a connection");
    }

    /// From writing to the port's client to the ear, in frames.
    pub fn playback_latency(&self, port: &str) -> u32 {
        let port = self.client.as_client().port_by_name(port);
        port.expect("a port")
            .get_latency_range(LatencyType::Playback)
            .1
    }

    /// Blocks that the server lost, so that what was recorded proves nothing.
    pub fn xruns(&self) -> u64 {
        self.xruns.load(Ordering::Relaxed)
    }
}

impl ProcessHandler for Ear {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let first = u64::from(scope.last_frame_time());
        for (frame, &level) in (first..).zip(self.input.as_slice(scope)) {
            if level == 0.0 {
                self.silent_for = self.silent_for.saturating_add(1);
                continue;
            }
            if self.silent_for >= SILENCE {
                // A full ring shows as a missing click in the test.
                let _ = self.onsets.try_push(Onset { frame, level });
            }
            self.silent_for = 0;
        }
        Control::Continue
    }
}

impl NotificationHandler for Xruns {
    fn xrun(&mut self, _: &Client) -> Control {
        self.0.fetch_add(1, Ordering::Relaxed);
        Control::Continue
    }
}
