//! Section by section: bars with their columns, systems with what stands before them.

use super::columns::{self, Words};
use super::figures::{Figure, FiguredBar};
use super::placed::Grouping;
use super::prefix::Prefix;
use super::shape::text_width;
use super::sounding::RULER_ROOM;
use super::system::{self, Draft, Frame, Heading, SystemEnd};
use super::{PAGE_WIDTH, Part, Sounding, System, breaking, marks, tablature, take};
use crate::expected::ExpectedBar;
use crate::expected::chord_names::ChordName;
use crate::line::meter::Meter;
use crate::page::heading::{in_words, passes};
use crate::page::{RowKind, Sign, Source};
use crate::report::words::shortest;
use crate::units::Ticks;
use std::collections::BTreeSet;

/// Lays out section by section.
pub(super) struct Writer<'a> {
    pub(super) source: Source<'a>,
    pub(super) part: &'a Part,
    pub(super) systems: Vec<System>,
    /// What the section before had: meter and the words about its time.
    pub(super) last: Option<(Meter, (String, String))>,
}

impl<'a> Writer<'a> {
    pub(super) fn draft<'n>(
        &self,
        figured: FiguredBar,
        names: &'n [ChordName],
    ) -> (Draft<'n>, BTreeSet<Sign>) {
        let bar = &self.source.expected.bars[figured.bar as usize];
        let grouping = Grouping::of(&figured, bar);
        let (spoken, signs) = take::spoken(self.source, &figured);
        let from = names.partition_point(|name| name.bar < figured.bar);
        let to = names.partition_point(|name| name.bar <= figured.bar);
        let chords: Vec<&ChordName> = names[from..to].iter().collect();
        let words = |index: usize| {
            let figure: &Figure = &figured.figures[index];
            let frets = figure
                .heads
                .iter()
                .map(|head| (tablature::fret(figure, head), columns::FRET_SIZE));
            let spoken = spoken.iter().filter(|one| one.figure == index);
            let spoken = spoken.map(|one| (one.text.clone(), columns::OFFSET_SIZE));
            let drawn = self.part.sounding != Sounding::Told && figure.is_struck();
            let ruler = drawn.then(|| (RULER_ROOM.to_string(), columns::OFFSET_SIZE));
            Words {
                centred: frets.chain(spoken).chain(ruler).collect(),
            }
        };
        let words: Vec<Words> = (0..figured.figures.len()).map(words).collect();
        let beamed: Vec<bool> = (0..words.len())
            .map(|index| grouping.is_beamed(index))
            .collect();
        let wide = |chord: &&ChordName| {
            let next = figured
                .figures
                .partition_point(|figure| figure.at <= chord.at);
            let width = text_width(
                &accidental_signs(&chord.symbol.to_string()),
                marks::CHORD_SIZE,
            );
            (next.saturating_sub(1), width + 0.8)
        };
        let mut widths: Vec<(usize, f64)> = Vec::new();
        for (index, width) in chords.iter().map(wide) {
            match widths.last_mut().filter(|last| last.0 == index) {
                Some(last) => last.1 += width,
                None => widths.push((index, width)),
            }
        }
        let columns = columns::columns(&figured, &grouping.directions, &beamed, &words, &widths);
        let draft = Draft {
            figured,
            grouping,
            columns,
            chords,
            spoken,
        };
        (draft, signs)
    }

    pub(super) fn section(&mut self, drafts: &[Draft<'_>], end: SystemEnd) {
        let bar = &self.source.expected.bars[drafts[0].figured.bar as usize];
        let (meter, time) = (bar.meter(), self.time(bar));
        let is_new = self.last.as_ref().is_none_or(|last| last.1 != time);
        let heading = self.heading(bar, is_new.then(|| time.clone()));
        let said = self.last.as_ref().is_none_or(|last| last.0 != meter);
        self.last = Some((meter, time));
        let prefix = |first: bool| self.prefix(bar, (first && said).then_some(meter));
        let rooms = [true, false].map(|first| PAGE_WIDTH - prefix(first).width());
        let columns: Vec<Vec<columns::Column>> =
            drafts.iter().map(|draft| draft.columns.clone()).collect();
        let counts = breaking::breaks(&columns, rooms, bar.offset > Ticks(0));
        let mut heading = Some(heading);
        let mut start = 0;
        for count in counts {
            let bars = &drafts[start..start + count];
            start += count;
            let is_last = start == drafts.len();
            let frame = Frame {
                source: self.source,
                prefix: self.prefix(bar, (heading.is_some() && said).then_some(meter)),
                heading: heading.take(),
                width: PAGE_WIDTH,
                end: if is_last { end } else { SystemEnd::Plain },
                is_last,
                has_fingers: self.part.shows(RowKind::Finger),
                has_strokes: self.part.shows(RowKind::Stroke),
                sounding: self.part.sounding,
            };
            self.systems.push(system::lay_out(&frame, bars));
        }
    }

    fn prefix(&self, bar: &ExpectedBar, meter: Option<Meter>) -> Prefix {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let shift = section.passes[bar.pass as usize - 1];
        let key = section.key.or(self.source.line.key);
        Prefix {
            key: key.map(|key| key.shifted(shift)),
            meter,
            strings: self.source.expected.strings.clone(),
        }
    }

    /// `= 126` and how it swings.
    fn time(&self, bar: &ExpectedBar) -> (String, String) {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let changes = self.source.expected.tempo_map.changes();
        let rate = changes
            .take_while(|(start, _, _)| *start <= bar.start.max(Ticks(0)))
            .last();
        let rate = rate.map(|(_, _, rate)| shortest(rate.quarters_per_minute()));
        let swing = section.swing.or(self.source.line.swing);
        let swung = section.swung.unwrap_or(self.source.line.swung);
        let swing = swing.map(|swing| in_words(swing.long, swing.short, swung));
        (
            format!("= {}", rate.unwrap_or_default()),
            swing.unwrap_or_default(),
        )
    }

    fn heading(&self, bar: &ExpectedBar, tempo: Option<(String, String)>) -> Heading {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let shift = section.passes[bar.pass as usize - 1];
        let several = (section.passes.len() > 1).then(|| passes(&section.passes, bar.pass));
        let key = section.key.or(self.source.line.key);
        let key = key.map(|key| accidental_signs(&key.shifted(shift).to_string()));
        let words: Vec<String> = [several, key].into_iter().flatten().collect();
        Heading {
            section: section.name.clone(),
            words: words.join(" · "),
            tempo,
        }
    }
}

/// A chord symbol with ♯ and ♭ where the letters stand for them.
pub(super) fn accidental_signs(symbol: &str) -> String {
    let letters: Vec<char> = symbol.chars().collect();
    // Of a name: the letter itself stands at the beginning or behind a slash.
    let starts = |index: usize| index == 0 || letters[index - 1] == '/';
    let is_root = |index: usize| starts(index) && ('A'..='G').contains(&letters[index]);
    let of_name = |index: usize| {
        let root = letters[..index].iter().rposition(|letter| *letter != 'b');
        root.is_some_and(is_root)
    };
    let sign = |(index, letter): (usize, &char)| match letter {
        '#' => '♯',
        'b' if of_name(index) || letters.get(index + 1).is_some_and(char::is_ascii_digit) => '♭',
        other => *other,
    };
    letters.iter().enumerate().map(sign).collect()
}

#[cfg(test)]
mod tests {
    use super::accidental_signs;

    #[test]
    fn letters_that_stand_for_accidentals_become_their_signs() {
        for (written, drawn) in [
            ("Bbmaj7", "B♭maj7"),
            ("Em7b5", "Em7♭5"),
            ("Dbb7#9/Abb", "D♭♭7♯9/A♭♭"),
            ("F#dim", "F♯dim"),
            ("B minor", "B minor"),
            ("C# minor", "C♯ minor"),
        ] {
            assert_eq!(accidental_signs(written), drawn);
        }
    }
}
