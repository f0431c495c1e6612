//! A take judged against a line: what `check`, `show` and `compare` share.

use super::excerpting::{ExcerptOptions, Played, Stretch};
use super::options::JudgingOptions;
use super::reference::Reference;
use super::{Failure, Outcome, fitting, shared};
use crate::cli::check::TakeHowArgs;
use crate::expected::Expected;
use crate::expected::tempo_map::Speed;
use crate::judge::fit;
use crate::judge::judge::judge_with_glitches;
use crate::judge::{Judgement, Settings};
use crate::played::{MidiMessage, TimedMessage};
use crate::report::trust::Trust;
use crate::report::{Checked, StartFrom, TakeFacts};
use crate::take::{Take, TakeEnd, TakeHead};
use crate::units::Nanos;
use std::path::Path;
use std::sync::Arc;

/// How takes are judged.
#[derive(Clone, Copy)]
pub struct TakeOptions<'a> {
    /// Where in a take bar 1 beat 1 falls, where that is given.
    pub start: Option<Nanos>,
    /// The speed it was played at, where that is given.
    pub speed: Option<Speed>,
    /// Which bars.
    pub excerpt: &'a ExcerptOptions,
    /// What of a take of ours is judged.
    pub scope: Scope,
    /// What becomes of one in which nobody plays.
    pub silence: Silence,
    /// Tolerances and latency.
    pub judging: &'a JudgingOptions,
}

impl<'a> TakeOptions<'a> {
    /// What is asked for on the command line.
    pub fn asked(how: &'a TakeHowArgs, silence: Silence) -> TakeOptions<'a> {
        TakeOptions {
            start: how.start,
            speed: how.speed,
            excerpt: &how.excerpt,
            scope: Scope::Asked,
            silence,
            judging: &how.judging,
        }
    }
}

/// What of a take that leadsman made is judged; one from elsewhere is of the bars asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// The bars asked for, which must have been played in one piece.
    Asked,
    /// All bars that it is of.
    Whole,
}

/// What becomes of a take of ours in which nobody plays; one from elsewhere cannot be judged then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Silence {
    /// It is refused.
    Refused,
    /// It is judged: every note is missed.
    Judged,
}

/// Takes what is odd about a take, in words.
pub type Say<'a> = &'a mut dyn FnMut(String);

/// A take judged. What it was stopped before is still in it.
pub struct Judged {
    /// What of the line was played.
    pub played: Arc<Played>,
    /// How fast.
    pub speed: Speed,
    /// With what settings.
    pub settings: Settings,
    /// What was expected.
    pub expected: Arc<Expected>,
    /// What was read.
    pub judgement: Judgement,
    /// When the take ended before its line did, in line time.
    pub stopped: Option<Nanos>,
    head: Option<TakeHead>,
    end: Option<TakeEnd>,
    start: Nanos,
    start_from: StartFrom,
}

impl Judged {
    /// What the take says about itself, if leadsman made it.
    pub fn head(&self) -> Option<&TakeHead> {
        self.head.as_ref()
    }

    /// Everything that is said of it; what it was stopped before is left out.
    pub fn checked(&mut self, line: &Path, take: &Path) -> Checked<'_> {
        if let Some(stopped) = self.stopped {
            let expected = Arc::make_mut(&mut self.expected);
            shared::end_at(stopped, expected, &mut self.judgement);
        }
        let Judged {
            expected,
            judgement,
            settings,
            ..
        } = &*self;
        let trust = self.head.as_ref().map(|head| {
            let measured = self.end.map(|end| end.measured());
            Trust::new(measured, head.way(), &settings.latency, expected, judgement)
        });
        let line = line.display().to_string();
        let line_facts = shared::line_facts(&self.played, &line, self.speed, expected);
        let take_facts = TakeFacts {
            file: Some(take.display().to_string()),
            start_s: self.start.seconds(),
            played: judgement.played.len(),
            start_from: self.start_from,
            trust,
        };
        shared::check(line_facts, take_facts, expected, judgement, settings)
    }
}

/// Reads a take and tells what was lost of it.
pub fn read_take(path: &Path, say: Say<'_>) -> Result<Take, Failure> {
    let take = Take::read(path).map_err(Failure::input)?;
    for damage in &take.damage {
        say(format!("{}: {damage}", path.display()));
    }
    Ok(take)
}

/// Reads a take and a line and judges the one against the other; says on standard error what is odd about the take.
pub fn judge_take(line: &Path, take: &Path, options: &TakeOptions<'_>) -> Result<Judged, Failure> {
    let take = read_take(take, &mut shared::note)?;
    judge(&Reference::read(line)?, take, options, &mut shared::note)
}

/// Judges a take.
pub fn judge(
    reference: &Reference,
    take: Take,
    options: &TakeOptions<'_>,
    say: Say<'_>,
) -> Result<Judged, Failure> {
    let head = take.head.as_ref();
    let whole = ExcerptOptions::default();
    let excerpt = match (options.scope, head) {
        (Scope::Whole, Some(_)) => &whole,
        _ => options.excerpt,
    };
    let bars = excerpt.bars_of(&reference.line, head.and_then(|head| head.bars))?;
    let played = reference.played(bars)?;
    let settings = options
        .judging
        .over(head.map_or_else(Settings::default, |head| head.settings));
    let speed = options
        .speed
        .or(head.map(TakeHead::speed))
        .unwrap_or(Speed::WRITTEN);
    if options.silence == Silence::Refused || head.is_none() {
        has_notes(&take.events, &settings)?;
    }
    let (expected, stretch) = match head {
        Some(head) => in_own_take(reference, options, head, &played, speed)?,
        None => (reference.expected(bars, speed, None)?, None),
    };
    let (start, start_from) = start(options, &take, stretch.as_ref(), &expected, &settings);
    let judgement = judge_from(start, &take, &expected, &settings, |event| {
        stretch.as_ref().is_none_or(|stretch| stretch.has(event))
    });
    fitting::say(
        &played.line,
        speed,
        &expected,
        &judgement,
        &take,
        &settings,
        say,
    )?;
    Ok(Judged {
        stopped: stopped(&take, start, say),
        expected,
        played,
        speed,
        settings,
        judgement,
        head: take.head,
        end: take.end,
        start,
        start_from,
    })
}

/// Judges what `belongs` of a take, from where bar 1 beat 1 falls in it.
pub fn judge_from(
    start: Nanos,
    take: &Take,
    expected: &Arc<Expected>,
    settings: &Settings,
    belongs: impl Fn(&TimedMessage) -> bool,
) -> Judgement {
    let from_bar_one = take.events.iter().map(|event| TimedMessage {
        at: event.at - start,
        ..*event
    });
    let glitches: Vec<_> = take
        .glitches
        .iter()
        .map(|glitch| glitch.map(|at| at - start))
        .collect();
    let events = from_bar_one.filter(belongs);
    judge_with_glitches(Arc::clone(expected), settings, &glitches, events)
}

/// When one of our takes ended before its line did, in line time. One that was never brought to its end goes as far as
/// its last event.
fn stopped(take: &Take, start: Nanos, say: Say<'_>) -> Option<Nanos> {
    let head = take.head.as_ref()?;
    match take.end {
        Some(end) => end
            .stopped_ns
            .map(|stopped| Nanos(stopped) + head.start() - start),
        None => {
            say(
                "the take breaks off without its end; what the line has after its last event is left out"
                    .to_string(),
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

/// The line with the bars silent that were silent in the take; where other bars are asked for than the take says it is
/// of, they are found in it, unless it is given where they start.
fn in_own_take(
    reference: &Reference,
    options: &TakeOptions<'_>,
    head: &TakeHead,
    played: &Played,
    speed: Speed,
) -> Result<(Arc<Expected>, Option<Stretch>), Failure> {
    if played.bars == head.bars || options.start.is_some() {
        let expected = reference.expected(played.bars, speed, head.silent)?;
        return Ok((expected, None));
    }
    let taken = reference.expected(head.bars, speed, head.silent)?;
    let mut expected = Expected::clone(&*reference.expected(played.bars, speed, None)?);
    let stretch = Stretch::find(&taken, &mut expected).ok_or_else(|| {
        let all = reference.line.bar_range();
        let (of, wanted) = (head.bars.unwrap_or(all), played.bars.unwrap_or(all));
        Failure::input(format!(
            "the take is of {of}, without {wanted} in one piece: leave --bars and --section out, or say with --start \
             where that begins",
        ))
    })?;
    Ok((Arc::new(expected), Some(stretch)))
}

fn start(
    options: &TakeOptions<'_>,
    take: &Take,
    stretch: Option<&Stretch>,
    expected: &Expected,
    settings: &Settings,
) -> (Nanos, StartFrom) {
    if let Some(given) = options.start {
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
