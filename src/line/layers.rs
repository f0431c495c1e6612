//! Reading the strokes and fingers of a section: one mark a struck note, bar by bar.

use super::Stroke;
use super::bars::DraftBar;
use super::mistake::LayerMistake as M;
use super::mistake::layer::MarkLayer;
use super::mistakes::Report;
use super::note::Kind;
use super::piece::Piece;

/// The cells of a layer, one a bar. Bar lines before the first cell and after the last one are dropped where there
/// would be too many cells otherwise, since a cell may be empty.
pub(super) fn cells<'t>(
    piece: Piece<'t>,
    layer: &'static str,
    bars: usize,
    report: &mut Report,
) -> Option<Vec<Piece<'t>>> {
    let mut cells: Vec<Piece<'t>> = piece.split('|').collect();
    let blank = |cell: Option<&Piece<'_>>| cell.is_some_and(|cell| cell.text.trim().is_empty());
    if cells.len() > bars && blank(cells.last()) {
        cells.pop();
    }
    if cells.len() > bars && blank(cells.first()) {
        cells.remove(0);
    }
    if cells.len() == bars {
        return Some(cells);
    }
    let cells = cells.len();
    report.add(
        M::BarCount { layer, cells, bars },
        piece.span_with_neighbours(),
    );
    None
}

/// Reads a layer whose marks are read by `mark`, and counts them against the struck notes.
pub(super) fn read<M1>(
    piece: Piece<'_>,
    layer: MarkLayer,
    bars: &[DraftBar<'_>],
    mark: impl Fn(&str) -> Result<M1, M>,
    report: &mut Report,
) -> Option<Vec<Vec<M1>>> {
    let cells = cells(piece, layer.key(), bars.len(), report)?;
    let struck = struck_notes(bars);
    let mut layer_bars = Vec::new();
    for ((cell, bar), notes) in cells.into_iter().zip(bars).zip(struck) {
        let mut marks = Vec::new();
        for word in cell.words() {
            match mark(word.text) {
                Ok(mark) => marks.push(mark),
                Err(mistake) => report.add(mistake, word.span()),
            }
        }
        let count = cell.words().count();
        // Notes without a readable length have been reported; what they were meant to be is not known.
        let readable = bar.notes.iter().all(|note| note.length.is_some());
        if readable && count != notes {
            let mistake = M::MarkCount {
                layer,
                bar: bar.number,
                marks: count,
                notes,
            };
            report.add(mistake, marked(cell));
        }
        layer_bars.push(marks);
    }
    Some(layer_bars)
}

/// The cell's marks, or the bar lines around an empty cell.
fn marked(cell: Piece<'_>) -> std::ops::Range<usize> {
    let trimmed = cell.trimmed();
    if trimmed.text.is_empty() {
        cell.span_with_neighbours()
    } else {
        trimmed.span()
    }
}

/// How many notes of each bar are struck: neither rests nor tied to the note before.
fn struck_notes(bars: &[DraftBar<'_>]) -> Vec<usize> {
    let mut tied = false;
    let mut counts = Vec::new();
    for bar in bars {
        let mut count = 0;
        for note in &bar.notes {
            let struck = note.kind() != Kind::Rest && !tied;
            count += usize::from(struck);
            tied = note.tie.is_some() && note.kind() == Kind::Struck;
        }
        counts.push(count);
    }
    counts
}

/// `d` or `u`.
pub(super) fn stroke(text: &str) -> Result<Stroke, M> {
    match text {
        "d" => Ok(Stroke::Down),
        "u" => Ok(Stroke::Up),
        _ => Err(M::BadStroke {
            found: text.to_owned(),
        }),
    }
}

/// 0 to 4.
pub(super) fn finger(text: &str) -> Result<u8, M> {
    match text {
        "0" => Ok(0),
        "1" => Ok(1),
        "2" => Ok(2),
        "3" => Ok(3),
        "4" => Ok(4),
        _ => Err(M::BadFinger {
            found: text.to_owned(),
        }),
    }
}
