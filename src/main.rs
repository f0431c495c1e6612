//! Parse, call, print the error, exit: 0 fine, 1 the take could not be judged or a file is not in the layout, 2 wrong input.

use clap::Parser;
use leadsman::cli::{Cli, Command};
use leadsman::commands::{self, Failure};
use std::process::ExitCode;

fn main() -> ExitCode {
    let outcome = match Cli::parse().command {
        Command::Play(args) => commands::play::run(&args),
        Command::Check(args) => commands::check::run(&args),
        Command::Compare(args) => commands::compare::run(&args),
        Command::Show(args) => commands::show::run(&args),
        Command::Report(args) => commands::report::run(&args),
        Command::Demo(args) => commands::demo::run(&args),
        Command::Listen(args) => commands::listen::run(&args),
        Command::Lint(args) => commands::lint::run(&args),
        Command::New(args) => commands::new_line::run(&args),
        Command::Format(args) => commands::format::run(&args),
        Command::Ports(args) => commands::ports::run(&args),
        Command::Latency(args) => commands::latency::run(&args.command),
        Command::Export(args) => commands::export::run(&args),
        Command::Takes(args) => commands::takes::run(&args),
        Command::Sessions(args) => commands::sessions::run(&args),
        Command::Progress(args) => commands::progress::run(&args),
        Command::Logbook(args) => commands::logbook::run(&args),
        Command::Rejudge(args) => commands::rejudge::run(&args),
        Command::Import(args) => commands::import::run(&args),
    };
    match outcome {
        Ok(()) | Err(Failure::NobodyListens) => ExitCode::SUCCESS,
        Err(Failure::NotJudged(why) | Failure::Untidy(why)) => fail(&why, 1),
        Err(Failure::WrongInput(why)) => fail(&why, 2),
    }
}

fn fail(why: &str, code: u8) -> ExitCode {
    // What renders its own mistakes begins with the word already.
    let head = if why.starts_with("error") {
        ""
    } else {
        "error: "
    };
    eprintln!("{head}{}", why.trim_end());
    ExitCode::from(code)
}
