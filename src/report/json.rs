//! The check as JSON, schema `leadsman.check/1`. Times are seconds from bar 1 beat 1; missing numbers are null.

use super::{Checked, LineFacts, TakeFacts};
use crate::expected::{Expected, ExpectedNote};
use crate::findings::Finding;
use crate::findings::lean::Lean;
use crate::findings::self_paced::SelfPaced;
use crate::findings::tempo::{SectionTempo, Taken};
use crate::judge::by_section::SectionSum;
use crate::judge::convention::Convention;
use crate::judge::cost::Pitch;
use crate::judge::summary::Summary;
use crate::judge::{Length, Partner, Reading, Timing};
use crate::played::PlayedNote;
use crate::played::cleanup::Cleaned;
use serde::Serialize;
use serde::ser::{SerializeSeq, Serializer};
use std::io;

/// The name of the schema.
pub const SCHEMA: &str = "leadsman.check/1";

/// The name of the schema of [`write_summary`].
pub const SUMMARY_SCHEMA: &str = "leadsman.check-summary/1";
/// The name of the schema of [`failure`].
pub const FAILURE_SCHEMA: &str = "leadsman.check-failure/1";

/// Writes the whole report as one JSON document on one line.
pub fn write(checked: &Checked, out: &mut impl io::Write) -> io::Result<()> {
    let judgement = checked.judgement;
    let extra = judgement.extra.iter();
    let single = SingleNotes {
        notes: Notes(checked),
        extra: extra
            .map(|n| played(&judgement.played[*n as usize]))
            .collect(),
        cleaned: judgement.cleaned.iter().map(cleaned).collect(),
    };
    write_line(&document(SCHEMA, checked, Some(single)), out)
}

/// The same without what is told of each single note: `notes`, `extra` and `cleaned` are left out. Some 2 kB in place of
/// 450 bytes a note.
pub fn write_summary(checked: &Checked, out: &mut impl io::Write) -> io::Result<()> {
    write_line(&document(SUMMARY_SCHEMA, checked, None), out)
}

/// The line of a take that could not be judged among others that were:
/// `{"schema":"leadsman.check-failure/1","take":{"file":"x.mid"},"error":"the take has no notes in it"}`.
pub fn failure(take: &str, why: &str) -> Vec<u8> {
    let document = Failure {
        schema: FAILURE_SCHEMA,
        take: FailedTake { file: take },
        error: why,
    };
    let mut line = Vec::new();
    write_line(&document, &mut line)
        .unwrap_or_else(|error| unreachable!("plain texts, and room in memory: {error}"));
    line
}

fn write_line(document: &impl Serialize, out: &mut impl io::Write) -> io::Result<()> {
    serde_json::to_writer(&mut *out, document)?;
    writeln!(out)
}

fn document<'a>(
    schema: &'static str,
    checked: &'a Checked<'a>,
    single: Option<SingleNotes<'a>>,
) -> Document<'a> {
    Document {
        schema,
        line: &checked.line,
        take: &checked.take,
        single,
        summary: checked.summary,
        sections: &checked.sections,
        lean: checked.lean,
        new_tempi: new_tempi(checked),
        self_paced: checked.self_paced.and_then(Result::ok),
        convention: ConventionFacts::from(checked.convention),
        findings: &checked.findings,
    }
}

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    line: &'a LineFacts,
    take: &'a TakeFacts,
    #[serde(flatten)]
    single: Option<SingleNotes<'a>>,
    summary: Summary,
    sections: &'a [SectionSum],
    lean: Option<Lean>,
    new_tempi: Vec<NewTempoFacts<'a>>,
    self_paced: Option<SelfPaced>,
    convention: ConventionFacts,
    findings: &'a [Finding],
}

#[derive(Serialize)]
struct Failure<'a> {
    schema: &'static str,
    take: FailedTake<'a>,
    error: &'a str,
}

#[derive(Serialize)]
struct FailedTake<'a> {
    file: &'a str,
}

/// What is told of each single note.
#[derive(Serialize)]
struct SingleNotes<'a> {
    notes: Notes<'a>,
    extra: Vec<Played>,
    cleaned: Vec<CleanedFacts>,
}

/// A tempo that changed at the start of a section.
#[derive(Serialize)]
struct NewTempoFacts<'a> {
    section: &'a str,
    from: f64,
    to: f64,
    /// About how long the old one was kept; null where it is not known.
    kept_beats: Option<f64>,
}

fn new_tempi<'a>(checked: &Checked<'a>) -> Vec<NewTempoFacts<'a>> {
    let facts = |section: &SectionTempo| {
        let new = section.new_tempo?;
        Some(NewTempoFacts {
            section: &checked.expected.sections[usize::from(section.section)],
            from: new.from,
            to: new.to,
            kept_beats: match new.taken {
                Taken::AtOnce => Some(0.0),
                Taken::DriftedInto { beats } => Some(beats),
                Taken::NotKnown => None,
            },
        })
    };
    checked.tempi.iter().filter_map(facts).collect()
}

/// The notes, written one by one: a long take must not stand in memory twice.
struct Notes<'a>(&'a Checked<'a>);

impl Serialize for Notes<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let readings = &self.0.judgement.readings;
        let mut list = serializer.serialize_seq(Some(readings.len()))?;
        for reading in readings {
            list.serialize_element(&note(self.0, reading))?;
        }
        list.end()
    }
}

#[derive(Serialize)]
pub(super) struct Note<'a> {
    pub(super) index: u32,
    pub(super) section: &'a str,
    pub(super) pass: u32,
    pub(super) bar: u32,
    pub(super) beat: f64,
    pub(super) string: Option<&'a str>,
    pub(super) fret: Option<u8>,
    pub(super) degree: Option<String>,
    pub(super) entry: bool,
    pub(super) upbeat: bool,
    pub(super) skip: bool,
    pub(super) expected: ExpectedFacts,
    pub(super) played: Option<Played>,
    pub(super) offset_ms: Option<f64>,
    pub(super) displaced_beats: f64,
    pub(super) length_ratio: Option<f64>,
    pub(super) ring_over_ms: Option<f64>,
    pub(super) pitch: Option<Pitch>,
    pub(super) timing: Option<Timing>,
    pub(super) length: Option<Length>,
}

#[derive(Serialize)]
pub(super) struct ExpectedFacts {
    pub(super) key: Option<u8>,
    pub(super) onset_s: f64,
    pub(super) length_s: f64,
}

#[derive(Serialize)]
pub(super) struct Played {
    pub(super) key: u8,
    pub(super) onset_s: f64,
    pub(super) length_s: Option<f64>,
    pub(super) velocity: u8,
}

#[derive(Serialize)]
struct CleanedFacts {
    rule: &'static str,
    at_s: f64,
    key: u8,
    into: Option<u8>,
}

#[derive(Serialize)]
struct ConventionFacts {
    onset_tolerance_ms: u32,
    matched: usize,
    precision: f64,
    recall: f64,
    f_measure: f64,
}

impl From<Convention> for ConventionFacts {
    fn from(of: Convention) -> ConventionFacts {
        ConventionFacts {
            onset_tolerance_ms: 50,
            matched: of.matched,
            precision: of.precision,
            recall: of.recall,
            f_measure: of.f_measure,
        }
    }
}

pub(super) fn note<'a>(checked: &Checked<'a>, reading: &Reading) -> Note<'a> {
    let expected = checked.expected;
    let note = &expected.notes[reading.note as usize];
    let bar = &expected.bars[note.bar as usize];
    let partner = reading.partner.as_ref();
    Note {
        index: reading.note,
        section: &expected.sections[usize::from(note.section)],
        pass: note.pass,
        bar: bar.number,
        beat: bar.beat_number(note.at),
        string: string_label(expected, note),
        fret: note.fret,
        degree: note.degree.map(|degree| degree.to_string()),
        entry: note.is.entry,
        upbeat: note.is.upbeat,
        skip: note.is.skip,
        expected: ExpectedFacts {
            key: note.key.map(|key| key.0),
            onset_s: note.onset.seconds(),
            length_s: note.sounding.seconds(),
        },
        played: partner.map(|partner| played(&checked.judgement.played[partner.played as usize])),
        offset_ms: partner.map(|partner| partner.offset.ms()),
        displaced_beats: partner.map_or(0.0, |partner| displaced_beats(partner, bar.beat.0)),
        length_ratio: partner.and_then(|partner| partner.length_ratio),
        ring_over_ms: partner
            .and_then(|partner| partner.ring_over)
            .map(|over| over.ms()),
        pitch: partner.map(|partner| partner.pitch),
        timing: partner
            .map(|partner| partner.timing)
            .or(reading.is_unheard.then_some(Timing::Unjudged)),
        length: partner.and_then(|partner| partner.length),
    }
}

fn displaced_beats(partner: &Partner, beat: i64) -> f64 {
    partner.displaced.0 as f64 / beat as f64
}

fn string_label<'a>(expected: &'a Expected, note: &ExpectedNote) -> Option<&'a str> {
    let index = usize::from(note.string?).checked_sub(1)?;
    expected.strings.get(index).map(String::as_str)
}

fn cleaned(one: &Cleaned) -> CleanedFacts {
    CleanedFacts {
        rule: one.rule.name(),
        at_s: one.at.seconds(),
        key: one.key.0,
        into: one.into.map(|key| key.0),
    }
}

fn played(note: &PlayedNote) -> Played {
    Played {
        key: note.key.0,
        onset_s: note.onset.seconds(),
        length_s: note.length.map(|length| length.seconds()),
        velocity: note.velocity,
    }
}
