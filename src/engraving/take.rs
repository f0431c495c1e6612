//! What a take adds below the strings: signed ms, and what was played where it is not what is written.

use super::Sounding;
use super::columns::OFFSET_SIZE;
use super::figures::FiguredBar;
use super::shape::{Anchor, Item, Role, Shape, at};
use crate::judge::Timing;
use crate::page::{Heard, RowKind, Sign, Source};
use std::collections::BTreeSet;

/// Something said of a figure.
#[derive(Clone, Debug)]
pub(super) struct Spoken {
    /// Index of the figure in its bar.
    pub(super) figure: usize,
    pub(super) row: RowKind,
    pub(super) text: String,
    role: Role,
    note: Option<u32>,
}

/// What is said of the figures of a bar, and the signs it needs.
pub(super) fn spoken(source: Source<'_>, bar: &FiguredBar) -> (Vec<Spoken>, BTreeSet<Sign>) {
    let (mut all, mut signs) = (Vec::new(), BTreeSet::new());
    let Some(judgement) = source.judgement else {
        return (all, signs);
    };
    let heard = Heard::new(source.expected, judgement);
    for (index, figure) in bar
        .figures
        .iter()
        .enumerate()
        .filter(|(_, one)| !one.tied_in)
    {
        let Some(first) = figure.heads.iter().map(|head| head.note as usize).min() else {
            continue;
        };
        let group = &source.expected.notes[first..first + figure.heads.len()];
        let (marks, own) = heard.marks(first, group);
        signs.extend(own);
        all.extend(marks.into_iter().map(|mark| Spoken {
            figure: index,
            row: mark.row,
            role: role(source, &mark.text, mark.row, mark.note),
            text: mark.text,
            note: mark.note,
        }));
    }
    (all, signs)
}

fn role(source: Source<'_>, text: &str, row: RowKind, note: Option<u32>) -> Role {
    if !matches!(row, RowKind::Ms(_)) {
        return Role::Played;
    }
    if text == Sign::Missed.shape() {
        return Role::Missed;
    }
    let readings = source.judgement.map(|judgement| &judgement.readings);
    let reading = readings
        .zip(note)
        .and_then(|(readings, note)| readings.get(note as usize));
    match reading
        .and_then(|reading| reading.partner)
        .map(|partner| partner.timing)
    {
        Some(Timing::Early) => Role::Early,
        Some(Timing::Late) => Role::Late,
        _ => Role::Offset,
    }
}

impl Spoken {
    /// The expected note that was not played.
    pub(super) fn missed(&self) -> Option<u32> {
        self.note.filter(|_| self.role == Role::Missed)
    }

    /// The words, and under an offset outside the window an arrow to where it lies, to the left is early; a ruler shows that itself.
    pub(super) fn items(&self, x: f64, sounding: Sounding) -> Vec<Item> {
        let text = Shape::Text {
            text: self.text.clone(),
            at: at(x, 0.0),
            size: OFFSET_SIZE,
            anchor: Anchor::Middle,
        };
        let mut items = vec![Item::of(self.note, self.role, text)];
        let point = match self.role {
            Role::Early if sounding == Sounding::Told => -0.7,
            Role::Late if sounding == Sounding::Told => 0.7,
            _ => return items,
        };
        let arrow = [
            at(x + point, 0.85),
            at(x - point, 0.45),
            at(x - point, 1.25),
        ];
        items.push(Item::of(
            self.note,
            self.role,
            Shape::Polygon(arrow.to_vec()),
        ));
        items
    }
}
