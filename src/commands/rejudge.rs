//! `leadsman rejudge`: old takes with new windows or a new latency. What was said before stays in the logbook.

use super::kept_take::{JudgedTake, KeptTake};
use super::takes::failed;
use super::{Failure, Outcome};
use crate::cli::logbook::RejudgeArgs;
use crate::line::mistake::counted;
use crate::logbook::takes::{Filter, TakeRow};
use crate::logbook::{Logbook, LogbookError};
use crate::report::signed_ms;
use crate::units::Nanos;
use rayon::prelude::*;
use std::io::{self, Write};

/// Takes that are read, judged and written in one go.
const AT_ONCE: usize = 64;

/// Runs the command.
pub fn run(args: &RejudgeArgs) -> Outcome {
    let mut logbook = args.which.open_existing()?;
    let rows = which(args, &logbook)?;
    let path = logbook.path().to_path_buf();
    let failed = |error: LogbookError| Failure::input(error.of(&path));
    let count = rows.len();
    for rows in rows.chunks(AT_ONCE) {
        let before = rows.iter().map(|row| logbook.verdicts(row.number));
        let before = before.collect::<Result<Vec<_>, _>>().map_err(failed)?;
        let kept = rows.iter().map(|row| KeptTake::read(&logbook, row.clone()));
        let kept: Vec<KeptTake> = kept.collect::<Result<_, _>>().map_err(failed)?;
        let judged: Vec<JudgedTake> = kept
            .into_par_iter()
            .map(|take| {
                let settings = args.judging.over(take.settings);
                take.judge(settings)
            })
            .collect();
        logbook
            .judged_all(judged.iter().map(|take| (take.row.number, take.checked())))
            .map_err(failed)?;
        let mut out = io::stdout().lock();
        for (row, before) in rows.iter().zip(before) {
            let after = logbook.verdicts(row.number).map_err(failed)?;
            writeln!(out, "{}", changed(row, before, after))?;
        }
    }
    writeln!(
        io::stdout(),
        "{} judged again; what was said before is kept.",
        counted(count, "take")
    )?;
    Ok(())
}

fn which(args: &RejudgeArgs, logbook: &Logbook) -> Result<Vec<TakeRow>, Failure> {
    let failed = |error| failed(logbook, error);
    if !args.takes.is_empty() {
        let rows = args.takes.iter().map(|number| logbook.take_row(*number));
        return rows.collect::<Result<_, _>>().map_err(failed);
    }
    let filter = Filter {
        session: args.session,
        ..match &args.line {
            Some(line) => super::kept_take::of_line(logbook, line)?,
            None => Filter::default(),
        }
    };
    let rows = logbook.takes(&filter).map_err(failed)?;
    match (&args.line, args.session) {
        (_, Some(session)) if rows.is_empty() => Err(failed(LogbookError::NoSuchSession(session))),
        (Some(line), _) if rows.is_empty() => Err(Failure::input(format!(
            "logbook {}: no take of {line}",
            logbook.path().display()
        ))),
        _ => Ok(rows),
    }
}

/// How many notes were in time, and their mean offset.
type Verdicts = (i64, i64, Option<f64>);

fn changed(row: &TakeRow, before: Option<Verdicts>, after: Option<Verdicts>) -> String {
    let words = |verdicts: Option<Verdicts>| match verdicts {
        None => "not judged".to_string(),
        Some((timing_in, matched, mean)) => {
            let mean = mean.map_or(String::new(), |mean| {
                format!(", mean {} ms", signed_ms(Nanos::from_ms_f64(mean)))
            });
            format!("{timing_in} of {matched} in time{mean}")
        }
    };
    format!(
        "take {} {}: {} → {}",
        row.number,
        row.line,
        words(before),
        words(after)
    )
}
