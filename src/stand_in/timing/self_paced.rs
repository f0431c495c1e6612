//! Without a click: the player's own clock, and the hand that follows it.
//!
//! Wing and Kristofferson (1973, Perception & Psychophysics 14:5; from memory): the clock's intervals C and the hand's
//! delays M are independent, and the interval between strikes is I_j = C_j + M_j − M_{j−1}. So γ(0) = σC² + 2σM² and
//! γ(1) = −σM².

use super::Strike;
use crate::expected::{Expected, ExpectedBar};
use crate::stand_in::Habits;
use crate::stand_in::chance::{Chance, Stream};
use crate::units::Ticks;

/// How late each strike comes in silent bars, in ms; 0 in the others. The clock is in place at the start of each silent
/// stretch and runs on to its end; between beats it is as far out as the beats around it have it.
pub(super) fn offsets_ms(
    expected: &Expected,
    strikes: &[Strike],
    habits: &Habits,
    seed: u64,
    is_silent: impl Fn(&ExpectedBar) -> bool,
) -> Vec<f64> {
    let clocks = clocks(expected, habits, seed, &is_silent);
    let mut hand = Chance::new(seed, Stream::Hand);
    let offset = |strike: &Strike| {
        let (note, delay_ms) = (&strike[0], habits.hand_ms * hand.normal());
        let bar = &expected.bars[note.bar as usize];
        if is_silent(bar) {
            clock_at(&clocks[note.bar as usize], note.at, bar.beat) + delay_ms
        } else {
            0.0
        }
    };
    strikes.iter().map(offset).collect()
}

/// How late the clock is at each beat of each bar and at the bar's end, in ms.
fn clocks(
    expected: &Expected,
    habits: &Habits,
    seed: u64,
    is_silent: impl Fn(&ExpectedBar) -> bool,
) -> Vec<Vec<f64>> {
    let mut chance = Chance::new(seed, Stream::Clock);
    let mut late_ms = 0.0;
    let clock = |bar: &ExpectedBar| {
        let silent = is_silent(bar);
        if !silent {
            late_ms = 0.0;
        }
        let mut beats = vec![late_ms];
        let count = (bar.length.0 + bar.beat.0 - 1) / bar.beat.0;
        for _ in 0..count {
            // Drawn even under a click, so that what is silent elsewhere does not matter.
            let error_ms = habits.clock_ms * chance.normal();
            late_ms += if silent { error_ms } else { 0.0 };
            beats.push(late_ms);
        }
        beats
    };
    expected.bars.iter().map(clock).collect()
}

fn clock_at(beats: &[f64], at: Ticks, beat: Ticks) -> f64 {
    let (whole, part) = ((at.0 / beat.0) as usize, at.0 % beat.0);
    let share = part as f64 / beat.0 as f64;
    beats[whole] + share * (beats[whole + 1] - beats[whole])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;

    /// Four bars of four quarters, `passes` times.
    fn quarters(passes: usize) -> Expected {
        let bar = "A1/4 D2/4 A1/4 D2/4";
        let text = format!(
            "title = \"t\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = {:?}\nnotes = \"{bar} | {bar} | {bar} | {bar}\"",
            vec![0; passes]
        );
        let line = parse(&text, "t.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        unroll(&line, Speed::WRITTEN)
    }

    fn offsets(
        expected: &Expected,
        habits: &str,
        is_silent: impl Fn(&ExpectedBar) -> bool,
    ) -> Vec<f64> {
        let strikes: Vec<Strike> = expected.notes.chunks(1).collect();
        let habits = habits.parse().expect("habits");
        offsets_ms(expected, &strikes, &habits, 3, is_silent)
    }

    fn autocovariance(values: &[f64], lag: usize) -> f64 {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let products = values.iter().zip(&values[lag..]);
        products.map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>() / values.len() as f64
    }

    /// σC = 20 ms and σM = 8 ms: γ(0) = 528, γ(1) = −64, ρ(1) = −0.1212, γ(2) = 0 ms².
    #[test]
    fn intervals_have_the_published_variance_and_correlation() {
        let expected = quarters(2500);
        let late = offsets(&expected, "clock-ms=20,hand-ms=8", |_| true);
        let intervals: Vec<f64> = late
            .windows(2)
            .map(|pair| 500.0 + pair[1] - pair[0])
            .collect();
        let gamma = [0, 1, 2].map(|lag| autocovariance(&intervals, lag));
        // Standard errors at 39,999 intervals: 3.8 ms² of γ(0), 2.7 of the others, 0.005 of ρ(1).
        assert!((gamma[0] - 528.0).abs() < 12.0, "{gamma:?}");
        assert!((gamma[1] + 64.0).abs() < 9.0, "{gamma:?}");
        assert!(gamma[2].abs() < 9.0, "{gamma:?}");
        assert!((gamma[1] / gamma[0] + 0.1212).abs() < 0.015, "{gamma:?}");
    }

    #[test]
    fn each_silent_stretch_begins_in_place_and_ends_with_the_click() {
        let expected = quarters(3);
        let late = offsets(&expected, "clock-ms=20", |bar| bar.number >= 3);
        for pass in late.chunks(16) {
            assert_eq!(pass[..9], [0.0; 9]);
            assert!(pass[9..].iter().all(|ms| *ms != 0.0), "{pass:?}");
        }
        assert_ne!(late[9], late[25]);
    }

    #[test]
    fn with_a_click_there_is_nothing_self_paced() {
        let expected = quarters(1);
        assert_eq!(
            offsets(&expected, "clock-ms=20,hand-ms=8", |_| false),
            [0.0; 16]
        );
    }

    #[test]
    fn between_beats_the_clock_is_between() {
        assert_eq!(clock_at(&[0.0, 10.0, 4.0], Ticks(480), Ticks(960)), 5.0);
        assert_eq!(clock_at(&[0.0, 10.0, 4.0], Ticks(1200), Ticks(960)), 8.5);
    }
}
