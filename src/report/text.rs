//! The check as a musician reads it: what was played, what to work on, and the notes that went astray.

use super::{Checked, LineFacts, StartFrom, signed_ms};
use crate::expected::{Expected, ExpectedBar};
use crate::judge::cost::Pitch;
use crate::judge::{Length, Partner, Reading, Timing};
use crate::units::{Nanos, Ticks};
use std::fmt::{self, Write};

/// Characters in a line, for the narrowest terminal in common use.
const WIDTH: usize = 80;
/// Notes that are named one by one before the rest is only counted.
const NAMED: usize = 12;

/// The whole report.
pub fn report(checked: &Checked) -> String {
    let mut text = String::new();
    let parts = [head, sums, findings, astray, swing];
    for part in parts {
        // Writing to a string cannot fail.
        let _ = part(checked, &mut text);
    }
    text
}

fn head(checked: &Checked, out: &mut String) -> fmt::Result {
    let line = &checked.line;
    writeln!(
        out,
        "{} · {} · {} notes",
        line.title,
        tempo(line),
        line.notes
    )?;
    if let Some(file) = &checked.take.file {
        let how = match checked.take.start_from {
            StartFrom::Take => "as recorded",
            StartFrom::Given => "as given",
            StartFrom::Notes => {
                "estimated from the notes, so a steady lean cannot be told; --start sets it"
            }
            StartFrom::FileGrid => {
                "estimated from the notes and set on the file's own beat; --start sets it"
            }
        };
        let text = format!(
            "take {file} · bar 1 starts at {:.3} s ({how})",
            checked.take.start_s
        );
        paragraph(out, "", "  ", &text)?;
    }
    writeln!(out)
}

/// `quarter = 126`, or `quarter = 63 (50 % of 126)`.
pub fn tempo(line: &LineFacts) -> String {
    let at_speed = line.tempo * line.speed / 100.0;
    match line.speed {
        100.0 => format!("quarter = {}", line.tempo),
        speed => format!(
            "quarter = {} ({speed} % of {})",
            shortest(at_speed),
            line.tempo
        ),
    }
}

/// A number with two decimals at the most.
fn shortest(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// Text in lines of at most [`WIDTH`] characters.
fn paragraph(out: &mut String, first: &str, further: &str, text: &str) -> fmt::Result {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(first)
        .subsequent_indent(further);
    writeln!(out, "{}", textwrap::fill(text, options))
}

fn sums(checked: &Checked, out: &mut String) -> fmt::Result {
    let sum = &checked.summary;
    let windows = &checked.settings.windows;
    writeln!(
        out,
        "Notes    {} of {} played, {} missed, {} extra",
        sum.matched, sum.expected, sum.missed, sum.extra
    )?;
    let judged = checked
        .judgement
        .readings
        .iter()
        .filter_map(|reading| reading.partner);
    let judged = judged
        .filter(|partner| partner.pitch != Pitch::Unjudged)
        .count();
    writeln!(out, "Pitch    {} of {judged} right", sum.pitch_right)?;
    write!(
        out,
        "Timing   {} of {} within ±{:.0} ms",
        sum.timing_in,
        sum.matched,
        windows.timing.ms()
    )?;
    if windows.lean != Nanos::ZERO {
        write!(out, " of {} ms", signed_ms(windows.lean))?;
    }
    if let Some(mean) = sum.offset_mean_ms {
        write!(out, " · mean {} ms", signed_ms(Nanos::from_ms_f64(mean)))?;
    }
    if let Some(sd) = sum.offset_sd_ms {
        write!(out, ", spread {sd:.0} ms")?;
    }
    writeln!(out, " (minus is early)")?;
    writeln!(
        out,
        "Length   {} of {} as written",
        sum.length_in, sum.matched
    )?;
    writeln!(out)
}

fn findings(checked: &Checked, out: &mut String) -> fmt::Result {
    if checked.findings.is_empty() {
        return writeln!(out, "Nothing stands out as a habit to work on.\n");
    }
    writeln!(out, "To work on")?;
    for (number, finding) in checked.findings.iter().enumerate() {
        paragraph(out, &format!("{}. ", number + 1), "   ", &finding.text)?;
        paragraph(out, "   ", "   ", finding.advice)?;
    }
    writeln!(out)
}

/// Wrong, missed and extra notes by bar and beat, and phrases that were away from their beat.
fn astray(checked: &Checked, out: &mut String) -> fmt::Result {
    let (expected, judgement) = (checked.expected, checked.judgement);
    let readings = || judgement.readings.iter();
    let missed = readings().filter(|reading| is_missed(expected, reading));
    list(out, "Missed", missed, |reading| named(expected, reading))?;
    let wrong =
        readings().filter_map(|reading| Some((reading, wrong_key(reading.partner.as_ref()?)?)));
    list(out, "Another note", wrong, |(reading, played)| {
        let key = judgement.played[played as usize].key;
        format!("{}, played {key}", named(expected, reading))
    })?;
    list(out, "Extra", judgement.extra.iter(), |number| {
        let note = &judgement.played[*number as usize];
        format!("{} near {}", note.key, place_at(expected, note.onset))
    })?;
    let phrases = displaced_phrases(&judgement.readings);
    list(out, "Away from the beat", phrases.into_iter(), |phrase| {
        displacement(expected, &phrase)
    })
}

/// A titled list; no more than [`NAMED`] items are made into words.
fn list<T>(
    out: &mut String,
    title: &str,
    mut items: impl Iterator<Item = T>,
    show: impl Fn(T) -> String,
) -> fmt::Result {
    let Some(first) = items.next() else {
        return Ok(());
    };
    writeln!(out, "{title}")?;
    for item in std::iter::once(first).chain(items.by_ref().take(NAMED - 1)) {
        writeln!(out, "  {}", show(item))?;
    }
    match items.count() {
        0 => writeln!(out),
        more => writeln!(out, "  and {more} more (all of them: --json)\n"),
    }
}

/// Whether a note that had to be played was not.
pub fn is_missed(expected: &Expected, reading: &Reading) -> bool {
    reading.partner.is_none() && !expected.notes[reading.note as usize].is.optional
}

fn wrong_key(partner: &Partner) -> Option<u32> {
    matches!(partner.pitch, Pitch::Wrong | Pitch::Octave).then_some(partner.played)
}

fn named(expected: &Expected, reading: &Reading) -> String {
    let note = &expected.notes[reading.note as usize];
    format!("{}  {}", place(expected, reading.note), note.name())
}

/// `B pass 2, bar 7 beat 2.5`; the pass where the section has several.
pub fn place(expected: &Expected, note: u32) -> String {
    let note = &expected.notes[note as usize];
    let bar = &expected.bars[note.bar as usize];
    format!(
        "{} beat {}",
        bar_name(expected, bar),
        shortest(bar.beat_number(note.at))
    )
}

fn bar_name(expected: &Expected, bar: &ExpectedBar) -> String {
    let section = &expected.sections[usize::from(bar.section)];
    let several = expected
        .bars
        .iter()
        .any(|other| other.section == bar.section && other.pass > 1);
    let pass = if several {
        format!(" pass {}", bar.pass)
    } else {
        String::new()
    };
    format!("{section}{pass}, bar {}", bar.number)
}

fn place_at(expected: &Expected, time: Nanos) -> String {
    let after = expected.bars.partition_point(|bar| bar.onset <= time);
    let Some(bar) = after
        .checked_sub(1)
        .and_then(|index| expected.bars.get(index))
    else {
        return "the count-in".into();
    };
    if time >= bar.end {
        return "the end".into();
    }
    let share = (time - bar.onset).0 as f64 / (bar.end - bar.onset).0.max(1) as f64;
    let at = Ticks((share * bar.length.0 as f64) as i64);
    format!(
        "{} beat {}",
        bar_name(expected, bar),
        bar.beat_number(at).floor()
    )
}

/// Notes in a row that are away from their place by the same amount.
struct Phrase {
    first: u32,
    last: u32,
    displaced: Ticks,
}

fn displaced_phrases(readings: &[Reading]) -> Vec<Phrase> {
    let mut phrases: Vec<Phrase> = Vec::new();
    let mut open = false;
    for reading in readings {
        let Some(partner) = &reading.partner else {
            continue;
        };
        let displaced = partner.displaced;
        match phrases.last_mut() {
            Some(phrase) if open && phrase.displaced == displaced => phrase.last = reading.note,
            _ if displaced != Ticks(0) => phrases.push(Phrase {
                first: reading.note,
                last: reading.note,
                displaced,
            }),
            _ => {}
        }
        open = displaced != Ticks(0);
    }
    phrases
}

/// `A, bar 7 beat 2 to A, bar 9 beat 1: 1 beat later`.
fn displacement(expected: &Expected, phrase: &Phrase) -> String {
    let note = &expected.notes[phrase.first as usize];
    let beats = phrase.displaced.0 as f64 / expected.bars[note.bar as usize].beat.0 as f64;
    let way = if beats < 0.0 { "earlier" } else { "later" };
    let unit = if beats.abs() <= 1.0 { "beat" } else { "beats" };
    let (from, to) = (place(expected, phrase.first), place(expected, phrase.last));
    format!("{from} to {to}: {} {unit} {way}", shortest(beats.abs()))
}

fn swing(checked: &Checked, out: &mut String) -> fmt::Result {
    match checked.summary.swing_ratio {
        Some(ratio) => writeln!(out, "Pairs of beat and upbeat as played: {ratio:.2} : 1"),
        None => Ok(()),
    }
}

/// What a bar came to: how many of its notes were played, where they sat on average, and what went astray.
///
/// `bar 7    4 of 4   +12 ms   beat 1.5 +41 late, rings`
pub fn bar_line(expected: &Expected, bar: usize, readings: &[Reading]) -> String {
    let bar = &expected.bars[bar];
    let head = format!("bar {:<4}", bar.number);
    if readings.is_empty() {
        return format!("{head} rest");
    }
    let missed = readings
        .iter()
        .filter(|reading| is_missed(expected, reading))
        .count();
    let offsets: Vec<Nanos> = readings
        .iter()
        .filter_map(|reading| Some(reading.partner?.off_grid))
        .collect();
    let left_out = readings.len() - missed - offsets.len();
    let sum: i64 = offsets.iter().map(|offset| offset.0).sum();
    let mean = match offsets.len() {
        0 => String::new(),
        n => format!("{} ms", signed_ms(Nanos(sum / n as i64))),
    };
    let count = format!("{} of {}", offsets.len(), readings.len() - left_out);
    let astray: Vec<String> = readings
        .iter()
        .filter_map(|reading| mark(expected, reading))
        .collect();
    let head = format!("{head} {count:>8} {mean:>8}   ");
    let further = " ".repeat(head.chars().count());
    let options = textwrap::Options::new(WIDTH - 2)
        .initial_indent(&head)
        .subsequent_indent(&further);
    // A mark is not to be broken: its own spaces are no places to break at.
    let marks = astray
        .iter()
        .map(|mark| mark.replace(' ', "\u{a0}"))
        .collect::<Vec<_>>()
        .join(" · ");
    textwrap::fill(&marks, options)
        .replace('\u{a0}', " ")
        .trim_end()
        .to_string()
}

/// What is to be said of one note: `beat 1.5 +41 late, rings`. Nothing, when all of it was inside the windows.
fn mark(expected: &Expected, reading: &Reading) -> Option<String> {
    let note = &expected.notes[reading.note as usize];
    let beat = shortest(expected.bars[note.bar as usize].beat_number(note.at));
    let Some(partner) = &reading.partner else {
        return is_missed(expected, reading).then(|| format!("beat {beat} missed"));
    };
    let timing = match partner.timing {
        Timing::Early => Some(format!("{} early", signed_ms(partner.off_grid))),
        Timing::Late => Some(format!("{} late", signed_ms(partner.off_grid))),
        Timing::In => None,
    };
    let pitch = match partner.pitch {
        Pitch::Wrong => Some("another note"),
        Pitch::Octave => Some("another octave"),
        Pitch::Right | Pitch::Unjudged => None,
    };
    let length = match partner.length {
        Some(Length::Rings) => Some("rings"),
        Some(Length::Short) => Some("short"),
        Some(Length::Long) => Some("long"),
        Some(Length::In) | None => None,
    };
    let words: Vec<String> = timing
        .into_iter()
        .chain([pitch, length].into_iter().flatten().map(String::from))
        .collect();
    (!words.is_empty()).then(|| format!("beat {beat} {}", words.join(", ")))
}
