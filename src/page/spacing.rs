//! How many characters time needs.

use super::RowKind;
use super::content::{Content, Mark};
use crate::units::{TICKS_PER_QUARTER, Ticks};

/// Characters that a quarter note takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Scale(pub(super) usize);

/// A bar, or a part of one that fits in the width.
#[derive(Clone, Debug)]
pub(super) struct Piece<'a> {
    pub(super) content: &'a Content,
    pub(super) from: Ticks,
    pub(super) to: Ticks,
    /// Whether it reaches the bar's end.
    pub(super) ends: bool,
    gaps: Vec<Gap>,
    /// No narrower scale has room for its words.
    least: usize,
    /// Into how many equal parts of a quarter its places fall; 1 where that is not few.
    grain: usize,
}

/// From one position to another there must be this many characters.
#[derive(Clone, Copy, Debug)]
struct Gap {
    from: Ticks,
    to: Ticks,
    characters: usize,
}

impl Gap {
    /// Rounding gives less than one character more than the time between.
    fn least(&self) -> usize {
        let between = (self.to - self.from).0.max(1) as usize;
        let characters = self.characters.saturating_sub(1);
        (characters * TICKS_PER_QUARTER as usize / between).max(1)
    }
}

/// No quarter note is wider.
const WIDEST: usize = 4000;

impl Scale {
    /// Characters from one position to another of a bar, seen from `from`.
    pub(super) fn column(self, from: Ticks, at: Ticks) -> usize {
        let doubled = 2 * (at - from).0 * self.0 as i64 + TICKS_PER_QUARTER;
        (doubled / (2 * TICKS_PER_QUARTER)) as usize
    }
}

impl<'a> Piece<'a> {
    pub(super) fn new(content: &'a Content, from: Ticks, to: Ticks, length: Ticks) -> Piece<'a> {
        let mut piece = Piece {
            content,
            from,
            to,
            ends: to == length,
            gaps: Vec::new(),
            least: 1,
            grain: 1,
        };
        piece.gaps = gaps(&piece);
        piece.least = piece.gaps.iter().map(Gap::least).max().unwrap_or(1);
        piece.grain = grain(&piece);
        piece
    }

    pub(super) fn marks(&self) -> impl Iterator<Item = &'a Mark> + use<'a> {
        let (from, to) = (self.from, self.to);
        let all = self.content.marks.iter();
        all.filter(move |mark| (from..to).contains(&mark.at))
    }

    /// Whether it begins its bar.
    pub(super) fn begins(&self) -> bool {
        self.from == Ticks(0)
    }

    /// Characters before its first position: the bar line and one more, or that one.
    pub(super) fn lead(&self) -> usize {
        lead(self.begins())
    }

    /// Characters that it takes.
    pub(super) fn width(&self, scale: Scale) -> usize {
        self.lead() + scale.column(self.from, self.to)
    }

    fn is_roomy(&self, scale: Scale) -> bool {
        self.gaps.iter().all(|gap| {
            scale.column(self.from, gap.to) - scale.column(self.from, gap.from) >= gap.characters
        })
    }
}

/// See [`Piece::lead`].
pub(super) fn lead(begins: bool) -> usize {
    if begins { 2 } else { 1 }
}

/// Whether pieces fit side by side at a scale, each word beside the next.
pub(super) fn fit(pieces: &[Piece<'_>], scale: Scale, width: usize) -> bool {
    let total: usize = pieces.iter().map(|piece| piece.width(scale)).sum();
    total <= width && pieces.iter().all(|piece| piece.is_roomy(scale))
}

/// The narrowest scale at which the pieces fit in the width; one that keeps equal times exactly equal if there is one.
pub(super) fn narrowest(pieces: &[Piece<'_>], width: usize) -> Option<Scale> {
    let grain = grain_of(pieces);
    let least = pieces.iter().map(|piece| piece.least).max().unwrap_or(1);
    let from_least = || (least..=most(pieces, width)).map(Scale);
    let even = from_least().filter(|scale| scale.0.is_multiple_of(grain));
    let mut tried = even.chain(from_least());
    tried.find(|scale| fit(pieces, *scale, width))
}

/// The widest scale up to `most` at which they fit, in the same way; at least `least`, at which they do.
pub(super) fn widest(pieces: &[Piece<'_>], least: Scale, most: Scale, width: usize) -> Scale {
    let grain = grain_of(pieces);
    let wider = (least.0..=most.0).rev().filter(|scale| scale % grain == 0);
    let fitting = wider.map(Scale).find(|scale| fit(pieces, *scale, width));
    fitting.unwrap_or(least)
}

/// The widest scale at which a piece fits, its words cut where they meet.
pub(super) fn fullest(piece: &Piece<'_>, width: usize) -> Scale {
    let wide = (1..=most(std::slice::from_ref(piece), width))
        .rev()
        .map(Scale);
    let mut fitting = wide.filter(|scale| piece.width(*scale) <= width);
    fitting.next().unwrap_or(Scale(1))
}

/// At a wider scale the pieces are wider than the width.
fn most(pieces: &[Piece<'_>], width: usize) -> usize {
    let length: i64 = pieces.iter().map(|piece| (piece.to - piece.from).0).sum();
    // Each piece may be rounded down by half a character.
    let characters = (width + pieces.len()) as i64;
    ((characters * TICKS_PER_QUARTER / length.max(1)) as usize).min(WIDEST)
}

fn grain_of(pieces: &[Piece<'_>]) -> usize {
    let parts = |parts: &usize| pieces.iter().all(|piece| parts.is_multiple_of(piece.grain));
    [1, 2, 3, 4, 6, 8, 12].into_iter().find(parts).unwrap_or(1)
}

fn grain(piece: &Piece<'_>) -> usize {
    let falls = |parts: &usize| {
        let mut places = piece.marks().map(|mark| mark.at - piece.from);
        places.all(|at| at.0 * *parts as i64 % TICKS_PER_QUARTER == 0)
    };
    [1, 2, 3, 4, 6, 8, 12].into_iter().find(falls).unwrap_or(1)
}

fn gaps(piece: &Piece<'_>) -> Vec<Gap> {
    let marks: Vec<&Mark> = piece.marks().collect();
    let mut gaps = Vec::with_capacity(marks.len());
    for (index, mark) in marks.iter().enumerate() {
        let next = marks.get(index + 1).filter(|next| next.row == mark.row);
        let words = mark.text.chars().count();
        // On a string one character of it is seen between two frets, and before a bar line.
        let is_string = matches!(mark.row, RowKind::String(_));
        let apart = usize::from(next.is_some() || is_string);
        gaps.push(Gap {
            from: mark.at,
            to: next.map_or(piece.to, |next| next.at),
            characters: words + apart,
        });
    }
    gaps
}
