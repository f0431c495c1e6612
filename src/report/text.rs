//! The check as a musician reads it: what was played, what to work on, how the sections went, and what went astray.

use super::page::{Layout, Page};
use super::words::{self, shortest};
use super::{Checked, StartFrom, astray, own_time, section_table, signed_ms, work_on};
use crate::expected::Expected;
use crate::findings::lean::Lean;
use crate::judge::cost::Pitch;
use crate::judge::summary::written_swing;
use crate::played::cleanup::Rule;
use crate::units::{Nanos, Ticks};

/// The whole report, laid out so.
pub fn report(checked: &Checked, layout: Layout) -> String {
    let mut page = Page::new(layout);
    let parts = [
        head,
        sums,
        cleaned_up,
        work_on::work_on,
        section_table::section_table,
        own_time::new_tempi,
        own_time::silent_bars,
        astray::astray,
        pairs,
        astray::bars,
        trust,
    ];
    for part in parts {
        part(checked, &mut page);
    }
    page.into_text()
}

fn head(checked: &Checked, page: &mut Page) {
    let line = &checked.line;
    let text = format!("{} · {} notes", words::line(line), line.notes);
    page.paragraph("", "  ", &text);
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
        page.paragraph("", "  ", &text);
    }
    page.gap();
}

fn first_full_bar(expected: &Expected) -> u32 {
    let full = expected.bars.iter().find(|bar| bar.start >= Ticks(0));
    full.map_or(1, |bar| bar.number)
}

fn sums(checked: &Checked, page: &mut Page) {
    let sum = &checked.summary;
    let notes = format!(
        "{} of {} played, {} missed, {} extra",
        sum.matched, sum.expected, sum.missed, sum.extra
    );
    let partners = checked.judgement.readings.iter().filter_map(|r| r.partner);
    let judged = partners.filter(|partner| partner.pitch != Pitch::Unjudged);
    let pitch = format!("{} of {} right", sum.pitch_right, judged.count());
    let length = format!("{} of {} as written", sum.length_in, sum.matched);
    row("Notes", &notes, page);
    row("Pitch", &pitch, page);
    row("Timing", &timing(checked), page);
    if let Some(lean) = &checked.lean {
        row("Lean", &leans(lean), page);
    }
    row("Length", &length, page);
    if let Some((played, written)) = sum.swing_ratio.zip(written_swing(checked.expected)) {
        let written = shortest(written);
        let swing = format!("{played:.2} : 1 as played, {written} : 1 written");
        row("Swing", &swing, page);
    }
    page.gap();
}

fn row(head: &str, text: &str, page: &mut Page) {
    page.paragraph(&format!("{head:<9}"), "         ", text);
}

fn timing(checked: &Checked) -> String {
    let sum = &checked.summary;
    let windows = &checked.settings.windows;
    let mut text = format!(
        "{} of {} within ±{:.0} ms",
        sum.timing_in,
        sum.matched - sum.timing_unjudged,
        windows.timing.ms()
    );
    if windows.lean != Nanos::ZERO {
        text += &format!(" of {} ms", signed_ms(windows.lean));
    }
    if let Some(mean) = sum.offset_mean_ms {
        text += &format!(" · mean {} ms", signed_ms(Nanos::from_ms_f64(mean)));
    }
    if let Some(sd) = sum.offset_sd_ms {
        text += &format!(", spread {sd:.0} ms");
    }
    text + " (minus is early)"
}

/// `+18 ms (+15 to +21), steadily behind the click`.
fn leans(lean: &Lean) -> String {
    let [low, high] = lean.interval_ms;
    let way = if lean.mean_ms < 0.0 {
        "ahead of"
    } else {
        "behind"
    };
    format!(
        "{:+.0} ms ({low:+.0} to {high:+.0}), steadily {way} the click",
        lean.mean_ms
    )
}

/// What was done to the notes before they were judged: `Cleaned up: 3 octave glitches, 1 doubled note`.
fn cleaned_up(checked: &Checked, page: &mut Page) {
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
        return;
    }
    let text = format!(
        "Cleaned up: {} (all of them: --json; --keep leaves them as they came)",
        counts.join(", ")
    );
    page.paragraph("", "  ", &text);
    page.gap();
}

/// Pairs of a line that is not swung: something to look at, on request.
fn pairs(checked: &Checked, page: &mut Page) {
    let is_told = page.layout.detail.is_all() && written_swing(checked.expected).is_none();
    if let Some(ratio) = checked.summary.swing_ratio.filter(|_| is_told) {
        let text = format!("Pairs of beat and upbeat as played: {ratio:.2} : 1, even as written");
        page.paragraph("", "", &text);
        page.gap();
    }
}

fn trust(checked: &Checked, page: &mut Page) {
    if let Some(trust) = &checked.take.trust {
        page.paragraph("", "", &trust.in_words());
    }
}
