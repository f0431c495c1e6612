//! When a take is good enough to go faster.

use super::take_sum::{How, TakeSum};
use std::fmt;
use std::str::FromStr;

/// What a take has to reach, all of it, edges included.
///
/// The defaults, and why: at least **95 % of the notes right** (one slip in twenty is a slip, more is a note not known yet;
/// missed and extra notes count against it); at least **80 % within the timing window** (a player with the spread of recorded
/// bass, 22.5 ms, has 82 % within ±30 ms: references, "Hand-annotated real bass"); a **spread of 28 ms at the most** (nine
/// of ten in the same set are there). So the climb goes on where a recording could begin, and not only when all is perfect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Criteria {
    /// Notes right, in percent of those expected and the extra ones.
    pub right: f64,
    /// Notes within the timing window, in percent of those whose time is judged.
    pub in_time: f64,
    /// Standard deviation of the offsets around their own mean, in ms, as the report has it: a steady lean is no spread, a
    /// drift is.
    pub spread_ms: f64,
}

impl Default for Criteria {
    fn default() -> Criteria {
        Criteria {
            right: 95.0,
            in_time: 80.0,
            spread_ms: 28.0,
        }
    }
}

/// What a take comes to against the criteria.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// All of it reached.
    Met,
    /// These not, in the order of the criteria; never empty.
    Short(Vec<Lack>),
    /// It does not count, on either side.
    Open(WhyOpen),
}

/// One thing that was not reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lack {
    /// Percent of the notes right, and what is wanted.
    Right(f64, f64),
    /// Percent in time, what is wanted, and the window in ms.
    InTime(f64, f64, f64),
    /// Spread in ms, and what is wanted.
    Spread(f64, f64),
}

/// Why a take does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyOpen {
    /// It was stopped before its end.
    Stopped,
    /// Nothing was heard.
    Silent,
    /// The machine was out of time for most of it.
    Untimed,
}

impl Criteria {
    /// Judges a take. What cannot be told of a take of a note or two (its spread) does not stand in the way.
    pub fn judge(&self, take: &TakeSum) -> Verdict {
        if take.how == How::Stopped {
            return Verdict::Open(WhyOpen::Stopped);
        }
        if take.is_silent() {
            return Verdict::Open(WhyOpen::Silent);
        }
        if 2 * take.timed < take.heard {
            return Verdict::Open(WhyOpen::Untimed);
        }
        let right = percent(take.right, take.expected + take.extra);
        let in_time = percent(take.in_time, take.timed);
        let spread = take.spread_ms.unwrap_or(0.0);
        let lacks = [
            (right < self.right).then_some(Lack::Right(right, self.right)),
            (in_time < self.in_time).then_some(Lack::InTime(in_time, self.in_time, take.window_ms)),
            (spread > self.spread_ms).then_some(Lack::Spread(spread, self.spread_ms)),
        ];
        let lacks: Vec<Lack> = lacks.into_iter().flatten().collect();
        if lacks.is_empty() {
            Verdict::Met
        } else {
            Verdict::Short(lacks)
        }
    }
}

/// Of no notes all are right.
fn percent(count: usize, of: usize) -> f64 {
    if of == 0 {
        100.0
    } else {
        100.0 * count as f64 / of as f64
    }
}

impl fmt::Display for Criteria {
    /// `95 % of the notes right, 80 % in time, spread 28 ms or less`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} % of the notes right, {} % in time, spread {} ms or less",
            self.right, self.in_time, self.spread_ms
        )
    }
}

impl fmt::Display for Lack {
    /// `72 % in time (±30 ms; 80 % needed)`; rounded away from what is needed, so that the two are never the same.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Lack::Right(got, wanted) => {
                write!(
                    f,
                    "{} % of the notes right ({wanted} % needed)",
                    got.floor()
                )
            }
            Lack::InTime(got, wanted, window) => {
                let got = got.floor();
                write!(f, "{got} % in time (±{window:.0} ms; {wanted} % needed)")
            }
            Lack::Spread(got, wanted) => {
                write!(f, "spread {} ms ({wanted} needed)", got.ceil())
            }
        }
    }
}

impl fmt::Display for WhyOpen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            WhyOpen::Stopped => "stopped before the end, so it does not count",
            WhyOpen::Silent => "nothing was heard, so it does not count",
            WhyOpen::Untimed => "the machine was out of time for most of it, so it does not count",
        })
    }
}

/// The text says no criteria.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("write what a take has to reach, all or some of it: right=95,in-time=80,spread=28")]
pub struct NotCriteria;

impl FromStr for Criteria {
    type Err = NotCriteria;

    /// `right=95,in-time=80,spread=28`; what is left out has its default.
    fn from_str(text: &str) -> Result<Criteria, NotCriteria> {
        let mut criteria = Criteria::default();
        for part in text.split(',') {
            let (name, number) = part.split_once('=').ok_or(NotCriteria)?;
            let number: f64 = number.trim().parse().map_err(|_| NotCriteria)?;
            let (field, most) = match name.trim() {
                "right" => (&mut criteria.right, 100.0),
                "in-time" => (&mut criteria.in_time, 100.0),
                "spread" => (&mut criteria.spread_ms, 1000.0),
                _ => return Err(NotCriteria),
            };
            if !(0.0..=most).contains(&number) {
                return Err(NotCriteria);
            }
            *field = number;
        }
        Ok(criteria)
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::take;
    use super::*;

    fn said(take: &TakeSum) -> Vec<String> {
        match Criteria::default().judge(take) {
            Verdict::Short(lacks) => lacks.iter().map(Lack::to_string).collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn the_edges_are_enough() {
        let mut edge = take(19, 16);
        edge.spread_ms = Some(28.0);
        assert_eq!(Criteria::default().judge(&edge), Verdict::Met);
    }

    #[test]
    fn what_is_not_reached_is_said_with_what_is_needed() {
        let mut rough = take(18, 15);
        rough.spread_ms = Some(28.1);
        let words = [
            "90 % of the notes right (95 % needed)",
            "75 % in time (±30 ms; 80 % needed)",
            "spread 29 ms (28 needed)",
        ];
        assert_eq!(said(&rough), words);
    }

    #[test]
    fn extra_notes_count_against_it() {
        let mut more = take(20, 20);
        more.extra = 2;
        assert_eq!(said(&more), ["90 % of the notes right (95 % needed)"]);
    }

    #[test]
    fn a_take_that_says_nothing_does_not_count() {
        let judge = |take: TakeSum| Criteria::default().judge(&take);
        let open = Verdict::Open;
        let mut stopped = take(20, 20);
        stopped.how = How::Stopped;
        assert_eq!(judge(stopped), open(WhyOpen::Stopped));
        let mut silent = take(0, 0);
        (silent.heard, silent.timed) = (0, 0);
        assert_eq!(judge(silent.clone()), open(WhyOpen::Silent));
        // Something was played, and none of it was the line.
        silent.extra = 3;
        assert!(matches!(judge(silent), Verdict::Short(_)));
        let mut late = take(20, 9);
        late.timed = 9;
        assert_eq!(judge(late), open(WhyOpen::Untimed));
    }

    #[test]
    fn criteria_are_read_in_part_and_said_in_words() {
        let some: Criteria = "spread=20, right=90".parse().expect("criteria");
        let words = "90 % of the notes right, 80 % in time, spread 20 ms or less";
        assert_eq!(some.to_string(), words);
        for wrong in [
            "",
            "right",
            "right=101",
            "right=-1",
            "time=80",
            "spread=x",
            "spread=NaN",
        ] {
            assert_eq!(wrong.parse::<Criteria>(), Err(NotCriteria), "{wrong}");
        }
    }

    /// References: recorded bass has an SD of 22.5 ms; the normal distribution has erf(30 / 22.5 / √2) = 81.8 % within ±30.
    #[test]
    fn the_spread_of_recorded_bass_meets_the_default() {
        use statrs::distribution::{ContinuousCDF, Normal};
        let normal = Normal::new(0.0, 22.5).expect("a spread");
        let share = 100.0 * (normal.cdf(30.0) - normal.cdf(-30.0));
        assert!((share - 81.8).abs() < 0.1 && share > Criteria::default().in_time);
    }
}
