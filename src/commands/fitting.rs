//! What `check` says when a take does not fit the line as it stands.

use super::judging::Say;
use super::shared::note;
use super::{Failure, Outcome};
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::judge::fit::{self, Fit};
use crate::judge::{Judgement, Settings};
use crate::line::Line;
use crate::take::Take;

/// Says how the take fits; one that does not fit at all is not judged, unless it says itself that it is of this line.
pub fn say(
    line: &Line,
    speed: Speed,
    expected: &Expected,
    judgement: &Judgement,
    take: &Take,
    settings: &Settings,
    say: Say<'_>,
) -> Outcome {
    let at_speed = |factor: f64| unroll(line, Speed((f64::from(speed.0) * factor).round() as u32));
    let is_own = take
        .head
        .as_ref()
        .is_some_and(|head| head.line == line.title);
    let percent = format!("{:.0} %", 100.0 * fit::right_share(expected, judgement));
    match fit::fit(expected, judgement, &take.events, settings, at_speed) {
        Fit::Fits => {}
        Fit::Not if !is_own => {
            return Err(Failure::NotJudged(format!(
                "the take could not be judged: {percent} of the notes fit the line \"{}\"; is it a take of another line, \
                 or does it start elsewhere (--start SECONDS)?",
                line.title
            )));
        }
        Fit::Barely if !is_own => say(format!(
            "only {percent} of the notes fit: if the take is of another line, starts elsewhere (--start SECONDS) or goes \
             at another speed (--speed PERCENT), what follows says little"
        )),
        Fit::Barely | Fit::Not => say(format!("only {percent} of the notes fit the line")),
        Fit::Octave(octaves) => say(octave(octaves, settings.intake.octaves)),
        Fit::Speed(factor) if is_own => say(other_speed(factor, speed)),
        Fit::Speed(factor) => return Err(Failure::NotJudged(other_speed(factor, speed))),
    }
    Ok(())
}

/// Says that a take just played was octaves off throughout, if it was.
pub fn say_octave(expected: &Expected, judgement: &Judgement, settings: &Settings) {
    if let Some(octaves) = fit::octaves_off(expected, judgement) {
        note(octave(octaves, settings.intake.octaves));
    }
}

fn octave(octaves: i8, already: i8) -> String {
    let way = if octaves < 0 { "above" } else { "below" };
    let many = match octaves.abs() {
        1 => "an octave".to_string(),
        more => format!("{more} octaves"),
    };
    let total = already.saturating_add(octaves);
    format!(
        "the take sounds {many} {way} the line throughout; to judge it there, add --octave {total}"
    )
}

fn other_speed(percent: f64, speed: Speed) -> String {
    let now = f64::from(speed.0) / 1000.0;
    let total = (10.0 * percent * now / 100.0).round() / 10.0;
    format!(
        "the take does not fit the line at {now} %, but it does at about {total} %: add --speed {total}"
    )
}
