//! The parts of a file: the notes of a track, by channel where the file has one track for everything.

use super::error::Unreadable;
use crate::midi::smf::{SmfFile, SmfTrack};
use crate::played::pairing::pair;
use crate::played::{MidiMessage, PlayedNote, TimedMessage};

/// Channel 10 from 1: drums by the General MIDI standard (from memory).
const DRUMS: u8 = 9;
/// Programs 33 to 40 from 1 are basses by the same standard (from memory).
const BASS_PROGRAMS: std::ops::RangeInclusive<u8> = 32..=39;
/// A middle pitch above the G of the third octave is no bass part.
const HIGHEST_BASS: u8 = 55;
/// Notes that begin while another one goes on for longer than this are not monophonic, in ms.
const LEGATO_MS: f64 = 60.0;

/// Notes that belong together.
pub struct Part {
    /// From 0.
    pub track: usize,
    /// The track's name.
    pub name: Option<String>,
    /// Its channels, from 0, rising.
    pub channels: Vec<u8>,
    /// By onset.
    pub notes: Vec<PlayedNote>,
    /// Everything else that its channels say.
    pub others: Vec<[u8; 3]>,
    program: Option<u8>,
}

/// Every part that has notes, in the order of the file. A track with several channels is one part (converters give each
/// string its own), unless it is the only one.
pub fn list(file: &SmfFile) -> Vec<Part> {
    let sounding = |track: &&SmfTrack| track.events.iter().any(is_note);
    let only = file.tracks.iter().filter(sounding).count() == 1;
    let tracks = file.tracks.iter().enumerate();
    tracks
        .flat_map(|(index, track)| {
            let all = channels(track);
            let split: Vec<Vec<u8>> = match only && file.format == 0 {
                true => all.into_iter().map(|channel| vec![channel]).collect(),
                false => split_drums(all),
            };
            split
                .into_iter()
                .map(move |channels| Part::new(index, track, channels))
        })
        .collect()
}

fn split_drums(channels: Vec<u8>) -> Vec<Vec<u8>> {
    let (drums, rest): (Vec<u8>, Vec<u8>) = channels.into_iter().partition(|c| *c == DRUMS);
    [rest, drums]
        .into_iter()
        .filter(|channels| !channels.is_empty())
        .collect()
}

fn is_note(event: &crate::midi::smf::SmfEvent) -> bool {
    matches!(event.message, MidiMessage::NoteOn { .. })
}

fn channels(track: &SmfTrack) -> Vec<u8> {
    let mut has = [false; 16];
    for event in &track.events {
        if let MidiMessage::NoteOn { channel, .. } = event.message {
            has[usize::from(channel % 16)] = true;
        }
    }
    (0..16)
        .filter(|channel| has[usize::from(*channel)])
        .collect()
}

fn channel_of(message: MidiMessage) -> u8 {
    match message {
        MidiMessage::NoteOn { channel, .. }
        | MidiMessage::NoteOff { channel, .. }
        | MidiMessage::AllNotesOff { channel } => channel,
        MidiMessage::Other([status, ..]) => status & 0x0F,
    }
}

impl Part {
    fn new(index: usize, track: &SmfTrack, channels: Vec<u8>) -> Part {
        let of_part: Vec<TimedMessage> = track
            .events
            .iter()
            .filter(|event| channels.contains(&channel_of(event.message)))
            .map(|event| TimedMessage {
                at: event.at,
                message: event.message,
            })
            .collect();
        let other = |timed: &TimedMessage| match timed.message {
            MidiMessage::Other(bytes) => Some(bytes),
            _ => None,
        };
        let others: Vec<[u8; 3]> = of_part.iter().filter_map(other).collect();
        let program = others.iter().find(|bytes| bytes[0] & 0xF0 == 0xC0);
        Part {
            track: index,
            name: track.name.clone().filter(|name| !name.trim().is_empty()),
            program: program.map(|bytes| bytes[1]),
            notes: pair(of_part.into_iter()),
            channels,
            others,
        }
    }

    /// `track 2 "Bass", channel 1`.
    pub fn label(&self) -> String {
        let name = match &self.name {
            Some(name) => format!(" \"{}\"", name.escape_debug()),
            None => String::new(),
        };
        let channels: Vec<String> = self.channels.iter().map(|c| (c + 1).to_string()).collect();
        let plural = if channels.len() == 1 { "" } else { "s" };
        let channels = channels.join(", ");
        format!("track {}{name}, channel{plural} {channels}", self.track + 1)
    }

    fn entry(&self) -> String {
        let plural = if self.notes.len() == 1 { "" } else { "s" };
        format!("{} ({} note{plural})", self.label(), self.notes.len())
    }

    fn is_drums(&self) -> bool {
        self.channels == [DRUMS]
    }

    fn is_bass(&self) -> bool {
        let named = self.name.as_ref().map(|name| name.to_lowercase());
        let named = named.is_some_and(|name| name.contains("bass") && !name.contains("drum"));
        let program = self.program.is_some_and(|p| BASS_PROGRAMS.contains(&p));
        !self.is_drums() && (named || program)
    }

    fn middle_key(&self) -> u8 {
        let mut keys: Vec<u8> = self.notes.iter().map(|note| note.key.0).collect();
        keys.sort_unstable();
        keys.get(keys.len() / 2).copied().unwrap_or(u8::MAX)
    }

    /// At most a twentieth of the notes begin while the one before goes on.
    fn is_monophonic(&self) -> bool {
        let over = |pair: &&[PlayedNote]| {
            let end = pair[0].length.map(|length| pair[0].onset + length);
            end.is_some_and(|end| (end - pair[1].onset).ms() > LEGATO_MS)
        };
        self.notes.windows(2).filter(over).count() * 20 <= self.notes.len()
    }
}

/// Takes the part that was asked for; without that the only one, the only one that is called a bass or has the program
/// of one, or the lowest one of a single voice. Says why, where there was a choice.
pub fn choose(
    parts: Vec<Part>,
    track: Option<&str>,
    channel: Option<u8>,
) -> Result<(Part, Option<String>), Unreadable> {
    let all: Vec<String> = parts.iter().map(Part::entry).collect();
    let count = parts.len();
    let asked = [
        track.map(|track| format!("--track {track}")),
        channel.map(|channel| format!("--channel {channel}")),
    ];
    let asked: Vec<String> = asked.into_iter().flatten().collect();
    let no_such = |why| Unreadable::NoSuch {
        asked: asked.join(" "),
        why,
        parts: all.clone(),
    };
    let on_track = of_track(&parts, track);
    let fits = |part: &Part| {
        let channel = channel.is_none_or(|channel| part.channels.contains(&(channel - 1)));
        channel && on_track.contains(&part.track)
    };
    let mut fitting: Vec<Part> = parts.into_iter().filter(fits).collect();
    if let Some(channel) = channel {
        fitting
            .iter_mut()
            .for_each(|part| part.keep_channel(channel - 1));
    }
    if fitting.len() == 1 {
        return Ok((fitting.remove(0), None));
    }
    if fitting.is_empty() {
        return Err(no_such("has no notes"));
    }
    let Some((index, why)) = preferred(&fitting) else {
        return Err(match asked.is_empty() {
            true => Unreadable::Several(all),
            false => no_such("fits several parts"),
        });
    };
    let part = fitting.swap_remove(index);
    let said = format!(
        "{} taken of {count} parts, {why}: --track and --channel choose another",
        part.label()
    );
    Ok((part, Some(said)))
}

/// The tracks that are meant: by number from 1, by name, or by a piece of the name.
fn of_track(parts: &[Part], asked: Option<&str>) -> Vec<usize> {
    let numbered = |fits: &dyn Fn(&Part) -> bool| -> Vec<usize> {
        let fitting = parts.iter().filter(|part| fits(part));
        fitting.map(|part| part.track).collect()
    };
    let Some(asked) = asked else {
        return numbered(&|_| true);
    };
    let wanted = asked.trim().to_lowercase();
    let name = |part: &Part| part.name.as_deref().unwrap_or_default().to_lowercase();
    let whole = numbered(&|part| name(part) == wanted);
    if !whole.is_empty() {
        return whole;
    }
    match wanted.parse::<usize>() {
        Ok(number) => numbered(&|part| part.track + 1 == number),
        Err(_) => numbered(&|part| name(part).contains(&wanted)),
    }
}

fn preferred(parts: &[Part]) -> Option<(usize, &'static str)> {
    let basses: Vec<usize> = (0..parts.len()).filter(|i| parts[*i].is_bass()).collect();
    if let [only] = basses[..] {
        return Some((only, "the only bass"));
    }
    let single = (0..parts.len()).filter(|i| !parts[*i].is_drums() && parts[*i].is_monophonic());
    let mut single: Vec<usize> = single.collect();
    single.sort_by_key(|i| parts[*i].middle_key());
    let lowest = *single.first()?;
    let middle = parts[lowest].middle_key();
    let alone = single
        .get(1)
        .is_none_or(|next| parts[*next].middle_key() > middle);
    (alone && middle <= HIGHEST_BASS).then_some((lowest, "the lowest of a single voice"))
}

impl Part {
    fn keep_channel(&mut self, channel: u8) {
        self.channels.retain(|c| *c == channel);
        self.notes.retain(|note| note.channel == channel);
        self.others.retain(|bytes| bytes[0] & 0x0F == channel);
    }
}
