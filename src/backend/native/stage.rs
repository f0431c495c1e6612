//! Keeps the sound going: opens the audio stream, and opens it anew when its device has gone or has changed.
//!
//! A stream belongs to the thread that opened it and is never dropped in its own callback, so a thread of its own has it
//! from first to last. What the callback needs (the voice) is lent to a stream and comes back when that is dropped.

use crossbeam_channel::{Receiver, Sender, bounded};
use std::ops::{Deref, DerefMut};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How often the thread looks whether the stream is lost.
const LOOK_EVERY: Duration = Duration::from_millis(20);
/// How often a lost stream is tried to be opened.
const TRY_EVERY: Duration = Duration::from_millis(250);
/// How long it is tried: a system takes seconds to change to another device.
const PATIENCE: Duration = Duration::from_secs(10);
/// A stream that is dropped gives the voice back at once.
const RETURN: Duration = Duration::from_secs(2);

/// Where a stream can be opened.
pub trait Outputs: Send + 'static {
    /// What the callback needs.
    type Voice: Send;
    /// An open stream; closed by being dropped.
    type Stream;

    /// Whether there are wishes that can be dropped.
    fn has_wishes(&self) -> bool;

    /// Opens a stream that plays, or says why it cannot; then `voice` has been dropped.
    fn open(&mut self, voice: Lent<Self::Voice>, wishes: Wishes) -> Result<Self::Stream, String>;

    /// Brings a voice that was silent for a while to where it would be now.
    fn catch_up(&mut self, voice: &mut Self::Voice);
}

/// What becomes of what is wished for of a stream, and not needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wishes {
    /// The stream is as they say, or is not opened.
    Kept,
    /// The stream is as the device prefers.
    Dropped,
}

/// What a stream's callbacks and the stage tell each other.
#[derive(Debug, Default)]
pub struct StageState {
    is_broken: AtomicBool,
    is_reopening: AtomicBool,
    is_lost: AtomicBool,
    stop: AtomicBool,
}

impl StageState {
    /// The stream's device has gone or has changed. Real-time safe.
    pub fn break_off(&self) {
        self.is_broken.store(true, Ordering::Release);
    }

    /// Whether the present stream has broken off.
    pub fn is_broken(&self) -> bool {
        self.is_broken.load(Ordering::Acquire)
    }

    /// Whether the stream is being opened anew, or is about to be.
    pub fn is_reopening(&self) -> bool {
        self.is_broken() || self.is_reopening.load(Ordering::Acquire)
    }

    /// Whether it could not be opened anew.
    pub fn is_lost(&self) -> bool {
        self.is_lost.load(Ordering::Acquire)
    }
}

/// A voice that a stream has. When the stream drops it, its owner has it again.
pub struct Lent<V> {
    voice: Option<V>,
    back: Sender<V>,
}

impl<V> Deref for Lent<V> {
    type Target = Option<V>;

    fn deref(&self) -> &Option<V> {
        &self.voice
    }
}

impl<V> DerefMut for Lent<V> {
    fn deref_mut(&mut self) -> &mut Option<V> {
        &mut self.voice
    }
}

impl<V> Drop for Lent<V> {
    fn drop(&mut self) {
        if let Some(voice) = self.voice.take() {
            // The owner has room for its one voice, or has gone.
            let _ = self.back.try_send(voice);
        }
    }
}

/// A stream that is kept open until this is dropped.
pub struct Stage {
    state: Arc<StageState>,
    thread: Option<JoinHandle<()>>,
}

struct Keeper<O: Outputs> {
    outputs: O,
    state: Arc<StageState>,
    back: Sender<O::Voice>,
    returned: Receiver<O::Voice>,
    patience: Duration,
}

impl Stage {
    /// Opens the stream and waits until it plays.
    pub fn open<O: Outputs>(
        outputs: O,
        voice: O::Voice,
        state: Arc<StageState>,
    ) -> Result<Stage, String>
    where
        O::Voice: 'static,
    {
        Stage::open_with(PATIENCE, outputs, voice, state)
    }

    fn open_with<O: Outputs>(
        patience: Duration,
        outputs: O,
        voice: O::Voice,
        state: Arc<StageState>,
    ) -> Result<Stage, String>
    where
        O::Voice: 'static,
    {
        let (back, returned) = bounded(1);
        let mut keeper = Keeper {
            outputs,
            state: Arc::clone(&state),
            back,
            returned,
            patience,
        };
        let (opened, is_open) = bounded(1);
        let keep = move || {
            let stream = keeper.open(voice);
            let (stream, outcome) = match stream {
                Ok(stream) => (Some(stream), Ok(())),
                Err(why) => (None, Err(why)),
            };
            let _ = opened.send(outcome);
            if let Some(stream) = stream {
                keeper.keep(stream);
            }
        };
        let thread = thread::Builder::new()
            .name("leadsman-sound".into())
            .spawn(keep)
            .map_err(|error| error.to_string())?;
        let stage = Stage {
            state,
            thread: Some(thread),
        };
        is_open
            .recv()
            .unwrap_or_else(|_| Err("its thread ended".into()))?;
        Ok(stage)
    }
}

impl<O: Outputs> Keeper<O> {
    /// With what is wished for, or else without: a device that refuses that is better than none.
    fn open(&mut self, voice: O::Voice) -> Result<O::Stream, String> {
        if !self.outputs.has_wishes() {
            return self.open_with(voice, Wishes::Dropped);
        }
        self.open_with(voice, Wishes::Kept).or_else(|why| {
            let voice = self.returned.recv_timeout(RETURN).map_err(|_| why)?;
            // What broke that stream has no say about the next.
            self.state.is_broken.store(false, Ordering::Release);
            self.open_with(voice, Wishes::Dropped)
        })
    }

    fn open_with(&mut self, voice: O::Voice, wishes: Wishes) -> Result<O::Stream, String> {
        let lent = Lent {
            voice: Some(voice),
            back: self.back.clone(),
        };
        self.outputs.open(lent, wishes)
    }

    /// Until a stop, or until the stream is lost for good.
    fn keep(&mut self, stream: O::Stream) {
        let mut stream = Some(stream);
        while !self.stops() {
            thread::park_timeout(LOOK_EVERY);
            if !self.state.is_broken.swap(false, Ordering::AcqRel) {
                continue;
            }
            self.state.is_reopening.store(true, Ordering::Release);
            drop(stream.take());
            stream = self.reopen();
            if stream.is_none() {
                self.state.is_lost.store(true, Ordering::Release);
                return;
            }
            self.state.is_reopening.store(false, Ordering::Release);
        }
    }

    fn reopen(&mut self) -> Option<O::Stream> {
        let begun = Instant::now();
        loop {
            let mut voice = self.returned.recv_timeout(RETURN).ok()?;
            self.outputs.catch_up(&mut voice);
            // What broke the last stream has no say about the next.
            self.state.is_broken.store(false, Ordering::Release);
            if let Ok(stream) = self.open(voice) {
                return Some(stream);
            }
            if self.stops() || begun.elapsed() >= self.patience {
                return None;
            }
            thread::park_timeout(TRY_EVERY.min(self.patience));
        }
    }

    fn stops(&self) -> bool {
        self.state.stop.load(Ordering::Acquire)
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        self.state.stop.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicU32;

    /// Outputs that refuse the openings of these numbers.
    #[derive(Clone, Default)]
    struct Room {
        refuses: Vec<u32>,
        has_wishes: bool,
        openings: Arc<AtomicU32>,
        open: Arc<AtomicU32>,
    }

    struct Playing {
        _voice: Lent<Vec<&'static str>>,
        open: Arc<AtomicU32>,
    }

    impl Drop for Playing {
        fn drop(&mut self) {
            self.open.fetch_sub(1, Ordering::AcqRel);
        }
    }

    impl Outputs for Room {
        type Voice = Vec<&'static str>;
        type Stream = Playing;

        fn has_wishes(&self) -> bool {
            self.has_wishes
        }

        fn open(
            &mut self,
            mut voice: Lent<Vec<&'static str>>,
            wishes: Wishes,
        ) -> Result<Playing, String> {
            if wishes == Wishes::Kept {
                return Err("no wish is granted".into());
            }
            let number = self.openings.fetch_add(1, Ordering::AcqRel);
            if self.refuses.contains(&number)
                || self.refuses.first() == Some(&u32::MAX) && number > 0
            {
                return Err(format!("opening {number} is refused"));
            }
            assert_eq!(self.open.fetch_add(1, Ordering::AcqRel), 0, "one at a time");
            voice.as_mut().expect("a voice").push("opened");
            Ok(Playing {
                _voice: voice,
                open: Arc::clone(&self.open),
            })
        }

        fn catch_up(&mut self, voice: &mut Vec<&'static str>) {
            voice.push("caught up");
            assert_eq!(voice[0], "opened");
        }
    }

    fn wait_until(is_so: impl Fn() -> bool) {
        let begun = Instant::now();
        while !is_so() {
            assert!(begun.elapsed() < Duration::from_secs(20), "it never comes");
            thread::yield_now();
        }
    }

    #[test]
    fn a_broken_stream_is_opened_anew_as_often_as_it_breaks() {
        let room = Room::default();
        let state = Arc::new(StageState::default());
        let stage = Stage::open(room.clone(), Vec::new(), Arc::clone(&state)).unwrap();
        for opening in 2..6 {
            state.break_off();
            wait_until(|| {
                room.openings.load(Ordering::Acquire) == opening && !state.is_reopening()
            });
            assert_eq!(room.open.load(Ordering::Acquire), 1);
        }
        drop(stage);
        assert_eq!(room.open.load(Ordering::Acquire), 0);
        assert!(!state.is_lost());
    }

    #[test]
    fn an_output_that_cannot_be_opened_yet_is_tried_again_with_the_same_voice() {
        let room = Room {
            refuses: vec![1, 2],
            ..Room::default()
        };
        let state = Arc::new(StageState::default());
        let stage = Stage::open(room.clone(), Vec::new(), Arc::clone(&state)).unwrap();
        state.break_off();
        wait_until(|| room.openings.load(Ordering::Acquire) == 4 && !state.is_reopening());
        drop(stage);
    }

    #[test]
    fn an_output_that_stays_away_is_lost() {
        let room = Room {
            refuses: vec![u32::MAX],
            ..Room::default()
        };
        let state = Arc::new(StageState::default());
        let patience = Duration::from_millis(10);
        let stage = Stage::open_with(patience, room.clone(), Vec::new(), Arc::clone(&state));
        let stage = stage.unwrap();
        state.break_off();
        wait_until(|| state.is_lost());
        drop(stage);
    }

    #[test]
    fn an_output_that_never_opens_says_why() {
        for has_wishes in [false, true] {
            let room = Room {
                refuses: vec![0],
                has_wishes,
                ..Room::default()
            };
            let opened = Stage::open(room, Vec::new(), Arc::default());
            assert_eq!(opened.err().as_deref(), Some("opening 0 is refused"));
        }
    }

    #[test]
    fn an_output_that_refuses_what_is_wished_for_is_opened_without_each_time() {
        let room = Room {
            has_wishes: true,
            refuses: vec![2],
            ..Room::default()
        };
        let state = Arc::new(StageState::default());
        let stage = Stage::open(room.clone(), Vec::new(), Arc::clone(&state)).unwrap();
        assert_eq!(room.openings.load(Ordering::Acquire), 1);
        state.break_off();
        wait_until(|| room.openings.load(Ordering::Acquire) == 2 && !state.is_reopening());
        // Refused as it is, too, and tried again.
        state.break_off();
        wait_until(|| room.openings.load(Ordering::Acquire) == 4 && !state.is_reopening());
        assert_eq!(room.open.load(Ordering::Acquire), 1);
        drop(stage);
    }
}
