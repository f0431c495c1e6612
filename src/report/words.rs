//! How places, tempi and amounts are called, in one place for everything that is printed.

use super::LineFacts;
use crate::expected::{Expected, ExpectedBar};
use crate::judge::Reading;
pub use crate::units::shortest;
use crate::units::{Nanos, Ticks, beats_in_words};

/// Characters in a line at the most; a narrower terminal has its own width.
pub const WIDTH: usize = 80;

/// Text in lines of at most `width` characters, the first and the further ones indented so; no word is divided, however wide.
pub fn wrap(text: &str, width: usize, first: &str, further: &str) -> String {
    let options = textwrap::Options::new(width)
        .initial_indent(first)
        .subsequent_indent(further)
        .break_words(false)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::fill(text, options)
}

/// `Two Bells · bars 5 to 8 · quarter = 126`; the bars where it is not the whole line.
pub fn line(line: &LineFacts) -> String {
    let bars = line
        .bars
        .map_or_else(String::new, |bars| format!(" · {bars}"));
    format!("{}{bars} · {}", line.title, tempo(line))
}

/// `quarter = 126`, or `quarter = 63 (50 % of 126)`.
fn tempo(line: &LineFacts) -> String {
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

/// Whether a note that had to be played was not; not when it may have been lost in a glitch.
pub fn is_missed(expected: &Expected, reading: &Reading) -> bool {
    reading.partner.is_none()
        && !reading.is_unheard
        && !expected.notes[reading.note as usize].is.optional
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

/// `B pass 2, bar 7`; the pass where the section has several.
pub fn bar_name(expected: &Expected, bar: &ExpectedBar) -> String {
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

/// The beat during which something was heard: `B, bar 7 beat 2`, the count-in, the end.
pub fn place_at(expected: &Expected, time: Nanos) -> String {
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

/// How far a phrase is from its place: `a beat later`, `2.5 beats earlier`.
pub fn displacement(displaced: Ticks, beat: Ticks) -> String {
    let way = if displaced.0 < 0 { "earlier" } else { "later" };
    let amount = beats_in_words(displaced, beat);
    format!("{amount} {way}")
}
