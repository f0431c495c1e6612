//! Takes that may be compared: those of the same bars at the same speed. What is slow is easier, and never told together
//! with what is fast.

use super::difference::FEWEST_TAKES;
use crate::expected::tempo_map::Speed;
use crate::line::bar_range::BarRange;

/// What was played, and how fast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Way {
    /// The speed.
    pub speed: Speed,
    /// The bars, where it was not all of the line.
    pub bars: Option<BarRange>,
}

/// A take by whose it is and how it was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Played {
    /// Whose it is: the player's place in the order given.
    pub player: usize,
    /// What was played.
    pub way: Way,
}

/// In which way most can be compared: the one that most players have [`FEWEST_TAKES`] takes of, then the one that most have
/// any of, then the one with most takes, then the one that comes first. Only ways at `speed`, where that is given. `None`
/// without takes.
pub fn most_alike(takes: &[Played], speed: Option<Speed>) -> Option<Way> {
    let mut ways: Vec<Way> = Vec::new();
    let wanted = |way: &Way| speed.is_none_or(|speed| way.speed == speed);
    for way in takes.iter().map(|take| take.way).filter(wanted) {
        if !ways.contains(&way) {
            ways.push(way);
        }
    }
    let players = takes.iter().map(|take| take.player + 1).max().unwrap_or(0);
    let weight = |way: &Way| {
        let mut counts = vec![0; players];
        for take in takes.iter().filter(|take| take.way == *way) {
            counts[take.player] += 1;
        }
        let with = |fewest: usize| counts.iter().filter(|count| **count >= fewest).count();
        (with(FEWEST_TAKES), with(1), counts.iter().sum::<usize>())
    };
    // Of equals the last is the largest, and the first is wanted.
    ways.into_iter().rev().max_by_key(weight)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn takes(list: &[(usize, u32, usize)]) -> Vec<Played> {
        let of = |&(player, percent, count): &(usize, u32, usize)| {
            let way = Way {
                speed: Speed(1000 * percent),
                bars: None,
            };
            vec![Played { player, way }; count]
        };
        list.iter().flat_map(of).collect()
    }

    fn chosen(list: &[(usize, u32, usize)], speed: Option<Speed>) -> Option<u32> {
        most_alike(&takes(list), speed).map(|way| way.speed.0 / 1000)
    }

    #[test]
    fn the_speed_that_most_players_have_takes_enough_of_is_compared() {
        // Nine takes of one player at 100 % compare nothing.
        let list = [(0, 100, 9), (0, 80, 3), (1, 80, 3), (1, 100, 2)];
        assert_eq!(chosen(&list, None), Some(80));
        assert_eq!(chosen(&list, Some(Speed(100_000))), Some(100));
        assert_eq!(chosen(&list, Some(Speed(60_000))), None);
    }

    #[test]
    fn of_equals_more_takes_count_and_then_the_first_given() {
        assert_eq!(chosen(&[(0, 70, 1), (0, 90, 2)], None), Some(90));
        assert_eq!(chosen(&[(0, 70, 2), (0, 90, 2)], None), Some(70));
        assert_eq!(chosen(&[], None), None);
    }
}
