//! Excerpts: some bars of a line, as a line of their own that keeps the numbers of the whole one.

use super::bar_range::BarRange;
use super::chord::{ChordCell, PlacedChord};
use super::nearest::nearest;
use super::{Line, Note, Section};
use std::ops::Range;

/// The line has no such bars or section. Its text is for the player.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotInTheLine {
    /// A bar before the first or after the last.
    #[error("there is no bar {bar} in \"{title}\": it has {}", in_words(*.has))]
    Bar {
        /// The first bar that there is not.
        bar: u32,
        /// The line's title.
        title: String,
        /// The bars there are.
        has: BarRange,
    },
    /// A pickup leads into bar 1 and has no time of its own.
    #[error("bar 0 is the pickup into bar 1: with 0-1 both are played")]
    PickupAlone,
    /// No section of that name.
    #[error("there is no section \"{name}\"{}: the sections are {}", meant(.nearest.as_deref()), listed(.sections))]
    Section {
        /// What was asked for.
        name: String,
        /// The name that may be meant.
        nearest: Option<String>,
        /// The names there are, and their bars.
        sections: Vec<(String, BarRange)>,
    },
    /// Several sections of that name.
    #[error("there are several sections \"{name}\": {}; choose one by its bars", listed(.sections))]
    SeveralSections {
        /// What was asked for.
        name: String,
        /// Those of that name.
        sections: Vec<(String, BarRange)>,
    },
    /// Bars that are not in the section that is named with them.
    #[error("section \"{name}\" has {has}, and {wanted} {} not all in it", if .wanted.first == .wanted.last { "is" } else { "are" })]
    OutsideSection {
        /// The section.
        name: String,
        /// Its bars.
        has: BarRange,
        /// The bars asked for.
        wanted: BarRange,
    },
}

impl Line {
    /// All its bars; the first is 0 where there is a pickup.
    pub fn bar_range(&self) -> BarRange {
        let bars: usize = self.sections.iter().map(|section| section.bars.len()).sum();
        let first = self.first_number();
        BarRange {
            first,
            last: (first + bars as u32).saturating_sub(1),
        }
    }

    /// The bars of a section, or those of `bars` if they are all in it.
    pub fn section_bars(
        &self,
        name: &str,
        bars: Option<BarRange>,
    ) -> Result<BarRange, NotInTheLine> {
        let all: Vec<(String, BarRange)> = self
            .numbered()
            .map(|(section, range)| (section.name.clone(), range))
            .collect();
        let named: Vec<_> = all.iter().filter(|(other, _)| other == name).collect();
        let within = |wanted: BarRange| named.iter().any(|(_, range)| range.contains(wanted));
        let name = name.to_string();
        match (named.as_slice(), bars) {
            ([], _) => Err(NotInTheLine::Section {
                nearest: nearest(&name, all.iter().map(|(other, _)| other.as_str()))
                    .map(str::to_string),
                name,
                sections: all,
            }),
            (_, Some(bars)) if within(bars) => Ok(bars),
            ([(_, range)], None) => Ok(*range),
            ([(_, has)], Some(wanted)) => Err(NotInTheLine::OutsideSection {
                name,
                has: *has,
                wanted,
            }),
            (several, _) => Err(NotInTheLine::SeveralSections {
                sections: several.iter().map(|one| (*one).clone()).collect(),
                name,
            }),
        }
    }

    /// Some bars of the line, played in each pass of their sections: sections without any of them are left out,
    /// layers and chords are cut too, and the chord in force where a section's stretch begins is written there. A
    /// note tied into a stretch is struck, with the place and the marks of the one it is tied from; a tie out of it
    /// is gone.
    pub fn excerpt(&self, range: BarRange) -> Result<Line, NotInTheLine> {
        let has = self.bar_range();
        let outside = [range.first, range.last]
            .into_iter()
            .find(|bar| !has.contains([*bar, *bar].into()));
        if let Some(bar) = outside {
            let title = self.title.clone();
            return Err(NotInTheLine::Bar { bar, title, has });
        }
        if range.last == 0 {
            return Err(NotInTheLine::PickupAlone);
        }
        let stretches = self.numbered().filter_map(|(section, bars)| {
            let kept = range.first.max(bars.first)..(range.last + 1).min(bars.last + 1);
            let index = |number: u32| (number - bars.first) as usize;
            (kept.start < kept.end).then(|| stretch(section, index(kept.start)..index(kept.end)))
        });
        Ok(Line {
            pickup: range.first == 0,
            first_bar: range.first.max(1),
            sections: stretches.collect(),
            ..self.head()
        })
    }

    /// Everything but the sections.
    fn head(&self) -> Line {
        Line {
            title: self.title.clone(),
            tuning: self.tuning.clone(),
            sections: Vec::new(),
            ..*self
        }
    }

    fn first_number(&self) -> u32 {
        self.first_bar - u32::from(self.pickup)
    }

    /// The sections and their bars, without those that have none.
    fn numbered(&self) -> impl Iterator<Item = (&Section, BarRange)> {
        let mut next = self.first_number();
        self.sections
            .iter()
            .filter(|section| !section.bars.is_empty())
            .map(move |section| {
                let first = next;
                next += section.bars.len() as u32;
                let last = next - 1;
                (section, BarRange { first, last })
            })
    }
}

/// Some bars of a section, by index.
fn stretch(section: &Section, kept: Range<usize>) -> Section {
    let mut cut = Section {
        name: section.name.clone(),
        passes: section.passes.clone(),
        bars: section.bars[kept.clone()].to_vec(),
        chords: section.chords.as_deref().map(|cells| chords(cells, &kept)),
        strokes: layer(section.strokes.as_deref(), &kept),
        fingers: layer(section.fingers.as_deref(), &kept),
        ..*section
    };
    let last = cut.bars.last_mut().and_then(|bar| bar.notes.last_mut());
    if let Some(note) = last {
        note.tie = false;
    }
    if let Some(from) = tied_from(section, kept.start) {
        let first = cut.bars.first_mut().and_then(|bar| bar.notes.first_mut());
        if let Some(note) = first {
            note.place = from.place.clone();
            note.marks = from.marks;
        }
        strike_again(
            cut.strokes.as_deref_mut(),
            section.strokes.as_deref(),
            &kept,
        );
        strike_again(
            cut.fingers.as_deref_mut(),
            section.fingers.as_deref(),
            &kept,
        );
    }
    cut
}

/// The note whose ties lead to the first note of this bar.
fn tied_from(section: &Section, bar: usize) -> Option<&Note> {
    let before = section.bars[..bar].iter().flat_map(|bar| &bar.notes);
    before.rev().take_while(|note| note.tie).last()
}

fn layer<T: Copy>(marks: Option<&[Vec<T>]>, kept: &Range<usize>) -> Option<Vec<Vec<T>>> {
    marks.map(|bars| bars.get(kept.clone()).unwrap_or_default().to_vec())
}

/// The first note of the stretch, which had no mark of its own, gets that of the note it was tied from: the last one
/// struck before.
fn strike_again<T: Copy>(
    cut: Option<&mut [Vec<T>]>,
    marks: Option<&[Vec<T>]>,
    kept: &Range<usize>,
) {
    let before = marks.and_then(|bars| bars.get(..kept.start));
    let mark = before.and_then(|bars| bars.iter().flatten().last());
    if let (Some(bar), Some(mark)) = (cut.and_then(<[_]>::first_mut), mark) {
        bar.insert(0, *mark);
    }
}

fn chords(cells: &[ChordCell], kept: &Range<usize>) -> Vec<ChordCell> {
    let mut cut = cells[kept.clone()].to_vec();
    let before = cells[..kept.start].iter().rev();
    let in_force = before.filter_map(|cell| cell.chords.last()).next();
    if let (Some(chord), Some(first)) = (in_force, cut.first_mut()) {
        carry_in(chord, first);
    }
    cut
}

/// Where the cell leaves the beginning of its bar to the chord before it, that one is written there.
fn carry_in(chord: &PlacedChord, cell: &mut ChordCell) {
    let beat = match cell.chords.first().map(|first| first.beat) {
        None => None,
        Some(Some(beat)) if beat > 1000 => Some(1000),
        Some(_) => return,
    };
    let symbol = chord.symbol.clone();
    cell.chords.insert(0, PlacedChord { symbol, beat });
}

/// `bars 0 (the pickup) to 8`.
fn in_words(has: BarRange) -> String {
    match has.first {
        0 => format!("bars 0 (the pickup) to {}", has.last),
        _ => has.to_string(),
    }
}

fn meant(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |name| format!(" (\"{name}\"?)"))
}

fn listed(sections: &[(String, BarRange)]) -> String {
    let named = |(name, range): &(String, BarRange)| format!("\"{name}\" ({range})");
    let named: Vec<String> = sections.iter().map(named).collect();
    named.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::parse::parse;
    use crate::line::print::print;

    const HEAD: &str = "title = \"Two Bells\"\nmeter = \"4/4\"\ntempo = 120\n";
    const SECTIONS: &str = "[[section]]\nname = \"A\"\npasses = [0, 2]\nnotes = \"A1/2 D2/2 | D2/1 | E1/1\"\n\
         [[section]]\nname = \"B\"\nmeter = \"3/4\"\nnotes = \"G2/2. | C2/2.\"\n";

    fn line(text: &str) -> Line {
        parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)))
    }

    fn cut(text: &str, bars: [u32; 2]) -> Line {
        line(text).excerpt(bars.into()).expect("bars of the line")
    }

    /// The excerpt as a file would have it, which says more at a glance than its fields.
    fn written(text: &str, bars: [u32; 2]) -> String {
        let printed = print(&cut(text, bars));
        let section = printed.split("[[section]]\n").nth(1).unwrap_or_default();
        let line = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
        section.lines().map(line).collect::<Vec<_>>().join("; ")
    }

    fn one_section(body: &str) -> String {
        format!("{HEAD}[[section]]\nname = \"A\"\n{body}\n")
    }

    fn said(error: NotInTheLine) -> String {
        error.to_string()
    }

    #[test]
    fn sections_keep_their_bars_passes_and_settings_and_empty_ones_go() {
        let text = format!("{HEAD}{SECTIONS}");
        let both = cut(&text, [3, 4]);
        let bars = |line: &Line| {
            line.sections
                .iter()
                .map(|s| s.bars.len())
                .collect::<Vec<_>>()
        };
        assert_eq!((both.first_bar, bars(&both)), (3, vec![1, 1]));
        assert_eq!(both.sections[0].passes, [0, 2]);
        assert_eq!(both.sections[1].meter, line(&text).sections[1].meter);
        let second = cut(&text, [5, 5]);
        assert_eq!((second.first_bar, bars(&second)), (5, vec![1]));
        assert_eq!(second.sections[0].name, "B");
    }

    #[test]
    fn an_excerpt_of_everything_is_the_line() {
        let text = format!("{HEAD}{SECTIONS}");
        assert_eq!(cut(&text, [1, 5]), line(&text));
    }

    #[test]
    fn an_excerpt_of_an_excerpt_goes_by_the_same_numbers() {
        let text = format!("{HEAD}{SECTIONS}");
        let outer = cut(&text, [2, 5]);
        assert_eq!(outer.bar_range(), [2, 5].into());
        assert_eq!(outer.excerpt([3, 4].into()), Ok(cut(&text, [3, 4])));
        assert!(outer.excerpt([1, 2].into()).is_err());
    }

    #[test]
    fn a_pickup_is_kept_only_with_bar_0() {
        let text = format!(
            "pickup = true\n{}",
            one_section("notes = \"A1/4 | D2/1 | E1/1\"")
        );
        let with = cut(&text, [0, 1]);
        assert!(with.pickup && with.first_bar == 1 && with.sections[0].bars.len() == 2);
        let without = cut(&text, [1, 1]);
        assert!(!without.pickup && without.first_bar == 1 && without.sections[0].bars.len() == 1);
        let alone = line(&text).excerpt([0, 0].into());
        assert_eq!(alone, Err(NotInTheLine::PickupAlone));
    }

    #[test]
    fn a_note_tied_in_is_struck_as_the_one_it_is_tied_from_and_a_tie_out_is_gone() {
        let text = one_section(
            "notes = \"r/2 C2@A/4' D2@A/4>~ | D2/1~ | D2/2~ D2/4 E2/4~ | E2/2 r/2\"\n\
             strokes = \"d u | | d | \"\nfingers = \"3 1 | | 2 | \"",
        );
        assert_eq!(
            written(&text, [2, 2]),
            "name = \"A\"; notes = \"D2@A/1>\"; strokes = \"u\"; fingers = \"1\""
        );
        assert_eq!(
            written(&text, [3, 4]),
            "name = \"A\"; notes = \"D2@A/2>~ D2/4 E2/4~ | E2/2 r/2\"; strokes = \"u d |\"; fingers = \"1 2 |\""
        );
    }

    #[test]
    fn the_chord_in_force_is_carried_to_where_the_stretch_begins() {
        let text = one_section(
            "chords = \"Dm7 G7 | - | C6@3 | Am7@1 A7@3\"\nnotes = \"A1/1 | D2/1 | E1/1 | G1/1\"",
        );
        let chords = |bars| {
            let text = written(&text, bars);
            text.split("; ").nth(1).unwrap_or_default().to_string()
        };
        assert_eq!(chords([2, 3]), "chords = \"G7 | C6@3\"");
        assert_eq!(chords([3, 3]), "chords = \"G7@1 C6@3\"");
        assert_eq!(chords([4, 4]), "chords = \"Am7@1 A7@3\"");
        let from_the_start = one_section("chords = \"- | Dm7\"\nnotes = \"A1/1 | D2/1\"");
        assert_eq!(
            written(&from_the_start, [1, 1]),
            "name = \"A\"; chords = \"-\"; notes = \"A1/1\""
        );
    }

    #[test]
    fn bars_that_are_not_there_are_answered_with_those_that_are() {
        let plain = line(&format!("{HEAD}{SECTIONS}"));
        let wrong = |line: &Line, bars: [u32; 2]| said(line.excerpt(bars.into()).unwrap_err());
        assert_eq!(
            wrong(&plain, [4, 9]),
            "there is no bar 9 in \"Two Bells\": it has bars 1 to 5"
        );
        assert!(wrong(&plain, [0, 2]).starts_with("there is no bar 0 "));
        let with_pickup = line(&format!(
            "pickup = true\n{}",
            one_section("notes = \"A1/4 | D2/1\"")
        ));
        assert_eq!(
            wrong(&with_pickup, [2, 2]),
            "there is no bar 2 in \"Two Bells\": it has bars 0 (the pickup) to 1"
        );
    }

    #[test]
    fn a_section_is_found_by_its_name_and_the_bars_given_with_it_must_be_in_it() {
        let two = line(&format!("{HEAD}{SECTIONS}"));
        assert_eq!(two.section_bars("B", None), Ok([4, 5].into()));
        assert_eq!(
            two.section_bars("A", Some([2, 3].into())),
            Ok([2, 3].into())
        );
        assert_eq!(
            said(two.section_bars("A", Some([3, 4].into())).unwrap_err()),
            "section \"A\" has bars 1 to 3, and bars 3 to 4 are not all in it"
        );
        assert_eq!(
            said(two.section_bars("b", None).unwrap_err()),
            "there is no section \"b\" (\"B\"?): the sections are \"A\" (bars 1 to 3), \"B\" (bars 4 to 5)"
        );
    }

    #[test]
    fn of_sections_with_one_name_the_bars_choose() {
        let again = "[[section]]\nname = \"A\"\nnotes = \"E1/1\"\n";
        let line = line(&format!("{HEAD}{SECTIONS}{again}"));
        assert_eq!(
            said(line.section_bars("A", None).unwrap_err()),
            "there are several sections \"A\": \"A\" (bars 1 to 3), \"A\" (bar 6); choose one by its bars"
        );
        assert_eq!(
            line.section_bars("A", Some([6, 6].into())),
            Ok([6, 6].into())
        );
    }
}
