//! Small plots of characters.

use crate::page::text::Charset;

/// The heights of a bar in one character, from almost nothing to full.
const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// The same where only ASCII can be shown: the higher, the higher up.
const ASCII: [char; 5] = ['_', '.', '-', '=', '^'];

/// The values as a row of bars, one character each, the latest `width` of them; the lowest value is the lowest bar.
pub fn row(values: &[f64], width: usize, charset: Charset) -> String {
    let latest = &values[values.len().saturating_sub(width)..];
    let (low, high) = range(latest.iter().copied());
    let steps: &[char] = match charset {
        Charset::Unicode => &BARS,
        Charset::Ascii => &ASCII,
    };
    let step = |value: &f64| {
        let share = if high > low {
            (value - low) / (high - low)
        } else {
            0.5
        };
        steps[((share * steps.len() as f64) as usize).min(steps.len() - 1)]
    };
    latest.iter().map(step).collect()
}

/// A value with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Value {
    /// Where it is.
    pub value: f64,
    /// From where to where it may be.
    pub interval: [f64; 2],
}

/// How large a plot is, and in which characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Characters in a line, the axis included.
    pub width: usize,
    /// Lines, without the axis below.
    pub height: usize,
    /// Which characters.
    pub charset: Charset,
}

/// Values from left to right with their intervals, and an axis at the left whose ends are labelled in whole numbers of
/// `unit`; the latest of them where there is no room for all.
pub fn points(values: &[Value], unit: &str, size: Size) -> String {
    let (low, high) = axis(values);
    let labels = [format!("{high:.0} {unit}"), format!("{low:.0} {unit}")];
    let margin = labels
        .iter()
        .map(|label| label.chars().count())
        .max()
        .unwrap_or(0);
    let room = size.width.saturating_sub(margin + 2) / STEP;
    let latest = &values[values.len().saturating_sub(room.max(1))..];
    let marks = Marks::of(size.charset);
    let line = |row: usize| {
        let label = match row {
            0 => labels[0].as_str(),
            row if row + 1 == size.height => labels[1].as_str(),
            _ => "",
        };
        let cell = |value: &Value| {
            let at = |value: f64| place(value, (low, high), size.height);
            let [from, to] = value.interval.map(at);
            match row {
                row if row == at(value.value) => marks.value,
                row if row >= to && row <= from => marks.interval,
                _ => ' ',
            }
        };
        let cells: String = latest.iter().flat_map(|value| [' ', cell(value)]).collect();
        format!("{label:>margin$} {}{cells}", marks.axis)
            .trim_end()
            .to_string()
            + "\n"
    };
    (0..size.height).map(line).collect()
}

/// Characters from one value to the next.
const STEP: usize = 2;

struct Marks {
    axis: char,
    value: char,
    interval: char,
}

impl Marks {
    fn of(charset: Charset) -> Marks {
        match charset {
            Charset::Unicode => Marks {
                axis: '┤',
                value: '●',
                interval: '│',
            },
            Charset::Ascii => Marks {
                axis: '|',
                value: 'o',
                interval: ':',
            },
        }
    }
}

/// The line that a value falls into, 0 at the top.
fn place(value: f64, (low, high): (f64, f64), height: usize) -> usize {
    let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
    ((1.0 - share) * (height - 1) as f64).round() as usize
}

/// From a whole number at or below all values to one at or above them.
fn axis(values: &[Value]) -> (f64, f64) {
    let ends = values.iter().flat_map(|value| value.interval);
    let (low, high) = range(ends);
    let (low, high) = (low.floor(), high.ceil());
    if high > low {
        (low, high)
    } else {
        (low - 1.0, high + 1.0)
    }
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_has_a_bar_for_each_of_the_latest_values() {
        let values = [9.0, 1.0, 8.0, 4.0, 4.5];
        assert_eq!(row(&values, 4, Charset::Unicode), "▁█▄▅");
        assert_eq!(row(&values, 4, Charset::Ascii), "_^--");
        assert_eq!(row(&[3.0, 3.0], 9, Charset::Unicode), "▅▅");
        assert_eq!(row(&[], 9, Charset::Unicode), "");
    }

    #[test]
    fn points_stand_where_their_values_are() {
        let value = |value, low, high| Value {
            value,
            interval: [low, high],
        };
        let values = [
            value(20.0, 18.0, 22.0),
            value(16.0, 12.0, 20.0),
            value(12.0, 12.0, 13.0),
        ];
        let size = Size {
            width: 20,
            height: 6,
            charset: Charset::Ascii,
        };
        let expected = "\
22 ms | :
      | o :
      | : :
      |   o
      |   :
12 ms |   : o
";
        assert_eq!(points(&values, "ms", size), expected);
    }
}
