//! What the fretting hand cannot do: leaps without time, stretches, frets that are not there, fingers that do not fit.

use super::{Ground, Remark, ms};
use crate::fingering::Source;
use crate::units::Nanos;

/// The sounding length of an open string on a long-scale bass, 34 in.
const SCALE_MM: f64 = 864.0;

/// What a hand needs for a leap, whatever its width: to let go and to press again.
const LET_GO_MS: f64 = 50.0;

/// The fastest a hand is taken to travel. Aimed movements of 200 mm take 280 to 390 ms (Fitts 1954, Journal of
/// Experimental Psychology 47:381); this gives the hand less than 190 ms for them.
const HAND_MM_A_MS: f64 = 1.5;

/// A shift of one fret can be had by stretching.
const SMALLEST_LEAP: u8 = 2;

/// The last fret that most basses have.
const LAST_FRET: u8 = 20;

pub(super) fn advise(ground: &Ground<'_>) -> Vec<Remark> {
    let mut remarks = leaps(ground);
    remarks.extend(
        ground
            .strikes()
            .filter_map(|strike| wide_stop(ground, strike)),
    );
    for index in 0..ground.expected.notes.len() {
        remarks.extend(high_fret(ground, index));
        remarks.extend(misfit(ground, index));
    }
    remarks
}

/// The distance between two frets: fret n divides the string at `2^(−n/12)` of its length.
fn distance_mm(from: u8, to: u8) -> f64 {
    let left = |fret: u8| SCALE_MM * 2f64.powf(-f64::from(fret) / 12.0);
    (left(from) - left(to)).abs()
}

fn leaps(ground: &Ground<'_>) -> Vec<Remark> {
    let (notes, hands) = (&ground.expected.notes, &ground.fingering);
    let mut remarks = Vec::new();
    let mut before: Option<(Nanos, u8)> = None;
    for strike in ground.strikes() {
        let Some(position) = hands.places[strike].position else {
            continue;
        };
        let onset = notes[strike].onset;
        let shift = hands.moves[strike].shift;
        if let (Some((last, from)), Some(shift)) = (before, shift) {
            let needed = Nanos::from_ms_f64(LET_GO_MS + distance_mm(from, position) / HAND_MM_A_MS);
            if shift.by.unsigned_abs() >= SMALLEST_LEAP && onset - last < needed {
                let likely = match shift.source {
                    Source::Written => "",
                    Source::Likely => " by the likeliest fingering",
                };
                let text = format!(
                    "the hand moves from fret {from} to fret {position} in {}{likely}",
                    ms(onset - last)
                );
                let better = format!(
                    "give it {}: a rest or an open string before it, a nearer place, or a slower tempo",
                    ms(needed)
                );
                remarks.push(Remark::new(
                    "hand-leap",
                    ground.at_note(&notes[strike]),
                    text,
                    better,
                ));
            }
        }
        before = Some((onset, position));
    }
    remarks
}

/// Fingers that are to hold strings further apart than four frets are at the nut.
fn wide_stop(ground: &Ground<'_>, strike: usize) -> Option<Remark> {
    let notes = &ground.expected.notes;
    let places = &ground.fingering.places[ground.struck_with(strike)];
    let frets = || {
        places
            .iter()
            .filter_map(|place| place.fret.filter(|fret| *fret > 0))
    };
    let (low, high) = (frets().min()?, frets().max()?);
    let apart = distance_mm(low, high);
    let widest = distance_mm(1, crate::fingering::SPAN);
    if apart <= widest {
        return None;
    }
    let text = format!("frets {low} and {high} are held at once, {apart:.0} mm apart");
    let better = "strike the notes one after the other, or move one of them an octave";
    Some(Remark::new(
        "wide-stop",
        ground.at_note(&notes[strike]),
        text,
        better,
    ))
}

fn high_fret(ground: &Ground<'_>, index: usize) -> Option<Remark> {
    let place = ground.fingering.places[index];
    let fret = place.fret.filter(|fret| *fret > LAST_FRET)?;
    let note = &ground.expected.notes[index];
    let string = string_name(ground, place.string?);
    let text = format!(
        "{} is fret {fret} of the {string} string: most basses end at fret {LAST_FRET}",
        note.name()
    );
    let better = match ground.shift(note) {
        0 => "write it an octave lower, or on a higher string".to_owned(),
        shift => format!("leave out the pass {shift:+}, or write it an octave lower"),
    };
    Some(Remark::new("high-fret", ground.at_note(note), text, better))
}

/// A finger on an open string, or none on a stopped one. In a pass that is moved, the fingers move as they must.
fn misfit(ground: &Ground<'_>, index: usize) -> Option<Remark> {
    let note = &ground.expected.notes[index];
    let written = note.finger.filter(|_| ground.shift(note) == 0)?;
    let together = &ground.fingering.places[ground.struck_with(index)];
    if together.iter().any(|place| place.finger == Some(written)) {
        return None;
    }
    let place = ground.fingering.places[index];
    let string = string_name(ground, place.string?);
    let name = note.name();
    let (text, better) = match place.fret? {
        0 => (
            format!("finger {written} is written for {name}, the open {string} string"),
            "write 0, or name another string",
        ),
        fret => (
            format!("finger {written} is written for {name}, fret {fret} of the {string} string"),
            "write 1 to 4; 0 is an open string",
        ),
    };
    Some(Remark::new(
        "finger-misfit",
        ground.at_note(note),
        text,
        better,
    ))
}

fn string_name(ground: &Ground<'_>, string: u8) -> String {
    let name = ground.expected.strings.get(usize::from(string) - 1);
    name.cloned().unwrap_or_else(|| string.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The figures of `fingering::cost`: 130 mm under four fingers in position 1, 122 in position 2, 103 in position 5.
    #[test]
    fn frets_lie_closer_up_the_neck() {
        let under = |position: u8| distance_mm(position, position + 3).round();
        assert_eq!([under(1), under(2), under(5)], [130.0, 122.0, 103.0]);
    }
}
