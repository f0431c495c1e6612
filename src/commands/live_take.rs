//! What `play` and `demo` share: a take from its count-in to its report.

use super::excerpting::Played;
use super::keeping::{Keeping, Kept};
use super::shared::{self, note};
use super::{Failure, Outcome, fitting};
use crate::backend::{Input, Session};
use crate::cli::TakeArgs;
use crate::click::ClickTrack;
use crate::clock::frames::time_of;
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::judge::settings::Latency;
use crate::judge::{Reading, Settings};
use crate::live::{self, Pace, Said, Stop};
use crate::played::TimedMessage;
use crate::report::bar_line::{bar_line, heading};
use crate::report::page::Printed;
use crate::report::trust::{Trust, Way};
use crate::report::{LineFacts, LineSource, StartFrom, TakeFacts, words};
use crate::take::recording::{Recording, conduct};
use crate::take::{TakeEnd, TakeHead};
use crate::units::Nanos;
use std::io::{self, Write};
use std::sync::Arc;

/// A take about to be played.
pub struct LiveTake {
    /// The line, unrolled.
    pub expected: Arc<Expected>,
    /// The click, count-in included.
    pub clicks: ClickTrack,
    /// What is said before anything else.
    preface: Option<String>,
    facts: LineFacts,
    settings: Settings,
    speed: Speed,
    count_in: u32,
    silent: Option<SilentBars>,
    /// What is said about the latency at the start.
    latency_line: Option<String>,
}

impl LiveTake {
    /// Silence before the first click: time to let go of the keyboard.
    pub const LEAD: Nanos = Nanos::from_ms(1000);

    /// Unrolls the line and lays the click out.
    pub fn new(played: &Played, file: &str, args: &TakeArgs) -> LiveTake {
        let mut expected = unroll(&played.line, args.to.speed);
        if let Some(silent) = args.to.silent {
            expected.silence(silent);
        }
        let expected = Arc::new(expected);
        LiveTake {
            clicks: ClickTrack::new(&expected, args.to.count_in, args.to.click.into()),
            facts: shared::line_facts(played, file, args.to.speed, &expected),
            settings: args.judging.over(Settings::default()),
            speed: args.to.speed,
            count_in: args.to.count_in,
            silent: args.to.silent,
            preface: None,
            latency_line: None,
            expected,
        }
    }

    /// Takes a latency that was kept for the ports, with the line that says so.
    pub fn measured(&mut self, (latency, line): (Latency, String)) {
        self.settings.latency = latency;
        self.latency_line = Some(line);
    }

    /// Says this before anything else.
    pub fn with_preface(self, preface: String) -> LiveTake {
        LiveTake {
            preface: Some(preface),
            ..self
        }
    }

    /// Says that the line comes with the program.
    pub fn of_built_in(mut self) -> LiveTake {
        self.facts.source = LineSource::BuiltIn;
        self
    }

    /// A stand-in's events, from line time to stream time.
    pub fn script(&self, events: Vec<TimedMessage>, sample_rate: u32) -> Vec<TimedMessage> {
        let origin = self.origin(sample_rate);
        events
            .into_iter()
            .map(|event| TimedMessage {
                at: event.at + origin,
                ..event
            })
            .collect()
    }

    /// Plays the take, prints it, and keeps it.
    pub fn run(
        &self,
        session: Box<dyn Session>,
        keeping: Keeping,
        pace: Pace,
        stop: Stop,
        printed: Printed,
    ) -> Outcome {
        let mut head = self.head(&*session);
        let conductor =
            conduct(&self.expected, self.count_in, &mut head).map_err(Failure::input)?;
        let length = self.origin(session.sample_rate()) + self.expected.end;
        let (keepers, kept) = keeping.begin(&conductor, &head, length)?;
        let origin = self.origin(session.sample_rate());
        let (start, way) = (head.start(), head.way());
        let recording = Recording::new(
            Arc::clone(&self.expected),
            &self.settings,
            conductor,
            origin,
            start,
        );
        // A reader of our output that has gone must not end the take: it is finished in silence.
        let mut shown = match printed {
            Printed::Text(_) => self.announce(&*session, &kept),
            Printed::Json => Ok(()),
        };
        let live = live::start(session, recording, keepers, pace, stop.clone())?;
        for said in live.said() {
            if shown.is_ok() && printed != Printed::Json {
                shown = self.say(&said);
            }
        }
        let (played, whole) = live.finish();
        let concluded = self.conclude(played, (start, way), &kept, shown.map(|()| printed));
        whole.map_err(|why| {
            Failure::NotJudged(format!("the take could not be kept whole: {why}"))
        })?;
        concluded
    }

    fn conclude(
        &self,
        played: live::Played,
        (start, way): (Nanos, Way),
        kept: &Kept,
        printed: io::Result<Printed>,
    ) -> Outcome {
        let live::Played { mut judgement, end } = played;
        let mut expected = (*self.expected).clone();
        if let Some(stopped) = end.stopped {
            shared::end_at(stopped, &mut expected, &mut judgement);
        }
        let take = TakeFacts {
            file: kept.file.as_ref().map(|file| file.display().to_string()),
            start_s: start.seconds(),
            played: judgement.played.len(),
            start_from: StartFrom::Take,
            trust: Some(Trust::new(
                Some(TakeEnd::of(&end).measured()),
                way,
                &self.settings.latency,
                &expected,
                &judgement,
            )),
        };
        let facts = LineFacts {
            notes: expected.notes.len(),
            ..self.facts.clone()
        };
        let checked = shared::check(facts, take, &expected, &judgement, &self.settings);
        // Whether or not anybody still reads what is printed.
        let entered = kept.judged(&checked);
        let printed = printed?;
        if printed != Printed::Json {
            writeln!(io::stdout())?;
        }
        shared::print(&checked, printed)?;
        fitting::say_octave(&expected, &judgement, &self.settings);
        entered.map_err(|why| {
            Failure::NotJudged(format!(
                "the take is kept, what it was judged to be is not: {why}"
            ))
        })?;
        match end.lost {
            Some(lost) => Err(Failure::NotJudged(format!(
                "{lost}; the take was kept up to there"
            ))),
            None => Ok(()),
        }
    }

    /// Bar 1 beat 1 in stream time.
    fn origin(&self, sample_rate: u32) -> Nanos {
        time_of(
            self.clicks.origin_frame(LiveTake::LEAD, sample_rate) as i64,
            sample_rate,
        )
    }

    fn head(&self, session: &dyn Session) -> TakeHead {
        TakeHead {
            line: self.facts.title.clone(),
            line_file: self.facts.file.clone(),
            speed: self.speed.0,
            start_ns: 0,
            bars: self.facts.bars,
            silent: self.silent,
            settings: self.settings,
            player: session.description(),
            has_port: session.has_port(),
            has_cable: session.has_cable(),
            begun: jiff::ZonedDateTime::now().to_string(),
        }
    }

    fn announce(&self, session: &dyn Session, kept: &Kept) -> io::Result<()> {
        let mut out = io::stdout().lock();
        let mut say = |text: &str| writeln!(out, "{}", words::wrap(text, shared::width(), "", ""));
        if let Some(preface) = &self.preface {
            say(preface)?;
            say("")?;
        }
        say(&words::line(&self.facts))?;
        say(&session.description())?;
        if let Some(line) = &self.latency_line {
            say(line)?;
        }
        let bars = if self.count_in == 1 { "bar" } else { "bars" };
        say(&format!(
            "{} {bars} counted in. Ctrl-C ends the take and keeps it.",
            self.count_in
        ))?;
        if let Some(silent) = self.silent {
            say(&format!("Then {silent}, and so on."))?;
        }
        kept.lines().try_for_each(|line| say(&line))?;
        say("Each note's offset in ms: minus is early, plus is late.")?;
        say("")
    }

    fn say(&self, said: &Said) -> io::Result<()> {
        match said {
            Said::Bar(bar, readings) => self.say_bar(*bar, readings),
            Said::CannotWrite(why) => {
                note(format!(
                    "the take cannot be written ({why}); it goes on, and is tried again"
                ));
                Ok(())
            }
            Said::Input(Input::Away, at) => {
                let place = words::place_at(&self.expected, *at);
                writeln!(io::stdout(), "  bass unplugged at {place}")
            }
            Said::Input(Input::Here, _) => writeln!(io::stdout(), "  bass is back"),
            Said::Begun(_)
            | Said::Note(..)
            | Said::Corrected(_)
            | Said::Event(_)
            | Said::Over(_)
            | Said::Lost(_) => Ok(()),
            Said::OrdinaryPriority => writeln!(
                io::stdout(),
                "Without real-time priority: on a busy machine readings show later."
            ),
        }
    }

    /// The bar's line, under a heading where a section or a pass begins.
    fn say_bar(&self, bar: usize, readings: &[Reading]) -> io::Result<()> {
        let mut out = io::stdout().lock();
        if let Some(heading) = heading(&self.expected, bar) {
            writeln!(out, "{heading}")?;
        }
        let line = bar_line(&self.expected, bar, readings, shared::width() - 2);
        line.lines().try_for_each(|line| writeln!(out, "  {line}"))
    }
}
