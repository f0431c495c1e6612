//! The matcher against a brute-force optimum, and against itself under every chunking of time.

mod support;

use leadsman::expected::Expected;
use leadsman::judge::capture::captures;
use leadsman::judge::cost;
use leadsman::judge::matcher::{Arrival, Matcher};
use leadsman::judge::rows::{Row, Rows};
use leadsman::judge::tree::Pair;
use leadsman::units::{Key, Nanos};
use proptest::prelude::*;
use std::sync::Arc;
use support::expected_of;

/// Onset in ms and key of each note of a line; no key is a dead note.
type Written = Vec<(i64, Option<u8>)>;
/// Onset in ms and key of each note that is played.
type Playing = Vec<(i64, u8)>;

/// The most that any chain gains, by trying all of them.
fn brute_force(expected: &Expected, played: &[(i64, u8)]) -> i64 {
    let mut rows = Rows::new(expected);
    let captures = captures(expected);
    let mut options: Vec<Vec<(usize, Row, i64)>> = Vec::new();
    for (at, key) in played {
        let mut of_note = Vec::new();
        for (index, note) in expected.notes.iter().enumerate() {
            for row in 0..rows.count() {
                let off_grid = Nanos::from_ms(*at) - rows.onset(expected, note.onset, row);
                if captures[index].holds(off_grid) {
                    of_note.push((index, row, cost::gain(note, Key(*key), off_grid, row)));
                }
            }
        }
        options.push(of_note);
    }
    best_chain(expected, &options, 0, None, &mut Vec::new())
}

fn best_chain(
    expected: &Expected,
    options: &[Vec<(usize, Row, i64)>],
    from: usize,
    row: Option<Row>,
    chain: &mut Vec<usize>,
) -> i64 {
    let Some(of_note) = options.get(from) else {
        return 0;
    };
    let mut best = best_chain(expected, options, from + 1, row, chain);
    for (note, to_row, gain) in of_note {
        let group = expected.notes[*note].group;
        let last = chain.last().map(|last| expected.notes[*last].group);
        let same_stop = last == Some(group) && !chain.contains(note) && row == Some(*to_row);
        if last.is_none_or(|last| last < group) || same_stop {
            let switch = if row.unwrap_or(0) == *to_row {
                0
            } else {
                cost::SWITCH
            };
            chain.push(*note);
            best = best
                .max(gain - switch + best_chain(expected, options, from + 1, Some(*to_row), chain));
            chain.pop();
        }
    }
    best
}

/// Feeds the matcher, with the clock advanced every `step` ms (0: never), and returns what it settles on.
fn run(expected: &Arc<Expected>, played: &[(i64, u8)], step: i64) -> (Vec<Pair>, i64) {
    let mut matcher = Matcher::new(Arc::clone(expected));
    let mut pairs = Vec::new();
    let mut clock = -2_000;
    for (number, (at, key)) in played.iter().enumerate() {
        while step > 0 && clock + step < *at {
            clock += step;
            matcher.advance(Nanos::from_ms(clock), &mut |pair| pairs.push(pair));
        }
        let arrival = Arrival {
            played: number as u32,
            key: Key(*key),
            at: Nanos::from_ms(*at),
        };
        matcher.push(arrival, &mut |pair| pairs.push(pair));
    }
    let gain = matcher.best_gain();
    matcher.finish(&mut |pair| pairs.push(pair));
    (pairs, gain)
}

/// Notes at eighths of 120 bpm, few pitches so that there is much to confuse; some double stops.
fn some_line() -> impl Strategy<Value = Written> {
    let pitch = prop_oneof![9 => (40u8..44).prop_map(Some), 1 => Just(None)];
    proptest::collection::vec((0i64..8, pitch), 1..6).prop_map(|mut notes| {
        notes.sort();
        notes.dedup();
        notes
            .into_iter()
            .map(|(eighth, key)| (eighth * 250, key))
            .collect()
    })
}

fn some_playing() -> impl Strategy<Value = Playing> {
    proptest::collection::vec(
        (-300i64..2600, prop_oneof![8 => 40u8..44, 1 => 52u8..56]),
        0..6,
    )
    .prop_map(|mut notes| {
        notes.sort();
        notes
    })
}

/// A line with a playing of it that slips by eighths somewhere, with errors of pitch and time.
fn slipped() -> impl Strategy<Value = (Written, Playing)> {
    let slip = (0usize..5, -6i64..7);
    let errors = proptest::collection::vec((-40i64..40, 0u8..8), 6);
    (some_line(), slip, errors).prop_map(|(line, (from, eighths), errors)| {
        let shifted = |n: usize| if n >= from { eighths * 250 } else { 0 };
        let play = |(n, (onset, key)): (usize, &(i64, Option<u8>))| {
            let (late, wrong) = errors[n];
            (
                onset + shifted(n) + late,
                key.unwrap_or(41) + u8::from(wrong == 0),
            )
        };
        let mut played: Playing = line.iter().enumerate().map(play).collect();
        played.sort();
        (line, played)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn matching_gains_as_much_as_the_best_of_all_chains(line in some_line(), played in some_playing()) {
        let expected = Arc::new(expected_of(&line));
        let (pairs, gain) = run(&expected, &played, 0);
        prop_assert_eq!(gain, brute_force(&expected, &played));
        prop_assert_eq!(gain, gain_of(&expected, &played, &pairs));
    }

    #[test]
    fn a_phrase_that_slips_is_matched_at_the_optimum((line, played) in slipped()) {
        let expected = Arc::new(expected_of(&line));
        let (pairs, gain) = run(&expected, &played, 0);
        prop_assert_eq!(gain, brute_force(&expected, &played));
        prop_assert_eq!(gain, gain_of(&expected, &played, &pairs));
        prop_assert_eq!(pairs, run(&expected, &played, 37).0);
    }

    #[test]
    fn what_is_settled_does_not_depend_on_when_the_clock_is_read(
        line in some_line(), played in some_playing(), step in 1i64..400,
    ) {
        let expected = Arc::new(expected_of(&line));
        prop_assert_eq!(run(&expected, &played, 0), run(&expected, &played, step));
    }

    #[test]
    fn settled_pairs_keep_their_order_and_use_each_note_once(line in some_line(), played in some_playing()) {
        let expected = Arc::new(expected_of(&line));
        let (pairs, _) = run(&expected, &played, 50);
        for two in pairs.windows(2) {
            prop_assert!(two[0].played < two[1].played);
            let (before, after) = (&expected.notes[two[0].note as usize], &expected.notes[two[1].note as usize]);
            prop_assert!(before.group < after.group || (before.group == after.group && two[0].note != two[1].note));
        }
    }
}

/// What a list of pairs gains, switches paid.
fn gain_of(expected: &Expected, played: &[(i64, u8)], pairs: &[Pair]) -> i64 {
    let mut rows = Rows::new(expected);
    let mut row = 0;
    let mut total = 0;
    for pair in pairs {
        let (note, (at, key)) = (
            &expected.notes[pair.note as usize],
            played[pair.played as usize],
        );
        let off_grid = Nanos::from_ms(at) - rows.onset(expected, note.onset, pair.row);
        total += cost::gain(note, Key(key), off_grid, pair.row)
            - if pair.row == row { 0 } else { cost::SWITCH };
        row = pair.row;
    }
    total
}

fn steady(keys: &[u8]) -> Written {
    keys.iter()
        .enumerate()
        .map(|(at, key)| (at as i64 * 250, Some(*key)))
        .collect()
}

const WALK: [u8; 24] = [
    40, 43, 45, 47, 48, 47, 45, 43, 41, 45, 48, 50, 52, 50, 48, 45, 43, 47, 50, 53, 55, 53, 50, 47,
];

#[test]
fn a_clean_take_is_matched_note_for_note() {
    let expected = Arc::new(expected_of(&steady(&WALK)));
    let played: Playing = WALK
        .iter()
        .enumerate()
        .map(|(at, key)| (at as i64 * 250 + 7, *key))
        .collect();
    let (pairs, _) = run(&expected, &played, 0);
    assert!(
        pairs
            .iter()
            .enumerate()
            .all(|(n, pair)| pair.note == n as u32 && pair.played == n as u32 && pair.row == 0)
    );
    assert_eq!(pairs.len(), WALK.len());
}

#[test]
fn a_phrase_a_beat_late_is_followed_and_the_rest_stays_in_place() {
    let expected = Arc::new(expected_of(&steady(&WALK)));
    // Notes 8 to 17 come one beat (500 ms) late; the two that would then collide are left out.
    let late = |n: usize| (8..18).contains(&n);
    let played: Playing = (0..WALK.len())
        .filter(|n| !(18..20).contains(n))
        .map(|n| (n as i64 * 250 + if late(n) { 500 } else { 0 }, WALK[n]))
        .collect();
    let (pairs, _) = run(&expected, &played, 0);
    let shift = |row: Row| Rows::new(&expected).shift(row).0;
    for pair in &pairs {
        assert_eq!(
            shift(pair.row),
            if late(pair.note as usize) { 960 } else { 0 },
            "{pair:?}"
        );
    }
    assert_eq!(pairs.len(), WALK.len() - 2);
}

#[test]
fn a_skipped_bar_is_followed_to_the_end() {
    let expected = Arc::new(expected_of(&steady(&WALK)));
    // Bar 2 (notes 8 to 15) is left out and bar 3 played in its place.
    let kept = (0..8).chain(16..24);
    let played: Playing = kept
        .enumerate()
        .map(|(place, n)| (place as i64 * 250, WALK[n]))
        .collect();
    let (pairs, _) = run(&expected, &played, 0);
    let matched: Vec<u32> = pairs.iter().map(|pair| pair.note).collect();
    assert_eq!(matched, (0..8).chain(16..24).collect::<Vec<u32>>());
}

#[test]
fn clean_playing_is_final_as_soon_as_its_moment_is_over() {
    let expected = Arc::new(expected_of(&steady(&WALK)));
    let mut matcher = Matcher::new(Arc::clone(&expected));
    for (n, key) in WALK.iter().enumerate() {
        let mut settled = Vec::new();
        let at = Nanos::from_ms(n as i64 * 250 + 12);
        matcher.push(
            Arrival {
                played: n as u32,
                key: Key(*key),
                at,
            },
            &mut |pair| settled.push(pair),
        );
        matcher.advance(at + Nanos::from_ms(130), &mut |pair| settled.push(pair));
        assert_eq!(settled.len(), 1, "note {n}");
    }
}
