//! Takes and sessions as JSON: schemas `leadsman.takes/1` and `leadsman.sessions/1`.
//!
//! `leadsman.takes/1` is `{schema, logbook, total, takes}`: the logbook's file, how many takes there are of those that were
//! asked for, and the latest of them, in the order in which they were played. A take has
//!
//! | field | what |
//! | --- | --- |
//! | `number`, `session` | as they are listed; never given to another |
//! | `player`, `note` | who played, and what the player wrote about it (`""`: nothing) |
//! | `begun` | when, RFC 9557, in the player's time zone |
//! | `line` | `{title, file}` of the line that it was played to |
//! | `bars` | `[first, last]`; null: all of the line |
//! | `speed` | percent of the written tempo |
//! | `state` | `over`, `playing`, `broken-off` or `removed` |
//! | `summary` | sums of its latest judgement, names as in `leadsman.check/1`, and with `pitch_unjudged` (dead notes, which have no pitch) and `timing_window_ms`; null while it has not been judged |
//! | `findings` | ids of what was found, that which hurts most first |
//!
//! `leadsman.sessions/1` is `{schema, logbook, total, sessions}`. A session has `number`, `player`, `note`, `begun` (of its
//! first take), `takes` (how many), `length_s` (what its takes were to last, count-ins included, in seconds) and `lines`
//! (titles). `sessions show` adds `of_takes`, its takes as above, and `changes`: for each line that was played through more
//! than once at one speed, the numbers of the `first` and the `last` take.

use super::takes_change::Change;
use super::takes_list::Listed;
use crate::line::bar_range::BarRange;
use crate::logbook::sessions::Session;
use crate::logbook::sums::Sums;
use crate::logbook::takes::State;
use serde::Serialize;
use std::io;
use std::path::Path;

/// The name of the schema of a list of takes.
pub const TAKES: &str = "leadsman.takes/1";
/// The name of the schema of a list of sessions.
pub const SESSIONS: &str = "leadsman.sessions/1";

#[derive(Serialize)]
struct Takes<'a> {
    schema: &'static str,
    logbook: String,
    total: usize,
    takes: Vec<TakeFacts<'a>>,
}

#[derive(Serialize)]
struct TakeFacts<'a> {
    number: i64,
    session: i64,
    player: &'a str,
    begun: &'a str,
    line: LineFacts<'a>,
    bars: Option<BarRange>,
    speed: f64,
    state: &'static str,
    note: &'a str,
    summary: Option<SumFacts>,
    findings: &'a [String],
}

#[derive(Serialize)]
struct LineFacts<'a> {
    title: &'a str,
    file: &'a str,
}

#[derive(Serialize)]
struct SumFacts {
    expected: usize,
    matched: usize,
    missed: usize,
    extra: usize,
    pitch_right: usize,
    pitch_unjudged: usize,
    timing_in: usize,
    timing_window_ms: f64,
    offset_mean_ms: Option<f64>,
    offset_sd_ms: Option<f64>,
}

#[derive(Serialize)]
struct Sessions<'a> {
    schema: &'static str,
    logbook: String,
    total: usize,
    sessions: Vec<SessionFacts<'a>>,
}

#[derive(Serialize)]
struct SessionFacts<'a> {
    number: i64,
    player: &'a str,
    begun: &'a str,
    takes: i64,
    length_s: f64,
    lines: &'a [String],
    note: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    of_takes: Option<Vec<TakeFacts<'a>>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Vec<ChangeFacts<'a>>>,
}

#[derive(Serialize)]
struct ChangeFacts<'a> {
    line: &'a str,
    bars: Option<BarRange>,
    speed: f64,
    first: i64,
    last: i64,
}

/// Writes a list of takes.
pub fn write_takes(
    logbook: &Path,
    takes: &[Listed],
    total: usize,
    out: &mut impl io::Write,
) -> io::Result<()> {
    let document = Takes {
        schema: TAKES,
        logbook: logbook.display().to_string(),
        total,
        takes: takes.iter().map(take).collect(),
    };
    write(&document, out)
}

/// Writes a list of sessions.
pub fn write_sessions(
    logbook: &Path,
    sessions: &[Session],
    total: usize,
    out: &mut impl io::Write,
) -> io::Result<()> {
    let document = Sessions {
        schema: SESSIONS,
        logbook: logbook.display().to_string(),
        total,
        sessions: sessions.iter().map(session).collect(),
    };
    write(&document, out)
}

/// Writes one session with its takes.
pub fn write_session(
    logbook: &Path,
    of: &Session,
    takes: &[Listed],
    changes: &[Change<'_>],
    out: &mut impl io::Write,
) -> io::Result<()> {
    let shown = SessionFacts {
        of_takes: Some(takes.iter().map(take).collect()),
        changes: Some(changes.iter().map(change).collect()),
        ..session(of)
    };
    let document = Sessions {
        schema: SESSIONS,
        logbook: logbook.display().to_string(),
        total: 1,
        sessions: vec![shown],
    };
    write(&document, out)
}

fn write(document: &impl Serialize, out: &mut impl io::Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, document)?;
    writeln!(out)
}

fn take(listed: &Listed) -> TakeFacts<'_> {
    let take = &listed.take;
    TakeFacts {
        number: take.number,
        session: take.session,
        player: &take.player,
        begun: &take.begun,
        line: LineFacts {
            title: &take.line,
            file: &take.file,
        },
        bars: take.bars,
        speed: take.speed.percent(),
        state: match take.state {
            State::Over => "over",
            State::Playing => "playing",
            State::BrokenOff => "broken-off",
            State::Removed => "removed",
        },
        note: &take.note,
        summary: listed.sums.as_ref().map(sums),
        findings: listed.sums.as_ref().map_or(&[], |sums| &sums.findings),
    }
}

fn sums(of: &Sums) -> SumFacts {
    SumFacts {
        expected: of.expected,
        matched: of.matched,
        missed: of.missed,
        extra: of.extra,
        pitch_right: of.pitch_right,
        pitch_unjudged: of.pitch_unjudged,
        timing_in: of.timing_in,
        timing_window_ms: of.timing_window.ms(),
        offset_mean_ms: of.offset_mean_ms,
        offset_sd_ms: of.offset_sd_ms,
    }
}

fn session(of: &Session) -> SessionFacts<'_> {
    SessionFacts {
        number: of.number,
        player: &of.player,
        begun: &of.begun,
        takes: of.takes,
        length_s: of.played_ms as f64 / 1000.0,
        lines: &of.lines,
        note: &of.note,
        of_takes: None,
        changes: None,
    }
}

fn change<'a>(of: &Change<'a>) -> ChangeFacts<'a> {
    ChangeFacts {
        line: &of.first.take.line,
        bars: of.first.take.bars,
        speed: of.first.take.speed.percent(),
        first: of.first.take.number,
        last: of.last.take.number,
    }
}
