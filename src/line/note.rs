//! Reading one note: place, length, marks, tie.

use super::length::NoteLength;
use super::mistake::NoteMistake as M;
use super::mistakes::Report;
use super::note_grammar;
use super::piece::Piece;
use super::tuning::Tuning;
use super::{Marks, Place, place};
use winnow::Parser;

/// What could be read of a note, and where it stands.
pub(super) struct DraftNote<'t> {
    pub piece: Piece<'t>,
    pub place: Option<Place>,
    pub length: Option<NoteLength>,
    pub marks: Marks,
    /// The first mark and its piece, for mistakes about marks that stand where none can.
    pub first_mark: Option<(char, Piece<'t>)>,
    pub tie: Option<Piece<'t>>,
}

/// What a note's place looks like, even when it cannot be read.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Rest,
    Dead,
    Struck,
}

impl DraftNote<'_> {
    pub fn kind(&self) -> Kind {
        match self.place {
            Some(Place::Rest) => Kind::Rest,
            Some(Place::Dead(_)) => Kind::Dead,
            Some(Place::Struck(_)) => Kind::Struck,
            None if self.piece.text.starts_with('r') => Kind::Rest,
            None if self.piece.text.starts_with('x') => Kind::Dead,
            None => Kind::Struck,
        }
    }
}

/// Reads a note and reports everything that is wrong with it by itself.
pub(super) fn read<'t>(
    piece: Piece<'t>,
    tuning: Option<&Tuning>,
    report: &mut Report,
) -> DraftNote<'t> {
    let Some((before, after)) = piece.split_once('/') else {
        return without_length(piece, tuning, report);
    };
    let place = place::read(before, tuning, report);
    let is_length = |c: char| c.is_ascii_digit() || c == '.' || c == 't';
    let end = after
        .text
        .find(|c| !is_length(c))
        .unwrap_or(after.text.len());
    let (length, marks) = after.split_at(end);
    let mut note = DraftNote {
        piece,
        place,
        length: read_length(before, length, marks, report),
        marks: Marks::default(),
        first_mark: None,
        tie: None,
    };
    if !length.text.is_empty() {
        note.read_marks(marks, report);
    }
    note.check_kind(report);
    note
}

fn without_length<'t>(
    piece: Piece<'t>,
    tuning: Option<&Tuning>,
    report: &mut Report,
) -> DraftNote<'t> {
    // `D3'` is a place with marks; `D3` alone is worth checking as a place.
    let found = piece
        .text
        .trim_end_matches(['\'', '_', '>', '?', '~'])
        .to_owned();
    let place = if note_grammar::place.parse(&found).is_ok() {
        report.add(M::MissingLength { found }, piece.span());
        None
    } else {
        place::read(piece, tuning, report)
    };
    DraftNote {
        piece,
        place,
        length: None,
        marks: Marks::default(),
        first_mark: None,
        tie: None,
    }
}

fn read_length(
    place: Piece<'_>,
    length: Piece<'_>,
    marks: Piece<'_>,
    report: &mut Report,
) -> Option<NoteLength> {
    if let Ok(length) = note_grammar::length.parse(length.text) {
        return Some(length);
    }
    let found = if length.text.is_empty() {
        marks
    } else {
        length
    };
    if found.text.is_empty() {
        let found = place.text.to_owned();
        report.add(M::MissingLength { found }, place.span_with_neighbours());
        return None;
    }
    let mistake = M::BadLength {
        meant: meant_length(found.text),
        found: found.text.to_owned(),
    };
    report.add(mistake, found.span());
    None
}

/// Common other ways to say a length: letters, parts of a triplet group, dots after the `t`.
fn meant_length(text: &str) -> Option<String> {
    const OTHER_NAMES: [(&str, &str); 10] = [
        ("w", "1"),
        ("h", "2"),
        ("q", "4"),
        ("e", "8"),
        ("s", "16"),
        ("3", "2t"),
        ("6", "4t"),
        ("12", "8t"),
        ("24", "16t"),
        ("48", "32t"),
    ];
    if let Some((_, meant)) = OTHER_NAMES.iter().find(|(other, _)| *other == text) {
        return Some((*meant).to_owned());
    }
    let reordered = format!("{}t", text.replace('t', ""));
    let readable = text.contains('t') && note_grammar::length.parse(&reordered).is_ok();
    readable.then_some(reordered)
}

impl<'t> DraftNote<'t> {
    fn read_marks(&mut self, marks: Piece<'t>, report: &mut Report) {
        for (character, piece) in marks.characters() {
            if character == '~' {
                let at = character.len_utf8() + piece_offset(marks, piece);
                let (_, after) = marks.split_at(at);
                self.tie = Some(piece);
                if !after.text.is_empty() {
                    let after_text = after.text.to_owned();
                    report.add(M::TieNotLast { after: after_text }, after.span());
                }
                return;
            }
            let Some(mark) = self.marks.mark(character) else {
                report.add(M::BadMark { found: character }, piece.span());
                return;
            };
            if *mark {
                report.add(M::RepeatedMark { mark: character }, piece.span());
            }
            *mark = true;
            self.first_mark.get_or_insert((character, piece));
            self.check_contradiction(character, piece, report);
        }
    }

    fn check_contradiction(&self, mark: char, piece: Piece<'_>, report: &mut Report) {
        let against = match mark {
            '_' if self.marks.short => '\'',
            '_' if self.marks.muted => 'm',
            '\'' | 'm' if self.marks.full => '_',
            _ => return,
        };
        let mistake = M::ContradictoryMarks {
            first: against,
            second: mark,
        };
        report.add(mistake, piece.span());
    }

    /// Marks and ties that a rest or a dead note cannot have.
    fn check_kind(&self, report: &mut Report) {
        let kind = self.kind();
        if let (Kind::Rest, Some((mark, piece))) = (kind, self.first_mark) {
            report.add(M::MarkOnRest { mark }, piece.span());
        }
        if kind == Kind::Dead {
            let length_marks = [
                ('\'', self.marks.short),
                ('_', self.marks.full),
                ('m', self.marks.muted),
            ];
            if let Some((mark, _)) = length_marks.into_iter().find(|(_, set)| *set) {
                report.add(M::LengthMarkOnDeadNote { mark }, self.piece.span());
            }
        }
        if let Some(tie) = self.tie {
            match kind {
                Kind::Rest => report.add(M::TieOnRest, tie.span()),
                Kind::Dead => report.add(M::TieOnDeadNote, tie.span()),
                Kind::Struck => {}
            }
        }
    }
}

fn piece_offset(whole: Piece<'_>, part: Piece<'_>) -> usize {
    part.text.as_ptr() as usize - whole.text.as_ptr() as usize
}

impl Marks {
    /// The mark that a character stands for.
    fn mark(&mut self, character: char) -> Option<&mut bool> {
        match character {
            '\'' => Some(&mut self.short),
            '_' => Some(&mut self.full),
            'm' => Some(&mut self.muted),
            '>' => Some(&mut self.accent),
            '?' => Some(&mut self.optional),
            _ => None,
        }
    }
}
