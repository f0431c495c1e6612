//! What has been told of notes while they are played: each reading at once, and again whenever it has become another.

use crate::judge::{Judge, Reading};
use crate::played::{PlayedNote, TimedMessage};
use crate::units::Nanos;

/// Notes whose readings are watched, from the latest on back. What is older is told with its bar.
const WATCHED: usize = 64;
/// A reading that was told at once and is not borne out is taken back after this: cleaning holds a note for half a
/// second at most.
const HELD: Nanos = Nanos::from_ms(700);
/// Readings are looked at again this often; they change when notes end, and when cleaning has let go of them.
const LOOK_EVERY: Nanos = Nanos::from_ms(8);

/// See the module's head. It allocates only when it is made.
#[derive(Clone, Debug)]
pub struct Told {
    /// The last reading told of each note, by its number modulo [`WATCHED`].
    shown: Vec<Option<Shown>>,
    /// The first note whose reading was not final at the last look.
    from: usize,
    /// The first note after all that were told of.
    to: usize,
    /// The note that was struck last.
    struck: Option<PlayedNote>,
    next_look: Nanos,
}

#[derive(Clone, Copy, Debug)]
struct Shown {
    reading: Reading,
    /// When it was struck, in line time, latency taken out.
    onset: Nanos,
}

impl Default for Told {
    fn default() -> Told {
        Told {
            shown: vec![None; WATCHED],
            from: 0,
            to: 0,
            struck: None,
            next_look: Nanos(i64::MIN),
        }
    }
}

impl Told {
    /// The note that an event, which the judge has just taken, has struck, and what it is taken for; `None` when it has
    /// struck none, or none that is new.
    pub fn strike(
        &mut self,
        judge: &Judge,
        event: TimedMessage,
    ) -> Option<(PlayedNote, Option<Reading>)> {
        judge.struck(event)?;
        let (played, reading) = judge.latest_reading()?;
        let is_same = |before: &PlayedNote| {
            (before.key, before.onset, before.channel) == (played.key, played.onset, played.channel)
        };
        if self.struck.as_ref().is_some_and(is_same) {
            return None;
        }
        self.struck = Some(played);
        // What ended in the same moment is told with the rest.
        self.next_look = Nanos(i64::MIN);
        if let Some(reading) = reading {
            self.keep(reading, played.onset);
        }
        Some((played, reading))
    }

    /// Tells the readings that have become others by `now`, in line time.
    pub fn look(&mut self, judge: &Judge, now: Nanos, tell: &mut dyn FnMut(Reading)) {
        if now < self.next_look {
            return;
        }
        self.next_look = now + LOOK_EVERY;
        self.to = self.to.max(judge.furthest().map_or(0, |note| note + 1));
        let from = self.from.max(self.to.saturating_sub(WATCHED));
        for note in from..self.to {
            if let Some((reading, onset)) = self.changed(judge, note, now, from) {
                self.keep(reading, onset);
                tell(reading);
            }
        }
        self.from = judge.settled().max(from);
    }

    /// The reading of a note, and when it was struck, if that is not what was told last.
    fn changed(
        &self,
        judge: &Judge,
        note: usize,
        now: Nanos,
        from: usize,
    ) -> Option<(Reading, Nanos)> {
        let reading = judge.reading(note);
        let shown = self.shown[note % WATCHED].filter(|s| s.reading.note == reading.note);
        let onset = match (&reading.partner, shown) {
            (Some(partner), _) => judge.expected().notes[note].onset + partner.offset,
            (None, Some(shown)) if self.is_refuted(&shown, judge, now, from) => shown.onset,
            (None, _) => return None,
        };
        let is_news = shown.is_none_or(|shown| shown.reading != reading);
        is_news.then_some((reading, onset))
    }

    /// Whether what a note was taken for is known to have been another, or nothing.
    fn is_refuted(&self, shown: &Shown, judge: &Judge, now: Nanos, from: usize) -> bool {
        let is_elsewhere = |note: usize| {
            let partner = judge.reading(note).partner;
            partner.is_some_and(|p| judge.expected().notes[note].onset + p.offset == shown.onset)
        };
        shown.reading.partner.is_some()
            && (now > shown.onset + HELD || (from..self.to).any(is_elsewhere))
    }

    fn keep(&mut self, reading: Reading, onset: Nanos) {
        self.to = self.to.max(reading.note as usize + 1);
        self.shown[reading.note as usize % WATCHED] = Some(Shown { reading, onset });
    }
}
