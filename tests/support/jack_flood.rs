//! A hundred thousand MIDI messages a second, most of them damaged, into somebody's port.

use jack::{AsyncClient, Client, ClientOptions, Control, MidiOut, Port, ProcessHandler};
use jack::{ProcessScope, RawMidi};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

const A_SECOND: u64 = 100_000;

/// None of these is a note: system exclusive without an end, bytes without a status, messages cut short, data bytes that
/// are none, active sensing, clock, reset; and sound controllers and bends, which are kept but make no notes.
const MESSAGES: [&[u8]; 14] = [
    &[0xF0, 1, 2, 3],
    &[0xFE],
    &[0x42, 0x17],
    &[0x90],
    &[0x90, 40],
    &[0x90, 0xC8, 0xFF],
    &[0xF8],
    &[0xE5, 0, 64],
    &[0xFF],
    &[0xB5, 1, 99],
    &[0xF7],
    &[0xF0],
    &[0xD5, 12],
    &[0xF4, 0x90, 40],
];

/// A JACK client that floods.
pub struct Flood {
    client: AsyncClient<(), Pump>,
    sent: Arc<AtomicU64>,
}

struct Pump {
    output: Port<MidiOut>,
    owed: u64,
    next: usize,
    sent: Arc<AtomicU64>,
}

impl Flood {
    /// Starts flooding the port with this full name.
    pub fn start(name: &str, into: &str) -> Flood {
        let (client, _) = Client::new(name, ClientOptions::NO_START_SERVER).expect("a server");
        let output = client
            .register_port("out", MidiOut::default())
            .expect("a port");
        let own = output.name().expect("a name");
        let sent = Arc::new(AtomicU64::new(0));
        let pump = Pump {
            output,
            owed: 0,
            next: 0,
            sent: Arc::clone(&sent),
        };
        let client = client.activate_async((), pump).expect("a client");
        client
            .as_client()
            .connect_ports_by_name(&own, into)
            .expect("a connection");
        Flood { client, sent }
    }

    /// How many messages the server took.
    pub fn sent(&self) -> u64 {
        self.sent.load(Ordering::Relaxed)
    }
}

impl ProcessHandler for Pump {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let frames = u64::from(scope.n_frames());
        self.owed += frames * A_SECOND;
        let rate = client.sample_rate() as u64;
        let (count, rest) = (self.owed / rate, self.owed % rate);
        self.owed = rest;
        let mut writer = self.output.writer(scope);
        for index in 0..count {
            let message = RawMidi {
                time: (index * frames / count) as u32,
                bytes: MESSAGES[self.next % MESSAGES.len()],
            };
            self.next += 1;
            let taken = writer.write(&message).is_ok();
            self.sent.fetch_add(u64::from(taken), Ordering::Relaxed);
        }
        Control::Continue
    }
}
