//! `leadsman latency measure`: headphone on the pickup.

use super::super::{Failure, Outcome};
use crate::backend::Session;
use crate::backend::scripted::ScriptedSession;
use crate::cli::latency::MeasureArgs;
use crate::click::Level;
use crate::latency::answers::{Answers, pair};
use crate::latency::bursts::{self, BurstRenderer};
use crate::latency::kept::Method;
use crate::latency::listen::{Listened, Next, listen};
use crate::latency::{Burst, Doubt, Measurement, Schedule};
use crate::live::Pace;
use crate::report::latency::{law, on_open_strings};
use crate::stand_in::converter::{Law, Tone, answer};
use crate::units::Nanos;
use std::io::{self, Write};

/// After the last burst its answer is waited for.
const TAIL: Nanos = Nanos::from_ms(1000);

/// Runs the command.
pub fn run(args: &MeasureArgs) -> Outcome {
    let path = super::file()?;
    let schedule = Schedule::new(Schedule::LEAD, args.most as usize, args.seed);
    let level = Level::dbfs(args.level);
    let renderer = BurstRenderer::new(schedule.clone(), level);
    let mut session = super::open(&args.ports, args.stand_in.is_some(), Box::new(renderer))?;
    let bursts = schedule.on_frames(session.sample_rate());
    let (mut pace, mut connected) = (Pace::RealTime, None);
    match &args.stand_in {
        Some(law) => {
            session = with_stand_in(session, &bursts, law, args.seed);
            pace = Pace::Virtual;
        }
        None => connected = Some(super::connected(&*session)?),
    }
    announce(&*session, args.stand_in.as_ref(), level)?;
    let through = session.description();
    let (heard, shown) = hear(session, &bursts, args.channel, pace)?;
    shown?;
    let answers = pair(&bursts, &heard.notes, heard.until);
    let measured = Measurement::of(&answers);
    report(&answers, &measured, &heard)?;
    let measured = believed(measured, args.keep_anyway)?;
    match connected {
        Some(connected) => super::keep(
            &path,
            args.ports.backend.into(),
            (&connected, through),
            measured.latency(),
            Method::Measured,
        ),
        None => Ok(writeln!(
            io::stdout(),
            "Nothing is kept: a stand-in answered."
        )?),
    }
}

fn with_stand_in(
    session: Box<dyn Session>,
    bursts: &[Burst],
    law: &Law,
    seed: u64,
) -> Box<dyn Session> {
    let tones: Vec<Tone> = bursts.iter().map(tone).collect();
    Box::new(ScriptedSession::new(session, answer(&tones, law, seed)))
}

fn tone(burst: &Burst) -> Tone {
    Tone {
        at: burst.at,
        key: burst.key,
        length: bursts::LENGTH,
    }
}

fn announce(session: &dyn Session, stand_in: Option<&Law>, level: Level) -> io::Result<()> {
    let mut out = io::stdout().lock();
    if let Some(law) = stand_in {
        writeln!(
            out,
            "Invented data: a stand-in converter answers, in virtual time. Its law: {law}.\n"
        )?;
    }
    writeln!(out, "{}", session.description())?;
    writeln!(
        out,
        "TAKE THE HEADPHONES OFF YOUR EARS and lay one side flat on the pickup: in {1:.0} seconds low tone bursts start,\n\
         {0:.0} dB below full scale and loud for an ear. Let the strings be still. It takes half a minute, or up to ten\n\
         where answers scatter, until the latency is known to half a ms; Ctrl-C ends it with what there is.\n",
        -level.as_dbfs(),
        Schedule::LEAD.seconds()
    )
}

/// Listens until the law is known well enough. The second part is whether it could be shown.
fn hear(
    mut session: Box<dyn Session>,
    bursts: &[Burst],
    channel: Option<u8>,
    pace: Pace,
) -> Result<(Listened, io::Result<()>), Failure> {
    let stop = super::super::shared::stop_on_signal()?;
    let end = bursts.last().map_or(Nanos::ZERO, |burst| burst.at) + TAIL;
    let mut shown = Ok(());
    let channel = channel.map(|channel| channel - 1);
    let heard = listen(&mut *session, end, channel, pace, &stop, |heard| {
        let answers = pair(bursts, &heard.notes, heard.until);
        let measured = Measurement::of(&answers);
        shown = progress(&answers, &measured);
        let is_enough = measured.is_ok_and(|measured| measured.is_enough(answers.bursts));
        if shown.is_err() || is_enough {
            Next::Stop
        } else {
            Next::Listen
        }
    });
    let heard = heard.map_err(|lost| Failure::NotJudged(lost.to_string()))?;
    Ok((heard, shown))
}

fn progress(answers: &Answers, measured: &Result<Measurement, Doubt>) -> io::Result<()> {
    let so_far = match measured {
        Ok(measured) => law(&measured.latency()),
        Err(_) => "too few answers yet".to_string(),
    };
    writeln!(
        io::stdout(),
        "  {:>4} bursts, {:>4} answers: {so_far}",
        answers.bursts,
        answers.right.len()
    )
}

fn report(
    answers: &Answers,
    measured: &Result<Measurement, Doubt>,
    heard: &Listened,
) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "\nBursts    {} played, {} answered by their own pitch, {} without an answer, {} in another octave",
        answers.bursts,
        answers.right.len(),
        answers.dropped,
        answers.other_octave
    )?;
    writeln!(
        out,
        "Notes     {} doubled, {} that belong to no burst",
        answers.doubled, answers.stray
    )?;
    let of_key: Vec<String> = answers
        .by_key
        .iter()
        .map(|of| format!("{} {}/{}", of.key, of.answered, of.bursts))
        .collect();
    writeln!(out, "Pitches   {}", of_key.join(" · "))?;
    if answers.octave != 0 {
        writeln!(
            out,
            "The port's notes are {:+} octaves from what sounds: play with --octave {}.",
            answers.octave, -answers.octave
        )?;
    }
    if heard.counters.xruns > 0 {
        writeln!(out, "{} late audio blocks.", heard.counters.xruns)?;
    }
    let Ok(measured) = measured else {
        return Ok(());
    };
    writeln!(
        out,
        "Latency   {} (± standard errors)",
        law(&measured.latency())
    )?;
    writeln!(
        out,
        "          that is {}; answers scatter by {:.1} ms, {} of {} were set aside as too far off",
        on_open_strings(&measured.latency()),
        measured.scatter_ms,
        measured.outliers,
        measured.outliers + measured.used
    )?;
    writeln!(
        out,
        "This is output, input and converter together: what comes off a take whose click you hear over the same output."
    )
}

/// The measurement where it may be kept.
fn believed(
    measured: Result<Measurement, Doubt>,
    keep_anyway: bool,
) -> Result<Measurement, Failure> {
    let measured = measured.map_err(|doubt| Failure::NotJudged(doubt.to_string()))?;
    if measured.doubts.is_empty() {
        return Ok(measured);
    }
    let doubts: Vec<String> = measured.doubts.iter().map(ToString::to_string).collect();
    let doubts = doubts.join("; ");
    // The judge takes no negative periods.
    if keep_anyway && measured.periods >= 0.0 {
        super::super::shared::note(format!("not plausible, and taken all the same: {doubts}"));
        return Ok(measured);
    }
    let not_even = if keep_anyway {
        " (--keep-anyway keeps no fewer than 0 periods)"
    } else {
        ""
    };
    Err(Failure::NotJudged(format!(
        "the result is not plausible, and nothing is kept{not_even}: {doubts}"
    )))
}
