//! `leadsman show`: the part on the page, with or without what was played for it.

use super::check::{self, Judged, TakeSource};
use super::{Failure, Outcome, shared};
use crate::cli::{PassChoice, ShowArgs};
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::fingering::Fingering;
use crate::judge::Judgement;
use crate::line::Line;
use crate::page::text::{self, Charset};
use crate::page::{Layout, Page, Passes, Source, heading};
use crate::report::words;
use std::io::{self, IsTerminal, Write};
use std::path::Path;

/// Characters in a row where there is no terminal.
const WIDTH: usize = 80;

/// Runs the command.
pub fn run(args: &ShowArgs) -> Outcome {
    let shown = match &args.take {
        Some(take) => with_take(args, take)?,
        None => alone(args)?,
    };
    let mut out = io::stdout().lock();
    out.write_all(shown.as_bytes())?;
    out.flush()?;
    Ok(())
}

fn alone(args: &ShowArgs) -> Result<String, Failure> {
    let played = args.excerpt.read(&args.line, None)?;
    let speed = args.speed.unwrap_or(Speed::WRITTEN);
    let expected = unroll(&played.line, speed);
    let facts = shared::line_facts(&played, &args.line.display().to_string(), speed, &expected);
    let head = vec![words::line(&facts), heading::of_line(&played.line)];
    let passes = args.pass.unwrap_or(PassChoice(Passes::One(1)));
    page(args, head, &played.line, &expected, None, passes)
}

fn with_take(args: &ShowArgs, take: &Path) -> Result<String, Failure> {
    let Judged {
        played,
        speed,
        expected,
        mut judgement,
        stopped,
        ..
    } = check::judge_take(&TakeSource {
        line: &args.line,
        take,
        start: args.start,
        speed: args.speed,
        excerpt: &args.excerpt,
        judging: &args.judging,
    })?;
    if let Some(stopped) = stopped {
        let heard = shared::heard_until(stopped, &expected, &judgement);
        judgement.readings.truncate(heard);
    }
    let facts = shared::line_facts(&played, &args.line.display().to_string(), speed, &expected);
    let extra = match judgement.extra.len() {
        0 => String::new(),
        1 => " · 1 note more was played than the line has".to_string(),
        more => format!(" · {more} notes more were played than the line has"),
    };
    let head = vec![
        words::line(&facts),
        heading::of_line(&played.line),
        format!(
            "take {} · ms: minus is early, plus is late{extra}",
            take.display()
        ),
    ];
    let passes = args.pass.unwrap_or(PassChoice(Passes::All));
    page(
        args,
        head,
        &played.line,
        &expected,
        Some(&judgement),
        passes,
    )
}

fn page(
    args: &ShowArgs,
    head: Vec<String>,
    line: &Line,
    expected: &Expected,
    judgement: Option<&Judgement>,
    PassChoice(passes): PassChoice,
) -> Result<String, Failure> {
    if let Passes::One(pass) = passes {
        let most = expected.bars.iter().map(|bar| bar.pass).max().unwrap_or(1);
        if pass > most {
            let has = if most == 1 {
                "one pass".into()
            } else {
                format!("{most} passes")
            };
            return Err(Failure::input(format!(
                "there is no pass {pass}: the line has {has} at the most"
            )));
        }
    }
    let layout = Layout {
        width: width(),
        passes,
        without: args.without.iter().map(|row| row.kind()).collect(),
    };
    let fingering = Fingering::of(expected);
    let source = Source {
        line,
        expected,
        fingering: &fingering,
        judgement,
    };
    let page = Page::of(source, &layout);
    Ok(text::draw(&head, &page, layout.width, charset()))
}

/// The terminal's width.
fn width() -> usize {
    let terminal = io::stdout()
        .is_terminal()
        .then(terminal_size::terminal_size)
        .flatten();
    let width = terminal.map_or(WIDTH, |(width, _)| usize::from(width.0));
    width.max(Page::NARROWEST)
}

/// What the locale says (POSIX: the first of these that is set and not empty).
fn charset() -> Charset {
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
