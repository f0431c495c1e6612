//! A walk through one part: every measure with its notes at exact times, of all voices.

use super::attributes::Attributes;
use super::directions::{Feel, Said};
use super::harmony::{self, Harmony};
use super::ledger::Ledger;
use super::moment::{self, Moment};
use super::note::{self, NoteContent};
use super::parts::Part;
use super::playing::Signs;
use super::tree;
use crate::line::chord::ChordSymbol;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::line::tuning::Tuning;
use crate::score::lost::Losses;
use crate::units::Ticks;
use roxmltree::Node;

/// A part as it stands in the file.
#[derive(Default)]
pub struct Walked {
    /// Every measure, in order.
    pub measures: Vec<WalkedMeasure>,
    /// The names of the voices, in the order in which the file has them.
    pub voices: Vec<String>,
    /// The open strings, where the part has them.
    pub tuning: Option<Tuning>,
}

/// One measure with the notes of all voices.
pub struct WalkedMeasure {
    pub name: String,
    pub meter: Meter,
    pub length: Ticks,
    pub feel: Feel,
    pub key: Option<KeySignature>,
    pub mark: Option<String>,
    pub signs: Signs,
    pub double_bar: bool,
    pub notes: Vec<WalkedNote>,
    pub chords: Vec<(Ticks, ChordSymbol)>,
    pub repeats_bars: Option<usize>,
}

/// One note head that is no rest.
pub struct WalkedNote {
    /// Index into [`Walked::voices`].
    pub voice: usize,
    pub at: Moment,
    pub end: Moment,
    pub staff: u8,
    /// Whether it belongs to the chord of the note before it.
    pub in_chord: bool,
    pub content: NoteContent,
}

/// The most voices of one part.
const MOST_VOICES: usize = 64;

struct Walker<'l> {
    attributes: Attributes,
    feel: Feel,
    ledger: Ledger<'l>,
    walked: Walked,
}

/// Reads every measure of a part.
pub fn walk(part: &Part<'_, '_>, losses: &mut Losses) -> Walked {
    let attributes = Attributes::default();
    let ledger = Ledger {
        losses,
        measure: String::new(),
        meter: attributes.meter,
        at: Moment::ZERO,
    };
    let mut walker = Walker {
        attributes,
        feel: Feel::default(),
        ledger,
        walked: Walked::default(),
    };
    for (index, (head, content)) in part.measures.iter().enumerate() {
        let name = head.attribute("number").map(str::trim);
        let name = name.filter(|name| !name.is_empty() && name.len() <= 20);
        walker.ledger.measure = name.map_or_else(|| (index + 1).to_string(), str::to_owned);
        walker.measure(*content);
    }
    let mut walked = walker.walked;
    walked.tuning = walker.attributes.tuning;
    // The first tempo that is named is that of the bars before it too.
    let first = walked
        .measures
        .iter()
        .find_map(|measure| measure.feel.tempo);
    for measure in &mut walked.measures {
        measure.feel.tempo = measure.feel.tempo.or(first);
    }
    walked
}

/// Where the walk is in a measure.
struct Cursor {
    at: Moment,
    furthest: Moment,
    /// How far tuplets have run ahead of the file's rounded divisions.
    ahead: Moment,
    /// Where the last note that is no chord member began and ended.
    last: (Moment, Moment),
    /// Its voice.
    voice: usize,
}

impl Walker<'_> {
    fn measure(&mut self, node: Node<'_, '_>) {
        self.ledger.at = Moment::ZERO;
        let mut cursor = Cursor {
            at: Moment::ZERO,
            furthest: Moment::ZERO,
            ahead: Moment::ZERO,
            last: (Moment::ZERO, Moment::ZERO),
            voice: 0,
        };
        let mut said = Said {
            feel: self.feel,
            ..Said::default()
        };
        let mut at_start = self.feel;
        let mut notes = Vec::new();
        let mut chords = Vec::new();
        for element in node.children().filter(Node::is_element) {
            self.ledger.at = cursor.at;
            let before = said.feel;
            match element.tag_name().name() {
                "attributes" => {
                    if cursor.at == Moment::ZERO || notes.is_empty() && chords.is_empty() {
                        self.attributes.read(element, &mut self.ledger);
                    } else {
                        self.later_attributes(element);
                    }
                    self.ledger.meter = self.attributes.meter;
                }
                "note" => notes.extend(self.note(element, &mut cursor)),
                "backup" => cursor.jump(self.duration(element).back()),
                "forward" => cursor.jump(self.duration(element)),
                "direction" => {
                    // A later change of tuning is none that a line can make.
                    let begins = self.walked.measures.is_empty() && notes.is_empty();
                    if !(begins && self.attributes.tune(element)) {
                        said.direction(element, &mut self.ledger);
                    }
                }
                "sound" => said.sound(element, &mut self.ledger),
                "barline" => said.barline(element),
                "harmony" => {
                    let at = cursor.at.moved(self.offset(element));
                    self.harmony(element, at.ticks(), &mut chords);
                }
                "figured-bass" => self.ledger.lose("figured bass"),
                _ => {}
            }
            if said.feel != before {
                let at = cursor.at.moved(self.offset(element));
                self.change_feel(said.feel, at, &mut at_start, &cursor);
            }
        }
        self.feel = said.feel;
        let length = match cursor.furthest.ticks() {
            Ticks(0) => self.attributes.meter.bar(),
            length => length,
        };
        chords.sort_by_key(|(at, _): &(Ticks, _)| *at);
        chords.dedup_by_key(|(at, _)| *at);
        chords.retain(|(at, _)| *at < length);
        self.walked.measures.push(WalkedMeasure {
            name: self.ledger.measure.clone(),
            meter: self.meter(length),
            length,
            feel: at_start,
            key: self.attributes.key,
            mark: said.mark,
            signs: said.signs,
            double_bar: said.double_bar,
            notes,
            chords,
            repeats_bars: self.attributes.repeats_bars,
        });
    }

    /// A bar without a meter has the one that its length makes.
    fn meter(&self, length: Ticks) -> Meter {
        let own = crate::score::meter_of(length).filter(|_| !self.attributes.metered);
        own.unwrap_or(self.attributes.meter)
    }

    /// A change of feel at the start of a bar is the bar's; a later one is the next bar's.
    fn change_feel(&mut self, feel: Feel, at: Moment, at_start: &mut Feel, cursor: &Cursor) {
        at_start.tempo = at_start.tempo.or(feel.tempo);
        if at.ticks() == Ticks(0) {
            *at_start = feel;
        } else if *at_start != feel
            && at.ticks() < self.attributes.meter.bar()
            && at <= cursor.furthest
        {
            self.ledger.at = at;
            self.ledger
                .lose("tempo or swing changes inside a bar (put off to the next bar)");
        }
    }

    /// In the middle of a bar only divisions and transposition take effect at once; the line cannot change the rest.
    fn later_attributes(&mut self, element: Node<'_, '_>) {
        let (meter, key) = (self.attributes.meter, self.attributes.key);
        self.attributes.read(element, &mut self.ledger);
        if self.attributes.meter != meter {
            self.ledger.lose("changes of meter inside a bar");
        }
        if self.attributes.key != key {
            self.ledger
                .lose("changes of key inside a bar (put to its start)");
        }
    }

    fn duration(&self, element: Node<'_, '_>) -> Moment {
        let count = tree::number(element, "duration").filter(|count| *count > 0.0);
        count.map_or(Moment::ZERO, |count| {
            Moment::divisions(count, self.attributes.divisions)
        })
    }

    fn offset(&self, element: Node<'_, '_>) -> Moment {
        let count = tree::number(element, "offset");
        count.map_or(Moment::ZERO, |count| {
            Moment::divisions(count, self.attributes.divisions)
        })
    }

    fn harmony(
        &mut self,
        element: Node<'_, '_>,
        at: Ticks,
        chords: &mut Vec<(Ticks, ChordSymbol)>,
    ) {
        match harmony::read(element, self.attributes.sounds) {
            Harmony::Chord(symbol) => chords.push((at, symbol)),
            Harmony::NoChord => self.ledger.lose("signs that no chord sounds"),
            Harmony::Other => self.ledger.lose("chords that a line cannot write"),
        }
    }

    fn note(&mut self, element: Node<'_, '_>, cursor: &mut Cursor) -> Option<WalkedNote> {
        if tree::has(element, "grace") {
            self.ledger.lose("grace notes");
            return None;
        }
        let in_chord = tree::has(element, "chord");
        let (at, end) = if in_chord {
            cursor.last
        } else {
            self.advance(element, cursor)
        };
        if tree::has(element, "cue") {
            self.ledger.lose("cue notes");
            return None;
        }
        self.ledger.at = at;
        if !in_chord {
            // Rests count: a voice is where the file first has it. The rest of a chord has the voice of its first note.
            let voice = tree::text(element, "voice").filter(|voice| voice.len() <= 20);
            cursor.voice = self.voice(voice.unwrap_or("1"));
        }
        let content = note::read(element, self.attributes.sounds, &mut self.ledger)?;
        if content.sound == note::NoteSound::Rest || end <= at {
            return None;
        }
        let staff = tree::whole(element, "staff").and_then(|staff| u8::try_from(staff).ok());
        Some(WalkedNote {
            voice: cursor.voice,
            at,
            end,
            staff: staff.unwrap_or(1),
            in_chord,
            content,
        })
    }

    fn voice(&mut self, name: &str) -> usize {
        let voices = &mut self.walked.voices;
        let known = voices.iter().position(|voice| voice == name);
        known.unwrap_or_else(|| {
            // No part has more; a damaged file that names thousands is not worth looking them up.
            if voices.len() < MOST_VOICES {
                voices.push(name.to_owned());
            }
            voices.len() - 1
        })
    }

    /// Moves on by a note's length. Where the file rounds the notes of a tuplet to whole divisions, they get the length
    /// that they are drawn with.
    fn advance(&mut self, element: Node<'_, '_>, cursor: &mut Cursor) -> (Moment, Moment) {
        let written = self.duration(element);
        let division = Moment::divisions(1.0, self.attributes.divisions);
        let drawn = moment::as_drawn(element).filter(|drawn| {
            let missing = !tree::has(element, "duration");
            let rounded =
                tree::has(element, "time-modification") && drawn.less(written).abs() < division;
            missing || rounded
        });
        let length = drawn.unwrap_or(written);
        let start = cursor.at;
        cursor.at = start.moved(length);
        if tree::has(element, "duration") {
            cursor.ahead = cursor.ahead.less(written.less(length));
        }
        cursor.furthest = cursor.furthest.max(cursor.at);
        cursor.last = (start, cursor.at);
        cursor.last
    }
}

impl Cursor {
    /// Moves by what the file's divisions say.
    fn jump(&mut self, by: Moment) {
        self.at = self.at.moved(self.ahead.back()).moved(by);
        self.ahead = Moment::ZERO;
        self.furthest = self.furthest.max(self.at);
    }
}
