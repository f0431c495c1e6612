//! Which note is the answer to which burst.

use super::Burst;
use crate::units::{Key, Nanos};

/// The beginning of a note, in stream time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoteOn {
    /// When.
    pub at: Nanos,
    /// Its pitch as it came.
    pub key: Key,
}

/// An answer may come so much before its burst, where a driver claims more delay than it has.
const EARLIEST: Nanos = Nanos::from_ms(-60);
/// An answer that comes later than this after its burst belongs nowhere. It may come after the next burst, and after
/// the one that follows: these are of another pitch class.
const LATEST: Nanos = Nanos::from_ms(500);

/// The delay of one burst's answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// The pitch that was played.
    pub key: Key,
    /// From the burst's onset to the note-on.
    pub delay: Nanos,
}

/// What came of one pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OfKey {
    /// The pitch that was played.
    pub key: Key,
    /// How often.
    pub bursts: usize,
    /// How often it was answered by its own pitch.
    pub answered: usize,
}

/// All bursts with what came back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers {
    /// The delays of the bursts that were answered by their own pitch, in order.
    pub right: Vec<Answer>,
    /// How many bursts were played.
    pub bursts: usize,
    /// Bursts without any answer.
    pub dropped: usize,
    /// Bursts whose first answer was in another octave than most: a converter that mistakes the octave has waited
    /// for other periods, so its delay says nothing.
    pub other_octave: usize,
    /// Further answers to bursts that had one.
    pub doubled: usize,
    /// Notes that belong to no burst.
    pub stray: usize,
    /// Octaves by which the port's notes lie above what sounds: 1 for one that sends written pitch.
    pub octave: i8,
    /// Each pitch, from the lowest.
    pub by_key: Vec<OfKey>,
}

/// What came first for a burst.
#[derive(Clone, Copy)]
struct First {
    delay: Nanos,
    octave: i8,
}

/// Pairs bursts with note-ons, both in order of time, of a stream that has come to `until`: bursts whose answers may
/// still be on their way do not count. A note belongs to the last burst of its pitch class that was
/// played in time for it; the first note of a burst is its answer.
pub fn pair(bursts: &[Burst], notes: &[NoteOn], until: Nanos) -> Answers {
    let over = bursts.partition_point(|burst| burst.at + LATEST < until);
    let mut answers = Answers {
        bursts: over,
        ..Answers::default()
    };
    let mut firsts: Vec<Option<First>> = vec![None; over];
    for note in notes {
        match burst_of(bursts, note) {
            None => answers.stray += 1,
            Some(index) if index >= over => {}
            Some(index) if firsts[index].is_some() => answers.doubled += 1,
            Some(index) => {
                firsts[index] = Some(First {
                    delay: note.at - bursts[index].at,
                    octave: octaves(bursts[index].key, note.key),
                });
            }
        }
    }
    answers.octave = usual_octave(&firsts);
    for (burst, first) in bursts.iter().zip(&firsts) {
        let is_right = answers.count(first, burst.key);
        answers.count_key(burst.key, is_right);
    }
    answers.by_key.sort_unstable_by_key(|of| of.key);
    answers
}

fn burst_of(bursts: &[Burst], note: &NoteOn) -> Option<usize> {
    let begun = bursts.partition_point(|burst| burst.at + EARLIEST <= note.at);
    let in_time = bursts[..begun]
        .iter()
        .enumerate()
        .rev()
        .take_while(|(_, burst)| note.at - burst.at <= LATEST);
    let mut of_class = in_time.filter(|(_, burst)| burst.key.0 % 12 == note.key.0 % 12);
    of_class.next().map(|(index, _)| index)
}

/// Octaves from a burst to a note of its class.
fn octaves(burst: Key, note: Key) -> i8 {
    ((i16::from(note.0) - i16::from(burst.0)) / 12) as i8
}

/// The most frequent; 0 of nothing.
fn usual_octave(firsts: &[Option<First>]) -> i8 {
    let count = |octave: i8| {
        let of_octave = |first: &&First| first.octave == octave;
        firsts.iter().flatten().filter(of_octave).count()
    };
    // The own octave wins where two are as frequent.
    [0, 1, -1, 2, -2, 3, 4, 5, 6, 7, 8]
        .into_iter()
        .rev()
        .max_by_key(|octave| count(*octave))
        .unwrap_or(0)
}

impl Answers {
    /// Counts one burst; whether its answer was right.
    fn count(&mut self, first: &Option<First>, key: Key) -> bool {
        match first {
            None => self.dropped += 1,
            Some(first) if first.octave != self.octave => self.other_octave += 1,
            Some(First { delay, .. }) => {
                self.right.push(Answer { key, delay: *delay });
                return true;
            }
        }
        false
    }

    fn count_key(&mut self, key: Key, is_right: bool) {
        let known = self.by_key.iter().position(|of| of.key == key);
        let index = known.unwrap_or_else(|| {
            let (bursts, answered) = (0, 0);
            self.by_key.push(OfKey {
                key,
                bursts,
                answered,
            });
            self.by_key.len() - 1
        });
        self.by_key[index].bursts += 1;
        self.by_key[index].answered += usize::from(is_right);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn burst(ms: i64, key: u8) -> Burst {
        Burst {
            at: Nanos::from_ms(ms),
            key: Key(key),
        }
    }

    fn note(ms: i64, key: u8) -> NoteOn {
        NoteOn {
            at: Nanos::from_ms(ms),
            key: Key(key),
        }
    }

    const BURSTS: [(i64, u8); 4] = [(1000, 28), (1300, 33), (1600, 38), (1900, 40)];

    const LATER: Nanos = Nanos::from_ms(60_000);

    fn bursts() -> Vec<Burst> {
        BURSTS.map(|(ms, key)| burst(ms, key)).to_vec()
    }

    #[test]
    fn each_burst_has_its_answer() {
        let notes = [
            note(1040, 28),
            note(1330, 33),
            note(1620, 38),
            note(1915, 40),
        ];
        let answers = pair(&bursts(), &notes, LATER);
        let delays: Vec<i64> = answers
            .right
            .iter()
            .map(|a| a.delay.0 / 1_000_000)
            .collect();
        assert_eq!(delays, [40, 30, 20, 15]);
        assert_eq!((answers.dropped, answers.stray, answers.doubled), (0, 0, 0));
    }

    #[test]
    fn an_answer_may_come_after_the_next_burst() {
        let answers = pair(&bursts(), &[note(1310, 28), note(1650, 33)], LATER);
        let delays: Vec<i64> = answers
            .right
            .iter()
            .map(|a| a.delay.0 / 1_000_000)
            .collect();
        assert_eq!(
            (delays.as_slice(), answers.dropped),
            ([310, 350].as_slice(), 2)
        );
    }

    #[test]
    fn octave_errors_doubled_and_stray_notes_are_set_apart() {
        let notes = [
            note(1020, 40), // an octave up for the first E
            note(1050, 28), // and the right one after it
            note(1330, 33),
            note(1360, 33),
            note(1620, 38),
            note(1700, 45), // an A, half a second after the last one of its class
            note(1850, 45),
        ];
        let answers = pair(&bursts(), &notes, LATER);
        let keys: Vec<u8> = answers.right.iter().map(|answer| answer.key.0).collect();
        assert_eq!(keys, [33, 38]);
        assert_eq!((answers.other_octave, answers.dropped), (1, 1));
        assert_eq!((answers.doubled, answers.stray), (3, 1));
    }

    #[test]
    fn a_port_that_sends_written_pitch_is_in_another_octave_throughout() {
        let notes = [note(1040, 40), note(1330, 45), note(1620, 50)];
        let answers = pair(&bursts(), &notes, LATER);
        assert_eq!((answers.octave, answers.right.len()), (1, 3));
        assert_eq!(pair(&bursts(), &[], LATER).octave, 0);
    }

    #[test]
    fn a_burst_whose_answer_may_still_come_does_not_count() {
        let notes = [note(1040, 28), note(1330, 33), note(1620, 38)];
        let answers = pair(&bursts(), &notes, Nanos::from_ms(1801));
        assert_eq!((answers.bursts, answers.right.len()), (2, 2));
        assert_eq!((answers.dropped, answers.stray), (0, 0));
    }
}
