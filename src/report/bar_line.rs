//! The line that is printed for each bar while a take is played.

use super::signed_ms;
use super::words::{self, is_missed, shortest};
use crate::expected::Expected;
use crate::judge::cost::Pitch;
use crate::judge::{Length, Reading, Timing};
use crate::units::{Nanos, Ticks};

/// Narrower than this, what went astray stands under its bar.
const ROOM_BESIDE: usize = 58;

/// `On deck, pass 2`, where a section or a pass begins with this bar.
pub fn heading(expected: &Expected, bar: usize) -> Option<String> {
    let begins = |bar: usize| (expected.bars[bar].section, expected.bars[bar].pass);
    let (section, pass) = begins(bar);
    let is_new = bar == 0 || begins(bar - 1) != begins(bar);
    is_new.then(|| format!("{}, pass {pass}", expected.sections[usize::from(section)]))
}

/// What a bar came to: how many of its notes were played, where they sat on average, and what went astray.
///
/// `bar 7    4 of 4   +12 ms   beat 1.5 +41 late, rings`. A silent bar says `(no click)` first. In lines of at most
/// `width` characters, if it can be.
pub fn bar_line(expected: &Expected, bar: usize, readings: &[Reading], width: usize) -> String {
    let bar = &expected.bars[bar];
    let head = format!("bar {:<4}", bar.number);
    let no_click = bar.silent.then(|| "(no click)".to_string());
    if readings.is_empty() {
        return format!("{head} rest {}", no_click.unwrap_or_default())
            .trim_end()
            .to_string();
    }
    let missed = readings
        .iter()
        .filter(|reading| is_missed(expected, reading))
        .count();
    let offsets: Vec<Nanos> = readings
        .iter()
        .filter_map(|reading| reading.partner)
        .filter(|partner| partner.timing != Timing::Unjudged)
        .map(|partner| partner.off_grid)
        .collect();
    let played = readings
        .iter()
        .filter(|reading| reading.partner.is_some())
        .count();
    let left_out = readings.len() - missed - played;
    let sum: i64 = offsets.iter().map(|offset| offset.0).sum();
    let mean = match offsets.len() {
        0 => String::new(),
        n => format!("{} ms", signed_ms(Nanos(sum / n as i64))),
    };
    let count = format!("{played} of {}", readings.len() - left_out);
    let moved = displaced(readings, bar.beat);
    let marks = readings
        .iter()
        .filter_map(|reading| mark(expected, reading));
    let said: Vec<String> = no_click.into_iter().chain(moved).chain(marks).collect();
    let head = format!("{head} {count:>8} {mean:>8}   ");
    let further = match width {
        ..ROOM_BESIDE => " ".repeat(4),
        _ => " ".repeat(head.chars().count()),
    };
    // A mark is not to be broken where a line can hold it: its own spaces are no places to break at.
    let room = width.saturating_sub(further.len());
    let whole = |mark: &String| match mark.chars().count() {
        chars if chars > room => mark.clone(),
        _ => mark.replace(' ', "\u{a0}"),
    };
    let marks: Vec<String> = said.iter().map(whole).collect();
    let marks = marks.join(" · ");
    let text = match marks.as_str() {
        "" => head,
        marks if width < ROOM_BESIDE => {
            let beneath = words::wrap(marks, width, &further, &further);
            format!("{}\n{beneath}", head.trim_end())
        }
        marks => words::wrap(marks, width, &head, &further),
    };
    text.replace('\u{a0}', " ").trim_end().to_string()
}

/// `a beat later`, said once for the bar.
fn displaced(readings: &[Reading], beat: Ticks) -> Option<String> {
    let partners = readings.iter().filter_map(|reading| reading.partner);
    let ticks = partners
        .map(|partner| partner.displaced)
        .find(|displaced| *displaced != Ticks(0))?;
    Some(words::displacement(ticks, beat))
}

/// What is to be said of one note: `beat 1.5 +41 late, rings`. Nothing, when all of it was inside the windows.
fn mark(expected: &Expected, reading: &Reading) -> Option<String> {
    let note = &expected.notes[reading.note as usize];
    let beat = shortest(expected.bars[note.bar as usize].beat_number(note.at));
    let Some(partner) = &reading.partner else {
        let is_missed = is_missed(expected, reading).then(|| format!("beat {beat} missed"));
        return is_missed.or_else(|| reading.is_unheard.then(|| format!("beat {beat} unjudged")));
    };
    let timing = match partner.timing {
        Timing::Early => Some(format!("{} early", signed_ms(partner.off_grid))),
        Timing::Late => Some(format!("{} late", signed_ms(partner.off_grid))),
        Timing::Unjudged => Some("unjudged".into()),
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
