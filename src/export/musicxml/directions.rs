//! What stands above the staff: open strings, section names, tempo and swing.

use super::xml::Xml;
use crate::expected::tempo_map::Rate;
use crate::line::pitch::Pitch;
use crate::line::tuning::Tuning;
use crate::line::{SwingRatio, Swung};

/// The swing in force; `None` is straight.
pub(super) type Swing = Option<(SwingRatio, Swung)>;

/// The open strings as they sound, highest first, of an instrument that is not tuned as usual.
pub(super) fn tuning(xml: &mut Xml, tuning: &Tuning) {
    let strings = |xml: &mut Xml| {
        for (string, open) in (1..).zip(tuning.open.iter().rev()) {
            let string = i32::to_string(&string);
            xml.element("accord", &[("string", &string)], |xml| {
                open_string(xml, *open)
            });
        }
    };
    let kind = |xml: &mut Xml| xml.element("scordatura", &[], strings);
    direction(xml, kind, |_| {});
}

fn open_string(xml: &mut Xml, open: Pitch) {
    let letter = char::from(b"CDEFGAB"[usize::from(open.class.letter)]);
    xml.text("tuning-step", letter);
    if open.class.accidental != 0 {
        xml.text("tuning-alter", open.class.accidental);
    }
    xml.text("tuning-octave", open.octave);
}

/// A section's name in a box.
pub(super) fn section(xml: &mut Xml, name: &str) {
    direction(xml, |xml| xml.text("rehearsal", name), |_| {});
}

/// A tempo; its mark counts the beat of the meter.
pub(super) fn tempo(xml: &mut Xml, tempo: Rate, beat_is_dotted: bool) {
    let number = |over: u64, under: u64| decimal(over, under);
    let quarters = number(tempo.numerator, tempo.denominator);
    let beats = match beat_is_dotted {
        true => number(2 * tempo.numerator, 3 * tempo.denominator),
        false => quarters.clone(),
    };
    let mark = |xml: &mut Xml| {
        xml.element("metronome", &[], |xml| {
            xml.text("beat-unit", "quarter");
            if beat_is_dotted {
                xml.empty("beat-unit-dot", &[]);
            }
            xml.text("per-minute", beats);
        });
    };
    direction(xml, mark, |xml| xml.empty("sound", &[("tempo", &quarters)]));
}

/// The swing from here on, in words and for players.
pub(super) fn swing(xml: &mut Xml, swing: Swing) {
    let words = match swing {
        Some((ratio, Swung::Eighth)) => format!("swing {ratio}"),
        Some((ratio, Swung::Sixteenth)) => format!("swing {ratio} (sixteenths)"),
        None => "straight".to_string(),
    };
    let sound = |xml: &mut Xml| {
        xml.element("sound", &[], |xml| {
            xml.element("swing", &[], |xml| parts(xml, swing));
        });
    };
    direction(xml, |xml| xml.text("words", words), sound);
}

fn parts(xml: &mut Xml, swing: Swing) {
    let Some((ratio, swung)) = swing else {
        return xml.empty("straight", &[]);
    };
    let common = gcd(ratio.long, ratio.short);
    xml.text("first", ratio.long / common);
    xml.text("second", ratio.short / common);
    let kind = match swung {
        Swung::Eighth => "eighth",
        Swung::Sixteenth => "16th",
    };
    xml.text("swing-type", kind);
}

fn direction(xml: &mut Xml, kind: impl FnOnce(&mut Xml), sound: impl FnOnce(&mut Xml)) {
    xml.element("direction", &[("placement", "above")], |xml| {
        xml.element("direction-type", &[], kind);
        sound(xml);
    });
}

/// A quotient to six decimals, without zeros at the end.
fn decimal(over: u64, under: u64) -> String {
    let text = format!("{:.6}", over as f64 / under as f64);
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotients_have_as_many_decimals_as_they_need() {
        assert_eq!(decimal(120, 1), "120");
        assert_eq!(decimal(63, 2), "31.5");
        assert_eq!(decimal(200, 3), "66.666667");
    }
}
