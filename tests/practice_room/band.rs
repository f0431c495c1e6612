//! Who plays, and who hears the click: two clients of the test's own JACK server.

use crate::support::jack_player::{Player, Stroke};
use crate::support::jack_recorder::Recorder;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The options that connect the program with the band.
pub const ON_JACK: &str = "--backend jack --midi room-bass --audio room-phones";
/// A quarter note at 240, in frames, and a bar of four.
pub const BEAT: u64 = 12_000;
pub const BAR: u64 = 4 * BEAT;
const FRAMES_A_MS: i64 = 48;

/// Two bars; the second begins with a rest.
pub const LINE: &str = "title = \"Two Bollards\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | r/4 A1/4 C2/4 E1/4\"\n";
/// Its notes: beats from bar 1, and keys.
pub const NOTES: [(u64, u8); 7] = [
    (0, 28),
    (1, 33),
    (2, 38),
    (3, 43),
    (5, 33),
    (6, 36),
    (7, 28),
];
/// How early or late they are struck, in ms: one entry is late.
pub const OFFSETS: [i64; 7] = [4, 12, -8, 5, 60, -20, 3];

/// See the module's head.
pub struct Band {
    pub phones: Recorder,
    /// Absent while it is unplugged.
    bass: Option<Player>,
    late: u64,
}

impl Band {
    fn start() -> Band {
        let mut band = Band {
            phones: Recorder::start("room-phones"),
            bass: None,
            late: 0,
        };
        band.plug_in();
        band
    }

    pub fn plug_in(&mut self) {
        self.bass = Some(Player::start("room-bass"));
    }

    pub fn unplug(&mut self) {
        let bass = self.bass.take().expect("a bass");
        self.late += bass.late();
    }

    pub fn bass(&mut self) -> &mut Player {
        self.bass.as_mut().expect("a bass")
    }

    /// Waits for the next click that is heard; its frame.
    #[track_caller]
    pub fn click(&mut self) -> u64 {
        self.phones.onsets().for_each(drop);
        let begun = Instant::now();
        loop {
            if let Some(onset) = self.phones.onsets().next() {
                return onset.frame;
            }
            assert!(begun.elapsed() < Duration::from_secs(20), "no click");
            sleep(Duration::from_millis(1));
        }
    }

    /// Waits for the first click of the count-in, one bar, and plays the notes this early or late, in ms. Returns the frame
    /// of bar 1.
    #[track_caller]
    pub fn play(&mut self, notes: &[(u64, u8)], offsets: &[i64]) -> u64 {
        let bar_1 = self.click() + BAR;
        self.play_at(bar_1, notes, offsets);
        bar_1
    }

    /// The same from this frame on.
    pub fn play_at(&mut self, bar_1: u64, notes: &[(u64, u8)], offsets: &[i64]) {
        self.bass().schedule(strokes(bar_1, notes, offsets));
    }

    /// Presses a control and lets it go, at once.
    pub fn tread(&mut self, control: u8) {
        let frame = self.bass().now() + BEAT / 10;
        let stroke = |frame, value| Stroke {
            frame,
            bytes: [0xB0, control, value],
        };
        self.bass()
            .schedule([stroke(frame, 127), stroke(frame + BEAT / 2, 0)]);
    }

    fn is_disturbed(&self) -> bool {
        let late = self.bass.as_ref().map_or(0, Player::late);
        self.phones.xruns() + self.late + late > 0
    }
}

fn strokes(bar_1: u64, notes: &[(u64, u8)], offsets: &[i64]) -> Vec<Stroke> {
    let stroke = |frame, bytes| Stroke { frame, bytes };
    let both = |(&(beat, key), &offset): (&(u64, u8), &i64)| {
        let frame = (bar_1 + beat * BEAT).saturating_add_signed(FRAMES_A_MS * offset);
        [
            stroke(frame, [0x90, key, 90]),
            stroke(frame + BEAT * 3 / 4, [0x80, key, 0]),
        ]
    };
    let mut strokes: Vec<Stroke> = notes.iter().zip(offsets).flat_map(both).collect();
    strokes.sort_by_key(|stroke| stroke.frame);
    strokes
}

/// Plays it until the server lost no block: one that did, because the machine is busy, proves nothing.
pub fn undisturbed(play: impl Fn(&mut Band)) {
    for _ in 0..5 {
        let mut band = Band::start();
        match catch_unwind(AssertUnwindSafe(|| play(&mut band))) {
            Ok(()) => return,
            Err(_) if band.is_disturbed() => eprintln!("disturbed: once more"),
            Err(why) => resume_unwind(why),
        }
    }
    panic!("the machine is too busy for a JACK server: five runs lost blocks");
}
