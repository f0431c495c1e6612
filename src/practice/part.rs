//! What of the line is practised, and what comes next.

use super::percent;
use crate::click::Pattern;
use crate::expected::tempo_map::Speed;
use crate::findings::practice::Practice;
use crate::line::Line;
use crate::line::bar_range::BarRange;
use crate::line::excerpt::NotInTheLine;
use std::fmt;

/// What of the line is practised.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Part {
    /// All of it.
    #[default]
    Whole,
    /// A section.
    Section {
        /// Its name.
        name: String,
        /// Its bars.
        bars: BarRange,
    },
    /// Some bars.
    Bars(BarRange),
}

impl Part {
    /// The section of that name.
    pub fn section(line: &Line, name: &str) -> Result<Part, NotInTheLine> {
        let bars = line.section_bars(name, None)?;
        let name = name.to_string();
        Ok(Part::Section { name, bars })
    }

    /// Its bars; `None` for the whole line.
    pub fn bars(&self) -> Option<BarRange> {
        match self {
            Part::Whole => None,
            Part::Section { bars, .. } | Part::Bars(bars) => Some(*bars),
        }
    }

    /// Its bars as a line of their own, by the same numbers.
    pub fn of(&self, line: &Line) -> Result<Line, NotInTheLine> {
        self.bars()
            .map_or_else(|| Ok(line.clone()), |bars| line.excerpt(bars))
    }
}

impl fmt::Display for Part {
    /// `the whole line`, `section B (bars 5 to 8)`, `bars 5 to 8`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Part::Whole => f.write_str("the whole line"),
            Part::Section { name, bars } => write!(f, "section {name} ({bars})"),
            Part::Bars(bars) => write!(f, "{bars}"),
        }
    }
}

/// The way through a line. What comes next, in this order:
///
/// 1. From a part of which something stood out in the take before: the bars that show it most, with the speed and the click
///    that help there, never faster than now. Once for each time that the part comes up.
/// 2. From those bars: back to the part that they are of, as it was.
/// 3. Else from a section the section after it; from bars the bars after them, as many; after the last of the line, the
///    whole line; from the whole line its first section, where it has several.
#[derive(Clone, Debug)]
pub struct Route {
    whole: BarRange,
    sections: Vec<Part>,
}

/// The bars that show something most, and how to set them up.
#[derive(Clone, Debug, PartialEq)]
pub struct Drill {
    /// The bars.
    pub part: Part,
    /// How fast.
    pub speed: Speed,
    /// Where the click sounds.
    pub click: Pattern,
}

impl Route {
    /// The way through this line.
    pub fn of(line: &Line) -> Route {
        let whole = line.bar_range();
        let mut next = whole.first;
        let mut sections = Vec::new();
        for section in line.sections.iter().filter(|one| !one.bars.is_empty()) {
            let first = next;
            next += section.bars.len() as u32;
            let last = next - 1;
            // A section that is nothing but a pickup has no time of its own.
            if last > 0 {
                sections.push(Part::Section {
                    name: section.name.clone(),
                    bars: BarRange { first, last },
                });
            }
        }
        Route { whole, sections }
    }

    /// The part after this one: rule 3.
    pub fn after(&self, part: &Part) -> Part {
        match part {
            Part::Whole if self.sections.len() > 1 => self.sections[0].clone(),
            Part::Whole => Part::Whole,
            Part::Section { bars, .. } => {
                let at = self.sections.iter().position(|one| one == part);
                let after = at.map_or(self.sections.len(), |at| at + 1);
                // A section that is not in the line stands for its bars.
                let by_bars = || self.sections.iter().find(|one| first(one) > bars.last);
                let next = self.sections.get(after);
                let next = if at.is_some() { next } else { by_bars() };
                next.cloned().unwrap_or(Part::Whole)
            }
            Part::Bars(bars) => {
                let first = bars.last.saturating_add(1);
                let count = bars.last.saturating_sub(bars.first);
                let last = first.saturating_add(count).min(self.whole.last);
                if first > self.whole.last {
                    Part::Whole
                } else {
                    Part::Bars(BarRange { first, last })
                }
            }
        }
    }

    /// The section after this part: of bars the one that begins after their first bar; after the last one the whole line.
    pub fn section_after(&self, part: &Part) -> Part {
        match part {
            Part::Bars(bars) => {
                let next = self.sections.iter().find(|one| first(one) > bars.first);
                next.cloned().unwrap_or(Part::Whole)
            }
            part => self.after(part),
        }
    }

    /// What a suggestion sets up within a part that is practised at a speed and with a click: rule 1. `None` where it would
    /// be the same once more.
    pub fn drill(&self, practice: &Practice, part: &Part, now: (Speed, Pattern)) -> Option<Drill> {
        let bars = BarRange::from(practice.bars);
        let all = part.bars().unwrap_or(self.whole);
        let suggested = Speed((practice.speed * 1000.0).round() as u32);
        let speed = Speed(suggested.0.min(now.0.0));
        let is_new = bars != all || speed != now.0 || practice.click != now.1;
        let is_playable = all.contains(bars) && bars.last > 0;
        (is_new && is_playable).then_some(Drill {
            part: Part::Bars(bars),
            speed,
            click: practice.click,
        })
    }
}

fn first(part: &Part) -> u32 {
    part.bars().map_or(0, |bars| bars.first)
}

impl fmt::Display for Drill {
    /// `bars 3 to 6 at 80 %, the click between the beats`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let click = self.click.words();
        write!(
            f,
            "{} at {}, the click {click}",
            self.part,
            percent(self.speed)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{line, section};
    use super::*;

    #[test]
    fn sections_follow_each_other_and_the_whole_line_follows_the_last() {
        let route = Route::of(&line());
        let [a, b] = [section("A", [1, 4]), section("B", [5, 8])];
        assert_eq!(route.after(&Part::Whole), a);
        assert_eq!(route.after(&a), b);
        assert_eq!(route.after(&b), Part::Whole);
        // Not of this line: by its bars.
        assert_eq!(route.after(&section("C", [1, 2])), b);
    }

    #[test]
    fn bars_are_followed_by_as_many_as_there_are() {
        let route = Route::of(&line());
        let bars = |bars: [u32; 2]| Part::Bars(bars.into());
        assert_eq!(route.after(&bars([1, 3])), bars([4, 6]));
        assert_eq!(route.after(&bars([4, 6])), bars([7, 8]));
        assert_eq!(route.after(&bars([7, 8])), Part::Whole);
        assert_eq!(route.after(&bars([9, u32::MAX])), Part::Whole);
    }

    #[test]
    fn a_drill_is_never_faster_and_never_the_same_once_more() {
        let route = Route::of(&line());
        let practice = |bars: [u32; 2], speed: f64, click| Practice { bars, speed, click };
        let drill = |practice: &Practice, part: &Part, percent: u32| {
            let now = (Speed(percent * 1000), Pattern::Beats);
            route.drill(practice, part, now)
        };
        let some = practice([3, 6], 80.0, Pattern::Upbeats);
        let found = drill(&some, &Part::Whole, 100).expect("a drill");
        let words = "bars 3 to 6 at 80 %, the click between the beats";
        assert_eq!(found.to_string(), words);
        assert_eq!(drill(&some, &Part::Whole, 50).unwrap().speed, Speed(50_000));
        // Not inside section B.
        assert_eq!(drill(&some, &section("B", [5, 8]), 100), None);
        let same = practice([5, 8], 80.0, Pattern::Beats);
        assert_eq!(drill(&same, &section("B", [5, 8]), 80), None);
        assert!(drill(&same, &section("B", [5, 8]), 85).is_some());
    }

    #[test]
    fn a_part_is_named_and_cut_out_of_its_line() {
        let part = Part::section(&line(), "B").expect("a section");
        assert_eq!(part.to_string(), "section B (bars 5 to 8)");
        assert_eq!(part.of(&line()).expect("bars").first_bar, 5);
        assert_eq!(Part::Whole.of(&line()).expect("all"), line());
        assert!(Part::Bars([8, 9].into()).of(&line()).is_err());
    }
}
