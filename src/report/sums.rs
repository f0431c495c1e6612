//! What a take comes to, in words: the rows that every report begins with.

use super::words::shortest;
use super::{Checked, StartFrom, signed_ms};
use crate::findings::lean::Lean;
use crate::judge::cost::Pitch;
use crate::judge::summary::written_swing;
use crate::played::cleanup::Rule;
use crate::units::Nanos;

/// Rows of a head and its words: notes, pitch, timing, lean, length, swing; lean and swing where there is something to say.
pub fn sums(checked: &Checked) -> Vec<(&'static str, String)> {
    let sum = &checked.summary;
    let notes = format!(
        "{} of {} played, {} missed, {} extra",
        sum.matched, sum.expected, sum.missed, sum.extra
    );
    let partners = checked.judgement.readings.iter().filter_map(|r| r.partner);
    let judged = partners.filter(|partner| partner.pitch != Pitch::Unjudged);
    let pitch = format!("{} of {} right", sum.pitch_right, judged.count());
    let length = format!("{} of {} as written", sum.length_in, sum.matched);
    let swing = sum.swing_ratio.zip(written_swing(checked.expected));
    let swing = swing.map(|(played, written)| {
        let written = shortest(written);
        format!("{played:.2} : 1 as played, {written} : 1 written")
    });
    let rows = [
        ("Notes", Some(notes)),
        ("Pitch", Some(pitch)),
        ("Timing", Some(timing(checked))),
        ("Lean", checked.lean.as_ref().map(leans)),
        ("Length", Some(length)),
        ("Swing", swing),
    ];
    let rows = rows.into_iter();
    rows.filter_map(|(head, text)| Some((head, text?)))
        .collect()
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

/// How it is known where bar 1 beat 1 falls.
pub fn start_in_words(from: StartFrom) -> &'static str {
    match from {
        StartFrom::Take => "as recorded",
        StartFrom::Given => "as given",
        StartFrom::Notes => {
            "estimated from the notes, so a steady lean cannot be told; --start sets it"
        }
        StartFrom::FileGrid => {
            "estimated from the notes and set on the file's own beat; --start sets it"
        }
    }
}

/// What was done to the notes before they were judged: `3 octave glitches`, `1 doubled note`.
pub fn cleaned(checked: &Checked) -> Vec<String> {
    let cleaned = &checked.judgement.cleaned;
    let counted = |rule: Rule| {
        let (one, many) = rule.counted();
        match cleaned.iter().filter(|one| one.rule == rule).count() {
            0 => None,
            1 => Some(format!("1 {one}")),
            count => Some(format!("{count} {many}")),
        }
    };
    Rule::ALL.into_iter().filter_map(counted).collect()
}
