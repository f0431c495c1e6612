//! `leadsman show`: the part on the page, with or without what was played for it.

use super::excerpting::ExcerptOptions;
use super::judging::{Judged, Scope, Silence, TakeOptions, judge_take};
use super::line_file::{self, Existing};
use super::{Failure, Outcome, shared};
use crate::cli::ShowArgs;
use crate::engraving::html::{self, Head};
use crate::engraving::{Part, Sheet, Sounding, svg};
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::fingering::Fingering;
use crate::judge::Judgement;
use crate::line::Line;
use crate::line::bar_range::BarRange;
use crate::line::head_comment::head_comment;
use crate::page::text;
use crate::page::{Layout, Page, Passes, Source, heading};
use crate::report::words;
use std::fs;
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
    let shown = Shown {
        line: &played.line,
        expected: &expected,
        judgement: None,
        bars: None,
        passes: args.pass.map_or(Passes::One(1), |choice| choice.0),
    };
    page(args, &head, shown)
}

fn with_take(args: &ShowArgs, take: &Path) -> Result<String, Failure> {
    let Judged {
        played,
        speed,
        expected,
        mut judgement,
        stopped,
        ..
    } = judge_take(
        &args.line,
        take,
        &TakeOptions {
            start: args.start,
            speed: args.speed,
            excerpt: &args.excerpt,
            scope: Scope::Whole,
            silence: Silence::Refused,
            judging: &args.judging,
        },
    )?;
    if let Some(stopped) = stopped {
        let heard = shared::heard_until(stopped, &expected, &judgement);
        judgement.readings.truncate(heard);
    }
    let bars = bars(args, &played.line)?;
    let mut facts = shared::line_facts(&played, &args.line.display().to_string(), speed, &expected);
    facts.bars = bars.or(facts.bars);
    let extra = match judgement.extra.len() {
        0 => String::new(),
        1 => " · 1 note played that the line does not have".to_string(),
        more => format!(" · {more} notes played that the line does not have"),
    };
    let head = vec![
        words::line(&facts),
        heading::of_line(&played.line),
        format!(
            "take {} · ms: minus is early, plus is late{extra}",
            take.display()
        ),
    ];
    let source = Shown {
        line: &played.line,
        expected: &expected,
        judgement: Some(&judgement),
        bars,
        passes: args.pass.map_or(Passes::All, |choice| choice.0),
    };
    page(args, &head, source)
}

/// Which bars of a take are shown.
fn bars(args: &ShowArgs, line: &Line) -> Result<Option<BarRange>, Failure> {
    let ExcerptOptions { bars, section } = &args.excerpt;
    let bars = match section {
        Some(name) => Some(line.section_bars(name, *bars).map_err(Failure::input)?),
        None => *bars,
    };
    if let Some(bars) = bars {
        line.excerpt(bars).map_err(Failure::input)?;
    }
    Ok(bars)
}

/// What is shown.
struct Shown<'a> {
    line: &'a Line,
    expected: &'a Expected,
    judgement: Option<&'a Judgement>,
    bars: Option<BarRange>,
    passes: Passes,
}

fn page(args: &ShowArgs, head: &[String], shown: Shown<'_>) -> Result<String, Failure> {
    if let Passes::One(pass) = shown.passes {
        has_pass(shown.expected, pass)?;
    }
    let layout = Layout {
        width: width(),
        passes: shown.passes,
        bars: shown.bars,
        without: args.without.iter().map(|row| row.kind()).collect(),
        room: 0,
    };
    let source = Source {
        line: shown.line,
        expected: shown.expected,
        fingering: &Fingering::of(shown.expected),
        judgement: shown.judgement,
    };
    if args.html.is_some() || args.svg.is_some() {
        return engraved(args, head, source, layout);
    }
    let page = Page::of(source, &layout);
    Ok(text::draw(head, &page, layout.width, shared::charset()))
}

/// Writes the files that are asked for; nothing is left to print.
fn engraved(
    args: &ShowArgs,
    facts: &[String],
    source: Source<'_>,
    layout: Layout,
) -> Result<String, Failure> {
    let part = Part {
        passes: layout.passes,
        bars: layout.bars,
        without: layout.without,
        sounding: Sounding::Told,
    };
    let sheet = Sheet::of(source, &part);
    let comment = head_comment(&fs::read_to_string(&args.line)?);
    let head = Head {
        title: &source.line.title,
        facts: facts.get(1..).unwrap_or_default(),
        comment: &comment,
    };
    let files = [
        (&args.html, html::page as fn(&Head<'_>, &Sheet) -> String),
        (&args.svg, svg::drawing),
    ];
    let existing = Existing::forced(args.force);
    for (path, draw) in files {
        if let Some(path) = path {
            line_file::write(path, draw(&head, &sheet), existing)?;
        }
    }
    Ok(String::new())
}

fn has_pass(expected: &Expected, pass: u32) -> Outcome {
    let most = expected.bars.iter().map(|bar| bar.pass).max().unwrap_or(1);
    let has = match most {
        most if pass <= most => return Ok(()),
        1 => "nothing here is repeated".into(),
        most => format!("there are {most} at the most"),
    };
    Err(Failure::input(format!("there is no pass {pass}: {has}")))
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
