//! MusicXML 4.0, plain and compressed, into a [`Score`].
//!
//! [`guard`] bounds the file, `parts` and `voices` choose, `walk` reads every measure once, [`playing`] unrolls.
//! Everything is pure and panics on no input; memory is bounded by [`guard::LARGEST_BYTES`] and [`guard::MOST_NODES`].

mod attributes;
mod container;
mod directions;
pub mod error;
pub mod guard;
pub(crate) mod harmony;
mod ledger;
mod moment;
mod note;
mod parts;
pub mod playing;
mod transpose;
mod tree;
mod voices;
mod walk;

use crate::score::lost::{Losses, Spot};
use crate::score::{Event, Measure, Score};
use crate::units::Ticks;
use error::{At, Unreadable};
use guard::{LARGEST_BYTES, MOST_NODES};
use roxmltree::{Document, ParsingOptions};
use std::borrow::Cow;
use walk::{Walked, WalkedMeasure};

/// What is taken of a score.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// A part by its name, a piece of its name, or its number from 1.
    pub part: Option<String>,
    /// A voice by its name in the file, a number mostly.
    pub voice: Option<String>,
}

/// A part that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// The part's name.
    pub part: String,
    /// The voice's name in the file.
    pub voice: String,
    /// What was chosen of several, and how to choose otherwise.
    pub said: Vec<String>,
    /// The part.
    pub score: Score,
}

/// Whether the bytes look like MusicXML, plain or compressed, rather than another format.
pub fn is_musicxml(bytes: &[u8]) -> bool {
    let start = bytes.iter().position(|byte| !byte.is_ascii_whitespace());
    let first = start.map(|start| bytes[start]);
    container::is_compressed(bytes) || matches!(first, Some(b'<' | 0xEF | 0xFE | 0xFF))
}

/// Reads one voice of one part of a score.
pub fn read(bytes: &[u8], choice: &Choice) -> Result<Read, Unreadable> {
    let bytes = if container::is_compressed(bytes) {
        Cow::Owned(container::score(bytes)?)
    } else {
        Cow::Borrowed(bytes)
    };
    if bytes.len() as u64 > LARGEST_BYTES {
        let what = "the file".to_owned();
        return Err(Unreadable::TooLarge { what });
    }
    let text = guard::text(&bytes)?;
    guard::scan(&text)?;
    let document = document(&text)?;
    let parts = parts::list(&document)?;
    let (part, part_said) = parts::choose(&parts, choice.part.as_deref())?;
    let mut losses = Losses::default();
    let walked = walk::walk(part, &mut losses);
    let (voice, voice_said) = voices::choose(&walked, choice.voice.as_deref())?;
    let signs: Vec<playing::Signs> = walked.measures.iter().map(|m| m.signs.clone()).collect();
    let playing = playing::order(&signs)?;
    lose_unplayed(&walked, &playing, &mut losses);
    let events = voices::events(&walked, voice, &mut losses)?;
    let signs = |index: &usize| events[*index].len() + walked.measures[*index].chords.len();
    if playing.iter().map(signs).sum::<usize>() > playing::MOST_NOTES {
        return Err(Unreadable::TooLong);
    }
    Ok(Read {
        part: part.name.clone(),
        voice: voice.map_or_else(|| "1".to_owned(), |voice| walked.voices[voice].clone()),
        said: part_said.into_iter().chain(voice_said).collect(),
        score: Score {
            title: title(&document),
            tuning: walked.tuning.clone(),
            gate: None,
            measures: measures(walked, events),
            playing,
            losses,
        },
    })
}

/// Parses XML. External definitions are not fetched; entities have been refused before.
fn document(text: &str) -> Result<Document<'_>, Unreadable> {
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options).map_err(|error| {
        if matches!(error, roxmltree::Error::NodesLimitReached) {
            return Unreadable::TooManyNodes;
        }
        let at = At {
            line: error.pos().row,
            column: error.pos().col,
        };
        let what = error.to_string();
        // Their text ends with the position, which stands at the head of ours.
        let what = what
            .rsplit_once(" at ")
            .map_or(what.as_str(), |(what, _)| what);
        let what = format!("broken XML: {what}");
        Unreadable::Xml { at, what }
    })
}

fn title(document: &Document<'_>) -> Option<String> {
    let root = document.root_element();
    let work = tree::child(root, "work").and_then(|work| tree::text(work, "work-title"));
    let titles = [work, tree::text(root, "movement-title")];
    let title = titles
        .into_iter()
        .flatten()
        .find(|title| !title.is_empty())?;
    Some(title.to_owned())
}

fn measures(walked: Walked, events: Vec<Vec<Event>>) -> Vec<Measure> {
    let mut begins = false;
    let mut measures = Vec::new();
    for (measure, events) in walked.measures.into_iter().zip(events) {
        let signs = &measure.signs;
        let sign = signs.forward || signs.segno.is_some() || signs.coda.is_some();
        // A later ending goes on with its repeat.
        let opens = sign || (begins && signs.ending.is_none());
        begins = closes(&measure);
        measures.push(Measure {
            name: measure.name,
            meter: measure.meter,
            length: measure.length,
            tempo: measure.feel.tempo,
            swing: measure.feel.swing,
            swung: measure.feel.swung,
            key: measure.key,
            mark: measure.mark,
            begins: opens,
            events: within(events, measure.length),
            chords: measure.chords,
        });
    }
    measures
}

/// Tells what jumps and endings leave out: signs that are written wrong.
fn lose_unplayed(walked: &Walked, playing: &[usize], losses: &mut Losses) {
    let mut played = vec![false; walked.measures.len()];
    playing.iter().for_each(|index| played[*index] = true);
    let any = |sign: fn(&playing::Signs) -> bool| walked.measures.iter().any(|m| sign(&m.signs));
    let (segno, coda) = (any(|s| s.segno.is_some()), any(|s| s.coda.is_some()));
    for (measure, played) in walked.measures.iter().zip(played) {
        let spot = Spot {
            measure: measure.name.clone(),
            beat: None,
        };
        let signs = &measure.signs;
        if (signs.dal_segno.is_some() && !segno) || (signs.to_coda.is_some() && !coda) {
            losses.add("jumps to a sign that is not there", spot.clone());
        }
        if !played {
            losses.add("bars that repeats and endings never come to", spot);
        }
    }
}

/// Whether a section ends with the measure.
fn closes(measure: &WalkedMeasure) -> bool {
    let signs = &measure.signs;
    let jumps = signs.da_capo || signs.fine || signs.dal_segno.is_some();
    measure.double_bar || signs.backward.is_some() || signs.ending_stops || jumps
}

/// Rounding to ticks may leave the last event a tick too long.
fn within(mut events: Vec<Event>, length: Ticks) -> Vec<Event> {
    for event in &mut events {
        event.length = event.length.min(length - event.at);
    }
    events.retain(|event| event.length > Ticks(0));
    events
}
