//! From the note heads of all voices to the events of one.

use super::error::Unreadable;
use super::ledger::Ledger;
use super::moment::Moment;
use super::note::NoteSound;
use super::playing::MOST_NOTES;
use super::walk::{Walked, WalkedMeasure, WalkedNote};
use crate::line::tuning::StringNumber;
use crate::score::lost::{Losses, Spot};
use crate::score::{Event, PitchAt, Sound};
use crate::units::{Key, Ticks};
use std::collections::HashMap;

/// Takes the voice that was asked for, or the first that sounds. Says so, where there was a choice.
pub fn choose(
    walked: &Walked,
    asked: Option<&str>,
) -> Result<(Option<usize>, Option<String>), Unreadable> {
    let mut counts = vec![0_usize; walked.voices.len()];
    let notes = walked.measures.iter().flat_map(|measure| &measure.notes);
    notes.for_each(|note| counts[note.voice] += 1);
    let entry = |(name, count): (&String, &usize)| {
        format!(
            "{name} ({count} note{})",
            if *count == 1 { "" } else { "s" }
        )
    };
    let entries: Vec<String> = walked.voices.iter().zip(&counts).map(entry).collect();
    if let Some(asked) = asked {
        let found = walked.voices.iter().position(|voice| voice == asked.trim());
        let wrong = || Unreadable::NoSuchVoice {
            asked: asked.to_owned(),
            voices: entries.clone(),
        };
        return found.map(|voice| (Some(voice), None)).ok_or_else(wrong);
    }
    let first = counts.iter().position(|count| *count > 0);
    let others = counts.iter().filter(|count| **count > 0).count() > 1;
    let said = first.filter(|_| others).map(|first| {
        format!(
            "voice {} taken, the first of {}: --voice chooses another",
            walked.voices[first],
            entries.join(", ")
        )
    });
    Ok((first, said))
}

/// The events of a voice, a list for each measure, tied across measures. No voice has none.
pub fn events(
    walked: &Walked,
    voice: Option<usize>,
    losses: &mut Losses,
) -> Result<Vec<Vec<Event>>, Unreadable> {
    let mut measures: Vec<Vec<Head>> = Vec::new();
    let mut count = 0;
    for measure in &walked.measures {
        let mut ledger = Ledger {
            losses,
            measure: measure.name.clone(),
            meter: measure.meter,
            at: Moment::ZERO,
        };
        let mut heads = heads(measure, voice, &mut ledger);
        if let Some(back) = measure.repeats_bars.filter(|_| heads.is_empty()) {
            let source = measures.len().checked_sub(back);
            heads = source.map_or_else(Vec::new, |source| measures[source].clone());
        }
        count += heads.len();
        if count > MOST_NOTES {
            return Err(Unreadable::TooLong);
        }
        measures.push(heads);
    }
    Ok(tie(walked, measures, losses))
}

/// An event whose tie is not yet settled.
#[derive(Clone)]
struct Head {
    event: Event,
    /// How many of its pitches tie on, and whether any is tied to.
    starting: usize,
    tied_to: bool,
}

fn heads(measure: &WalkedMeasure, voice: Option<usize>, ledger: &mut Ledger<'_>) -> Vec<Head> {
    let mut notes: Vec<&WalkedNote> = Vec::new();
    notes.extend(
        measure
            .notes
            .iter()
            .filter(|note| Some(note.voice) == voice),
    );
    notes.sort_by_key(|note| note.at);
    let strings = strings(measure);
    let mut heads: Vec<Head> = Vec::new();
    let mut staff = 1;
    for note in notes {
        ledger.at = note.at;
        let (at, end) = (note.at.ticks(), note.end.ticks());
        let last = heads.last_mut();
        match last {
            Some(head) if head.event.at == at && (note.in_chord || note.staff == staff) => {
                join(head, note, &strings, ledger);
                continue;
            }
            Some(head) if head.event.at == at => {
                ledger.lose("notes of another staff in the same voice");
                continue;
            }
            Some(head) if head.event.end() > at => {
                ledger.lose("notes that still sound when the voice goes on (cut short)");
                head.event.length = at - head.event.at;
                head.starting = 0;
            }
            _ => {}
        }
        if end <= at {
            ledger.lose("notes shorter than can be written");
            continue;
        }
        staff = note.staff;
        heads.push(head(note, at, end, &strings));
    }
    heads
}

fn head(note: &WalkedNote, at: Ticks, end: Ticks, strings: &Strings) -> Head {
    let content = &note.content;
    let sound = match content.sound {
        NoteSound::Pitch(pitch) => Sound::Pitches(vec![strings.complete(at, pitch)]),
        NoteSound::Dead(string) => Sound::Dead(string),
        NoteSound::Rest => Sound::Dead(None),
    };
    Head {
        event: Event {
            at,
            length: end - at,
            sound,
            tie: false,
            marks: content.marks,
            stroke: content.stroke,
            finger: content.finger,
        },
        starting: usize::from(content.tie.starts),
        tied_to: content.tie.stops,
    }
}

/// Adds a note head to the chord that it belongs to.
fn join(head: &mut Head, note: &WalkedNote, strings: &Strings, ledger: &mut Ledger<'_>) {
    let content = &note.content;
    if note.end.ticks() != head.event.end() {
        ledger.lose("notes of a chord with a length of their own (written as its first note's)");
    }
    match (&mut head.event.sound, content.sound) {
        (Sound::Pitches(pitches), NoteSound::Pitch(pitch)) => {
            if pitches
                .iter()
                .any(|other| other.pitch.key() == pitch.pitch.key())
            {
                return;
            }
            pitches.push(strings.complete(head.event.at, pitch));
            head.starting += usize::from(content.tie.starts);
        }
        // A dead head among sounding ones is not played apart from them.
        (Sound::Pitches(_), NoteSound::Dead(_)) => ledger.lose("dead notes inside chords"),
        (sound @ Sound::Dead(_), NoteSound::Pitch(pitch)) => {
            ledger.lose("dead notes inside chords");
            *sound = Sound::Pitches(vec![strings.complete(head.event.at, pitch)]);
            head.starting = usize::from(content.tie.starts);
        }
        _ => {}
    }
    let marks = &mut head.event.marks;
    marks.accent |= content.marks.accent;
    marks.short |= content.marks.short && !marks.full;
    marks.full |= content.marks.full && !marks.short && !marks.muted;
    marks.muted |= content.marks.muted && !marks.full;
    marks.optional &= content.marks.optional;
    head.tied_to |= content.tie.stops;
    head.event.stroke = head.event.stroke.or(content.stroke);
}

/// Strings that the measure names anywhere: a tablature under a staff has the same notes in a voice of its own.
struct Strings(HashMap<(Ticks, Key), StringNumber>);

fn strings(measure: &WalkedMeasure) -> Strings {
    let named = measure.notes.iter().filter_map(|note| {
        let NoteSound::Pitch(pitch) = note.content.sound else {
            return None;
        };
        Some(((note.at.ticks(), pitch.pitch.key()?), pitch.string?))
    });
    Strings(named.collect())
}

impl Strings {
    fn complete(&self, at: Ticks, pitch: PitchAt) -> PitchAt {
        let elsewhere = || self.0.get(&(at, pitch.pitch.key()?)).copied();
        PitchAt {
            string: pitch.string.or_else(elsewhere),
            ..pitch
        }
    }
}

/// Ties each event to the next where all of its pitches go on.
fn tie(walked: &Walked, measures: Vec<Vec<Head>>, losses: &mut Losses) -> Vec<Vec<Event>> {
    let mut out: Vec<Vec<Event>> = Vec::new();
    for (index, heads) in measures.iter().enumerate() {
        let measure = &walked.measures[index];
        let over = measures.get(index + 1).and_then(|heads| heads.first());
        let mut events = Vec::new();
        for (place, head) in heads.iter().enumerate() {
            let mut event = head.event.clone();
            let within = heads.get(place + 1);
            let next = match within {
                Some(next) => (next.event.at == event.end()).then_some(next),
                None => {
                    over.filter(|next| event.end() == measure.length && next.event.at == Ticks(0))
                }
            };
            event.tie = next.is_some_and(|next| head.holds_into(next));
            if head.starting > 0 && !event.tie {
                let spot = Spot::new(&measure.name, measure.meter, event.at);
                losses.add("ties that do not hold every note of both ends", spot);
            }
            events.push(event);
        }
        out.push(events);
    }
    out
}

impl Head {
    /// Whether every pitch is tied to the same pitch of the next.
    fn holds_into(&self, next: &Head) -> bool {
        let Sound::Pitches(pitches) = &self.event.sound else {
            return false;
        };
        let all = self.starting == pitches.len();
        all && next.tied_to && self.event.sound.ties_to(&next.event.sound)
    }
}
