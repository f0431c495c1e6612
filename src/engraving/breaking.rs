//! Bars into systems, and the room of a system among its columns.

use super::columns::{Column, LEAD};

/// A last system that would have to be stretched by more than that stays short.
const RAGGED: f64 = 1.7;
/// How much a system with an odd number of bars is worth avoiding, as a stretch's logarithm squared.
const ODD: f64 = 0.06;
/// More bars a system are not tried.
const MOST_BARS: usize = 12;

/// The room that columns take at a stretch.
pub(super) fn width(bars: &[&[Column]], stretch: f64) -> f64 {
    let bar = |columns: &&[Column]| {
        let lead = LEAD + columns.first().map_or(0.0, |first| first.left);
        lead + columns
            .iter()
            .map(|column| given(column, stretch))
            .sum::<f64>()
    };
    bars.iter().map(bar).sum()
}

/// The room of a column up to the next.
pub(super) fn given(column: &Column, stretch: f64) -> f64 {
    column.least.max(stretch * column.ideal)
}

/// The stretch at which columns fill a width; 0 where they need more than that.
pub(super) fn stretch(bars: &[&[Column]], room: f64) -> f64 {
    if width(bars, 0.0) >= room {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while width(bars, high) < room && high < 1e6 {
        high *= 2.0;
    }
    for _ in 0..50 {
        let middle = (low + high) / 2.0;
        match width(bars, middle) < room {
            true => low = middle,
            false => high = middle,
        }
    }
    low
}

/// The stretch of the last system of a stretch of bars.
pub(super) fn last_stretch(bars: &[&[Column]], room: f64) -> f64 {
    let full = stretch(bars, room);
    if full > RAGGED { 1.2 } else { full }
}

/// How many bars each system has: the way with the least stretching and squeezing in all, after the paragraph breaking of Knuth and
/// Plass (1981, Software: Practice and Experience 11:1119). `rooms` are those of the first system and of the others; `pickup` says
/// whether the first bar does not count.
pub(super) fn breaks(bars: &[Vec<Column>], rooms: [f64; 2], pickup: bool) -> Vec<usize> {
    let bars: Vec<&[Column]> = bars.iter().map(Vec::as_slice).collect();
    // The cheapest way to the end from each bar, and how many bars its first system has.
    let mut ways = vec![(0.0, 0); bars.len() + 1];
    for start in (0..bars.len()).rev() {
        let room = rooms[usize::from(start > 0)];
        let ends = (start + 1..=bars.len()).take(MOST_BARS);
        let tried = ends.map(|end| {
            let counted = end - start - usize::from(pickup && start == 0);
            let odd = if counted % 2 == 1 && end < bars.len() {
                ODD
            } else {
                0.0
            };
            let cost = cost(&bars[start..end], room, end == bars.len());
            (cost + odd + ways[end].0, end - start)
        });
        ways[start] = tried
            .min_by(|one, other| one.0.total_cmp(&other.0))
            .unwrap_or((0.0, 1));
    }
    let mut systems = Vec::new();
    let mut start = 0;
    while start < bars.len() {
        systems.push(ways[start].1);
        start += ways[start].1;
    }
    systems
}

fn cost(bars: &[&[Column]], room: f64, is_last: bool) -> f64 {
    let stretch = stretch(bars, room);
    if stretch == 0.0 {
        // One bar that does not fit has a smaller system; several are never better.
        return if bars.len() == 1 { 4.0 } else { f64::INFINITY };
    }
    match is_last && stretch > RAGGED {
        true => 0.3,
        false => stretch.ln().powi(2),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(ideal: f64, least: f64) -> Vec<Column> {
        let column = Column {
            left: 0.0,
            right: 0.0,
            ideal,
            least,
        };
        vec![column; 4]
    }

    #[test]
    fn a_stretch_fills_the_room_to_a_hair() {
        let bars = [bar(2.0, 1.0), bar(3.0, 4.0)];
        let bars: Vec<&[Column]> = bars.iter().map(Vec::as_slice).collect();
        for room in [25.0, 40.0, 300.0] {
            assert!((width(&bars, stretch(&bars, room)) - room).abs() < 1e-6);
        }
        assert_eq!(stretch(&bars, 10.0), 0.0);
    }

    #[test]
    fn bars_are_shared_out_evenly_and_no_system_is_too_full() {
        // A bar is 9 wide: eight in rooms of 40 are two systems of four, and a ninth stays by itself.
        assert_eq!(breaks(&vec![bar(2.0, 1.0); 8], [40.0, 40.0], false), [4, 4]);
        let nine = breaks(&vec![bar(2.0, 1.0); 9], [40.0, 40.0], false);
        assert_eq!(nine.iter().sum::<usize>(), 9);
        // What does not fit at all is alone.
        assert_eq!(
            breaks(&[bar(9.0, 8.0), bar(9.0, 20.0)], [40.0, 40.0], false),
            [1, 1]
        );
    }
}
