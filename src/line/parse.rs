//! Reading a line file: everything that is wrong with it is reported at once.

use super::bars::{self, DraftBar, Ground};
use super::document::{Document, Fields};
use super::meter::Meter;
use super::mistake::document::DocumentMistake;
use super::mistake::layer::MarkLayer;
use super::mistake::{BarMistake, Mistake};
use super::mistakes::{Mistakes, Report};
use super::settings::{self, Settings};
use super::tuning::Tuning;
use super::{Gate, Line, Section, chords, layers, passes};
use std::ops::Range;

const MISSING_METER: &str = "meter = \"4/4\"";

/// Reads a line. `file` is the name that mistakes are reported under.
pub fn parse(text: &str, file: &str) -> Result<Line, Mistakes> {
    let mut report = Report::default();
    let document = Document::read(text, &mut report);
    let line = read_line(&document.head(), &mut report);
    match line {
        Some(line) if report.list.is_empty() => Ok(line),
        _ => Err(Mistakes::new(file, text, report.list)),
    }
}

fn read_line(head: &Fields<'_>, report: &mut Report) -> Option<Line> {
    head.check_keys(report);
    let title = name(head, "title", "title = \"Night Crossing\"", report);
    head.require("meter", MISSING_METER, report);
    head.require("tempo", "tempo = 120", report);
    let settings = Settings::read(head, report);
    let tuning = settings::tuning(head, report);
    let tables = head.sections(report);
    let pickup = pickup(head, &tables, report);
    let mut reader = SectionReader {
        tuning: tuning.as_ref(),
        meter: settings.meter,
        next_bar: usize::from(!pickup),
    };
    let sections: Vec<Option<Section>> = tables
        .iter()
        .map(|table| reader.read(table, report))
        .collect();
    let sections: Option<Vec<Section>> = sections.into_iter().collect();
    Some(Line {
        title: title?,
        meter: settings.meter?,
        tempo: settings.tempo?,
        swing: settings.swing,
        swung: settings.swung.unwrap_or_default(),
        tuning: tuning?,
        gate: settings.gate.unwrap_or(Gate::DEFAULT),
        key: settings.key,
        pickup,
        first_bar: 1,
        sections: sections.filter(|sections| !sections.is_empty())?,
    })
}

/// A title or name, which must have something to call it by.
fn name(
    fields: &Fields<'_>,
    key: &'static str,
    example: &'static str,
    report: &mut Report,
) -> Option<String> {
    let piece = fields.required_text(key, example, report)?;
    if piece.text.trim().is_empty() {
        report.add(
            DocumentMistake::BlankText { key },
            piece.span_with_neighbours(),
        );
    }
    Some(piece.text.to_owned())
}

/// Whether the line begins with a pickup. The head or the first section may say so.
fn pickup(head: &Fields<'_>, sections: &[Fields<'_>], report: &mut Report) -> bool {
    let said = head.truth("pickup", report);
    let mut in_first: Option<(bool, Range<usize>)> = None;
    for (index, section) in sections.iter().enumerate() {
        match section.truth("pickup", report) {
            Some((true, span)) if index > 0 => report.add(BarMistake::PickupNotFirst, span),
            found if index == 0 => in_first = found,
            _ => {}
        }
    }
    match (said, in_first) {
        (Some((head, _)), Some((first, span))) if head != first => {
            report.add(DocumentMistake::PickupDisagrees, span);
            head || first
        }
        (Some((said, _)), _) | (None, Some((said, _))) => said,
        (None, None) => false,
    }
}

/// Reads the sections in order, numbering their bars through.
struct SectionReader<'r> {
    tuning: Option<&'r Tuning>,
    meter: Option<Meter>,
    next_bar: usize,
}

impl SectionReader<'_> {
    fn read(&mut self, fields: &Fields<'_>, report: &mut Report) -> Option<Section> {
        fields.check_keys(report);
        let name = name(fields, "name", "name = \"A\"", report);
        let before = report.list.len();
        let settings = Settings::read(fields, report);
        let own_meter_is_wrong = report.list[before..].iter().any(is_about_meter);
        let meter = settings
            .meter
            .or(self.meter)
            .filter(|_| !own_meter_is_wrong);
        let passes = passes::read(fields, report);
        let drafts = self.bars(fields, meter, report);
        // Only the first section begins with a pickup, even when its notes cannot be read.
        self.next_bar = self.next_bar.max(1);
        let chords = fields
            .text("chords", "chords = \"Dm7 | G7\"", report)
            .filter(|_| !drafts.is_empty())
            .map(|piece| chords::read(piece, drafts.len(), meter, report));
        let strokes = layer(
            fields,
            MarkLayer::Strokes,
            "strokes = \"d u d u\"",
            report,
            &drafts,
            layers::stroke,
        );
        let fingers = layer(
            fields,
            MarkLayer::Fingers,
            "fingers = \"1 2 4 0\"",
            report,
            &drafts,
            layers::finger,
        );
        if let (Some(passes), Some(tuning)) = (&passes, self.tuning) {
            passes::check(passes, &drafts, tuning, report);
        }
        Some(Section {
            name: name?,
            tempo: settings.tempo,
            meter: settings.meter,
            swing: settings.swing,
            swung: settings.swung,
            key: settings.key,
            gate: settings.gate,
            passes: passes?.into_iter().map(|(shift, _)| shift).collect(),
            bars: bars::finish(&drafts).filter(|bars| !bars.is_empty())?,
            chords: chords.flatten(),
            strokes: strokes.flatten(),
            fingers: fingers.flatten(),
        })
    }

    fn bars<'d>(
        &mut self,
        fields: &Fields<'d>,
        meter: Option<Meter>,
        report: &mut Report,
    ) -> Vec<DraftBar<'d>> {
        let example = "notes = \"E1/4 E1/4 E1/4 E1/4\"";
        let Some(piece) = fields.required_text("notes", example, report) else {
            return Vec::new();
        };
        let ground = Ground {
            tuning: self.tuning,
            meter,
            first_bar: self.next_bar,
        };
        let drafts = bars::read(piece, &ground, report);
        self.next_bar += drafts.len();
        drafts
    }
}

/// A layer of marks: `None` where the section has none, `Some(None)` where its bars do not fit.
fn layer<T>(
    fields: &Fields<'_>,
    layer: MarkLayer,
    example: &'static str,
    report: &mut Report,
    drafts: &[DraftBar<'_>],
    mark: impl Fn(&str) -> Result<T, super::mistake::LayerMistake>,
) -> Option<Option<Vec<Vec<T>>>> {
    let piece = fields.text(layer.key(), example, report)?;
    if drafts.is_empty() {
        return None;
    }
    Some(layers::read(piece, layer, drafts, mark, report))
}

fn is_about_meter(at: &super::mistake::MistakeAt) -> bool {
    match &at.mistake {
        Mistake::Setting(mistake) => {
            matches!(mistake, super::mistake::SettingMistake::BadMeter { .. })
        }
        Mistake::Document(DocumentMistake::WrongType { key, .. }) => key == "meter",
        _ => false,
    }
}
