//! What holds for the sheet of any line, read back from what is drawn as a musician reads it.

mod line_strategy;

use leadsman::engraving::glyph::Glyph;
use leadsman::engraving::html::{self, Head};
use leadsman::engraving::shape::{Area, Item, Role, Shape};
use leadsman::engraving::{PAGE_WIDTH, Part, Sheet, Sounding, System, svg};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedBar, unroll};
use leadsman::fingering::Fingering;
use leadsman::line::{Bar, Line, Note, Place};
use leadsman::page::{Passes, Source};
use line_strategy::lines;
use proptest::prelude::*;
use std::collections::HashMap;

fn engraved(line: &Line, passes: Passes) -> (Expected, Sheet) {
    let expected = unroll(line, Speed::WRITTEN);
    let fingering = Fingering::of(&expected);
    let source = Source {
        line,
        expected: &expected,
        fingering: &fingering,
        judgement: None,
    };
    let part = Part {
        passes,
        bars: None,
        without: Default::default(),
        sounding: Sounding::Told,
    };
    let sheet = Sheet::of(source, &part);
    (expected, sheet)
}

/// The bar as the line writes it.
fn written<'l>(line: &'l Line, bar: &ExpectedBar) -> &'l Bar {
    let mut number = bar.number - line.bar_range().first;
    for section in &line.sections {
        match section.bars.get(number as usize) {
            Some(bar) => return bar,
            None => number -= section.bars.len() as u32,
        }
    }
    panic!("bar {} is in no section", bar.number);
}

fn of_role(system: &System, role: Role) -> impl Iterator<Item = &Item> {
    system.items.iter().filter(move |item| item.role == role)
}

fn sign(item: &Item) -> (Glyph, f64, f64) {
    match item.shape {
        Shape::Sign(glyph, at) => (glyph, at.x, at.y),
        ref other => panic!("{other:?} is no sign"),
    }
}

/// Letters above the C that is written C0 (0 = C): the bottom line of a bass clef is G2, a half space is a letter.
fn letter(system: &System, y: f64) -> i32 {
    let up = (system.staff + 4.0 - y) * 2.0;
    assert!(
        (up - up.round()).abs() < 1e-6,
        "{up} is between line and space"
    );
    2 * 7 + 4 + up.round() as i32
}

fn sharps(glyph: Glyph) -> i32 {
    match glyph {
        Glyph::DoubleFlat => -2,
        Glyph::Flat => -1,
        Glyph::Natural => 0,
        Glyph::Sharp => 1,
        Glyph::DoubleSharp => 2,
        other => panic!("{other:?} is no accidental"),
    }
}

/// The key that a written letter sounds on a bass guitar, an octave lower than it is written.
fn key(letter: i32, sharps: i32) -> i32 {
    const NATURAL: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
    12 * (letter.div_euclid(7) + 1) + NATURAL[letter.rem_euclid(7) as usize] + sharps - 12
}

/// Reads every head with the signs before it and the signature, and finds the key that is expected.
fn reads_right(expected: &Expected, system: &System) -> Result<(), TestCaseError> {
    let mut signature: HashMap<i32, i32> = HashMap::new();
    for (glyph, _, y) in of_role(system, Role::KeySignature).map(sign) {
        *signature
            .entry(letter(system, y).rem_euclid(7))
            .or_default() += sharps(glyph);
    }
    for bar in &system.bars {
        let inside = |item: &&Item| (bar.left..bar.right).contains(&sign(item).1);
        let heads = of_role(system, Role::Head).filter(inside);
        let signs = of_role(system, Role::Accidental).filter(inside);
        let mut all: Vec<&Item> = heads.chain(signs).collect();
        all.sort_by(|a, b| sign(a).1.total_cmp(&sign(b).1));
        let mut holds: HashMap<i32, i32> = HashMap::new();
        for item in all {
            let (glyph, _, y) = sign(item);
            let letter = letter(system, y);
            if item.role == Role::Accidental {
                holds.insert(letter, sharps(glyph));
                continue;
            }
            let note = &expected.notes[item.note.expect("a head of a note") as usize];
            let is_held_over = note.bar != bar.bar;
            let Some(sounds) = note.key.filter(|_| !is_held_over) else {
                prop_assert!(is_held_over || glyph == Glyph::CrossHead);
                continue;
            };
            let of_key = signature.get(&letter.rem_euclid(7)).copied().unwrap_or(0);
            let read = key(letter, holds.get(&letter).copied().unwrap_or(of_key));
            prop_assert_eq!(read, i32::from(sounds.0), "{:?}", note);
        }
    }
    Ok(())
}

/// As many heads, frets and rests as the line writes, and each expected note in its own bar.
fn has_everything(line: &Line, expected: &Expected, sheet: &Sheet) -> Result<(), TestCaseError> {
    let mut seen = vec![0; expected.notes.len()];
    for system in &sheet.systems {
        for place in &system.bars {
            let bar = &expected.bars[place.bar as usize];
            let inside = |item: &&Item| (place.left..place.right).contains(&item.shape.area().left);
            let count = |role| of_role(system, role).filter(inside).count();
            let written = &written(line, bar).notes;
            let stops = |note: &Note| match &note.place {
                Place::Rest => 0,
                Place::Dead(_) => 1,
                Place::Struck(stops) => stops.len(),
            };
            let heads: usize = written.iter().map(stops).sum();
            prop_assert_eq!(count(Role::Head), heads);
            let frets = of_role(system, Role::Fret).filter(|item| {
                let area = item.shape.area();
                (place.left..place.right).contains(&((area.left + area.right) / 2.0))
            });
            prop_assert_eq!(frets.count(), heads);
            let rests = written
                .iter()
                .filter(|note| note.place == Place::Rest)
                .count();
            let drawn = if heads == 0 { 1 } else { rests };
            prop_assert_eq!(count(Role::Rest), drawn);
            for item in of_role(system, Role::Head).filter(inside) {
                let note = item.note.expect("a head of a note") as usize;
                seen[note] += usize::from(expected.notes[note].bar == place.bar);
            }
        }
    }
    prop_assert!(seen.iter().all(|times| *times >= 1), "{:?}", seen);
    Ok(())
}

/// Which beat of the beams a place is in, by the meter as it is written; see `engraving::groups`.
fn beat(bar: &ExpectedBar, at: i64) -> i64 {
    let meter = bar.meter();
    match (meter.upper, meter.lower) {
        (6 | 9 | 12, 8) => at / 1440,
        (upper, 8) if upper % 2 == 1 && upper > 1 => (at / 960).min(i64::from(upper / 2) - 1),
        _ => at / 960,
    }
}

fn beams_stay_in_beats(
    line: &Line,
    expected: &Expected,
    system: &System,
) -> Result<(), TestCaseError> {
    for place in &system.bars {
        let bar = &expected.bars[place.bar as usize];
        // Columns from left to right are the written notes and rests in their order.
        let mut columns: Vec<f64> = Vec::new();
        let inside = |item: &&Item| (place.left..place.right).contains(&sign(item).1);
        let heads = of_role(system, Role::Head).chain(of_role(system, Role::Rest));
        let mut xs: Vec<f64> = heads.filter(inside).map(|item| sign(item).1).collect();
        xs.sort_by(f64::total_cmp);
        // Heads a second apart stand side by side in one column.
        for x in xs {
            if columns.last().is_none_or(|last| x - last > 1.3) {
                columns.push(x);
            }
        }
        let notes = &written(line, bar).notes;
        if notes.iter().all(|note| note.place == Place::Rest) {
            continue;
        }
        prop_assert_eq!(columns.len(), notes.len());
        let mut at = bar.offset.0;
        let starts: Vec<i64> = notes
            .iter()
            .map(|note| {
                let start = at;
                at += note.length.ticks().0;
                start
            })
            .collect();
        for beam in of_role(system, Role::Beam) {
            let area = beam.shape.area();
            if !(place.left..place.right).contains(&area.left) {
                continue;
            }
            let under = columns.iter().zip(&starts);
            // A stem is at most the width of a head (and of a displaced one) from its column.
            let under = under.filter(|(x, _)| area.left - 1.3 < **x && **x < area.right - 0.05);
            let beats: Vec<i64> = under.map(|(_, at)| beat(bar, *at)).collect();
            prop_assert!(
                beats.windows(2).all(|pair| pair[0] == pair[1]),
                "{:?} in {}",
                beats,
                bar.meter()
            );
        }
    }
    Ok(())
}

/// Nothing of one column lies on another, nor words of one row on each other.
fn nothing_collides(system: &System) -> Result<(), TestCaseError> {
    let is_solid = |role: Role| {
        matches!(
            role,
            Role::Head | Role::Rest | Role::Accidental | Role::Dot | Role::Parenthesis
        )
    };
    let solid: Vec<&Item> = system
        .items
        .iter()
        .filter(|item| is_solid(item.role))
        .collect();
    for (index, one) in solid.iter().enumerate() {
        for other in &solid[index + 1..] {
            // The heads of a double stop may touch where they are a second apart.
            let heads = one.role == Role::Head && other.role == Role::Head;
            let (a, b) = (
                one.shape.area(),
                shrunk(other.shape.area(), if heads { 0.15 } else { 0.05 }),
            );
            prop_assert!(!a.overlaps(&b), "{one:?} on {other:?}");
        }
    }
    for role in [Role::Fret, Role::Chord, Role::Finger, Role::Stroke] {
        let row: Vec<Area> = of_role(system, role)
            .map(|item| item.shape.area())
            .collect();
        for (index, one) in row.iter().enumerate() {
            let clash = row[index + 1..]
                .iter()
                .find(|other| one.overlaps(&shrunk(**other, 0.1)));
            prop_assert!(clash.is_none(), "{role:?}: {one:?} on {clash:?}");
        }
    }
    Ok(())
}

fn shrunk(area: Area, by: f64) -> Area {
    Area {
        left: area.left + by,
        right: area.right - by,
        top: area.top + by,
        bottom: area.bottom - by,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_sheet_says_what_the_line_says(line in lines()) {
        let (expected, sheet) = engraved(&line, Passes::All);
        has_everything(&line, &expected, &sheet)?;
        for system in &sheet.systems {
            reads_right(&expected, system)?;
            beams_stay_in_beats(&line, &expected, system)?;
        }
    }

    #[test]
    fn a_drawing_is_xml_with_every_word_as_text(line in lines()) {
        let (_, sheet) = engraved(&line, Passes::One(1));
        let facts = ["a < b".to_string()];
        let head = Head { title: &line.title, facts: &facts, comment: &facts };
        let drawing = svg::drawing(&head, &sheet);
        let read = roxmltree::Document::parse(&drawing);
        prop_assert!(read.is_ok(), "{:?}", read.err());
        let read = read.expect("just looked");
        let texts = read.descendants().filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")));
        let items = sheet.systems.iter().flat_map(|system| &system.items);
        let words = items.filter(|item| matches!(item.shape, Shape::Text { .. })).count();
        prop_assert!(texts.count() >= words + 3);
        let page = html::page(&head, &sheet);
        for part in page.split("<svg ").skip(1) {
            let end = part.find("</svg>").expect("an end");
            let part = format!("<svg {}", &part[..end + 6]);
            let read = roxmltree::Document::parse(&part);
            prop_assert!(read.is_ok(), "{:?}", read.err());
        }
    }

    #[test]
    fn nothing_of_a_sheet_collides_or_leaves_the_page(line in lines()) {
        let (_, sheet) = engraved(&line, Passes::One(1));
        for system in &sheet.systems {
            nothing_collides(system)?;
            prop_assert!(system.width >= PAGE_WIDTH);
            for item in &system.items {
                let area = item.shape.area();
                let inside = area.left >= -0.01 && area.right <= system.width + 0.01;
                prop_assert!(inside && area.top >= 0.0 && area.bottom <= system.height, "{item:?}");
            }
        }
    }
}
