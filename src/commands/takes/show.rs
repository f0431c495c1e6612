//! `leadsman takes show`.

use super::super::kept_take::{JudgedTake, KeptTake};
use super::super::{Failure, Outcome, shared};
use super::list::complete_or_say;
use super::{failed, finished};
use crate::cli::takes::ShowArgs;
use crate::logbook::Logbook;
use crate::logbook::judgements::JudgementRow;
use crate::report::page::Printed;
use crate::report::takes_list::head;
use crate::report::when;
use crate::report::words::wrap;
use jiff::Timestamp;
use std::io::{self, Write};

/// Runs the command.
pub fn run(args: &ShowArgs, mut logbook: Logbook) -> Outcome {
    finished(&logbook, args.take)?;
    complete_or_say(&mut logbook);
    let judged = judge_again(&logbook, args.take)?;
    if args.printed() != Printed::Json {
        say_head(&judged, &logbook)?;
    }
    shared::print(&judged.checked(), args.printed())
}

/// Judges a take as it was judged last, and says where that comes to something else now.
pub fn judge_again(logbook: &Logbook, number: i64) -> Result<JudgedTake, Failure> {
    let take = finished(logbook, number)?;
    let kept = KeptTake::read(logbook, take).map_err(|error| failed(logbook, error))?;
    for damage in kept.damage() {
        shared::note(format!("take {number}: {damage}"));
    }
    let settings = kept.settings;
    let judged = kept.judge(settings);
    if let Some(last) = judgements(logbook, number)?.pop() {
        let is_same = logbook.is_the_same(last.id, &judged.checked());
        if !is_same.map_err(|error| failed(logbook, error))? {
            shared::note(format!(
                "take {number} was judged by leadsman {} then; leadsman {} does not come to quite the same",
                last.program,
                env!("CARGO_PKG_VERSION")
            ));
        }
    }
    Ok(judged)
}

fn judgements(logbook: &Logbook, take: i64) -> Result<Vec<JudgementRow>, Failure> {
    let judgements = logbook.judgements(take);
    judgements.map_err(|error| failed(logbook, error))
}

fn say_head(judged: &JudgedTake, logbook: &Logbook) -> Outcome {
    let (now, width) = (Timestamp::now(), shared::width());
    let mut text = head(&judged.row, now, width);
    let judgements = judgements(logbook, judged.row.number)?;
    if let [.., last] = judgements.as_slice()
        && judgements.len() > 1
    {
        let which = format!(
            "Judged {} times; this is the latest, of {}.",
            judgements.len(),
            when::long(&when::begun("", last.at_ms), now)
        );
        text += &(wrap(&which, width, "", "  ") + "\n");
    }
    Ok(writeln!(io::stdout(), "{text}")?)
}
