//! The scribe: brings each take to the disk, on a thread of its own.
//!
//! A disk may take its time: a busy one for some hundred milliseconds, a network's for minutes. The clerk, who tells
//! what is to be shown, hands the scribe what is to be kept and goes on; all that it ever waits for is the end of a take
//! that is to be kept whole, and a scribe who is [`MOST_WAITING`] things behind.

use super::Said;
use crate::played::TimedMessage;
use crate::take::keeper::Keeper;
use crate::units::Nanos;
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded};
use std::io;
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// At most this much of a take is lost when the program is killed.
const FLUSH_EVERY: Duration = Duration::from_millis(100);
/// At 20 notes a second these are minutes of a stalled disk.
const MOST_WAITING: usize = 16_384;

/// What the scribe is told.
enum Order {
    /// A take is to be kept here.
    Begin(Vec<Box<dyn Keeper>>),
    /// An event of it, in file time.
    Event(TimedMessage),
    /// What is noticed on the way.
    Text(Text),
    /// The take is over; this is the last of it.
    Finish(Text),
}

/// A text of a take.
struct Text {
    /// In file time.
    at: Nanos,
    tag: &'static str,
    json: String,
}

/// The clerk's end of it.
pub struct Scribe {
    orders: Sender<Order>,
    finished: Receiver<Result<(), String>>,
    thread: Option<JoinHandle<()>>,
}

impl Scribe {
    /// Starts the thread. What goes wrong while a take is played is said to `say`.
    pub fn start(say: Sender<Said>) -> io::Result<Scribe> {
        let (orders, told) = bounded(MOST_WAITING);
        let (done, finished) = bounded(1);
        let thread = thread::Builder::new().name("scribe".into());
        Ok(Scribe {
            orders,
            finished,
            thread: Some(thread.spawn(move || work(&told, &done, &say))?),
        })
    }

    /// Keeps a take from here on.
    pub fn begin(&mut self, keepers: Vec<Box<dyn Keeper>>) {
        self.tell(Order::Begin(keepers));
    }

    /// Keeps an event.
    pub fn write(&mut self, event: TimedMessage) {
        self.tell(Order::Event(event));
    }

    /// Keeps a text, so that a take that is killed has it too.
    pub fn note(&mut self, at: Nanos, tag: &'static str, what: &impl serde::Serialize) {
        self.tell(Order::Text(Text::of(at, tag, what)));
    }

    /// Ends the take with a text and waits until the disk has all of it, or it is known why not.
    pub fn finish(
        &mut self,
        at: Nanos,
        tag: &'static str,
        what: &impl serde::Serialize,
    ) -> Result<(), String> {
        self.tell(Order::Finish(Text::of(at, tag, what)));
        match self.finished.recv() {
            Ok(kept) => kept,
            Err(_) => self.panic_as_it_did(),
        }
    }

    /// Waits for the thread's end.
    pub fn end(self) {
        let Scribe {
            orders, mut thread, ..
        } = self;
        drop(orders);
        join(&mut thread);
    }

    fn tell(&mut self, order: Order) {
        if self.orders.send(order).is_err() {
            self.panic_as_it_did();
        }
    }

    fn panic_as_it_did(&mut self) -> ! {
        join(&mut self.thread);
        unreachable!("it works as long as it may be told something")
    }
}

/// A panic of the thread, with its own message already printed, goes on here.
fn join(thread: &mut Option<JoinHandle<()>>) {
    if let Some(Err(panic)) = thread.take().map(JoinHandle::join) {
        std::panic::resume_unwind(panic);
    }
}

impl Text {
    fn of(at: Nanos, tag: &'static str, what: &impl serde::Serialize) -> Text {
        Text {
            at,
            tag,
            json: serde_json::to_string(what).unwrap_or_default(),
        }
    }
}

/// One place where the take is kept.
struct Kept {
    keeper: Box<dyn Keeper>,
    /// Whether the last attempt to write failed.
    is_in_trouble: bool,
}

/// Works until nobody tells it anything any more.
fn work(told: &Receiver<Order>, done: &Sender<Result<(), String>>, say: &Sender<Said>) {
    let mut kept: Vec<Kept> = Vec::new();
    let mut flush_at = Instant::now();
    loop {
        match told.recv_deadline(flush_at) {
            Ok(Order::Begin(keepers)) => kept = keepers.into_iter().map(Kept::new).collect(),
            Ok(Order::Event(event)) => kept.iter_mut().for_each(|one| one.keeper.push(event)),
            Ok(Order::Text(text)) => {
                for one in &mut kept {
                    // Only a text of 268 MB is refused.
                    let _ = one.keeper.push_text(text.at, text.tag, &text.json);
                }
            }
            // Each is asked for.
            Ok(Order::Finish(text)) => drop(done.send(finish(kept.drain(..), &text))),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        if Instant::now() >= flush_at {
            for error in kept.iter_mut().filter_map(Kept::flush) {
                // Nobody listens any more when the program is being ended; the file is still to be finished.
                let _ = say.send(Said::CannotWrite(error.to_string()));
            }
            // From its end on: what has come meanwhile goes to a slow disk together.
            flush_at = Instant::now() + FLUSH_EVERY;
        }
    }
}

fn finish(kept: impl Iterator<Item = Kept>, last: &Text) -> Result<(), String> {
    let finish = |mut keeper: Box<dyn Keeper>| {
        keeper.push_text(last.at, last.tag, &last.json)?;
        keeper.finish()
    };
    // Each is brought to its end, whatever becomes of the others.
    let failed: Vec<String> = kept
        .filter_map(|kept| finish(kept.keeper).err())
        .map(|error| error.to_string())
        .collect();
    if failed.is_empty() {
        Ok(())
    } else {
        Err(failed.join("; "))
    }
}

impl Kept {
    fn new(keeper: Box<dyn Keeper>) -> Kept {
        Kept {
            keeper,
            is_in_trouble: false,
        }
    }

    /// Brings it to the disk; what is new in going wrong is told.
    fn flush(&mut self) -> Option<io::Error> {
        let error = self.keeper.flush().err();
        let was_in_trouble = std::mem::replace(&mut self.is_in_trouble, error.is_some());
        error.filter(|_| !was_in_trouble)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::played::MidiMessage;
    use crate::take::{END_TAG, TakeEnd};
    use crate::units::Key;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// A disk that takes twice as long as there is between two flushes.
    #[derive(Clone, Default)]
    struct SlowDisk {
        flushes: Arc<AtomicUsize>,
        pushed: Arc<AtomicUsize>,
    }

    impl Keeper for SlowDisk {
        fn push(&mut self, _: TimedMessage) {
            self.pushed.fetch_add(1, Ordering::Relaxed);
        }

        fn push_text(&mut self, _: Nanos, _: &str, _: &str) -> io::Result<()> {
            Ok(())
        }

        fn flush(&mut self) -> io::Result<()> {
            self.flushes.fetch_add(1, Ordering::Relaxed);
            thread::sleep(2 * FLUSH_EVERY);
            Ok(())
        }

        fn finish(self: Box<Self>) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn what_comes_while_a_slow_disk_is_written_to_goes_there_together() {
        let (say, _said) = crossbeam_channel::unbounded();
        let mut scribe = Scribe::start(say).expect("a thread");
        let disk = SlowDisk::default();
        scribe.begin(vec![Box::new(disk.clone())]);
        for number in 0..100 {
            let message = MidiMessage::NoteOn {
                channel: 0,
                key: Key(28),
                velocity: 90,
            };
            let at = Nanos::from_ms(number);
            scribe.write(TimedMessage { at, message });
        }
        let end = TakeEnd::default();
        let kept = scribe.finish(Nanos::from_ms(100), END_TAG, &end);
        scribe.end();
        assert_eq!((kept, disk.pushed.load(Ordering::Relaxed)), (Ok(()), 100));
        let flushes = disk.flushes.load(Ordering::Relaxed);
        assert!(flushes < 50, "{flushes}");
    }
}
