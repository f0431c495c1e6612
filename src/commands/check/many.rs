//! Many takes against one line: judged by all processors, told in the order given, as they come.

use crate::cli::CheckArgs;
use crate::cli::check::CheckFormat;
use crate::commands::in_order::in_order;
use crate::commands::judging::{self, TakeOptions};
use crate::commands::reference::Reference;
use crate::commands::take_files::takes_at;
use crate::commands::{Failure, Outcome, progress_bar, shared};
use crate::live::Stop;
use crate::report::{json, take_csv, take_row};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Judges them all. A take that cannot be read or judged has a row that says why, and the exit code is 1.
pub fn run(args: &CheckArgs, options: &TakeOptions<'_>) -> Outcome {
    let reference = Reference::read(&args.line)?;
    reference.played(options.excerpt.bars_of(&reference.line, None)?)?;
    let lists: Result<Vec<Vec<PathBuf>>, Failure> =
        args.takes.iter().map(|path| takes_at(path)).collect();
    let takes = lists?.concat();
    let format = args.format();
    let stop = shared::stop_on_signal()?;
    let bar = progress_bar::of(takes.len());
    let teller = Teller::new(args, format, &takes);
    bar.suspend(|| teller.begin())?;
    let mut told = Told::default();
    in_order(
        takes.iter().take_while(|_| !stop.is_asked()),
        |take| (!stop.is_asked()).then(|| teller.judge(&reference, take, options)),
        |result| {
            let Some(result) = result else {
                return Ok(());
            };
            told.takes += 1;
            told.not_judged += usize::from(!result.is_judged);
            bar.suspend(|| result.write())?;
            bar.inc(1);
            Ok(())
        },
    )?;
    bar.finish_and_clear();
    teller.end(&told)?;
    told.outcome(takes.len(), &stop)
}

/// How many takes were told.
#[derive(Default)]
struct Told {
    takes: usize,
    not_judged: usize,
}

impl Told {
    fn outcome(&self, of: usize, stop: &Stop) -> Outcome {
        if stop.is_asked() && self.takes < of {
            return Err(Failure::NotJudged(format!(
                "stopped after {} of {of} takes",
                self.takes
            )));
        }
        match self.not_judged {
            0 => Ok(()),
            1 => Err(Failure::NotJudged("1 take could not be judged".into())),
            some => Err(Failure::NotJudged(format!(
                "{some} takes could not be judged"
            ))),
        }
    }
}

/// What is said of one take, whole lines.
struct Said {
    out: Vec<u8>,
    notes: Vec<String>,
    is_judged: bool,
}

impl Said {
    /// Each take in one piece: who ends the program in the middle finds whole lines.
    fn write(&self) -> io::Result<()> {
        self.notes.iter().for_each(shared::note);
        let mut out = io::stdout().lock();
        out.write_all(&self.out)?;
        out.flush()
    }
}

/// Says what takes come to, in the form asked for.
struct Teller<'a> {
    line: &'a Path,
    format: CheckFormat,
    rows: take_row::Rows,
}

impl<'a> Teller<'a> {
    fn new(args: &'a CheckArgs, format: CheckFormat, takes: &[PathBuf]) -> Teller<'a> {
        let names = takes.iter().map(|take| take.display().to_string());
        Teller {
            line: &args.line,
            format,
            rows: take_row::Rows::new(names, shared::width()),
        }
    }

    fn begin(&self) -> io::Result<()> {
        let mut out = io::stdout().lock();
        match self.format {
            CheckFormat::Text(_) => out.write_all(self.rows.head().as_bytes())?,
            CheckFormat::Csv => out.write_all(&take_csv::head())?,
            CheckFormat::Json | CheckFormat::JsonSummary => {}
        }
        out.flush()
    }

    fn judge(&self, reference: &Reference, take: &Path, options: &TakeOptions<'_>) -> Said {
        let name = take.display().to_string();
        let mut notes = Vec::new();
        let judged = judging::read_take(take, &mut |note| notes.push(note)).and_then(|read| {
            judging::judge(reference, read, options, &mut |note| notes.push(note))
        });
        let is_judged = judged.is_ok();
        let about = format!("{name}: ");
        let plain = |text: String| text.strip_prefix(&about).map(str::to_owned).unwrap_or(text);
        let remarks: Vec<String> = notes.into_iter().map(plain).collect();
        let out = match judged {
            Ok(mut judged) => self.tell(&judged.checked(self.line, take), &remarks),
            Err(failure) => self.tell_failure(&name, &plain(failure.into_text()), &remarks),
        };
        Said {
            out,
            notes: remarks
                .iter()
                .map(|remark| format!("{about}{remark}"))
                .collect(),
            is_judged,
        }
    }

    fn tell(&self, checked: &crate::report::Checked, remarks: &[String]) -> Vec<u8> {
        let mut out = Vec::new();
        let written = match self.format {
            CheckFormat::Text(_) => out.write_all(self.rows.row(checked).as_bytes()),
            CheckFormat::Csv => out.write_all(&take_csv::row(checked, remarks)),
            CheckFormat::Json => json::write(checked, &mut out),
            CheckFormat::JsonSummary => json::write_summary(checked, &mut out),
        };
        written.unwrap_or_else(|error| unreachable!("there is room in memory: {error}"));
        out
    }

    fn tell_failure(&self, take: &str, why: &str, remarks: &[String]) -> Vec<u8> {
        match self.format {
            CheckFormat::Text(_) => self.rows.failure(take, why).into_bytes(),
            CheckFormat::Csv => take_csv::failure(take, why, remarks),
            CheckFormat::Json | CheckFormat::JsonSummary => json::failure(take, why),
        }
    }

    fn end(&self, told: &Told) -> io::Result<()> {
        match self.format {
            CheckFormat::Text(_) => io::stdout()
                .lock()
                .write_all(self.rows.legend(told.takes).as_bytes()),
            _ => Ok(()),
        }
    }
}
