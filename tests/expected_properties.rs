//! What holds for every line: order, tiling, totals, speed.

mod expected_line;

use expected_line::{line_in, section};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::{Line, SwingRatio, Swung, Tempo};
use leadsman::units::Nanos;
use proptest::prelude::*;

/// Quarters filled in many ways, triplets beside plain notes among them; `~` may tie any of them on.
const QUARTERS: [&str; 12] = [
    "A1/4",
    "r/4",
    "A1/8 A1/8",
    "r/8 A1/8~",
    "D2/8t D2/8t r/8t",
    "A1/16t A1/16t A1/16t A1/16t A1/16t A1/16t",
    "A1/8 D2/16t D2/16t D2/16t",
    "D2/16t D2/16t D2/16t r/8",
    "A1/16 A1/16 r/16 A1/16",
    "A1/8. D2+A2/16",
    "x/16 A1/16t A1/16t A1/16t x/16",
    "A1/16. A1/32 A1/32 A1/16.",
];

fn bar(quarters: usize) -> impl Strategy<Value = String> {
    prop::collection::vec(0..QUARTERS.len(), quarters).prop_map(|picks| {
        let parts: Vec<&str> = picks.into_iter().map(|pick| QUARTERS[pick]).collect();
        parts.join(" ")
    })
}

/// A line of one to three sections with tempo, swing, passes and, at times, a pickup of one quarter.
fn lines() -> impl Strategy<Value = Line> {
    let a_section = (
        prop::collection::vec(bar(3), 1..4),
        20_000u32..400_000,
        1000u32..=4000,
        1u32..=1000,
        prop::collection::vec(-2i8..3, 1..4),
    );
    let sections = prop::collection::vec(a_section, 1..4);
    (sections, any::<bool>(), any::<bool>(), bar(1)).prop_map(
        |(sections, pickup, sixteenths, first)| {
            let mut line = line_in(3, 4, "r/2.");
            line.pickup = pickup;
            line.sections.clear();
            if sixteenths {
                line.swung = Swung::Sixteenth;
            }
            for (index, (mut bars, tempo, long, short, passes)) in sections.into_iter().enumerate()
            {
                if pickup && index == 0 {
                    bars.insert(0, first.clone());
                }
                let mut next = section("S", &bars.join(" | "));
                next.tempo = Some(Tempo(tempo));
                let short = short.max(long / 4);
                next.swing = (long >= short).then_some(SwingRatio { long, short });
                next.passes = passes;
                line.sections.push(next);
            }
            line
        },
    )
}

proptest! {
    #[test]
    fn onsets_never_decrease_and_groups_rise_by_one(line in lines()) {
        let notes = unroll(&line, Speed::WRITTEN).notes;
        for pair in notes.windows(2) {
            prop_assert!(pair[0].onset <= pair[1].onset);
            let step = pair[1].group - pair[0].group;
            prop_assert!(step <= 1);
            prop_assert_eq!(step == 0, pair[0].onset == pair[1].onset);
        }
        for note in &notes {
            prop_assert!(note.written > Nanos::ZERO);
            prop_assert!(note.sounding <= note.written);
        }
    }

    #[test]
    fn a_note_ends_at_its_rest_or_at_the_next_note(line in lines()) {
        let expected = unroll(&line, Speed::WRITTEN);
        for (index, note) in expected.notes.iter().enumerate() {
            let next = expected.notes[index..].iter().find(|next| next.group > note.group);
            let end = note.onset + note.written;
            match note.rest_at {
                Some(rest) => {
                    prop_assert_eq!(rest, end);
                    prop_assert!(next.is_none_or(|next| next.onset > rest));
                }
                None => prop_assert_eq!(next.map(|next| next.onset), Some(end)),
            }
        }
    }

    #[test]
    fn bars_tile_the_time_of_the_line(line in lines()) {
        let expected = unroll(&line, Speed::WRITTEN);
        let map = &expected.tempo_map;
        let bars = &expected.bars;
        for pair in bars.windows(2) {
            prop_assert_eq!(pair[0].end, pair[1].onset);
            prop_assert_eq!(pair[0].start + pair[0].length, pair[1].start);
        }
        for bar in bars {
            prop_assert_eq!(map.time_at(i128::from(bar.start.0), 1), bar.onset);
        }
        let written: i64 = bars.iter().map(|bar| bar.length.0).sum();
        let first = bars[0].start;
        prop_assert_eq!(first.0, if line.pickup { -960 } else { 0 });
        prop_assert_eq!(map.time_at(i128::from(first.0 + written), 1), expected.end);
        for note in &expected.notes {
            let bar = &bars[note.bar as usize];
            prop_assert!(bar.onset <= note.onset && note.onset < bar.end);
        }
    }

    #[test]
    fn half_speed_doubles_every_onset(line in lines()) {
        let whole = unroll(&line, Speed::WRITTEN);
        let half = unroll(&line, Speed(50_000));
        prop_assert_eq!(whole.notes.len(), half.notes.len());
        for (fast, slow) in whole.notes.iter().zip(&half.notes) {
            prop_assert!((slow.onset.0 - 2 * fast.onset.0).abs() <= 1);
        }
    }
}
