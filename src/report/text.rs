//! The check as a musician reads it: what was played, what to work on, and the notes that went astray.

use super::{Checked, StartFrom, signed_ms};
use crate::expected::{Expected, ExpectedBar};
use crate::judge::cost::Pitch;
use crate::judge::{Length, Partner, Reading, Timing};
use crate::units::Nanos;
use std::fmt::{self, Write};

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
        "{} · {} quarter notes a minute at {} % · {} notes",
        line.title, line.tempo, line.speed, line.notes
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
        writeln!(
            out,
            "take {file} · bar 1 starts at {:.3} s ({how})",
            checked.take.start_s
        )?;
    }
    writeln!(out)
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
        writeln!(out, "{}. {}", number + 1, finding.text)?;
        writeln!(out, "   {}", finding.advice)?;
    }
    writeln!(out)
}

/// Wrong, missed and extra notes by bar and beat.
fn astray(checked: &Checked, out: &mut String) -> fmt::Result {
    let expected = checked.expected;
    let readings = || checked.judgement.readings.iter();
    let missed = readings().filter(|reading| is_missed(expected, reading));
    list(
        out,
        "Missed",
        missed.map(|reading| named(expected, reading)),
    )?;
    let wrong =
        readings().filter_map(|reading| Some((reading, wrong_key(reading.partner.as_ref()?)?)));
    let wrong = wrong.map(|(reading, played)| {
        let key = checked.judgement.played[played as usize].key;
        format!("{}, played {key}", named(expected, reading))
    });
    list(out, "Another note", wrong)?;
    let extra = checked.judgement.extra.iter().map(|number| {
        let note = &checked.judgement.played[*number as usize];
        format!("{} near {}", note.key, place_at(expected, note.onset))
    });
    list(out, "Extra", extra)?;
    let displaced = displaced_phrases(&checked.judgement.readings).into_iter();
    list(
        out,
        "Away from the beat",
        displaced.map(|phrase| displacement(expected, phrase)),
    )
}

fn list(out: &mut String, title: &str, mut items: impl Iterator<Item = String>) -> fmt::Result {
    let Some(first) = items.next() else {
        return Ok(());
    };
    writeln!(out, "{title}")?;
    writeln!(out, "  {first}")?;
    for item in items.by_ref().take(NAMED - 1) {
        writeln!(out, "  {item}")?;
    }
    let more = items.count();
    if more > 0 {
        writeln!(out, "  and {more} more (all of them: --json)")?;
    }
    writeln!(out)
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
    let key = note
        .key
        .map_or("dead note".to_string(), |key| key.to_string());
    format!("{}  {key}", place(expected, reading.note))
}

/// `B, bar 7 beat 2.5` with the pass where a section has several.
pub fn place(expected: &Expected, note: u32) -> String {
    let bar = &expected.bars[expected.notes[note as usize].bar as usize];
    format!(
        "{}, {}",
        section_and_pass(expected, bar),
        bar_and_beat(expected, note)
    )
}

fn section_and_pass(expected: &Expected, bar: &ExpectedBar) -> String {
    let name = &expected.sections[usize::from(bar.section)];
    let again = expected
        .bars
        .iter()
        .any(|other| other.section == bar.section && other.pass > 1);
    if again {
        format!("{name} pass {}", bar.pass)
    } else {
        name.clone()
    }
}

fn bar_and_beat(expected: &Expected, note: u32) -> String {
    let note = &expected.notes[note as usize];
    let bar = &expected.bars[note.bar as usize];
    format!(
        "bar {} beat {}",
        bar.number,
        beat_text(bar.beat_number(note.at))
    )
}

/// A beat number with no more decimals than it needs: 1, 2.5, 3.33.
fn beat_text(beat: f64) -> String {
    let text = format!("{beat:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
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
    let at = crate::units::Ticks((share * bar.length.0 as f64) as i64);
    format!(
        "{}, bar {} beat {}",
        section_and_pass(expected, bar),
        bar.number,
        bar.beat_number(at).floor()
    )
}

/// The phrases that were played away from their place: for each the readings from its first note to its last.
fn displaced_phrases(readings: &[Reading]) -> Vec<&[Reading]> {
    let shift = |reading: &Reading| reading.partner.map(|partner| partner.displaced);
    let mut phrases = Vec::new();
    let mut from = 0;
    while from < readings.len() {
        let here = shift(&readings[from]);
        // What was missed inside a phrase is part of it.
        let same = |reading: &&Reading| [None, here].contains(&shift(reading));
        let reach = readings[from..].iter().take_while(same).count();
        let last = readings[from..from + reach]
            .iter()
            .rposition(|reading| shift(reading) == here)
            .unwrap_or(0);
        if here.is_some_and(|shift| shift.0 != 0) {
            phrases.push(&readings[from..=from + last]);
        }
        from += last + 1;
    }
    phrases
}

/// `B, bar 5 beat 1 to bar 6 beat 4: half a beat later`
fn displacement(expected: &Expected, phrase: &[Reading]) -> String {
    let (Some(first), Some(last)) = (phrase.first(), phrase.last()) else {
        return String::new();
    };
    let displaced = first.partner.map_or(0, |partner| partner.displaced.0);
    let note = &expected.notes[first.note as usize];
    let beats = displaced as f64 / expected.bars[note.bar as usize].beat.0 as f64;
    let way = if beats < 0.0 { "earlier" } else { "later" };
    let from = place(expected, first.note);
    let to = if first.note == last.note {
        String::new()
    } else {
        format!(" to {}", bar_and_beat(expected, last.note))
    };
    format!("{from}{to}: {} {way}", beats_in_words(beats.abs()))
}

fn beats_in_words(beats: f64) -> String {
    match beat_text(beats).as_str() {
        "0.33" => "a third of a beat".into(),
        "0.5" => "half a beat".into(),
        "0.67" => "two thirds of a beat".into(),
        "1" => "a beat".into(),
        more => format!("{more} beats"),
    }
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
    format!("{head} {count:>8} {mean:>8}   {}", astray.join(" · "))
        .trim_end()
        .to_string()
}

/// What is to be said of one note: `beat 1.5 +41 late, rings`. Nothing, when all of it was inside the windows.
fn mark(expected: &Expected, reading: &Reading) -> Option<String> {
    let note = &expected.notes[reading.note as usize];
    let beat = beat_text(expected.bars[note.bar as usize].beat_number(note.at));
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
