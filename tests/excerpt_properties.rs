//! What an excerpt of any line has in common with the whole: the same bars, the same notes in them, the same times.

mod line_strategy;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, ExpectedNote, NoteTraits, unroll};
use leadsman::line::bar_range::BarRange;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::line::{Line, Section};
use leadsman::units::{Nanos, Ticks};
use line_strategy::lines;
use proptest::prelude::*;
use proptest::sample::Index;

fn range_of(line: &Line, ends: [Index; 2]) -> Option<BarRange> {
    let all = line.bar_range();
    let mut bars =
        ends.map(|end| all.first + end.index((all.last - all.first + 1) as usize) as u32);
    bars.sort_unstable();
    // A pickup alone is no excerpt.
    (bars[1] > 0).then(|| bars.into())
}

/// The sections and the number of the first bar of each.
fn numbered(line: &Line) -> Vec<(u32, &Section)> {
    let mut next = line.bar_range().first;
    let number = |section| {
        let first = next;
        next += Section::clone(section).bars.len() as u32;
        (first, section)
    };
    line.sections.iter().map(number).collect()
}

/// Numbers of the bars in `range` whose first note a tie leads to from a bar outside, and of those whose last note is
/// tied to a bar outside.
fn cut_ties(line: &Line, range: BarRange) -> [Vec<u32>; 2] {
    let mut cut = [Vec::new(), Vec::new()];
    for (first, section) in numbered(line) {
        let ties = |bar: u32| {
            section.bars[(bar - first) as usize]
                .notes
                .last()
                .unwrap()
                .tie
        };
        let last = first + section.bars.len() as u32 - 1;
        if (first + 1..=last).contains(&range.first) && ties(range.first - 1) {
            cut[0].push(range.first);
        }
        if (first..last).contains(&range.last) && ties(range.last) {
            cut[1].push(range.last);
        }
    }
    cut
}

/// The notes of these bars that were struck in them, in playing order.
fn notes<'e>(
    expected: &'e Expected,
    range: BarRange,
    tied_in: &[u32],
) -> Vec<(&'e ExpectedNote, u32)> {
    let numbered = |note: &'e ExpectedNote| (note, expected.bars[note.bar as usize].number);
    let here = expected.notes.iter().map(numbered);
    here.filter(|(_, bar)| (range.first..=range.last).contains(bar))
        .filter(|(note, bar)| note.at != Ticks(0) || !tied_in.contains(bar))
        .collect()
}

/// Everything of a note but its times, its indices, and what depends on the notes around it.
fn itself(note: &ExpectedNote) -> ExpectedNote {
    ExpectedNote {
        section: 0,
        bar: 0,
        // A tie out of the bars is cut.
        length: Ticks(0),
        group: 0,
        onset: Nanos::ZERO,
        written: Nanos::ZERO,
        sounding: Nanos::ZERO,
        rest_at: None,
        is: NoteTraits {
            entry: false,
            skip: false,
            ..note.is
        },
        ..note.clone()
    }
}

fn near(a: Nanos, b: Nanos) -> bool {
    (a - b).abs() <= Nanos(1)
}

proptest! {
    #[test]
    fn the_notes_of_an_excerpt_are_those_of_its_bars(
        line in lines(), ends in any::<[Index; 2]>(), speed in prop::sample::select(vec![100_000u32, 73_500])
    ) {
        let Some(range) = range_of(&line, ends) else { return Ok(()) };
        let cut = line.excerpt(range).expect("bars of the line");
        let (whole, part) = (unroll(&line, Speed(speed)), unroll(&cut, Speed(speed)));
        let named = |expected: &Expected| -> Vec<_> {
            let bars = expected.bars.iter().map(|bar| (bar.pass, bar.number, bar.length, bar.meter()));
            bars.filter(|bar| (range.first..=range.last).contains(&bar.1)).collect()
        };
        prop_assert_eq!(named(&whole), named(&part));
        prop_assert_eq!(part.bars.len(), named(&part).len());
        let full = part.bars.iter().find(|bar| bar.start >= Ticks(0)).expect("a full bar");
        prop_assert_eq!(full.onset, Nanos::ZERO);

        let [tied_in, tied_out] = cut_ties(&line, range);
        let (of_whole, of_part) = (notes(&whole, range, &tied_in), notes(&part, range, &tied_in));
        prop_assert_eq!(of_whole.len(), of_part.len());
        // A stretch of bars that follow one another in both is moved as one.
        let mut moved = None;
        let mut last = 0;
        for ((in_whole, _), (in_part, _)) in of_whole.into_iter().zip(of_part) {
            prop_assert_eq!(itself(in_whole), itself(in_part));
            let by = in_whole.onset - in_part.onset;
            let between = &whole.bars[last as usize..=in_whole.bar as usize];
            let in_a_row = between.iter().all(|bar| (range.first..=range.last).contains(&bar.number));
            last = in_whole.bar;
            match moved {
                Some(before) if in_a_row => prop_assert!(near(by, before), "{:?} {:?}", by, before),
                _ => moved = Some(by),
            }
            let last_bar = part.bars.iter().find(|bar| (bar.pass, bar.number) == (in_part.pass, range.last));
            let ends = in_part.onset + in_part.written;
            let is_cut = !tied_out.is_empty() && last_bar.is_some_and(|bar| near(ends, bar.end));
            if !is_cut {
                prop_assert!(near(in_whole.written, in_part.written));
                prop_assert!(near(in_whole.sounding, in_part.sounding));
            } else {
                prop_assert!(in_whole.written > in_part.written);
            }
        }
    }

    #[test]
    fn a_file_can_be_written_of_an_excerpt(line in lines(), ends in any::<[Index; 2]>()) {
        let Some(range) = range_of(&line, ends) else { return Ok(()) };
        let cut = line.excerpt(range).expect("bars of the line");
        prop_assert_eq!(cut.bar_range(), range);
        let text = print(&cut);
        match parse(&text, "excerpt.toml") {
            Ok(read) => prop_assert_eq!(Line { first_bar: range.first.max(1), ..read }, cut, "{}", text),
            Err(mistakes) => prop_assert!(false, "{}\n{}", mistakes, text),
        }
    }

    #[test]
    fn an_excerpt_of_all_bars_is_the_whole_line(line in lines()) {
        prop_assert_eq!(line.excerpt(line.bar_range()), Ok(line));
    }
}
