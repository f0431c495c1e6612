//! One sound after the other in one stream: the audio callback takes a prepared one in over a ring and gives the last one
//! back over another, so that nothing is made or dropped in it. What it plays goes through the session's [`Fader`] and
//! then through the limit, in this order: how loud it is does not change how it sounds.

use super::fader::{Fader, Follower};
use crate::backend::ring::{RingReceiver, RingSender, ring};
use crate::click::{Level, Render, Silence, Stereo};
use crate::tone::limit;
use std::sync::Arc;

/// Sounds on their way, one way or the other.
const RING: usize = 8;
/// What is cut off falls to nothing within this many frames, or within its block where that is shorter.
const FADE: usize = 256;

/// A sound on its way to the audio callback. It is prepared.
pub struct Coming {
    /// What is to sound.
    pub render: Box<dyn Render>,
    /// Where it begins.
    pub at: At,
    /// Tells it from others when it has begun.
    pub number: u64,
}

impl Coming {
    /// One that begins as soon as it gets there, and is not asked after.
    pub fn of(render: Box<dyn Render>) -> Coming {
        Coming {
            render,
            at: At::NextBlock,
            number: 0,
        }
    }
}

/// Where a sound begins in the stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// As soon as it gets there: the next block's first frame is its frame 0.
    NextBlock,
    /// This frame of the stream is its frame 0. What of it has gone by is left out.
    Frame(i64),
}

/// A sound that has begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Begun {
    /// Which.
    pub number: u64,
    /// Its frame 0 in the stream.
    pub frame: i64,
}

/// The audio callback's end: what a room's session plays. Silent until the first sound comes.
pub struct Switch {
    coming: RingReceiver<Coming>,
    used: RingSender<Box<dyn Render>>,
    begun: RingSender<Begun>,
    now: Box<dyn Render>,
    /// Frame 0 of what sounds now.
    first: i64,
    /// What begins with the next block.
    next: Option<Coming>,
    loudness: Follower,
}

/// The room's end.
pub struct Sound {
    pub(super) coming: RingSender<Coming>,
    pub(super) begun: RingReceiver<Begun>,
    pub(super) used: RingReceiver<Box<dyn Render>>,
    pub(super) fader: Arc<Fader>,
}

impl Sound {
    /// How loud all of it is.
    pub fn fader(&self) -> &Arc<Fader> {
        &self.fader
    }
}

/// The two ends. The session is opened with the first, the room with the second. What is played is laid out with the click
/// at [`Level::CAP`], and heard with the click at `level` until the fader is moved.
pub fn switch(level: Level) -> (Switch, Sound) {
    let fader = Arc::new(Fader::new(level));
    let (to_callback, coming) = ring(RING);
    let (used, from_callback) = ring(RING);
    let (begun, has_begun) = ring(RING);
    let switch = Switch {
        coming,
        used,
        begun,
        now: Box::new(Silence),
        first: 0,
        next: None,
        loudness: Follower::new(Arc::clone(&fader)),
    };
    let sound = Sound {
        coming: to_callback,
        begun: has_begun,
        used: from_callback,
        fader,
    };
    (switch, sound)
}

impl Switch {
    /// What came during the last block begins.
    fn change(&mut self, first_frame: u64) {
        let Some(next) = self.next.take() else {
            return;
        };
        self.first = match next.at {
            At::NextBlock => first_frame as i64,
            At::Frame(frame) => frame,
        };
        // There was room when it was taken in, and a room that does not listen any more has no use for it.
        let _ = self
            .used
            .send(std::mem::replace(&mut self.now, next.render));
        let _ = self.begun.send(Begun {
            number: next.number,
            frame: self.first,
        });
    }

    fn play(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        let into = first_frame as i64 - self.first;
        let before = usize::try_from(-into).unwrap_or(0).min(out.frames());
        if before > 0 {
            out.lend().silence();
        }
        if before < out.frames() {
            self.now
                .render(into.max(0).unsigned_abs(), out.after(before));
        }
    }
}

impl Render for Switch {
    /// What comes is prepared before it is sent.
    fn prepare(&mut self, sample_rate: u32) {
        self.loudness.prepare(sample_rate);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.change(first_frame);
        self.play(first_frame, out.lend());
        if self.used.has_room() {
            self.next = self.coming.receive();
        }
        if self.next.is_some() {
            fade_out(out.lend());
        }
        self.loudness.follow(out.lend());
        limit(out);
    }
}

fn fade_out(mut out: Stereo<'_>) {
    let frames = out.frames().min(FADE);
    for frame in 0..frames {
        let left = 1.0 - frame as f32 / frames as f32;
        out.left[frame] *= left;
        out.right[frame] *= left;
    }
    out.lend().after(frames).silence();
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::thread::{self, ThreadId};

    /// So many of them are a sample of 1: powers of two change nothing but the exponent, and the limit nothing below 0.7.
    const WHOLE: f32 = 1024.0;

    /// Every sample is the number of its frame, and one, in parts of [`WHOLE`]. Knows the thread that it is to be dropped on.
    struct Count {
        home: ThreadId,
        dropped: Arc<AtomicUsize>,
    }

    impl Render for Count {
        fn prepare(&mut self, _sample_rate: u32) {}

        fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
            out.fill_both(|both| {
                for (frame, sample) in (first_frame + 1..).zip(both) {
                    *sample = frame as f32 / WHOLE;
                }
            });
        }
    }

    impl Drop for Count {
        fn drop(&mut self) {
            assert_eq!(thread::current().id(), self.home);
            self.dropped.fetch_add(1, Ordering::Relaxed);
        }
    }

    fn coming(number: u64, at: At, dropped: &Arc<AtomicUsize>) -> Coming {
        let render = Box::new(Count {
            home: thread::current().id(),
            dropped: Arc::clone(dropped),
        });
        Coming { render, at, number }
    }

    fn block(switch: &mut Switch, first_frame: u64) -> Vec<f32> {
        let (mut left, mut right) = (vec![f32::NAN; 4], vec![f32::NAN; 4]);
        switch.render(first_frame, Stereo::new(&mut left, &mut right));
        assert_eq!(left, right);
        left.iter().map(|sample| sample * WHOLE).collect()
    }

    #[test]
    fn a_sound_begins_with_the_block_after_the_one_that_took_it_in_and_says_where() {
        let (mut switch, mut sound) = switch(Level::CAP);
        assert_eq!(block(&mut switch, 0), [0.0; 4]);
        let dropped = Arc::default();
        assert!(
            sound
                .coming
                .send(coming(7, At::NextBlock, &dropped))
                .is_ok()
        );
        assert_eq!(block(&mut switch, 4), [0.0; 4]);
        assert_eq!(sound.begun.receive(), None);
        // Two frames were lost.
        assert_eq!(block(&mut switch, 10), [1.0, 2.0, 3.0, 4.0]);
        let begun = Begun {
            number: 7,
            frame: 10,
        };
        assert_eq!(sound.begun.receive(), Some(begun));
        assert_eq!(block(&mut switch, 14), [5.0, 6.0, 7.0, 8.0]);
    }

    #[test]
    fn a_sound_with_a_place_is_there_whenever_it_comes() {
        let (mut switch, mut sound) = switch(Level::CAP);
        let dropped = Arc::default();
        block(&mut switch, 0);
        // Its beginning has gone by.
        assert!(sound.coming.send(coming(1, At::Frame(2), &dropped)).is_ok());
        block(&mut switch, 4);
        assert_eq!(block(&mut switch, 8), [7.0, 8.0, 9.0, 10.0]);
        // It begins in the middle of a block.
        assert!(
            sound
                .coming
                .send(coming(2, At::Frame(18), &dropped))
                .is_ok()
        );
        // What sounds falls to nothing meanwhile.
        assert_eq!(block(&mut switch, 12), [11.0, 9.0, 6.5, 3.5]);
        assert_eq!(block(&mut switch, 16), [0.0, 0.0, 1.0, 2.0]);
        let frames = std::iter::from_fn(|| sound.begun.receive()).map(|begun| begun.frame);
        assert_eq!(frames.collect::<Vec<_>>(), [2, 18]);
    }

    #[test]
    fn all_that_is_played_is_at_the_faders_level_and_a_fade_goes_on_into_the_next_sound() {
        // −20 dB from the cap.
        let (mut switch, mut sound) = switch(Level::dbfs(-26.0));
        // A change takes four frames.
        switch.prepare(400);
        let dropped = Arc::default();
        let mut begin = |number| {
            let sent = sound.coming.send(coming(number, At::NextBlock, &dropped));
            assert!(sent.is_ok());
        };
        begin(1);
        block(&mut switch, 0);
        let quiet = [1.0f32, 2.0, 3.0, 4.0].map(|sample| sample / WHOLE * 0.1 * WHOLE);
        assert_eq!(block(&mut switch, 4), quiet);
        begin(2);
        sound.fader.set(Level::CAP);
        let near = |block: Vec<f32>, expected: [f32; 4]| {
            let is_near = |(a, b): (&f32, f32)| (a - b).abs() < 1e-5;
            assert!(block.iter().zip(expected).all(is_near), "{block:?}");
        };
        // The first one falls to nothing, while all gets louder.
        let [a, b, c, d] = [
            5.0 * 0.325,
            6.0 * 0.75 * 0.55,
            7.0 * 0.5 * 0.775,
            8.0 * 0.25,
        ];
        near(block(&mut switch, 8), [a, b, c, d]);
        assert_eq!(block(&mut switch, 12), [1.0, 2.0, 3.0, 4.0]);
        sound.fader.set(Level::dbfs(-26.0));
        let [a, b, c, d] = [5.0 * 0.775, 6.0 * 0.55, 7.0 * 0.325, 8.0 * 0.1];
        near(block(&mut switch, 16), [a, b, c, d]);
        near(block(&mut switch, 20), [0.9, 1.0, 1.1, 1.2]);
    }

    #[test]
    fn the_limit_comes_after_the_fader_so_that_what_is_soft_is_not_bent() {
        let loudest = |level: Level| {
            let (mut switch, mut sound) = switch(level);
            let dropped = Arc::default();
            // Frame 1023 of it, and on: 1.0 and more.
            let sent = sound.coming.send(coming(1, At::Frame(0), &dropped));
            assert!(sent.is_ok());
            block(&mut switch, 0);
            block(&mut switch, 1023)
        };
        let soft = loudest(Level::dbfs(-26.0));
        assert_eq!(soft[0], WHOLE * 0.1);
        let loud = loudest(Level::CAP);
        assert!(loud[0] > 0.9 * WHOLE && loud.iter().all(|sample| *sample < WHOLE));
    }

    #[test]
    fn the_callback_neither_allocates_nor_drops_whatever_comes() {
        let (mut switch, mut sound) = switch(Level::CAP);
        let dropped = Arc::default();
        let mut number = 0;
        for _ in 0..50 {
            // More than the ring takes; nobody takes the used ones back.
            while sound
                .coming
                .send(coming(number, At::NextBlock, &dropped))
                .is_ok()
            {
                number += 1;
            }
            let before = dropped.load(Ordering::Relaxed);
            let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
            assert_no_alloc::assert_no_alloc(|| {
                for n in 0..40 {
                    sound.fader.set(Level::dbfs(-(n as f64)));
                    switch.render(64 * n, Stereo::new(&mut left, &mut right));
                }
            });
            assert_eq!(dropped.load(Ordering::Relaxed), before);
            while sound.used.receive().is_some() {}
            while sound.begun.receive().is_some() {}
        }
        assert!(number > 100 && dropped.load(Ordering::Relaxed) > 100);
    }
}
