//! Axes: a range, what it counts and in which unit, and where it is labelled.

use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use std::ops::Range;

/// An axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What it counts, with its unit.
    pub label: String,
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Where it is labelled, and how.
    pub ticks: Vec<(f64, String)>,
}

impl Axis {
    /// A linear axis over these values and a margin, labelled at some six round numbers; `name` writes them.
    pub fn linear(
        label: impl Into<String>,
        values: impl Iterator<Item = f64>,
        name: impl Fn(f64) -> String,
    ) -> Axis {
        let (low, high) = range(values);
        let margin = 0.05 * (high - low);
        let (low, high) = (low - margin, high + margin);
        let step = round_step((high - low) / 7.0);
        let first = (low / step).ceil() as i64;
        let last = (high / step).floor() as i64;
        let ticks = (first..=last).map(|tick| tick as f64 * step);
        Axis {
            label: label.into(),
            low,
            high,
            ticks: ticks.map(|tick| (tick, name(tick))).collect(),
        }
    }

    /// An axis that begins and ends where it is told to.
    pub fn exact(label: impl Into<String>, low: f64, high: f64, ticks: Vec<(f64, String)>) -> Axis {
        Axis {
            label: label.into(),
            low,
            high,
            ticks,
        }
    }

    /// An axis of ratios, which are given and placed as natural logarithms and labelled as `2 : 1`.
    pub fn ratios(label: impl Into<String>, logs: impl Iterator<Item = f64>) -> Axis {
        const LABELLED: [f64; 11] = [
            0.25,
            1.0 / 3.0,
            0.5,
            2.0 / 3.0,
            0.8,
            1.0,
            1.25,
            1.5,
            2.0,
            3.0,
            4.0,
        ];
        let (low, high) = range(logs);
        let margin = 0.05 * (high - low);
        let (low, high) = (low - margin, high + margin);
        let ticks = LABELLED
            .into_iter()
            .map(|ratio| (ratio.ln(), ratio_name(ratio)));
        Axis {
            label: label.into(),
            low,
            high,
            ticks: ticks
                .filter(|tick| (low..=high).contains(&tick.0))
                .collect(),
        }
    }

    fn name(&self, value: f64) -> String {
        let near = |tick: &&(f64, String)| (tick.0 - value).abs() < 1e-9;
        let tick = self.ticks.iter().find(near);
        tick.map_or_else(String::new, |tick| tick.1.clone())
    }

    /// The characters of its longest name.
    pub(super) fn widest_name(&self) -> u32 {
        let names = self.ticks.iter().map(|tick| tick.1.chars().count());
        names.max().unwrap_or(0) as u32
    }

    /// The value on the axis next to this one.
    pub fn clamp(&self, value: f64) -> f64 {
        value.clamp(self.low, self.high)
    }
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (from, to): (i32, i32)) -> i32 {
        let share = (value - self.low) / (self.high - self.low);
        from + (share * f64::from(to - from)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        // Light lines would stand between those that are labelled.
        if hint.weight().allow_light_points() {
            return Vec::new();
        }
        self.ticks.iter().map(|tick| tick.0).collect()
    }

    fn range(&self) -> Range<f64> {
        self.low..self.high
    }
}

impl ValueFormatter<f64> for Axis {
    fn format(value: &f64) -> String {
        value.to_string()
    }

    fn format_ext(&self, value: &f64) -> String {
        self.name(*value)
    }
}

/// `2 : 1`, `1.5 : 1`, `1 : 2`.
pub fn ratio_name(ratio: f64) -> String {
    let number = crate::units::shortest;
    if ratio < 1.0 {
        format!("1 : {}", number(1.0 / ratio))
    } else {
        format!("{} : 1", number(ratio))
    }
}

/// From the smallest value to the largest; never empty.
fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let finite = values.filter(|value| value.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    match () {
        () if low > high => (-1.0, 1.0),
        () if high - low < 1e-9 => (low - 1.0, high + 1.0),
        () => (low, high),
    }
}

/// The least of 1, 2, 5 times a power of ten that is no less.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * power);
    steps
        .into_iter()
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_is_labelled_at_round_numbers_and_has_room_for_every_value() {
        let axis = Axis::linear("offset, ms", [-37.0, 62.0].into_iter(), |v| {
            format!("{v:+}")
        });
        assert!(axis.low < -37.0 && axis.high > 62.0);
        let places: Vec<f64> = axis.ticks.iter().map(|tick| tick.0).collect();
        assert_eq!(places, [-40.0, -20.0, 0.0, 20.0, 40.0, 60.0]);
        assert_eq!(axis.name(20.0), "+20");
    }

    #[test]
    fn no_value_and_one_value_have_an_axis_too() {
        for values in [vec![], vec![5.0], vec![f64::NAN]] {
            let axis = Axis::linear("a", values.into_iter(), |v| v.to_string());
            assert!(axis.high > axis.low && axis.ticks.len() > 1, "{axis:?}");
        }
    }

    #[test]
    fn ratios_are_labelled_both_ways() {
        let axis = Axis::ratios("ratio", [0.5f64.ln(), 3f64.ln()].into_iter());
        let names: Vec<&str> = axis.ticks.iter().map(|tick| tick.1.as_str()).collect();
        assert_eq!(
            names,
            [
                "1 : 2", "1 : 1.5", "1 : 1.25", "1 : 1", "1.25 : 1", "1.5 : 1", "2 : 1", "3 : 1"
            ]
        );
    }
}
