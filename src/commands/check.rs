//! `leadsman check`: a take against a line.

use super::excerpting::{ExcerptOptions, Played, Stretch};
use super::options::JudgingOptions;
use super::shared::{self, note};
use super::{Failure, Outcome, fitting};
use crate::cli::CheckArgs;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::judge::fit;
use crate::judge::judge::judge_with_glitches;
use crate::judge::{Judgement, Settings};
use crate::played::{MidiMessage, TimedMessage};
use crate::report::trust::Trust;
use crate::report::{Checked, StartFrom, TakeFacts};
use crate::take::{Take, TakeHead};
use crate::units::Nanos;
use std::path::Path;
use std::sync::Arc;

/// Which take is judged against which line, and how.
pub struct TakeSource<'a> {
    /// The line's file.
    pub line: &'a Path,
    /// The take's file.
    pub take: &'a Path,
    /// Where in the take bar 1 beat 1 falls, where that is given.
    pub start: Option<Nanos>,
    /// The speed it was played at, where that is given.
    pub speed: Option<Speed>,
    /// Which bars.
    pub excerpt: &'a ExcerptOptions,
    /// What of a take of ours is judged.
    pub scope: Scope,
    /// Tolerances and latency.
    pub judging: &'a JudgingOptions,
}

/// What of a take that leadsman made is judged; one from elsewhere is of the bars asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// The bars asked for, which must have been played in one piece.
    Asked,
    /// All bars that it is of.
    Whole,
}

/// A take judged. What it was stopped before is still in it.
pub struct Judged {
    /// What of the line was played.
    pub played: Played,
    /// How fast.
    pub speed: Speed,
    /// With what settings.
    pub settings: Settings,
    /// What was expected.
    pub expected: Expected,
    /// What was read.
    pub judgement: Judgement,
    /// When the take ended before its line did, in line time.
    pub stopped: Option<Nanos>,
    take: Take,
    start: Nanos,
    start_from: StartFrom,
}

/// Runs the command.
pub fn run(args: &CheckArgs) -> Outcome {
    let source = TakeSource {
        line: &args.line,
        take: &args.take,
        start: args.start,
        speed: args.speed,
        excerpt: &args.excerpt,
        scope: Scope::Asked,
        judging: &args.judging,
    };
    let mut judged = judge_take(&source)?;
    judged.end();
    let checked = judged.checked(&source);
    shared::print(&checked, args.printed())
}

impl Judged {
    /// Forgets what the line has after the take was stopped.
    pub fn end(&mut self) {
        if let Some(stopped) = self.stopped {
            shared::end_at(stopped, &mut self.expected, &mut self.judgement);
        }
    }

    /// Everything that is said of it.
    pub fn checked(&self, source: &TakeSource<'_>) -> Checked<'_> {
        let (expected, judgement) = (&self.expected, &self.judgement);
        let file = source.line.display().to_string();
        let line = shared::line_facts(&self.played, &file, self.speed, expected);
        let trust = self.take.head.as_ref().map(|head| {
            let measured = self.take.end.map(|end| end.measured());
            Trust::new(
                measured,
                head.way(),
                &self.settings.latency,
                expected,
                judgement,
            )
        });
        let take = TakeFacts {
            file: Some(source.take.display().to_string()),
            start_s: self.start.seconds(),
            played: judgement.played.len(),
            start_from: self.start_from,
            trust,
        };
        shared::check(line, take, expected, judgement, &self.settings)
    }

    /// What the take says about itself, if leadsman made it.
    pub fn head(&self) -> Option<&TakeHead> {
        self.take.head.as_ref()
    }
}

/// What becomes of a take of ours in which nobody plays; one from elsewhere cannot be judged then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Silence {
    /// It is refused.
    Refused,
    /// It is judged: every note is missed.
    Judged,
}

/// Reads a take and judges it; says on standard error what is odd about it. One without notes is refused.
pub fn judge_take(args: &TakeSource<'_>) -> Result<Judged, Failure> {
    judge_played(args, Silence::Refused)
}

/// The same, with a say in what becomes of one without notes.
pub fn judge_played(args: &TakeSource<'_>, silence: Silence) -> Result<Judged, Failure> {
    let take = Take::read(args.take).map_err(Failure::input)?;
    take.damage
        .iter()
        .for_each(|damage| note(format!("{}: {damage}", args.take.display())));
    let head = take.head.as_ref();
    let whole = ExcerptOptions::default();
    let excerpt = match (args.scope, head) {
        (Scope::Whole, Some(_)) => &whole,
        _ => args.excerpt,
    };
    let played = excerpt.read(args.line, head.and_then(|head| head.bars))?;
    let line = &played.line;
    let settings = args
        .judging
        .over(head.map_or_else(Settings::default, |head| head.settings));
    let speed = args
        .speed
        .or(head.map(|head| head.speed()))
        .unwrap_or(Speed::WRITTEN);
    if silence == Silence::Refused || head.is_none() {
        has_notes(&take.events, &settings)?;
    }
    let mut expected = unroll(line, speed);
    let stretch = match head {
        Some(head) => in_own_take(args, head, &played, speed, &mut expected)?,
        None => None,
    };
    let expected = Arc::new(expected);
    let (start, start_from) = start(args, &take, stretch.as_ref(), &expected, &settings);
    let from_bar_one = take.events.iter().map(|event| TimedMessage {
        at: event.at - start,
        ..*event
    });
    let from_bar_one =
        from_bar_one.filter(|event| stretch.as_ref().is_none_or(|stretch| stretch.has(event)));
    let glitches: Vec<_> = take
        .glitches
        .iter()
        .map(|glitch| glitch.map(|at| at - start))
        .collect();
    let judgement = judge_with_glitches(Arc::clone(&expected), &settings, &glitches, from_bar_one);
    fitting::say(line, speed, &expected, &judgement, &take, &settings)?;
    Ok(Judged {
        stopped: stopped(&take, start),
        expected: Arc::unwrap_or_clone(expected),
        played,
        speed,
        settings,
        judgement,
        take,
        start,
        start_from,
    })
}

/// When one of our takes ended before its line did, in line time. One that was never brought to its end goes as far as
/// its last event.
fn stopped(take: &Take, start: Nanos) -> Option<Nanos> {
    let head = take.head.as_ref()?;
    match take.end {
        Some(end) => end
            .stopped_ns
            .map(|stopped| Nanos(stopped) + head.start() - start),
        None => {
            note(
                "the take breaks off without its end; what the line has after its last event is left out",
            );
            take.events.last().map(|event| event.at - start)
        }
    }
}

fn has_notes(events: &[TimedMessage], settings: &Settings) -> Outcome {
    let is_note = |event: &TimedMessage| matches!(event.message, MidiMessage::NoteOn { .. });
    if events
        .iter()
        .filter_map(|event| settings.intake.admit(*event))
        .any(|event| is_note(&event))
    {
        return Ok(());
    }
    let mut channels: Vec<u8> = events.iter().filter_map(channel_of_note).collect();
    channels.sort_unstable();
    channels.dedup();
    let why = match (settings.intake.channel, channels.as_slice()) {
        (_, []) => "the take has no notes in it".to_string(),
        (Some(wanted), found) => {
            let found: Vec<String> = found
                .iter()
                .map(|channel| (channel + 1).to_string())
                .collect();
            format!(
                "the take has no notes on channel {}; it has some on {}",
                wanted + 1,
                found.join(", ")
            )
        }
        (None, _) => "--octave moves every note of the take off the MIDI keys".to_string(),
    };
    Err(Failure::NotJudged(why))
}

fn channel_of_note(event: &TimedMessage) -> Option<u8> {
    match event.message {
        MidiMessage::NoteOn { channel, .. } => Some(channel),
        _ => None,
    }
}

/// Has the bars silent that were silent in the take; where other bars are asked for than the take says it is of, they
/// are found in it, unless it is given where they start.
fn in_own_take(
    args: &TakeSource<'_>,
    head: &TakeHead,
    played: &Played,
    speed: Speed,
    expected: &mut Expected,
) -> Result<Option<Stretch>, Failure> {
    if played.bars == head.bars || args.start.is_some() {
        if let Some(silent) = head.silent {
            expected.silence(silent);
        }
        return Ok(None);
    }
    let whole = ExcerptOptions::default().read(args.line, head.bars)?;
    let mut taken = unroll(&whole.line, speed);
    if let Some(silent) = head.silent {
        taken.silence(silent);
    }
    let wanted = played.bars.unwrap_or(whole.line.bar_range());
    Stretch::find(&taken, expected).map(Some).ok_or_else(|| {
        let of = head.bars.unwrap_or(whole.line.bar_range());
        Failure::input(format!(
            "the take is of {of}, without {wanted} in one piece: leave --bars and --section out, or say with --start \
             where that begins",
        ))
    })
}

fn start(
    args: &TakeSource<'_>,
    take: &Take,
    stretch: Option<&Stretch>,
    expected: &Expected,
    settings: &Settings,
) -> (Nanos, StartFrom) {
    if let Some(given) = args.start {
        return (given, StartFrom::Given);
    }
    if let Some(head) = &take.head {
        let into = stretch.map_or(Nanos::ZERO, |stretch| stretch.start);
        return (head.start() + into, StartFrom::Take);
    }
    let Some(estimated) = fit::estimate(expected, &take.events, settings) else {
        // Nothing in common with the line as it stands: judged from the start of the file, and told why below.
        return (Nanos::ZERO, StartFrom::Notes);
    };
    let first = expected.tempo_map.changes().next();
    let snapped =
        first.and_then(|(_, _, rate)| take.grid.snap(estimated.at, rate.quarters_per_minute()));
    match snapped {
        Some(beat) => (beat, StartFrom::FileGrid),
        None => (estimated.at, StartFrom::Notes),
    }
}
