//! What holds for the page of any line at any width.

mod line_strategy;
mod pages;

use leadsman::expected::{Expected, ExpectedNote};
use leadsman::page::text::{Charset, draw};
use leadsman::page::{Cell, Page, Passes, Row, RowKind};
use line_strategy::lines;
use pages::{laid_out, layout};
use proptest::prelude::*;
use unicode_width::UnicodeWidthStr;

fn strings(page: &Page) -> impl Iterator<Item = (usize, &Row, &Cell)> {
    let rows = page.systems.iter().enumerate();
    let rows = rows.flat_map(|(number, system)| system.rows.iter().map(move |row| (number, row)));
    let strings = rows.filter(|(_, row)| matches!(row.kind, RowKind::String(_)));
    strings.flat_map(|(number, row)| row.cells.iter().map(move |cell| (number, row, cell)))
}

/// The span of the page that a note's place lies in.
fn bar_at(page: &Page, system: usize, column: usize) -> Option<u32> {
    let spans = &page.systems[system].spans;
    let span = spans.iter().find(|span| span.columns.contains(&column))?;
    Some(span.bar)
}

/// What stands for a note; `None` where the line leaves the place open.
fn shown(note: &ExpectedNote) -> Option<String> {
    let place = match note.fret {
        _ if note.is.dead => "x".to_string(),
        fret => fret?.to_string(),
    };
    Some(if note.is.optional {
        format!("({place})")
    } else {
        place
    })
}

/// Every note asked for stands once, in its bar, on its string, and to the right of or below the one before.
fn has_every_note(expected: &Expected, page: &Page, passes: Passes) -> Result<(), TestCaseError> {
    let mut places = vec![Vec::new(); expected.notes.len()];
    for (system, row, cell) in strings(page) {
        let Some(note) = cell.note else { continue };
        let written = &expected.notes[note as usize];
        prop_assert_eq!(bar_at(page, system, cell.column), Some(written.bar));
        if let Some(string) = written.string {
            prop_assert_eq!(row.kind, RowKind::String(string));
        }
        if let Some(text) = shown(written) {
            prop_assert_eq!(&cell.text, &text);
        }
        places[note as usize].push((system, cell.column));
    }
    let mut last = None;
    for (note, places) in expected.notes.iter().zip(places) {
        let is_asked = passes == Passes::All || passes == Passes::One(note.pass);
        prop_assert_eq!(places.len(), usize::from(is_asked));
        let Some(place) = places.first() else {
            continue;
        };
        if let Some((group, before)) = last {
            prop_assert_eq!(group == note.group, before == *place);
            prop_assert!(before <= *place);
        }
        last = Some((note.group, *place));
    }
    Ok(())
}

/// No row is wider than the width, in either set of characters.
fn fits(page: &Page, title: &str, width: usize) -> Result<(), TestCaseError> {
    for charset in [Charset::Unicode, Charset::Ascii] {
        let text = draw(&[title.to_string()], page, width, charset);
        for row in text.lines() {
            prop_assert!(row.width() <= width, "{} > {width}: {row}", row.width());
        }
    }
    Ok(())
}

/// At least one character is left between the words of a row.
fn is_spaced(page: &Page) -> Result<(), TestCaseError> {
    for row in page.systems.iter().flat_map(|system| &system.rows) {
        for pair in row.cells.windows(2) {
            let end = pair[0].column + pair[0].text.chars().count();
            prop_assert!(end < pair[1].column, "{row:?}");
        }
    }
    Ok(())
}

proptest! {
    // Lines are slow to make up.
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_page_has_every_note_in_its_place_and_no_row_too_wide(
        line in lines(), width in 40usize..140, one in any::<bool>()
    ) {
        let passes = if one { Passes::One(1) } else { Passes::All };
        let (expected, page) = laid_out(&line, &layout(width, passes));
        has_every_note(&expected, &page, passes)?;
        fits(&page, &line.title, width)?;
        is_spaced(&page)?;
    }
}
