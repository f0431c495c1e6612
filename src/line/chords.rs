//! Reading the chords of a section: one cell a bar.

use super::chord::{ChordCell, ChordSymbol, PlacedChord};
use super::layers;
use super::meter::Meter;
use super::mistake::LayerMistake as M;
use super::mistakes::Report;
use super::piece::Piece;
use super::thousandths;

/// One cell a bar; an empty cell or `-` keeps the chord before it.
pub(super) fn read(
    piece: Piece<'_>,
    bars: usize,
    meter: Option<Meter>,
    report: &mut Report,
) -> Option<Vec<ChordCell>> {
    let cells = layers::cells(piece, "chords", bars, report)?;
    let cells = cells.into_iter().map(|cell| read_cell(cell, meter, report));
    Some(cells.collect())
}

fn read_cell(cell: Piece<'_>, meter: Option<Meter>, report: &mut Report) -> ChordCell {
    let mut chords: Vec<PlacedChord> = Vec::new();
    if cell.text.trim() == "-" {
        return ChordCell { chords };
    }
    let placed = cell.words().any(|word| word.text.contains('@'));
    for word in cell.words() {
        let (symbol, beat) = word
            .split_once('@')
            .map_or((word, None), |(s, b)| (s, Some(b)));
        let symbol_read = match symbol.text.parse::<ChordSymbol>() {
            Ok(symbol) => Some(symbol),
            Err(_) => {
                let found = symbol.text.to_owned();
                let help = chord_help(symbol.text);
                report.add(M::BadChord { found, help }, word.span());
                None
            }
        };
        let before = chords.last().and_then(|chord| chord.beat);
        let beat_read = beat.and_then(|beat| read_beat(beat, before, meter, report));
        if beat.is_none() && placed {
            let found = word.text.to_owned();
            report.add(M::ChordWithoutBeat { found }, word.span());
        }
        if let Some(symbol) = symbol_read {
            let beat = beat_read;
            chords.push(PlacedChord { symbol, beat });
        }
    }
    ChordCell { chords }
}

fn read_beat(
    piece: Piece<'_>,
    before: Option<u32>,
    meter: Option<Meter>,
    report: &mut Report,
) -> Option<u32> {
    let found = piece.text.to_owned();
    let Ok(beat) = thousandths::read(piece.text) else {
        report.add(M::BadChordBeat { found }, piece.span_with_neighbours());
        return None;
    };
    if let Some(meter) = meter {
        let beats = (1000 * meter.bar().0 / meter.beat().0) as u32;
        if !(1000..1000 + beats).contains(&beat) {
            let meter = meter.to_string();
            report.add(
                M::ChordBeatOutOfRange {
                    found,
                    meter,
                    beats,
                },
                piece.span(),
            );
            return None;
        }
    }
    if let Some(before) = before.filter(|before| *before >= beat) {
        let before = thousandths::write(before);
        report.add(M::ChordBeatsNotRising { found, before }, piece.span());
    }
    Some(beat)
}

fn chord_help(text: &str) -> String {
    let mut rest = text.chars();
    let first = rest.next().unwrap_or_default();
    let capital = format!("{}{}", first.to_ascii_uppercase(), rest.as_str());
    if text == "-" {
        "`-` stands alone in its bar, for the chord before to go on".to_owned()
    } else if first.is_ascii_lowercase() && capital.parse::<ChordSymbol>().is_ok() {
        format!("write `{capital}`: roots are capital letters")
    } else {
        "write a root and what follows it, such as `Dm7`, `Ebmaj7`, `G7/B` or `F#dim`".to_owned()
    }
}
