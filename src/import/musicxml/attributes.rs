//! `attributes`: what stays in force until it is said anew.

use super::ledger::Ledger;
use super::transpose::{self, Transposition};
use super::tree;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::line::pitch::Pitch;
use crate::line::tuning::Tuning;
use crate::score::meter_of;
use crate::units::{TICKS_PER_WHOLE, Ticks};
use roxmltree::Node;

/// What is in force.
pub struct Attributes {
    /// Divisions of a quarter note.
    pub divisions: f64,
    /// The meter; a bar without one is as long as what is in it.
    pub meter: Meter,
    /// Whether there is a meter at all.
    pub metered: bool,
    /// How the part sounds.
    pub sounds: Transposition,
    /// The key as it sounds.
    pub key: Option<KeySignature>,
    /// The open strings.
    pub tuning: Option<Tuning>,
    /// How many measures a repeat-bar sign that is in force repeats.
    pub repeats_bars: Option<usize>,
}

impl Default for Attributes {
    fn default() -> Attributes {
        Attributes {
            divisions: 1.0,
            meter: Meter { upper: 4, lower: 4 },
            metered: true,
            sounds: Transposition::default(),
            key: None,
            tuning: None,
            repeats_bars: None,
        }
    }
}

impl Attributes {
    /// Takes in an `attributes` element.
    pub fn read(&mut self, node: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        if let Some(divisions) = tree::number(node, "divisions").filter(|number| *number > 0.0) {
            self.divisions = divisions;
        }
        if let Some(transpose) = tree::child(node, "transpose") {
            self.sounds = Transposition::read(transpose);
            if tree::has(transpose, "double") {
                ledger.lose("octave doublings");
            }
        }
        if let Some(key) = tree::child(node, "key") {
            self.key = self.read_key(key);
            let is_none = tree::text(key, "mode") == Some("none");
            if self.key.is_none() && !is_none {
                ledger.lose("keys that are no scale on a tonic");
            }
        }
        if let Some(time) = tree::child(node, "time") {
            self.read_time(time, ledger);
        }
        for details in tree::children(node, "staff-details") {
            let tuning = tuning(details);
            self.tuning = tuning.or(self.tuning.take());
        }
        for style in tree::children(node, "measure-style") {
            self.read_style(style);
        }
    }

    /// Takes in the open strings that a `direction` names; whether it does.
    pub fn tune(&mut self, direction: Node<'_, '_>) -> bool {
        let tuning = scordatura(direction);
        let is_tuned = tuning.is_some();
        self.tuning = tuning.or(self.tuning.take());
        is_tuned
    }

    fn read_key(&self, key: Node<'_, '_>) -> Option<KeySignature> {
        let fifths = tree::whole(key, "fifths")?;
        let mode = tree::text(key, "mode").unwrap_or("major");
        // MusicXML 4.0, `mode`: there is a signature and no tonic.
        if mode == "none" {
            return None;
        }
        self.sounds.key(transpose::key(fifths, mode)?)
    }

    fn read_time(&mut self, time: Node<'_, '_>, ledger: &mut Ledger<'_>) {
        self.metered = !tree::has(time, "senza-misura");
        if !self.metered {
            return;
        }
        match meter(time) {
            Some(meter) => self.meter = meter,
            None => ledger.lose("meters that a line cannot have"),
        }
    }

    fn read_style(&mut self, style: Node<'_, '_>) {
        let Some(repeat) = tree::child(style, "measure-repeat") else {
            return;
        };
        let starts = repeat.attribute("type") == Some("start");
        let bars = repeat.text().and_then(tree::as_number).unwrap_or(1.0);
        self.repeats_bars = (starts && bars >= 1.0).then_some(bars as usize);
    }
}

/// One meter of one pair of numbers; several pairs, or `3+2`, are added up.
fn meter(time: Node<'_, '_>) -> Option<Meter> {
    let beats = tree::children(time, "beats");
    let types = tree::children(time, "beat-type");
    let pairs: Option<Vec<(i64, i64)>> = beats
        .zip(types)
        .map(|(beats, lower)| {
            let number = |text: &str| {
                text.trim()
                    .parse::<i64>()
                    .ok()
                    .filter(|n| (1..=64).contains(n))
            };
            let upper: Option<Vec<i64>> = beats.text()?.split('+').map(number).collect();
            Some((upper?.iter().sum(), number(lower.text()?)?))
        })
        .collect();
    let pairs = pairs?;
    if let [(upper, lower)] = pairs[..] {
        let plain = format!("{upper}/{lower}").parse();
        if let Ok(meter) = plain {
            return Some(meter);
        }
    }
    let length = pairs.iter().map(|(upper, lower)| {
        let beat = TICKS_PER_WHOLE / lower;
        (TICKS_PER_WHOLE % lower == 0).then_some(upper * beat)
    });
    let length: Option<Vec<i64>> = length.collect();
    let length: i64 = length?.iter().sum();
    let finest = pairs.iter().map(|(_, lower)| *lower).max()?;
    let upper = length * finest / TICKS_PER_WHOLE;
    let exact = format!("{upper}/{finest}").parse();
    exact.ok().or_else(|| meter_of(Ticks(length)))
}

/// The open strings of a tablature: line 1 is the lowest (MusicXML 4.0, `staff-tuning`).
fn tuning(details: Node<'_, '_>) -> Option<Tuning> {
    let number = |line: Node<'_, '_>| line.attribute("line")?.trim().parse().ok();
    open_strings(tree::children(details, "staff-tuning"), number)
}

/// The open strings of an instrument that is tuned otherwise: string 1 is the highest (MusicXML 4.0, `accord`).
fn scordatura(direction: Node<'_, '_>) -> Option<Tuning> {
    let kinds = tree::children(direction, "direction-type");
    let mut found = kinds.filter_map(|kind| tree::child(kind, "scordatura"));
    let from_lowest = |string: Node<'_, '_>| {
        let number: i32 = string.attribute("string")?.trim().parse().ok()?;
        number.checked_neg()
    };
    open_strings(tree::children(found.next()?, "accord"), from_lowest)
}

/// Open strings in the order of their numbers, lowest first.
fn open_strings<'a, 'i: 'a>(
    strings: impl Iterator<Item = Node<'a, 'i>>,
    number: impl Fn(Node<'a, 'i>) -> Option<i32>,
) -> Option<Tuning> {
    let mut lines: Vec<(i32, Pitch)> = Vec::new();
    for line in strings {
        let letter = transpose::letter(tree::text(line, "tuning-step")?)?;
        let octave = tree::whole(line, "tuning-octave").filter(|o| (-2..=12).contains(o))?;
        let alter = tree::whole(line, "tuning-alter")
            .filter(|a| a.abs() <= 2)
            .unwrap_or(0);
        let pitch = Transposition::default().pitch(letter, alter, octave)?;
        lines.push((number(line)?, pitch));
    }
    lines.sort_by_key(|(line, _)| *line);
    let open: Vec<Pitch> = lines.into_iter().map(|(_, pitch)| pitch).collect();
    let rising = open.is_sorted_by(|lower, upper| lower.key() < upper.key());
    (rising && (1..=8).contains(&open.len())).then_some(Tuning { open })
}
