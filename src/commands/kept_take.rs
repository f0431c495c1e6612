//! A take of the logbook judged again, against the line that it was played to.

use super::excerpting::ExcerptOptions;
use super::judging::judge_from;
use super::takes::failed;
use super::{Failure, shared};
use crate::expected::{Expected, unroll};
use crate::judge::{Judgement, Settings};
use crate::logbook::lines::notes_hash;
use crate::logbook::takes::{Filter, State, TakeRow};
use crate::logbook::{Logbook, LogbookError};
use crate::report::trust::Trust;
use crate::report::{Checked, LineFacts, StartFrom, TakeFacts};
use crate::take::{Take, TakeHead};
use crate::units::Nanos;
use std::path::Path;
use std::sync::Arc;

/// A take of the logbook, read with all that it is judged by.
pub struct KeptTake {
    /// As it is listed.
    pub row: TakeRow,
    /// What of the line was played.
    pub played: super::excerpting::Played,
    /// What it was judged with last; before that, what it was played with.
    pub settings: Settings,
    take: Take,
    head: TakeHead,
}

/// A take of the logbook, judged.
pub struct JudgedTake {
    /// As it is listed.
    pub row: TakeRow,
    /// What of the line was played.
    pub played: super::excerpting::Played,
    /// All of what was to be played.
    pub whole: Expected,
    /// What was expected, up to where it was stopped.
    pub expected: Expected,
    /// What was read.
    pub judgement: Judgement,
    /// With what settings.
    pub settings: Settings,
    line_facts: LineFacts,
    take_facts: TakeFacts,
}

impl KeptTake {
    /// Reads a take.
    pub fn read(logbook: &Logbook, row: TakeRow) -> Result<KeptTake, LogbookError> {
        let damaged = |why: String| LogbookError::Damaged {
            take: row.number,
            why,
        };
        let take = logbook.take(row.number)?;
        let head = take
            .head
            .clone()
            .ok_or_else(|| damaged("what it says of itself cannot be read".into()))?;
        let line = logbook.line_of(row.number)?.line().map_err(|mistakes| {
            let first = mistakes.lines().next().unwrap_or_default();
            damaged(format!(
                "the line that it was played to cannot be read any more: {first}"
            ))
        })?;
        let played = ExcerptOptions::default()
            .of(line, head.bars)
            .map_err(|failure| damaged(failure.into_text()))?;
        let last = logbook.judgements(row.number)?.pop();
        Ok(KeptTake {
            settings: last.map_or(head.settings, |judgement| judgement.settings),
            row,
            played,
            take,
            head,
        })
    }

    /// What was lost of it, in words.
    pub fn damage(&self) -> &[String] {
        &self.take.damage
    }

    /// Judges it with these settings.
    pub fn judge(self, settings: Settings) -> JudgedTake {
        let KeptTake {
            row,
            played,
            take,
            head,
            ..
        } = self;
        let speed = head.speed();
        let mut expected = unroll(&played.line, speed);
        if let Some(silent) = head.silent {
            expected.silence(silent);
        }
        let start = head.start();
        let expected = Arc::new(expected);
        let mut judgement = judge_from(start, &take, &expected, &settings, |_| true);
        let whole = Arc::unwrap_or_clone(expected);
        let mut expected = whole.clone();
        if let Some(stopped) = stopped(&take, start) {
            shared::end_at(stopped, &mut expected, &mut judgement);
        }
        let trust = Trust::new(
            take.end.map(|end| end.measured()),
            head.way(),
            &settings.latency,
            &expected,
            &judgement,
        );
        JudgedTake {
            line_facts: shared::line_facts(&played, &head.line_file, speed, &expected),
            take_facts: TakeFacts {
                file: None,
                start_s: start.seconds(),
                played: judgement.played.len(),
                start_from: StartFrom::Take,
                trust: Some(trust),
            },
            row,
            played,
            whole,
            expected,
            judgement,
            settings,
        }
    }
}

impl JudgedTake {
    /// Everything that is said of it.
    pub fn checked(&self) -> Checked<'_> {
        shared::check(
            self.line_facts.clone(),
            self.take_facts.clone(),
            &self.expected,
            &self.judgement,
            &self.settings,
        )
    }
}

/// When it ended before its line did, in line time; one that broke off goes as far as its last event, and without any it
/// is of no note at all.
fn stopped(take: &Take, start: Nanos) -> Option<Nanos> {
    match take.end {
        Some(end) => end.stopped_ns.map(Nanos),
        None => Some(
            take.events
                .last()
                .map_or(Nanos(i64::MIN), |event| event.at - start),
        ),
    }
}

/// A line that is named on the command line.
pub struct NamedLine {
    /// Its title.
    pub title: String,
    /// What it asks for, in short, where its file was named.
    pub notes_hash: Option<String>,
}

/// The line that is named by its file, by its title, or by a piece of its title that no other has.
pub fn named_line(logbook: &Logbook, named: &str) -> Result<NamedLine, Failure> {
    let file = Path::new(named);
    if file.exists() && !file.is_dir() {
        let line = shared::read_line(file)?;
        return Ok(NamedLine {
            notes_hash: Some(notes_hash(&line)),
            title: line.title,
        });
    }
    let titles = logbook
        .line_titles()
        .map_err(|error| failed(logbook, error))?;
    let title = title(&titles, named)
        .map_err(|why| Failure::input(format!("logbook {}: {why}", logbook.path().display())))?;
    Ok(NamedLine {
        title,
        notes_hash: None,
    })
}

/// The takes of that line; of a file those that were played to its notes.
pub fn of_line(logbook: &Logbook, named: &str) -> Result<Filter, Failure> {
    let NamedLine { title, notes_hash } = named_line(logbook, named)?;
    Ok(Filter {
        title: notes_hash.is_none().then_some(title),
        notes_hash,
        ..Filter::default()
    })
}

fn title(titles: &[String], named: &str) -> Result<String, String> {
    if let Some(title) = titles.iter().find(|title| *title == named) {
        return Ok(title.clone());
    }
    let piece = named.to_lowercase();
    let alike: Vec<&String> = titles
        .iter()
        .filter(|title| title.to_lowercase().contains(&piece))
        .collect();
    let quoted = |titles: &[&String]| {
        let titles: Vec<String> = titles.iter().map(|title| format!("\"{title}\"")).collect();
        titles.join(", ")
    };
    match alike.as_slice() {
        [title] => Ok((*title).clone()),
        [] if titles.is_empty() => Err("there is no take in it yet".into()),
        [] => Err(format!(
            "there is no take of a line \"{named}\", nor a file of that name; there are takes of {}",
            quoted(&titles.iter().collect::<Vec<_>>())
        )),
        several => Err(format!("\"{named}\" could be {}", quoted(several))),
    }
}

/// Judges the takes that broke off before they were, or whose program ended before it could; nobody else's that is
/// being played. Returns how many there were.
pub fn complete(logbook: &mut Logbook) -> Result<usize, Failure> {
    let path = logbook.path().to_path_buf();
    complete_in(logbook).map_err(|error| Failure::input(error.of(&path)))
}

fn complete_in(logbook: &mut Logbook) -> Result<usize, LogbookError> {
    let is_due = |take: &TakeRow| take.figures.is_none() && take.state != State::Playing;
    let due: Vec<TakeRow> = logbook
        .takes(&Filter {
            is_unjudged: true,
            ..Filter::default()
        })?
        .into_iter()
        .filter(is_due)
        .collect();
    let mut count = 0;
    for row in due {
        let number = row.number;
        match KeptTake::read(logbook, row) {
            Ok(kept) => {
                let settings = kept.settings;
                logbook.judged_first(number, &kept.judge(settings).checked())?;
                count += 1;
            }
            // One take that cannot be read must not keep all others from being seen.
            Err(damaged @ LogbookError::Damaged { .. }) => shared::note(damaged),
            Err(error) => return Err(error),
        }
    }
    Ok(count)
}
