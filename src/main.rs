//! Parse, call, print the error, exit: 0 fine, 1 the take could not be judged or a file is not in the layout, 2 wrong input.

use leadsman::cli::Command;
use leadsman::commands::{self, Failure, colour};
use leadsman::settings::given::{self, Refused};
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = match given::parse(std::env::args_os().collect()) {
        Ok(cli) => cli,
        Err(Refused::Line(said)) => said.exit(),
        Err(Refused::Unreadable(why)) => return fail(&why, 2),
        Err(Refused::Settings(mistakes)) => return fail(&mistakes.render(colour::on_stderr()), 2),
    };
    let outcome = match cli.command {
        Command::Play(args) => commands::play::run(&args, cli.settings.as_deref()),
        Command::Check(args) => commands::check::run(&args),
        Command::Compare(args) => commands::compare::run(&args),
        Command::Show(args) => commands::show::run(&args),
        Command::Report(args) => commands::report::run(&args),
        Command::Demo(args) => commands::demo::run(&args),
        Command::Listen(args) => commands::listen::run(&args),
        Command::Learn(args) => commands::learn::run(&args, cli.settings.as_deref()),
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
        Command::Settings(args) => commands::settings::run(&args, cli.settings.as_deref()),
        Command::Completions(args) => commands::completions::run(&args),
        Command::Man(args) => commands::man::run(&args),
    };
    match outcome {
        Ok(()) | Err(Failure::NobodyListens) => ExitCode::SUCCESS,
        Err(Failure::NotJudged(why) | Failure::Untidy(why)) => fail(&why, 1),
        Err(Failure::WrongInput(why)) => fail(&why, 2),
    }
}

fn fail(why: &str, code: u8) -> ExitCode {
    // What renders its own mistakes begins with the word already, maybe after a colour.
    let head = if why.starts_with("error") || why.starts_with('\u{1b}') {
        ""
    } else {
        "error: "
    };
    eprintln!("{head}{}", why.trim_end());
    ExitCode::from(code)
}
