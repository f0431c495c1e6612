//! The check as a musician reads it: what was played, what to work on, and the notes that went astray.

use super::words::{self, WIDTH, is_missed, place, place_at, shortest};
use super::{Checked, StartFrom, signed_ms};
use crate::expected::Expected;
use crate::judge::cost::Pitch;
use crate::judge::{Partner, Reading};
use crate::played::cleanup::Rule;
use crate::units::{Nanos, Ticks};
use std::fmt::{self, Write};

/// Notes that are named one by one before the rest is only counted.
const NAMED: usize = 12;

/// The whole report.
pub fn report(checked: &Checked) -> String {
    let mut text = String::new();
    let parts = [head, sums, cleaned_up, findings, astray, swing, trust];
    for part in parts {
        // Writing to a string cannot fail.
        let _ = part(checked, &mut text);
    }
    text
}

fn head(checked: &Checked, out: &mut String) -> fmt::Result {
    let line = &checked.line;
    writeln!(out, "{} · {} notes", words::line(line), line.notes)?;
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
            "take {file} · bar {} starts at {:.3} s ({how})",
            first_full_bar(checked.expected),
            checked.take.start_s
        );
        paragraph(out, "", "  ", &text)?;
    }
    writeln!(out)
}

fn first_full_bar(expected: &Expected) -> u32 {
    let full = expected.bars.iter().find(|bar| bar.start >= Ticks(0));
    full.map_or(1, |bar| bar.number)
}

fn paragraph(out: &mut String, first: &str, further: &str, text: &str) -> fmt::Result {
    writeln!(out, "{}", words::wrap(text, WIDTH, first, further))
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
        sum.matched - sum.timing_unjudged,
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

/// What was done to the notes before they were judged: `Cleaned up: 3 octave glitches, 1 doubled note`.
fn cleaned_up(checked: &Checked, out: &mut String) -> fmt::Result {
    let cleaned = &checked.judgement.cleaned;
    let counts: Vec<String> = Rule::ALL
        .into_iter()
        .filter_map(|rule| {
            let (one, many) = rule.counted();
            match cleaned.iter().filter(|one| one.rule == rule).count() {
                0 => None,
                1 => Some(format!("1 {one}")),
                count => Some(format!("{count} {many}")),
            }
        })
        .collect();
    if counts.is_empty() {
        return Ok(());
    }
    let text = format!(
        "Cleaned up: {} (all of them: --json; --keep leaves them as they came)",
        counts.join(", ")
    );
    paragraph(out, "", "  ", &text)?;
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

fn wrong_key(partner: &Partner) -> Option<u32> {
    matches!(partner.pitch, Pitch::Wrong | Pitch::Octave).then_some(partner.played)
}

fn named(expected: &Expected, reading: &Reading) -> String {
    let note = &expected.notes[reading.note as usize];
    format!("{}  {}", place(expected, reading.note), note.name())
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

/// `A, bar 7 beat 2 to bar 9 beat 1: a beat later`.
fn displacement(expected: &Expected, phrase: &Phrase) -> String {
    let bar_of = |note: u32| &expected.bars[expected.notes[note as usize].bar as usize];
    let to = if phrase.first == phrase.last {
        String::new()
    } else {
        let (bar, at) = (bar_of(phrase.last), expected.notes[phrase.last as usize].at);
        format!(
            " to bar {} beat {}",
            bar.number,
            shortest(bar.beat_number(at))
        )
    };
    let moved = words::displacement(phrase.displaced, bar_of(phrase.first).beat);
    format!("{}{to}: {moved}", place(expected, phrase.first))
}

fn trust(checked: &Checked, out: &mut String) -> fmt::Result {
    match &checked.take.trust {
        Some(trust) => paragraph(out, "", "", &trust.in_words()),
        None => Ok(()),
    }
}

fn swing(checked: &Checked, out: &mut String) -> fmt::Result {
    match checked.summary.swing_ratio {
        Some(ratio) => writeln!(out, "Pairs of beat and upbeat as played: {ratio:.2} : 1"),
        None => Ok(()),
    }
}
