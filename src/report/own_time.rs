//! The player's own time: how new tempi were taken, and clock and hand in silent bars.

use super::Checked;
use super::page::Page;
use super::words::shortest;
use crate::expected::Expected;
use crate::findings::self_paced::SelfPaced;
use crate::findings::tempo::{NewTempo, SectionTempo, Taken};

/// `New tempi: Saloon deck (100 to 103) at once; …`; nothing for a line in one tempo.
pub fn new_tempi(checked: &Checked, page: &mut Page) {
    let said: Vec<String> = checked
        .tempi
        .iter()
        .filter_map(|section| said_of(checked.expected, section))
        .collect();
    if said.is_empty() {
        return;
    }
    page.paragraph("", "  ", &format!("New tempi: {}.", said.join("; ")));
    page.gap();
}

fn said_of(expected: &Expected, section: &SectionTempo) -> Option<String> {
    let NewTempo { from, to, taken } = section.new_tempo?;
    let name = &expected.sections[usize::from(section.section)];
    let how = match taken {
        Taken::AtOnce => "taken at once".into(),
        Taken::DriftedInto { beats } => format!("the old one kept for about {beats:.0} beats"),
        Taken::NotKnown => "too few notes to tell".into(),
    };
    Some(format!(
        "{name} ({} to {}) {how}",
        shortest(from),
        shortest(to)
    ))
}

/// `Without the click: …`; nothing where it was never silent.
pub fn silent_bars(checked: &Checked, page: &mut Page) {
    let text = match &checked.self_paced {
        None => return,
        Some(Ok(split)) => split_in_words(split),
        Some(Err(why)) => {
            format!("Without the click: clock and hand are not told apart, since {why}.")
        }
    };
    page.paragraph("", "  ", &text);
    page.gap();
}

fn split_in_words(split: &SelfPaced) -> String {
    let within = |[low, high]: [f64; 2]| format!("({low:.0} to {high:.0})");
    format!(
        "Without the click: your inner clock varies by {:.0} ms {}, your hand by {:.0} ms {}, from {} beats.",
        split.clock_ms,
        within(split.clock_interval_ms),
        split.hand_ms,
        within(split.hand_interval_ms),
        split.intervals,
    )
}
