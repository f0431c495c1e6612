//! `leadsman progress`: what became of one line, or of all, from session to session.

use super::kept_take::{KeptTake, named_line};
use super::line_file::{self, Existing};
use super::takes::failed;
use super::takes::list::{NOTHING_YET, complete_or_say, is_known, open_for_list};
use super::{Failure, Outcome, shared};
use crate::cli::progress::ProgressArgs;
use crate::expected::tempo_map::Speed;
use crate::line::bar_range::BarRange;
use crate::logbook::Logbook;
use crate::logbook::history::LineHistory;
use crate::logbook::takes::{Filter, TakeRow};
use crate::progress::Progress;
use crate::progress::figures::TakeFigures;
use crate::progress::history::{Entry, History};
use crate::progress::today::{self, Practised, Suggestion};
use crate::report::html::progress::progress_page;
use crate::report::progress::text::{self, Layout, Row};
use crate::report::progress::{OnLine, Today, csv, json};
use jiff::Timestamp;
use std::io::{self, Write};
use std::path::Path;

/// Everything that is told.
pub struct Told {
    player: String,
    lines: Vec<LineHistory>,
    progress: Vec<Progress>,
    today: Vec<Suggestion>,
    files: Vec<String>,
}

/// Of which takes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked<'a> {
    /// Of this line, its file or its title; none: of all.
    pub line: Option<&'a str>,
    /// By this player; none: whoever played last.
    pub player: Option<&'a str>,
    /// At this speed.
    pub speed: Option<Speed>,
    /// Of these bars.
    pub bars: Option<BarRange>,
}

/// Runs the command.
pub fn run(args: &ProgressArgs) -> Outcome {
    let Some(mut logbook) = open_for_list(&args.logbook)? else {
        return Ok(writeln!(io::stdout(), "{NOTHING_YET}")?);
    };
    complete_or_say(&mut logbook);
    let asked = Asked {
        line: args.line.as_deref(),
        player: args.player.as_deref(),
        speed: args.speed,
        bars: args.bars,
    };
    let told = told(&asked, &logbook)?;
    if let Some(path) = &args.html {
        return write_page(args, &told, path);
    }
    let mut out = io::BufWriter::new(io::stdout().lock());
    match () {
        () if args.json => json::write(&told.player, &told.on_lines(), &told.today(), &mut out)?,
        () if args.csv => csv::write(&told.on_lines(), &mut out).map_err(csv_failed)?,
        () => out.write_all(in_words(args, &told).as_bytes())?,
    }
    Ok(out.flush()?)
}

fn csv_failed(error: ::csv::Error) -> Failure {
    match error.into_kind() {
        ::csv::ErrorKind::Io(error) => Failure::from(error),
        kind => Failure::input(format!("{kind:?}")),
    }
}

fn write_page(args: &ProgressArgs, told: &Told, path: &Path) -> Outcome {
    let lines = told.on_lines();
    let [line] = lines.as_slice() else {
        return Err(Failure::input(
            "--html is of one line: name it, such as progress LINE --html FILE",
        ));
    };
    let page = progress_page(line, &told.today());
    line_file::write(path, page, Existing::forced(args.force))?;
    Ok(writeln!(
        io::stdout(),
        "The page is written to {}",
        path.display()
    )?)
}

fn in_words(args: &ProgressArgs, told: &Told) -> String {
    let today = &told.today();
    let layout = Layout {
        width: shared::width(),
        charset: shared::charset(),
        all: args.all,
        now: Timestamp::now(),
    };
    let mut on_lines = told.on_lines();
    if args.line.is_some() && on_lines.len() == 1 {
        return text::on_line(&on_lines.remove(0), today, layout);
    }
    let rows: Vec<Row<'_>> = on_lines
        .into_iter()
        .zip(&told.lines)
        .map(|(line, history)| Row {
            line,
            last_ms: history.last_ms,
        })
        .collect();
    text::overview(&rows, today, layout)
}

impl Told {
    /// The lines.
    pub fn lines(&self) -> &[LineHistory] {
        &self.lines
    }

    /// What to play today.
    pub fn today(&self) -> Today<'_> {
        Today {
            suggestions: &self.today,
            files: &self.files,
        }
    }

    /// The lines with what is said of them.
    pub fn on_lines(&self) -> Vec<OnLine<'_>> {
        let lines = self.lines.iter().zip(&self.progress);
        lines
            .map(|(line, progress)| OnLine {
                title: &line.title,
                file: &line.file,
                player: &self.player,
                progress,
                of_other_notes: line.of_other_notes,
            })
            .collect()
    }
}

/// All that is told of these takes; one line at the least.
pub fn told(asked: &Asked<'_>, logbook: &Logbook) -> Result<Told, Failure> {
    let player = player(asked.player, logbook)?;
    let (title, hash) = match asked.line {
        Some(named) => {
            let line = named_line(logbook, named)?;
            (Some(line.title), line.notes_hash)
        }
        None => (None, None),
    };
    let filter = Filter {
        player: Some(player.clone()),
        title,
        ..Filter::default()
    };
    let mut lines = logbook
        .histories(&filter, hash.as_deref(), &mut |take| {
            work_out(logbook, take)
        })
        .map_err(|error| failed(logbook, error))?;
    if let (Some(named), Some(hash), Some(line)) = (asked.line, &hash, lines.first())
        && line.notes_hash != *hash
    {
        return Err(Failure::input(format!(
            "no take of {named} with its present notes; takes from before they were changed: leadsman progress \"{}\"",
            line.title
        )));
    }
    narrow(asked, &mut lines);
    if lines.is_empty() {
        return Err(none_such(asked, logbook, &player));
    }
    let now_ms = Timestamp::now().as_millisecond();
    let progress = lines
        .iter()
        .map(|line| Progress::of(&line.history))
        .collect();
    let practised: Vec<Practised<'_>> = lines
        .iter()
        .map(|line| Practised {
            title: &line.title,
            history: &line.history,
        })
        .collect();
    let today = today::today(&practised, now_ms, utc_offset_s());
    let files = lines.iter().map(|line| line.file.clone()).collect();
    Ok(Told {
        player,
        lines,
        progress,
        today,
        files,
    })
}

/// How far the player's clock is ahead of UTC.
fn utc_offset_s() -> i32 {
    jiff::ZonedDateTime::now().offset().seconds()
}

/// Leaves out what was played at other speeds, or of other bars, than are asked for.
fn narrow(asked: &Asked<'_>, lines: &mut Vec<LineHistory>) {
    let is_asked = |entry: &Entry| {
        asked
            .speed
            .is_none_or(|speed| f64::from(speed.0) == (entry.speed * 1000.0).round())
            && (asked.bars.is_none() || asked.bars == entry.bars)
    };
    for line in lines.iter_mut() {
        let entries = line
            .history
            .entries()
            .iter()
            .filter(|entry| is_asked(entry));
        line.history = History::new(entries.cloned().collect());
    }
    lines.retain(|line| !line.history.entries().is_empty());
}

fn none_such(asked: &Asked<'_>, logbook: &Logbook, player: &str) -> Failure {
    let line = asked
        .line
        .map_or_else(String::new, |line| format!(" of {line}"));
    let bars = asked
        .bars
        .map_or_else(String::new, |bars| format!(", {bars}"));
    let speed = asked.speed.map_or_else(String::new, |speed| {
        format!(", at {} %", f64::from(speed.0) / 1000.0)
    });
    Failure::input(format!(
        "logbook {}: no take{line}{bars}{speed} by {player}",
        logbook.path().display()
    ))
}

/// Who is named, or who usually plays, or the only one there is.
fn player(named: Option<&str>, logbook: &Logbook) -> Result<String, Failure> {
    if let Some(player) = named {
        is_known(player, logbook)?;
        return Ok(player.to_string());
    }
    let usual = logbook.usual_player();
    let usual = usual.map_err(|error| failed(logbook, error))?;
    let players = logbook.players().map_err(|error| failed(logbook, error))?;
    match players.as_slice() {
        [only] => Ok(only.clone()),
        _ => Ok(usual),
    }
}

/// Figures that an earlier version of the program made otherwise, or not at all.
fn work_out(logbook: &Logbook, take: &TakeRow) -> Option<TakeFigures> {
    let kept = KeptTake::read(logbook, take.clone()).ok()?;
    let settings = kept.settings;
    Some(TakeFigures::of(&kept.judge(settings).checked()))
}
