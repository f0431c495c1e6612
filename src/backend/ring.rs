//! The ring between a callback and the judging thread: bounded, one producer, one consumer, no waiting.

use ringbuf::traits::{Consumer, Observer, Producer, Split};
use ringbuf::{HeapCons, HeapProd, HeapRb};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Events that fit between two polls: more than a second of a saturated MIDI cable (31.25 kBd, 0.64 ms a message).
pub const EVENTS: usize = 4096;

/// The callback's end.
///
/// It belongs to a callback that its session owns, so it is dropped by the thread that closes the session and never
/// inside the callback.
pub struct RingSender<T> {
    producer: HeapProd<T>,
    overflows: Arc<AtomicU64>,
}

/// The judging thread's end.
pub struct RingReceiver<T> {
    consumer: HeapCons<T>,
    overflows: Arc<AtomicU64>,
}

/// A ring for `capacity` items.
pub fn ring<T>(capacity: usize) -> (RingSender<T>, RingReceiver<T>) {
    let (producer, consumer) = HeapRb::new(capacity).split();
    let overflows = Arc::new(AtomicU64::new(0));
    let sender = RingSender {
        producer,
        overflows: Arc::clone(&overflows),
    };
    (
        sender,
        RingReceiver {
            consumer,
            overflows,
        },
    )
}

impl<T> RingSender<T> {
    /// Puts an item in, or counts it as lost and hands it back when the ring is full. Real-time safe.
    pub fn send(&mut self, item: T) -> Result<(), T> {
        self.producer.try_push(item).inspect_err(|_| {
            self.overflows.fetch_add(1, Ordering::Relaxed);
        })
    }

    /// Whether the next item finds room.
    pub fn has_room(&self) -> bool {
        !self.producer.is_full()
    }

    /// Whether nobody will ever receive what is sent.
    pub fn is_abandoned(&self) -> bool {
        !self.producer.read_is_held()
    }
}

impl<T> RingReceiver<T> {
    /// The next item, if there is one. Real-time safe.
    pub fn receive(&mut self) -> Option<T> {
        self.consumer.try_pop()
    }

    /// Whether nothing will ever be sent any more.
    pub fn is_abandoned(&self) -> bool {
        !self.consumer.write_is_held()
    }

    /// Items lost so far.
    pub fn overflows(&self) -> u64 {
        self.overflows.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_ring_counts_what_is_lost_and_keeps_what_it_has() {
        let (mut sender, mut receiver) = ring(2);
        assert_eq!(sender.send(1), Ok(()));
        assert_eq!(sender.send(2), Ok(()));
        assert_eq!(sender.send(3), Err(3));
        assert_eq!(receiver.overflows(), 1);
        assert_eq!(receiver.receive(), Some(1));
        assert_eq!(sender.send(4), Ok(()));
        assert_eq!(receiver.receive(), Some(2));
        assert_eq!(receiver.receive(), Some(4));
        assert_eq!(receiver.receive(), None);
        assert!(!sender.is_abandoned() && sender.has_room());
        drop(receiver);
        assert!(sender.is_abandoned());
        let (sender, receiver) = ring::<u8>(2);
        assert!(!receiver.is_abandoned());
        drop(sender);
        assert!(receiver.is_abandoned());
    }
}
