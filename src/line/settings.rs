//! Reading the values that both the head of a line and a section may have.

use super::document::Fields;
use super::key_signature::{KeySignature, Mode, NotAKey};
use super::meter::Meter;
use super::mistake::SettingMistake as M;
use super::mistakes::Report;
use super::nearest::nearest;
use super::piece::Piece;
use super::pitch::{Pitch, PitchClass};
use super::thousandths::{self, NotThousandths};
use super::tuning::Tuning;
use super::{Gate, SwingRatio, Swung, Tempo};

/// What a table says about how it is played; `None` where it says nothing, or something that is wrong.
pub(super) struct Settings {
    pub meter: Option<Meter>,
    pub tempo: Option<Tempo>,
    pub swing: Option<SwingRatio>,
    pub swung: Option<Swung>,
    pub key: Option<KeySignature>,
    pub gate: Option<Gate>,
}

impl Settings {
    pub fn read(fields: &Fields<'_>, report: &mut Report) -> Settings {
        let text = |key, example, report: &mut Report| fields.text(key, example, report);
        Settings {
            meter: text("meter", "meter = \"4/4\"", report).and_then(|piece| meter(piece, report)),
            tempo: tempo(fields, report),
            swing: text("swing", "swing = \"2:1\"", report).and_then(|piece| swing(piece, report)),
            swung: text("swung", "swung = \"1/8\"", report).and_then(|piece| swung(piece, report)),
            key: text("key", "key = \"D minor\"", report).and_then(|piece| key(piece, report)),
            gate: gate(fields, report),
        }
    }
}

fn meter(piece: Piece<'_>, report: &mut Report) -> Option<Meter> {
    let meter = piece.text.trim().parse();
    if meter.is_err() {
        let found = piece.text.to_owned();
        report.add(M::BadMeter { found }, piece.span());
    }
    meter.ok()
}

fn tempo(fields: &Fields<'_>, report: &mut Report) -> Option<Tempo> {
    let number = fields.number("tempo", "tempo = 120", report)?;
    let mistake = match thousandths::read(number.text) {
        Ok(tempo) if (20_000..=400_000).contains(&tempo) => return Some(Tempo(tempo)),
        Err(NotThousandths::TooFine(nearest)) if (20_000..=400_000).contains(&nearest) => {
            M::TempoTooFine {
                nearest: thousandths::write(nearest),
            }
        }
        _ => M::TempoOutOfRange {
            found: number.text.to_owned(),
        },
    };
    report.add(mistake, number.span);
    None
}

fn gate(fields: &Fields<'_>, report: &mut Report) -> Option<Gate> {
    let number = fields.number("gate", "gate = 0.9", report)?;
    let mistake = match thousandths::read(number.text) {
        Ok(gate @ 1..=1000) => return Some(Gate(gate as u16)),
        Err(NotThousandths::TooFine(nearest @ 1..=1000)) => M::GateTooFine {
            nearest: thousandths::write(nearest),
        },
        _ => M::GateOutOfRange {
            found: number.text.to_owned(),
        },
    };
    report.add(mistake, number.span);
    None
}

fn swing(piece: Piece<'_>, report: &mut Report) -> Option<SwingRatio> {
    let found = piece.text.to_owned();
    let mut halves = piece
        .text
        .split(':')
        .map(|half| thousandths::read(half.trim()));
    let mistake = match (halves.next(), halves.next(), halves.next()) {
        // A hundred to a hundred is as far as a ratio is worth writing out; it keeps exact time in range.
        (Some(Ok(long @ 1..=100_000)), Some(Ok(short @ 1..=100_000)), None) => {
            if (short..=4 * short).contains(&long) {
                return Some(SwingRatio { long, short });
            }
            let turned = (long..=4 * long).contains(&short).then(|| {
                let (long, short) = (short, long);
                SwingRatio { long, short }.to_string()
            });
            M::SwingOutOfRange { found, turned }
        }
        _ => M::BadSwing { found },
    };
    report.add(mistake, piece.span());
    None
}

fn swung(piece: Piece<'_>, report: &mut Report) -> Option<Swung> {
    match piece.text.trim() {
        "1/8" => Some(Swung::Eighth),
        "1/16" => Some(Swung::Sixteenth),
        other => {
            let found = other.to_owned();
            report.add(M::BadSwung { found }, piece.span());
            None
        }
    }
}

fn key(piece: Piece<'_>, report: &mut Report) -> Option<KeySignature> {
    let mistake = match piece.text.parse() {
        Ok(key) => return Some(key),
        Err(NotAKey::Tonic(found)) => M::BadTonic {
            meant: meant_key(piece.text),
            found,
        },
        Err(NotAKey::Mode(found)) => M::BadMode {
            tonic: piece
                .words()
                .next()
                .map_or("", |tonic| tonic.text)
                .to_owned(),
            nearest: nearest(&found, Mode::NAMES.iter().map(|(name, _)| *name)),
            found,
        },
    };
    report.add(mistake, piece.span());
    None
}

/// What `Dm`, `d minor` or `DMaj` most likely stand for.
fn meant_key(text: &str) -> Option<String> {
    let mut words = text.split_whitespace();
    let first = words.next()?;
    let mode = words.collect::<Vec<_>>().join(" ");
    if mode.is_empty() {
        let short = [("maj", "major"), ("min", "minor"), ("m", "minor")];
        return short.iter().find_map(|(ending, mode)| {
            let tonic = first.strip_suffix(ending)?.parse::<PitchClass>().ok()?;
            Some(format!("{tonic} {mode}"))
        });
    }
    let (letter, accidental) = first.split_at_checked(1)?;
    let tonic: PitchClass = format!("{}{accidental}", letter.to_uppercase())
        .parse()
        .ok()?;
    let mode: Mode = mode.parse().ok()?;
    Some(format!("{tonic} {mode}"))
}

/// The tuning that the head of a line names, the default where it names none, `None` where it is wrong.
pub(super) fn tuning(fields: &Fields<'_>, report: &mut Report) -> Option<Tuning> {
    let before = report.list.len();
    let Some(piece) = fields.text("tuning", "tuning = \"E1 A1 D2 G2\"", report) else {
        return (report.list.len() == before).then(Tuning::default);
    };
    let count = piece.words().count();
    if !(1..=8).contains(&count) {
        report.add(M::TuningSize { count }, piece.span());
    }
    let mut open: Vec<Pitch> = Vec::new();
    for word in piece.words() {
        if let Some(pitch) = open_string(word, open.last(), report) {
            open.push(pitch);
        }
    }
    (report.list.len() == before).then_some(Tuning { open })
}

fn open_string(word: Piece<'_>, below: Option<&Pitch>, report: &mut Report) -> Option<Pitch> {
    let found = word.text.to_owned();
    let Ok(pitch) = word.text.parse::<Pitch>() else {
        report.add(M::BadOpenString { found }, word.span());
        return None;
    };
    if pitch.key().is_none() {
        report.add(M::OpenStringOutsideMidi { found }, word.span());
        return None;
    }
    if let Some(lower) = below.filter(|lower| lower.key() >= pitch.key()) {
        let (lower, upper) = (lower.to_string(), found);
        report.add(M::TuningNotRising { lower, upper }, word.span());
    }
    Some(pitch)
}
