//! The score, from its head to the last bar line (MusicXML 4.0; the order of elements is the standard's).

use super::accidentals::Accidentals;
use super::beams::beams;
use super::directions::{self, Swing};
use super::measures::{Figure, Measure, measures};
use super::note::{self, InBar};
use super::tuplets::brackets;
use super::xml::Xml;
use super::{barlines, harmony, head};
use crate::expected::chord_names::{ChordName, chord_names};
use crate::expected::tempo_map::{Rate, Speed};
use crate::expected::{Expected, unroll};
use crate::line::Line;
use crate::line::key_signature::{KeySignature, Mode};
use crate::line::meter::Meter;
use crate::line::tuning::Tuning;
use crate::units::{TICKS_PER_QUARTER, Ticks};

const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
    \"http://www.musicxml.org/dtds/partwise.dtd\"";
/// The whole file.
pub(super) fn write(line: &Line, speed: Speed) -> Vec<u8> {
    let expected = unroll(line, speed);
    let chords = chord_names(line, &expected);
    let measures = measures(line, &expected);
    let mut writer = ScoreWriter {
        line,
        speed,
        expected: &expected,
        chords: &chords,
        ticks_a_division: ticks_a_division(&measures, &expected, &chords),
        said: Said::default(),
    };
    let mut xml = Xml::new(DOCTYPE);
    xml.element("score-partwise", &[("version", "4.0")], |xml| {
        head::write(xml, line);
        xml.element("part", &[("id", "P1")], |xml| {
            measures
                .iter()
                .for_each(|measure| writer.measure(xml, measure));
        });
    });
    xml.finish()
}

/// The coarsest division in which everything is a whole number.
fn ticks_a_division(measures: &[Measure<'_>], expected: &Expected, chords: &[ChordName]) -> i64 {
    let figures = measures.iter().flat_map(|measure| &measure.figures);
    let lengths = figures.map(|figure| figure.length.ticks());
    let bars = expected.bars.iter().map(|bar| bar.length);
    let chords = chords.iter().map(|chord| chord.at);
    let all = lengths.chain(bars).chain(chords);
    all.fold(TICKS_PER_QUARTER, |common, ticks| gcd(common, ticks.0))
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// What is in force, so that only changes are written.
#[derive(Default)]
struct Said {
    begun: bool,
    meter: Option<Meter>,
    key: Option<KeySignature>,
    tempo: Option<(Rate, bool)>,
    swing: Swing,
}

struct ScoreWriter<'a> {
    line: &'a Line,
    speed: Speed,
    expected: &'a Expected,
    chords: &'a [ChordName],
    ticks_a_division: i64,
    said: Said,
}

impl ScoreWriter<'_> {
    fn measure(&mut self, xml: &mut Xml, measure: &Measure<'_>) {
        let number = measure.number.to_string();
        let mut attributes = vec![("number", number.as_str())];
        if measure.number == 0 {
            attributes.push(("implicit", "yes"));
        }
        xml.element("measure", &attributes, |xml| {
            if measure.opens {
                barlines::opening(xml);
            }
            self.attributes(xml, measure);
            self.directions(xml, measure);
            self.figures(xml, measure);
            barlines::end(xml, measure.end);
        });
    }

    fn attributes(&mut self, xml: &mut Xml, measure: &Measure<'_>) {
        let begun = std::mem::replace(&mut self.said.begun, true);
        let key = self.key(measure);
        let meter = self.expected.bars[measure.bar].meter();
        let new_key = (key != self.said.key).then_some(key);
        let new_meter = (Some(meter) != self.said.meter).then_some(meter);
        (self.said.key, self.said.meter) = (key, Some(meter));
        if begun && new_key.is_none() && new_meter.is_none() {
            return;
        }
        xml.element("attributes", &[], |xml| {
            if !begun {
                xml.text("divisions", TICKS_PER_QUARTER / self.ticks_a_division);
            }
            if let Some(key) = new_key {
                xml.element("key", &[], |xml| key_content(xml, key));
            }
            if let Some(meter) = new_meter {
                xml.element("time", &[], |xml| {
                    xml.text("beats", meter.upper);
                    xml.text("beat-type", meter.lower);
                });
            }
            if !begun {
                Self::instrument(xml);
            }
        });
    }

    /// Clef, and the octave between what is written and what sounds.
    fn instrument(xml: &mut Xml) {
        xml.element("clef", &[], |xml| {
            xml.text("sign", "F");
            xml.text("line", 4);
        });
        xml.element("transpose", &[], |xml| {
            xml.text("diatonic", 0);
            xml.text("chromatic", 0);
            xml.text("octave-change", -1);
        });
    }

    /// The key of the section, moved with the pass.
    fn key(&self, measure: &Measure<'_>) -> Option<KeySignature> {
        let pass = self.expected.bars[measure.bar].pass;
        let shift = measure.section.passes.get(pass as usize - 1)?;
        let key = measure.section.key.or(self.line.key)?;
        Some(key.shifted(*shift))
    }

    fn directions(&mut self, xml: &mut Xml, measure: &Measure<'_>) {
        if self.said.tempo.is_none() && self.line.tuning != Tuning::default() {
            directions::tuning(xml, &self.line.tuning);
        }
        if let Some(name) = measure.mark {
            directions::section(xml, name);
        }
        let section = measure.section;
        let meter = section.meter.unwrap_or(self.line.meter);
        let rate = Rate::new(section.tempo.unwrap_or(self.line.tempo), self.speed);
        let tempo = Some((rate, meter.is_compound()));
        if tempo != self.said.tempo {
            directions::tempo(xml, rate, meter.is_compound());
            self.said.tempo = tempo;
        }
        let ratio = section.swing.or(self.line.swing);
        let swung = section.swung.unwrap_or(self.line.swung);
        let swing = ratio
            .filter(|ratio| ratio.long != ratio.short)
            .map(|ratio| (ratio, swung));
        if swing != self.said.swing {
            directions::swing(xml, swing);
            self.said.swing = swing;
        }
    }

    fn figures(&self, xml: &mut Xml, measure: &Measure<'_>) {
        let bar = &self.expected.bars[measure.bar];
        let beams = beams(&measure.figures, bar.meter(), bar.offset);
        let brackets = brackets(&measure.figures);
        let mut signs = Accidentals::of(self.said.key);
        let mut chords = self.chords_of(measure.bar).peekable();
        let count = measure.figures.len();
        for (index, figure) in measure.figures.iter().enumerate() {
            let end = figure.at + figure.length.ticks();
            while let Some(chord) = chords.next_if(|chord| chord.at < end || index + 1 == count) {
                let after = self.divisions(chord.at - figure.at);
                let offset = (after != 0).then(|| after.to_string());
                harmony::write(xml, &chord.symbol, offset.as_deref());
            }
            let in_bar = InBar {
                duration: self.divisions(figure.length.ticks()),
                beams: &beams[index],
                bracket: brackets[index],
                fills_bar: is_whole_bar(figure, bar.meter()),
            };
            note::write(xml, figure, &in_bar, &mut signs);
        }
    }

    fn chords_of(&self, bar: usize) -> impl Iterator<Item = &ChordName> {
        let first = self
            .chords
            .partition_point(|chord| (chord.bar as usize) < bar);
        let from = self.chords[first..].iter();
        from.take_while(move |chord| chord.bar as usize == bar)
    }

    fn divisions(&self, ticks: Ticks) -> i64 {
        ticks.0 / self.ticks_a_division
    }
}

fn is_whole_bar(figure: &Figure, meter: Meter) -> bool {
    figure.heads.is_empty() && figure.length.ticks() == meter.bar()
}

/// No key has no signature and the mode `none`.
fn key_content(xml: &mut Xml, key: Option<KeySignature>) {
    xml.text("fifths", key.map_or(0, KeySignature::sharps));
    let mode = key.map_or_else(
        || "none".to_string(),
        |key| match key.mode {
            Mode::HarmonicMinor | Mode::MelodicMinor => Mode::Minor.to_string(),
            mode => mode.to_string(),
        },
    );
    xml.text("mode", mode);
}
