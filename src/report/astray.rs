//! The notes that went astray: counted, or on request each by bar and beat, and what each bar came to.

use super::Checked;
use super::bar_line::{bar_line, heading};
use super::page::{Detail, Page};
use super::words::{self, is_missed, place, place_at, shortest};
use crate::expected::Expected;
use crate::judge::cost::Pitch;
use crate::judge::{Partner, Reading};
use crate::units::Ticks;

/// One way of going astray, and each time it happened.
struct List {
    title: &'static str,
    items: Vec<Item>,
}

/// One time.
enum Item {
    /// The note that was not played.
    Missed(u32),
    /// The note, and the number of what was played for it.
    Another { note: u32, played: u32 },
    /// The number of a played note that belongs nowhere.
    Extra(u32),
    /// Notes away from their beat.
    Away(Phrase),
}

/// How many went astray in which way; on request each of them.
pub fn astray(checked: &Checked, page: &mut Page) {
    let lists = lists(checked);
    if page.layout.detail.is_all() {
        return lists.iter().for_each(|list| list.tell(checked, page));
    }
    let counts: Vec<String> = lists
        .iter()
        .filter(|list| !list.items.is_empty())
        .map(|list| format!("{} {}", list.title, list.items.len()))
        .collect();
    if !counts.is_empty() {
        let counts = lower_after_first(&counts);
        page.paragraph("", "", &format!("{counts}: --all names each."));
    }
}

/// Each way of going astray, and each time it happened in words.
pub fn all(checked: &Checked) -> impl Iterator<Item = (&'static str, Vec<String>)> {
    lists(checked).into_iter().map(|list| {
        let items = list.items.iter();
        (
            list.title,
            items.map(|item| item.in_words(checked)).collect(),
        )
    })
}

/// `Missed 3, another note 2`: a title begins with a capital only at the start.
fn lower_after_first(counts: &[String]) -> String {
    let lowered = counts.iter().enumerate().map(|(index, count)| match index {
        0 => count.clone(),
        _ => count[..1].to_lowercase() + &count[1..],
    });
    lowered.collect::<Vec<_>>().join(", ")
}

impl List {
    fn tell(&self, checked: &Checked, page: &mut Page) {
        if self.items.is_empty() {
            return;
        }
        page.line(self.title);
        for item in &self.items {
            page.paragraph("  ", "    ", &item.in_words(checked));
        }
        page.gap();
    }
}

impl Item {
    fn in_words(&self, checked: &Checked) -> String {
        let (expected, judgement) = (checked.expected, checked.judgement);
        match self {
            Item::Missed(note) => named(expected, *note),
            Item::Another { note, played } => {
                let key = judgement.played[*played as usize].key;
                format!("{}, played {key}", named(expected, *note))
            }
            Item::Extra(played) => {
                let note = &judgement.played[*played as usize];
                format!("{} near {}", note.key, place_at(expected, note.onset))
            }
            Item::Away(phrase) => displacement(expected, phrase),
        }
    }
}

fn lists(checked: &Checked) -> [List; 4] {
    let (expected, judgement) = (checked.expected, checked.judgement);
    let readings = || judgement.readings.iter();
    let missed = readings().filter(|reading| is_missed(expected, reading));
    let another = readings().filter_map(|reading| {
        Some(Item::Another {
            note: reading.note,
            played: wrong_key(reading.partner.as_ref()?)?,
        })
    });
    let list = |title, items| List { title, items };
    [
        list(
            "Missed",
            missed.map(|reading| Item::Missed(reading.note)).collect(),
        ),
        list("Another note", another.collect()),
        list(
            "Extra",
            judgement.extra.iter().copied().map(Item::Extra).collect(),
        ),
        list(
            "Away from the beat",
            displaced_phrases(&judgement.readings)
                .into_iter()
                .map(Item::Away)
                .collect(),
        ),
    ]
}

/// What each bar came to, on request, where it was not told while it was played.
pub fn bars(checked: &Checked, page: &mut Page) {
    if page.layout.detail != Detail::All {
        return;
    }
    let (expected, readings) = (checked.expected, &checked.judgement.readings);
    let bar_of = |reading: &Reading| expected.notes[reading.note as usize].bar as usize;
    let heard = readings.last().map_or(0, |last| bar_of(last) + 1);
    let mut left = &readings[..];
    for bar in 0..heard {
        if let Some(heading) = heading(expected, bar) {
            page.line(&heading);
        }
        let here;
        (here, left) = left.split_at(left.partition_point(|reading| bar_of(reading) <= bar));
        let line = bar_line(expected, bar, here, page.layout.width - 2);
        for line in line.lines() {
            page.line(&format!("  {line}"));
        }
    }
    page.gap();
}

fn wrong_key(partner: &Partner) -> Option<u32> {
    matches!(partner.pitch, Pitch::Wrong | Pitch::Octave).then_some(partner.played)
}

fn named(expected: &Expected, note: u32) -> String {
    let name = expected.notes[note as usize].name();
    format!("{}  {name}", place(expected, note))
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
