//! `leadsman check`: a take against a line, or many takes.

mod many;

use super::judging::{Silence, TakeOptions, judge_take};
use super::{Failure, Outcome, shared};
use crate::cli::CheckArgs;
use crate::cli::check::CheckFormat;
use crate::report::page::{Detail, Printed};

/// Runs the command. One take is told at length, several (or a folder) in a row each.
pub fn run(args: &CheckArgs) -> Outcome {
    let options = TakeOptions::asked(&args.how, Silence::Refused);
    match (args.takes.as_slice(), args.format()) {
        ([take], CheckFormat::Text(detail)) if !take.is_dir() => {
            one(args, &options, Printed::Text(detail))
        }
        ([take], CheckFormat::Json) if !take.is_dir() => one(args, &options, Printed::Json),
        (_, CheckFormat::Text(Detail::All)) => Err(Failure::input(
            "--all tells everything of one take: give one, or leave it out",
        )),
        _ => many::run(args, &options),
    }
}

fn one(args: &CheckArgs, options: &TakeOptions<'_>, printed: Printed) -> Outcome {
    let take = &args.takes[0];
    let mut judged = judge_take(&args.line, take, options)?;
    shared::print(&judged.checked(&args.line, take), printed)
}
