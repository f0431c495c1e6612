//! One sound after the other in one stream: the audio callback takes a prepared one in over a ring and gives the last one
//! back over another, so that nothing is made or dropped in it.

use crate::backend::ring::{RingReceiver, RingSender, ring};
use crate::click::{Render, Silence, Stereo};

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
}

/// The room's end.
pub struct Sound {
    pub(super) coming: RingSender<Coming>,
    pub(super) begun: RingReceiver<Begun>,
    pub(super) used: RingReceiver<Box<dyn Render>>,
}

/// The two ends. The session is opened with the first, the room with the second.
pub fn switch() -> (Switch, Sound) {
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
    };
    let sound = Sound {
        coming: to_callback,
        begun: has_begun,
        used: from_callback,
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
    fn prepare(&mut self, _sample_rate: u32) {}

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.change(first_frame);
        self.play(first_frame, out.lend());
        if self.used.has_room() {
            self.next = self.coming.receive();
        }
        if self.next.is_some() {
            fade_out(out);
        }
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

    /// Every sample is the number of its frame, and one. Knows the thread that it is to be dropped on.
    struct Count {
        home: ThreadId,
        dropped: Arc<AtomicUsize>,
    }

    impl Render for Count {
        fn prepare(&mut self, _sample_rate: u32) {}

        fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
            out.fill_both(|both| {
                for (frame, sample) in (first_frame + 1..).zip(both) {
                    *sample = frame as f32;
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
        left
    }

    #[test]
    fn a_sound_begins_with_the_block_after_the_one_that_took_it_in_and_says_where() {
        let (mut switch, mut sound) = switch();
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
        let (mut switch, mut sound) = switch();
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
    fn the_callback_neither_allocates_nor_drops_whatever_comes() {
        let (mut switch, mut sound) = switch();
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
