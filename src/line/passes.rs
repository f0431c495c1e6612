//! Reading the passes of a section, and whether the notes stay on the fingerboard in each of them.

use super::bars::DraftBar;
use super::document::Fields;
use super::mistake::SettingMistake as M;
use super::mistakes::Report;
use super::note::DraftNote;
use super::tuning::{HIGHEST_FRET, Tuning};
use super::{Place, Stop};
use std::ops::Range;

/// Five octaves: more than any fingerboard has.
const WIDEST_SHIFT: i8 = 60;

/// A shift and where it stands.
pub(super) type Pass = (i8, Range<usize>);

/// The shifts; one pass as written where the section names none, nothing where the list is wrong.
pub(super) fn read(fields: &Fields<'_>, report: &mut Report) -> Option<Vec<Pass>> {
    let before = report.list.len();
    let Some((numbers, span)) = fields.integers("passes", "passes = [0, 0, 2]", report) else {
        return (report.list.len() == before).then(|| vec![(0, fields.span())]);
    };
    if numbers.is_empty() {
        report.add(M::NoPass, span);
    }
    let mut passes = Vec::new();
    for number in numbers {
        match number.text.parse::<i8>() {
            Ok(shift) if shift.unsigned_abs() <= WIDEST_SHIFT.unsigned_abs() => {
                passes.push((shift, number.span));
            }
            _ => {
                let shift = number.text.to_owned();
                report.add(M::PassShiftTooLarge { shift }, number.span);
            }
        }
    }
    (report.list.len() == before).then_some(passes)
}

/// Reports each shift that takes a note off the fingerboard, once a shift. The pickup is played in the first pass only.
pub(super) fn check(passes: &[Pass], bars: &[DraftBar<'_>], tuning: &Tuning, report: &mut Report) {
    let mut seen = Vec::new();
    for (index, (shift, span)) in passes.iter().enumerate() {
        if *shift == 0 || seen.contains(shift) {
            continue;
        }
        seen.push(*shift);
        let played = bars.iter().filter(|bar| bar.number > 0 || index == 0);
        let mut notes = played.flat_map(|bar| bar.notes.iter().map(|note| (bar.number, note)));
        let lost = notes.find(|(_, note)| !stays(note, tuning, i32::from(*shift)));
        if let Some((bar, note)) = lost {
            let mistake = M::PassOffFingerboard {
                shift: format!("{shift:+}"),
                note: note
                    .piece
                    .text
                    .split('/')
                    .next()
                    .unwrap_or_default()
                    .to_owned(),
                bar,
                why: why(note, tuning, i32::from(*shift)),
                range: range(bars, tuning),
            };
            report.add(mistake, span.clone());
        }
    }
}

fn stays(note: &DraftNote<'_>, tuning: &Tuning, shift: i32) -> bool {
    match &note.place {
        Some(Place::Struck(stops)) => tuning.reaches(stops, shift),
        _ => true,
    }
}

fn why(note: &DraftNote<'_>, tuning: &Tuning, shift: i32) -> String {
    let Some(Place::Struck(stops)) = &note.place else {
        return String::new();
    };
    let lost = stops
        .iter()
        .find(|stop| tuning.strings_for(**stop, shift).is_empty());
    let direction = if shift < 0 { "below" } else { "above" };
    match lost {
        None => "no string is left for it".to_owned(),
        Some(Stop::Pitch(_)) if shift < 0 => {
            let open = tuning.lowest().map(|open| open.to_string());
            format!(
                "it falls below the lowest string, {}",
                open.unwrap_or_default()
            )
        }
        Some(Stop::Pitch(_)) => {
            let highest = tuning.highest().map(|key| key.to_string());
            format!(
                "it rises above the last fret, {}",
                highest.unwrap_or_default()
            )
        }
        Some(Stop::Fret { string, .. } | Stop::PitchOn { string, .. }) => {
            let edge = if shift < 0 { 0 } else { HIGHEST_FRET };
            format!(
                "{direction} fret {edge} of the {} string",
                tuning.label(*string)
            )
        }
    }
}

/// The shifts around 0 that every note can take; none when that is 0 alone.
fn range(bars: &[DraftBar<'_>], tuning: &Tuning) -> Option<(i32, i32)> {
    let fits = |shift: &i32| {
        let mut notes = bars.iter().flat_map(|bar| &bar.notes);
        notes.all(|note| stays(note, tuning, *shift))
    };
    let widest = i32::from(WIDEST_SHIFT);
    let high = (1..=widest).take_while(fits).last().unwrap_or(0);
    let low = (1..=widest)
        .map(|shift| -shift)
        .take_while(fits)
        .last()
        .unwrap_or(0);
    ((low, high) != (0, 0)).then_some((low, high))
}
