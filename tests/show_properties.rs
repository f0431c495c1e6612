//! What holds for the page of any line at any width.

mod line_strategy;
mod pages;

use leadsman::expected::Expected;
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

fn shown(expected: &Expected, note: u32) -> String {
    let note = &expected.notes[note as usize];
    let place = match note.fret {
        _ if note.is.dead => "x".to_string(),
        Some(fret) => fret.to_string(),
        None => return String::new(),
    };
    if note.is.optional {
        format!("({place})")
    } else {
        place
    }
}

proptest! {
    #[test]
    fn every_note_stands_once_in_its_bar_and_in_time(line in lines(), width in 40usize..140, one in any::<bool>()) {
        let passes = if one { Passes::One(1) } else { Passes::All };
        let (expected, page) = laid_out(&line, &layout(width, passes));
        let mut columns = vec![Vec::new(); expected.notes.len()];
        for (system, row, cell) in strings(&page) {
            let Some(note) = cell.note else { continue };
            let written = &expected.notes[note as usize];
            prop_assert_eq!(bar_at(&page, system, cell.column), Some(written.bar));
            if let Some(string) = written.string {
                prop_assert_eq!(row.kind, RowKind::String(string));
            }
            if !shown(&expected, note).is_empty() {
                prop_assert_eq!(&cell.text, &shown(&expected, note));
            }
            columns[note as usize].push((system, cell.column));
        }
        let mut last = None;
        for (note, found) in expected.notes.iter().zip(columns) {
            let is_asked = !one || note.pass == 1;
            prop_assert_eq!(found.len(), usize::from(is_asked));
            if let Some(place) = found.first() {
                if let Some((group, before)) = last {
                    prop_assert_eq!(group == note.group, before == *place);
                    prop_assert!(before <= *place);
                }
                last = Some((note.group, *place));
            }
        }
    }

    #[test]
    fn no_row_is_wider_than_the_page(line in lines(), width in 40usize..140) {
        let (_, page) = laid_out(&line, &layout(width, Passes::All));
        for charset in [Charset::Unicode, Charset::Ascii] {
            let text = draw(std::slice::from_ref(&line.title), &page, width, charset);
            for row in text.lines() {
                prop_assert!(row.width() <= width, "{} > {width}: {row}", row.width());
            }
        }
    }

    #[test]
    fn words_in_a_row_are_told_apart(line in lines(), width in 40usize..140) {
        let (_, page) = laid_out(&line, &layout(width, Passes::All));
        let rows = page.systems.iter().flat_map(|system| &system.rows);
        for row in rows {
            for pair in row.cells.windows(2) {
                let end = pair[0].column + pair[0].text.chars().count();
                prop_assert!(end < pair[1].column, "{row:?}");
            }
        }
    }
}
