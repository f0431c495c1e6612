//! `leadsman latency tap`: open strings on the click.

use super::super::{Failure, Outcome};
use crate::backend::Session;
use crate::backend::scripted::ScriptedSession;
use crate::cli::latency::TapArgs;
use crate::click::{ClickRenderer, ClickTrack, Level, Pattern};
use crate::clock::frames::time_of;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::judge::settings::Latency;
use crate::latency::kept::Method;
use crate::latency::listen::{Next, listen};
use crate::latency::tap::{Tapped, tapped};
use crate::line::parse::parse;
use crate::live::Pace;
use crate::played::TimedMessage;
use crate::stand_in;
use crate::units::Nanos;
use std::io::{self, Write};

/// The open strings, one a bar: sixteen beats after a bar of count-in.
const LINE: &str = "title = \"Open Strings\"\nmeter = \"4/4\"\ntempo = 90\n[[section]]\nname = \"A\"\n\
                    notes = \"E1/4 E1/4 E1/4 E1/4 | A1/4 A1/4 A1/4 A1/4 | D2/4 D2/4 D2/4 D2/4 | G2/4 G2/4 G2/4 G2/4\"\n";
const COUNT_IN: u32 = 1;
const LEAD: Nanos = Nanos::from_ms(2000);
const TAIL: Nanos = Nanos::from_ms(1000);

/// Runs the command.
pub fn run(args: &TapArgs) -> Outcome {
    let path = super::file()?;
    let line = parse(LINE, "open strings")
        .map_err(|mistakes| Failure::WrongInput(mistakes.render(false)))?;
    let expected = unroll(&line, Speed::WRITTEN);
    let clicks = ClickTrack::new(&expected, COUNT_IN, Pattern::Beats);
    let renderer = ClickRenderer::new(clicks.clone(), LEAD, Level::dbfs(args.level));
    let mut session = super::open(&args.ports, args.stand_in.is_some(), Box::new(renderer))?;
    let rate = session.sample_rate();
    let origin = time_of(clicks.origin_frame(LEAD, rate) as i64, rate);
    let (mut pace, mut connected) = (Pace::RealTime, None);
    match &args.stand_in {
        Some(habits) => {
            let script = stand_in::play(&expected, habits, args.seed);
            session = Box::new(ScriptedSession::new(session, later(script, origin)));
            pace = Pace::Virtual;
        }
        None => connected = Some(super::connected(&*session)?),
    }
    let through = session.description();
    announce(&through, args)?;
    let stop = super::super::shared::stop_on_signal()?;
    let channel = args.channel.map(|channel| channel - 1);
    let end = origin + expected.end + TAIL;
    let heard = listen(&mut *session, end, channel, pace, &stop, |_| Next::Listen)
        .map_err(|lost| Failure::NotJudged(lost.to_string()))?;
    drop(session);
    let beats: Vec<Nanos> = expected
        .notes
        .iter()
        .map(|note| note.onset + origin)
        .collect();
    let tapped = tapped(&beats, beat(&expected), &heard.notes)
        .map_err(|why| Failure::NotJudged(why.to_string()))?;
    report(&tapped)?;
    match (connected, args.keep) {
        (Some(connected), true) => super::keep(
            &path,
            args.ports.backend.into(),
            (&connected, through),
            latency(&tapped),
            Method::Tapped,
        ),
        (None, _) => Ok(writeln!(
            io::stdout(),
            "Nothing is kept: a stand-in played."
        )?),
        (_, false) => Ok(writeln!(
            io::stdout(),
            "Nothing is kept; --keep keeps it, and takes your lean off every take as well."
        )?),
    }
}

fn later(events: Vec<TimedMessage>, by: Nanos) -> Vec<TimedMessage> {
    let moved = |event: TimedMessage| TimedMessage {
        at: event.at + by,
        ..event
    };
    events.into_iter().map(moved).collect()
}

fn beat(expected: &Expected) -> Nanos {
    expected
        .notes
        .first()
        .map_or(Nanos::from_ms(500), |note| note.beat)
}

fn announce(through: &str, args: &TapArgs) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if let Some(habits) = &args.stand_in {
        writeln!(
            out,
            "Invented data: a stand-in plays, in virtual time. Its habits: {habits}.\n"
        )?;
    }
    writeln!(out, "{through}")?;
    writeln!(
        out,
        "One bar is counted in. Then play an open string on every click for 16 beats: four times E, A, D and G.\n"
    )
}

fn report(tapped: &Tapped) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "{} of {} beats were played on: {:+.1} ± {:.1} ms (standard error), scattered by {:.0} ms.",
        tapped.answered, tapped.beats, tapped.sum_ms, tapped.sum_se_ms, tapped.scatter_ms
    )?;
    writeln!(
        out,
        "This is the latency and your own lean in one number, and nothing here can tell the two apart;\n\
         `leadsman latency measure` can."
    )
}

/// The sum as a latency: the same at every pitch.
fn latency(tapped: &Tapped) -> Latency {
    Latency {
        fixed: Nanos::from_ms_f64(tapped.sum_ms),
        periods: 0.0,
        fixed_se: Some(Nanos::from_ms_f64(tapped.sum_se_ms)),
        periods_se: None,
    }
}
