//! Steps that several commands take.

use super::excerpting::Played;
use super::{Failure, Outcome, colour};
use crate::backend::{Backend, MidiChoice};
use crate::expected::Expected;
use crate::expected::tempo_map::Speed;
use crate::findings::evidence::Evidence;
use crate::findings::lean::lean;
use crate::findings::{Told, tell};
use crate::judge::by_section::by_section;
use crate::judge::capture::WIDEST;
use crate::judge::convention::{Convention, convention};
use crate::judge::summary::summarise;
use crate::judge::{Judgement, Settings};
use crate::line::Line;
use crate::line::mistakes::Mistakes;
use crate::line::parse::parse;
use crate::line::read::read_text;
use crate::live::Stop;
use crate::page::text::Charset;
use crate::report::page::{Layout, Printed};
use crate::report::words::WIDTH;
use crate::report::{Checked, LineFacts, LineSource, StartFrom, TakeFacts, json, text};
use crate::units::{Key, Nanos};
use std::io::{self, Write};
use std::path::Path;

/// Where notes come from: a stand-in, or the MIDI input of that name.
pub fn midi_choice(
    stand_in: bool,
    midi: Option<&str>,
    backend: Backend,
) -> Result<MidiChoice, Failure> {
    match (stand_in, midi) {
        (true, _) => Ok(MidiChoice::Absent),
        (false, _) if backend == Backend::Silent => Err(Failure::input(
            "the silent backend hears no instrument: add --stand-in, or choose another --backend",
        )),
        (false, Some(name)) => Ok(MidiChoice::Named(name.to_string())),
        (false, None) => Ok(MidiChoice::Only),
    }
}

/// Ctrl-C ends what sounds, not the program.
pub fn stop_on_signal() -> Result<Stop, Failure> {
    let stop = Stop::default();
    let on_signal = stop.clone();
    ctrlc::set_handler(move || on_signal.now()).map_err(Failure::input)?;
    Ok(stop)
}

/// Reads a line; its mistakes are shown in colour where that can be seen.
pub fn read_line(path: &Path) -> Result<Line, Failure> {
    read_line_and_source(path).map(|(line, _)| line)
}

/// The same with the text of its file.
pub fn read_line_and_source(path: &Path) -> Result<(Line, String), Failure> {
    let source = read_text(path).map_err(Failure::input)?;
    let line = parse(&source, &path.display().to_string())
        .map_err(|mistakes| Failure::WrongInput(mistakes_shown(&mistakes)))?;
    Ok((line, source))
}

/// The mistakes of a line, in colour where that can be seen.
pub fn mistakes_shown(mistakes: &Mistakes) -> String {
    mistakes.render(colour::on_stderr())
}

/// The line's head for a report.
pub fn line_facts(played: &Played, file: &str, speed: Speed, expected: &Expected) -> LineFacts {
    let line = &played.line;
    LineFacts {
        title: line.title.clone(),
        file: file.to_string(),
        tempo: f64::from(line.tempo.0) / 1000.0,
        speed: f64::from(speed.0) / 1000.0,
        bars: played.bars,
        notes: expected.notes.len(),
        source: LineSource::File,
    }
}

/// Everything that is said of a judged take.
pub fn check<'a>(
    line: LineFacts,
    take: TakeFacts,
    expected: &'a Expected,
    judgement: &'a Judgement,
    settings: &'a Settings,
) -> Checked<'a> {
    let speed = Speed((line.speed * 1000.0).round() as u32);
    let evidence = Evidence::new(expected, judgement, &settings.windows)
        .with_latency(settings.latency)
        .at_speed(speed);
    let Told {
        findings,
        tempi,
        self_paced,
    } = tell(&evidence);
    // What is estimated from the notes, or added by the way in, is no lean.
    let has_lean = take.start_from != StartFrom::Notes
        && findings
            .iter()
            .all(|finding| finding.id != "latency-suspect");
    Checked {
        line,
        take,
        expected,
        judgement,
        settings,
        summary: summarise(expected, judgement),
        convention: by_convention(expected, judgement),
        sections: by_section(expected, judgement),
        lean: lean(&evidence).filter(|_| has_lean),
        tempi,
        self_paced,
        findings,
    }
}

/// Leaves out what has no pitch to compare: dead notes and what was played for them, and ghost notes left out.
fn by_convention(expected: &Expected, judgement: &Judgement) -> Convention {
    let mut reference: Vec<(Nanos, Key)> = Vec::with_capacity(expected.notes.len());
    let mut for_dead = vec![false; judgement.played.len()];
    for (reading, note) in judgement.readings.iter().zip(&expected.notes) {
        match (note.key, &reading.partner) {
            (None, Some(partner)) => for_dead[partner.played as usize] = true,
            (Some(_), None) if note.is.optional => {}
            (Some(key), _) => reference.push((note.onset, key)),
            (None, None) => {}
        }
    }
    let pitched = judgement
        .played
        .iter()
        .zip(&for_dead)
        .filter(|(_, dead)| !**dead);
    let estimated: Vec<(Nanos, Key)> = pitched.map(|(note, _)| (note.onset, note.key)).collect();
    convention(&reference, &estimated)
}

/// Characters in a line of standard output: those of the terminal, within reason, or the usual ones.
pub fn width() -> usize {
    const NARROWEST: usize = 30;
    terminal_size::terminal_size_of(io::stdout()).map_or(WIDTH, |(width, _)| {
        usize::from(width.0).clamp(NARROWEST, WIDTH)
    })
}

/// Prints the report.
pub fn print(checked: &Checked, printed: Printed) -> Outcome {
    let mut out = io::BufWriter::new(io::stdout().lock());
    match printed {
        Printed::Json => json::write(checked, &mut out)?,
        Printed::Text(detail) => {
            let width = width();
            let text = text::report(checked, Layout { width, detail });
            out.write_all(text.as_bytes())?;
        }
    }
    out.flush()?;
    Ok(())
}

/// Says something beside the report, which may be read by a program.
pub fn note(what: impl std::fmt::Display) {
    // A closed standard error is no reason to stop.
    let _ = writeln!(io::stderr(), "note: {what}");
}

/// Forgets what the line asks for after `stop`, for a take that was stopped there. A note that could still have come
/// is not missed.
pub fn end_at(stop: Nanos, expected: &mut Expected, judgement: &mut Judgement) {
    let heard = heard_until(stop, expected, judgement);
    expected.notes.truncate(heard);
    judgement.readings.truncate(heard);
}

/// How many notes, from the first, were due before `stop` or were played.
pub fn heard_until(stop: Nanos, expected: &Expected, judgement: &Judgement) -> usize {
    let due = expected
        .notes
        .partition_point(|note| note.onset + WIDEST < stop);
    let played = judgement
        .readings
        .iter()
        .rposition(|reading| reading.partner.is_some())
        .map_or(0, |last| last + 1);
    due.max(played)
}

/// What the locale says (POSIX: the first of these that is set and not empty).
pub fn charset() -> Charset {
    let set = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(|name| {
        let value = std::env::var(name).ok()?;
        (!value.is_empty()).then_some(value)
    });
    let set = set.unwrap_or_default().to_ascii_lowercase();
    if cfg!(windows) || set.contains("utf-8") || set.contains("utf8") {
        Charset::Unicode
    } else {
        Charset::Ascii
    }
}
