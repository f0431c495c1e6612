//! Chord symbols as they read in each pass.

use super::chords_of_bar::CellGround;
use super::harmony::Chord;
use super::transposition::Transposition;
use super::{Degree, Expected, ExpectedBar};
use crate::line::chord::ChordSymbol;
use crate::line::{Line, Section};
use crate::units::{Ticks, divide_rounded};

/// A chord symbol where it begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordName {
    /// Index into [`Expected::bars`].
    pub bar: u32,
    /// Written position in the bar, to the nearest tick.
    pub at: Ticks,
    /// The symbol, moved with the pass.
    pub symbol: ChordSymbol,
}

/// The chord symbols of a line in playing order, at most one at a place; `expected` is the same line, unrolled.
pub fn chord_names(line: &Line, expected: &Expected) -> Vec<ChordName> {
    let mut names: Vec<ChordName> = Vec::new();
    let mut first_bar = line.bar_range().first;
    for (index, section) in line.sections.iter().enumerate() {
        let bars = (0..).zip(&expected.bars);
        for (number, bar) in bars.filter(|(_, bar)| usize::from(bar.section) == index) {
            let shift = section.passes[bar.pass as usize - 1];
            let moved = Transposition::new(section.key.or(line.key), shift);
            let written = (bar.number - first_bar) as usize;
            let cell = section.chords.as_ref().and_then(|cells| cells.get(written));
            let placed = cell.map_or(&[][..], |cell| &cell.chords);
            if let Some(chord) = over_pickup(line, section, bar, written) {
                names.push(ChordName {
                    bar: number,
                    at: Ticks(0),
                    symbol: symbol(chord, &moved),
                });
            }
            for (index, chord) in (0..).zip(placed) {
                let start = ground(bar).start(chord, index, placed.len() as i64);
                let name = ChordName {
                    bar: number,
                    // Before a pickup: it sounds when the pickup begins.
                    at: Ticks((divide_rounded(start.0.into(), start.1.into()) as i64).max(0)),
                    symbol: symbol(&chord.symbol, &moved),
                };
                if names
                    .last()
                    .is_some_and(|last| (last.bar, last.at) == (name.bar, name.at))
                {
                    names.pop();
                }
                names.push(name);
            }
        }
        first_bar += section.bars.len() as u32;
    }
    names
}

/// The chord of the pickup, which goes on into each pass although the pickup is played once, where a later pass begins.
fn over_pickup<'a>(
    line: &Line,
    section: &'a Section,
    bar: &ExpectedBar,
    written: usize,
) -> Option<&'a ChordSymbol> {
    let begins = line.pickup && bar.section == 0 && bar.pass > 1 && written == 1;
    let pickup = section.chords.as_ref()?.first().filter(|_| begins)?;
    Some(&pickup.chords.last()?.symbol)
}

fn ground(bar: &ExpectedBar) -> CellGround {
    CellGround {
        length: bar.length,
        offset: bar.offset,
        beat: bar.beat,
    }
}

fn symbol(written: &ChordSymbol, moved: &Transposition) -> ChordSymbol {
    let root = moved.chord(Chord::of(written)).root;
    // Counted from the root, which is not always named as the key would have it.
    let over_root = |bass| Degree::between(written.root, bass).above(root);
    let bass = written.bass.and_then(over_root);
    ChordSymbol {
        root,
        bass,
        quality: written.quality.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::line::parse::parse;

    fn names(text: &str) -> Vec<String> {
        let text = format!("title = \"a\"\ntempo = 120\n{text}");
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = unroll(&line, Speed::WRITTEN);
        let names = chord_names(&line, &expected);
        let text = |name: &ChordName| format!("{}:{} {}", name.bar, name.at.0 / 480, name.symbol);
        names.iter().map(text).collect()
    }

    #[test]
    fn chords_move_with_their_pass_and_keep_their_place() {
        let found = names(
            "meter = \"4/4\"\nkey = \"D minor\"\n[[section]]\nname = \"A\"\npasses = [0, 2]\n\
             chords = \"Dm7 G7/B | - | A7@1 C#dim@4\"\nnotes = \"D2/1 | D2/1 | A1/1\"",
        );
        let first = ["0:0 Dm7", "0:4 G7/B", "2:0 A7", "2:6 C#dim"];
        let second = ["3:0 Em7", "3:4 A7/C#", "5:0 B7", "5:6 D#dim"];
        assert_eq!(found, [first, second].concat());
    }

    #[test]
    fn a_chord_from_before_a_pickup_stands_at_its_start() {
        let found = names(
            "meter = \"4/4\"\npickup = true\n[[section]]\nname = \"A\"\n\
             chords = \"D@1 E@4 | A\"\nnotes = \"D2/2 | D2/1\"",
        );
        assert_eq!(found, ["0:0 D", "0:2 E", "1:0 A"]);
    }

    #[test]
    fn the_chord_of_a_pickup_goes_on_where_a_later_pass_begins() {
        let found = names(
            "meter = \"2/4\"\npickup = true\n[[section]]\nname = \"A\"\npasses = [0, 2]\n\
             chords = \"D | A@2 | -\"\nnotes = \"D2/4 | D2/2 | A1/2\"",
        );
        assert_eq!(found, ["0:0 D", "1:2 A", "3:0 E", "3:2 B"]);
    }
}
