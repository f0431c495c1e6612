//! The judge: events in, readings out, as they are played.
//!
//! Live and offline are the same code: `play` pushes events as they come, `check` pushes those of a file, and equal
//! events give equal readings, to the bit, however they were chunked.

use super::capture::WIDEST;
use super::cost;
use super::matcher::{Arrival, Matcher};
use super::reading::{self, Partner, Reading, Timing};
use super::rows::Row;
use super::settings::{LatencyTable, Settings};
use super::tree::Pair;
use crate::clock::glitch::{Glitch, GlitchKind};
use crate::expected::Expected;
use crate::played::cleanup::{Cleaned, Cleanup};
use crate::played::pairing::{NoteEvent, Pairing};
use crate::played::{MidiMessage, PlayedNote, TimedMessage};
use crate::units::{Key, Nanos};
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

/// No partner.
const NOBODY: u32 = u32::MAX;
/// How many following notes are searched for the one that a note might ring into.
const RING_REACH: usize = 64;
/// Glitches kept apart; from there on they are joined, so that a take of nothing else costs no memory.
const MOST_GLITCHES: usize = 256;

/// See the module's head.
pub struct Judge {
    expected: Arc<Expected>,
    settings: Settings,
    latency: LatencyTable,
    cleanup: Cleanup,
    pairing: Pairing,
    matcher: Matcher,
    /// Everything played so far, latency taken out, by number.
    played: Vec<PlayedNote>,
    /// Notes whose turn has not come: one with less latency may still overtake them.
    waiting: BinaryHeap<Reverse<(Nanos, u32)>>,
    /// For each expected note its final partner.
    partners: Vec<Match>,
    /// Index of the last expected note with a final partner.
    last_settled: Option<u32>,
    /// How many readings, from the first, are final.
    settled: usize,
    finished: bool,
    /// In which times are in doubt; in line time as the port stamped events.
    glitches: Vec<Glitch>,
}

#[derive(Clone, Copy)]
struct Match {
    played: u32,
    row: Row,
}

/// All readings of a take.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// One for each expected note, in order.
    pub readings: Vec<Reading>,
    /// What was played, in order of arrival, latency taken out.
    pub played: Vec<PlayedNote>,
    /// Numbers of the played notes that belong nowhere, in order.
    pub extra: Vec<u32>,
    /// Where times were in doubt, since bar 1 beat 1, latency left in.
    pub glitches: Vec<Glitch>,
    /// What was cleaned up before judging, by time, latency taken out.
    pub cleaned: Vec<Cleaned>,
}

impl Judge {
    /// A judge before the first event.
    pub fn new(expected: Arc<Expected>, settings: &Settings) -> Judge {
        let lowest = expected
            .notes
            .iter()
            .filter_map(|note| note.key)
            .min()
            .unwrap_or(Key(28));
        Judge {
            latency: LatencyTable::new(settings.latency, lowest),
            cleanup: Cleanup::for_notes(settings.cleanup, expected.notes.len()),
            pairing: Pairing::new(),
            matcher: Matcher::new(Arc::clone(&expected)),
            played: Vec::with_capacity(expected.notes.len() + expected.notes.len() / 2 + 1024),
            waiting: BinaryHeap::with_capacity(1024),
            partners: vec![
                Match {
                    played: NOBODY,
                    row: 0
                };
                expected.notes.len()
            ],
            last_settled: None,
            settled: 0,
            finished: false,
            glitches: Vec::with_capacity(MOST_GLITCHES),
            settings: *settings,
            expected,
        }
    }

    /// What is being judged against.
    pub fn expected(&self) -> &Arc<Expected> {
        &self.expected
    }

    /// Takes the next event; times are since bar 1 beat 1 as the port stamped them, and never fall.
    pub fn push(&mut self, event: TimedMessage) {
        let Some(event) = self.settings.intake.admit(event) else {
            return;
        };
        self.clean(|cleanup, sink| cleanup.push(event, sink));
        let horizon = self.cleanup.horizon(event.at);
        self.match_until(horizon - self.latency.longest());
        self.move_settled();
    }

    /// Says that times were in doubt; the glitch is in the time of the events. What was played in it stays matched and
    /// is unjudged in timing. A glitch that is noticed late may do that to a reading that was final before.
    pub fn doubt(&mut self, glitch: Glitch) {
        let is_full = self.glitches.len() == MOST_GLITCHES;
        match self.glitches.last_mut() {
            Some(last) if is_full => *last = last.joined(glitch),
            _ => self.glitches.push(glitch),
        }
    }

    /// Says that no event before `now` will come any more.
    pub fn advance(&mut self, now: Nanos) {
        self.clean(|cleanup, sink| cleanup.advance(now, sink));
        let now = self.cleanup.horizon(now) - self.latency.longest();
        self.match_until(now);
        let Judge {
            matcher,
            partners,
            last_settled,
            ..
        } = self;
        matcher.advance(now, &mut |pair| settle(partners, last_settled, pair));
        self.move_settled();
    }

    /// Says that the take is over.
    pub fn finish(mut self) -> Judgement {
        self.clean(|cleanup, sink| cleanup.finish(sink));
        self.match_until(Nanos::MAX);
        let Judge {
            matcher,
            partners,
            last_settled,
            ..
        } = &mut self;
        matcher.finish(&mut |pair| settle(partners, last_settled, pair));
        self.finished = true;
        let readings = (0..self.partners.len())
            .map(|note| self.reading(note))
            .collect();
        let extra = extras(&self.partners, self.played.len());
        let mut cleaned: Vec<Cleaned> = self.cleanup.cleaned().to_vec();
        for one in &mut cleaned {
            one.at -= self.latency.of(one.into.unwrap_or(one.key));
        }
        cleaned.sort_by_key(|one| one.at);
        Judgement {
            readings,
            played: self.played,
            extra,
            glitches: self.glitches,
            cleaned,
        }
    }

    /// How many readings, from the first, are final: no later event can change them. A note that still sounds is not,
    /// because its length is not known.
    pub fn settled(&self) -> usize {
        self.settled
    }

    /// The reading of one note as things stand.
    pub fn reading(&self, note: usize) -> Reading {
        let partner = self
            .partner(note)
            .map(|matched| self.compare(note, matched));
        Reading {
            note: note as u32,
            is_unheard: partner.is_none() && self.may_be_lost(note),
            partner,
        }
    }

    /// Whether a note that was played in its place would have fallen into a glitch.
    fn may_be_lost(&self, note: usize) -> bool {
        let note = &self.expected.notes[note];
        let at = note.onset + note.key.map_or(Nanos::ZERO, |key| self.latency.of(key));
        let mut hiding = self
            .glitches
            .iter()
            .filter(|glitch| glitch.what != GlitchKind::Moved);
        hiding.any(|glitch| glitch.has(at))
    }

    fn is_doubtful(&self, played: &PlayedNote) -> bool {
        let at = played.onset + self.latency.of(played.key);
        self.glitches.iter().any(|glitch| glitch.has(at))
    }

    /// The note most recently heard and, as things stand, the expected note it was played for. It is told at once: of a
    /// note that is still held back for cleaning, the place is the nearest of its key.
    pub fn latest(&self) -> Option<(PlayedNote, Option<usize>)> {
        if let Some(mut note) = self.cleanup.latest() {
            note.onset -= self.latency.of(note.key);
            return Some((note, self.nearest(&note)));
        }
        let number = self.played.len().checked_sub(1)?;
        let pair = self
            .matcher
            .undecided()
            .find(|pair| pair.played as usize == number)
            .map(|pair| pair.note as usize);
        let settled = self
            .last_settled
            .filter(|note| self.partners[*note as usize].played as usize == number);
        Some((
            self.played[number],
            pair.or(settled.map(|note| note as usize)),
        ))
    }

    /// The same as a reading, when the note has a place: what the screen shows at once. That of a note still held back for
    /// cleaning has the number that it would get now.
    pub fn latest_reading(&self) -> Option<(PlayedNote, Option<Reading>)> {
        let (played, place) = self.latest()?;
        let reading = place.map(|note| {
            let reading = self.reading(note);
            let is_it =
                |partner: &Partner| self.played[partner.played as usize].onset == played.onset;
            if reading.partner.as_ref().is_some_and(is_it) {
                return reading;
            }
            let number = self.played.len() as u32;
            let matched = Match {
                played: number,
                row: 0,
            };
            Reading {
                note: note as u32,
                is_unheard: false,
                partner: Some(self.compare_with(note, matched, &played)),
            }
        });
        Some((played, reading))
    }

    /// The last note of the line that has a partner, as things stand.
    pub fn furthest(&self) -> Option<usize> {
        let undecided = self.matcher.undecided().map(|pair| pair.note);
        let furthest = undecided.chain(self.last_settled).max();
        furthest.map(|note| note as usize)
    }

    /// When an event struck a note of the player's, latency taken out; in the time of the events.
    pub fn struck(&self, event: TimedMessage) -> Option<Nanos> {
        match self.settings.intake.admit(event)?.message {
            MidiMessage::NoteOn { key, .. } => Some(event.at - self.latency.of(key)),
            _ => None,
        }
    }

    /// The nearest expected note of this key within the capture window that nothing was played for yet.
    fn nearest(&self, played: &PlayedNote) -> Option<usize> {
        let notes = &self.expected.notes;
        let from = notes.partition_point(|note| note.onset < played.onset - WIDEST);
        let near = (from..notes.len())
            .take_while(|note| notes[*note].onset <= played.onset + WIDEST)
            .filter(|note| notes[*note].key == Some(played.key));
        near.filter(|note| self.partners[*note].played == NOBODY)
            .min_by_key(|note| (notes[*note].onset - played.onset).abs())
    }

    /// Has the clean-up stage do something, and takes in what it hands on.
    fn clean(&mut self, what: impl FnOnce(&mut Cleanup, &mut dyn FnMut(TimedMessage))) {
        let Judge {
            cleanup,
            pairing,
            played,
            waiting,
            latency,
            ..
        } = self;
        what(cleanup, &mut |event| {
            pairing.push(event, |change| match change {
                NoteEvent::Started { id, mut note } => {
                    note.onset -= latency.of(note.key);
                    debug_assert_eq!(id.0 as usize, played.len());
                    played.push(note);
                    waiting.push(Reverse((note.onset, id.0)));
                }
                NoteEvent::Ended { id, length, .. } => played[id.0 as usize].length = Some(length),
            });
        });
    }

    fn match_until(&mut self, now: Nanos) {
        let Judge {
            waiting,
            matcher,
            partners,
            last_settled,
            played,
            ..
        } = self;
        while let Some(Reverse((at, number))) = waiting
            .peek()
            .copied()
            .filter(|Reverse((at, _))| *at <= now)
        {
            waiting.pop();
            let arrival = Arrival {
                played: number,
                key: played[number as usize].key,
                at,
            };
            matcher.push(arrival, &mut |pair| settle(partners, last_settled, pair));
        }
    }

    fn move_settled(&mut self) {
        let matched = self.matches_settled();
        let sounds = |note: usize| {
            let played = self.partners[note].played;
            played != NOBODY && self.played[played as usize].length.is_none()
        };
        while self.settled < matched && !sounds(self.settled) {
            self.settled += 1;
        }
    }

    /// How many notes, from the first, have their final partner and the next one's, into which they may ring.
    fn matches_settled(&self) -> usize {
        let Some(last) = self.last_settled else {
            return 0;
        };
        let group = self.expected.notes[last as usize].group;
        let before = (0..=last as usize)
            .rev()
            .take_while(|note| self.expected.notes[*note].group == group)
            .count();
        last as usize + 1 - before
    }

    fn partner(&self, note: usize) -> Option<Match> {
        let settled = self.partners[note];
        if settled.played != NOBODY {
            return Some(settled);
        }
        if self.finished {
            return None;
        }
        let pair = self
            .matcher
            .undecided()
            .find(|pair| pair.note as usize == note)?;
        Some(Match {
            played: pair.played,
            row: pair.row,
        })
    }

    fn compare(&self, note: usize, matched: Match) -> Partner {
        self.compare_with(note, matched, &self.played[matched.played as usize])
    }

    fn compare_with(&self, note: usize, matched: Match, played: &PlayedNote) -> Partner {
        let expected = &self.expected.notes[note];
        let displaced = self.matcher.rows().shift(matched.row);
        let windows = &self.settings.windows;
        let place = self.displaced_time(expected.onset, matched.row);
        let off_grid = played.onset - place;
        let ring_over = played.length.map(|length| {
            let rest = expected
                .rest_at
                .map(|rest| self.displaced_time(rest, matched.row) + windows.lean);
            reading::ring_over(
                played.onset + length,
                rest,
                self.next_onset(note, played.onset),
            )
        });
        let judged = played.length.zip(ring_over);
        Partner {
            played: matched.played,
            offset: played.onset - expected.onset,
            displaced,
            off_grid,
            length_ratio: played
                .length
                .map(|length| length.0 as f64 / expected.sounding.0.max(1) as f64),
            ring_over,
            pitch: cost::pitch_of(expected.key, played.key),
            timing: if self.is_doubtful(played) {
                Timing::Unjudged
            } else {
                reading::timing(off_grid, windows)
            },
            length: judged.map(|(length, ring)| reading::length(expected, length, ring, windows)),
        }
    }

    fn displaced_time(&self, time: Nanos, row: Row) -> Nanos {
        if row == 0 {
            return time;
        }
        let steady = self
            .expected
            .tempo_map
            .steady_around(time, self.matcher.rows().shift(row));
        time + steady.shift
    }

    /// When the next note of the line was played: the one that this note may ring into.
    fn next_onset(&self, note: usize, onset: Nanos) -> Option<Nanos> {
        let notes = &self.expected.notes;
        let later = (note + 1..notes.len())
            .take(RING_REACH)
            .filter(|next| notes[*next].group > notes[note].group);
        let mut heard = later.filter_map(|next| Some((notes[next].group, self.partner(next)?)));
        let (group, first) = heard.next()?;
        let together = heard
            .take_while(|(other, _)| *other == group)
            .map(|(_, matched)| matched);
        let onsets = std::iter::once(first)
            .chain(together)
            .map(|matched| self.played[matched.played as usize].onset);
        onsets.min().filter(|next| *next >= onset)
    }
}

fn settle(partners: &mut [Match], last: &mut Option<u32>, pair: Pair) {
    partners[pair.note as usize] = Match {
        played: pair.played,
        row: pair.row,
    };
    *last = Some(last.map_or(pair.note, |last| last.max(pair.note)));
}

fn extras(partners: &[Match], played: usize) -> Vec<u32> {
    let mut has_place = vec![false; played];
    for matched in partners.iter().filter(|matched| matched.played != NOBODY) {
        has_place[matched.played as usize] = true;
    }
    (0..played as u32)
        .filter(|number| !has_place[*number as usize])
        .collect()
}

/// Judges a whole take at once: the live judge, fed from a list.
pub fn judge(
    expected: Arc<Expected>,
    settings: &Settings,
    events: impl Iterator<Item = TimedMessage>,
) -> Judgement {
    judge_with_glitches(expected, settings, &[], events)
}

/// The same of a take in which times were in doubt; both in line time.
pub fn judge_with_glitches(
    expected: Arc<Expected>,
    settings: &Settings,
    glitches: &[Glitch],
    events: impl Iterator<Item = TimedMessage>,
) -> Judgement {
    let mut judge = Judge::new(expected, settings);
    glitches.iter().for_each(|glitch| judge.doubt(*glitch));
    events.for_each(|event| judge.push(event));
    judge.finish()
}
