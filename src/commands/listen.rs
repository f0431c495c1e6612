//! `leadsman listen`: how the line should sound, over the click or into a file.

use super::room::LEAD;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::{Backend, Config, MidiChoice, Session};
use crate::cli::listen::{Bits, ListenArgs};
use crate::click::{ClickTrack, Level};
use crate::clock::frames::frame_at;
use crate::draft::Existing;
use crate::expected::{Expected, ExpectedBar, unroll};
use crate::line::Line;
use crate::live::Stop;
use crate::quiet::quietly;
use crate::report::{LineFacts, words};
use crate::tone::LineAndClick;
use crate::units::Nanos;
use crate::wav::{self, Depth, WavError};
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::Duration;

/// Between two looks at how far the sound is; a stop is at once for an ear.
const LOOK_EVERY: Duration = Duration::from_millis(2);

/// Runs the command.
pub fn run(args: &ListenArgs) -> Outcome {
    let played = args.to.excerpt.read(&args.line, None)?;
    let mut expected = unroll(&played.line, args.to.speed);
    if let Some(silent) = args.to.silent {
        expected.silence(silent);
    }
    let file = args.line.display().to_string();
    let expected = Arc::new(expected);
    let clicks = ClickTrack::new(&expected, args.to.count_in, args.to.click.into());
    let sound = |silence| {
        let level = Level::dbfs(args.level);
        LineAndClick::new(Arc::clone(&expected), clicks.clone(), silence, level)
    };
    let stop = shared::stop_on_signal()?;
    match &args.wav {
        Some(path) => write(path, sound(Nanos::ZERO), args, &stop),
        None => {
            let sheet = Sheet {
                facts: shared::line_facts(&played, &file, args.to.speed, &expected),
                line: &played.line,
                expected: &expected,
            };
            play(sound(LEAD), &sheet, args, &stop)
        }
    }
}

fn write(path: &Path, mut sound: LineAndClick, args: &ListenArgs, stop: &Stop) -> Outcome {
    let depth = match args.bits {
        Bits::Sixteen => Depth::Sixteen,
        Bits::TwentyFour => Depth::TwentyFour,
    };
    let existing = Existing::forced(args.force);
    let end = sound.end();
    let frames = frame_at(end, wav::SAMPLE_RATE).unsigned_abs();
    let written = wav::write(path, &mut sound, frames, depth, existing, || {
        stop.is_asked()
    });
    written.map_err(|error| match error {
        WavError::Stopped(_) => Failure::NotJudged(error.to_string()),
        other => Failure::input(other),
    })?;
    let (path, seconds) = (path.display(), end.seconds());
    Ok(writeln!(io::stdout(), "{path}: {seconds:.1} seconds")?)
}

fn play(sound: LineAndClick, sheet: &Sheet<'_>, args: &ListenArgs, stop: &Stop) -> Outcome {
    let config = Config {
        midi: MidiChoice::Absent,
        audio: args.audio.clone(),
        ..Config::default()
    };
    let (bar_1, end) = (sound.bar_1(), sound.end());
    let backend = Backend::from(args.backend);
    let mut session = quietly(|| backend.open(&config, Box::new(sound))).map_err(Failure::input)?;
    // A reader of our output that has gone must not end the music.
    let mut shown = sheet.announce(&*session);
    let mut bars = (0..sheet.expected.bars.len()).peekable();
    loop {
        let poll = session.poll(&mut |_| {});
        let now = poll
            .map_err(|lost| Failure::NotJudged(lost.to_string()))?
            .watermark;
        while let Some(bar) = bars.next_if(|bar| bar_1 + sheet.expected.bars[*bar].onset <= now) {
            shown = shown.and_then(|()| sheet.say_bar(bar));
        }
        if stop.is_asked() || now >= end {
            break;
        }
        thread::sleep(LOOK_EVERY);
    }
    drop(session);
    Ok(shown?)
}

/// What is printed while the line sounds.
struct Sheet<'a> {
    line: &'a Line,
    expected: &'a Expected,
    facts: LineFacts,
}

impl Sheet<'_> {
    fn announce(&self, session: &dyn Session) -> io::Result<()> {
        let mut out = io::stdout().lock();
        writeln!(out, "{}", words::line(&self.facts))?;
        writeln!(out, "{}\n", session.description())
    }

    /// The bar's number and chords, under a heading where a section or a pass begins.
    fn say_bar(&self, bar: usize) -> io::Result<()> {
        let bars = &self.expected.bars;
        let pass_of = |bar: &ExpectedBar| (bar.section, bar.pass);
        let this = &bars[bar];
        let before = bars[..bar].iter().rev();
        let into_pass = before
            .take_while(|bar| pass_of(bar) == pass_of(this))
            .count();
        let mut out = io::stdout().lock();
        if into_pass == 0 {
            let name = &self.expected.sections[usize::from(this.section)];
            writeln!(out, "{name}, pass {}", this.pass)?;
        }
        let bar = format!("  bar {:<4}{}", this.number, self.chords(this, into_pass));
        writeln!(out, "{}", bar.trim_end())
    }

    /// The names of a bar's chords as the line has them; none in a pass that is shifted, where they would be wrong.
    fn chords(&self, bar: &ExpectedBar, into_pass: usize) -> String {
        let section = self.line.sections.get(usize::from(bar.section));
        let cell = section.and_then(|section| {
            let shift = section.passes.get(bar.pass as usize - 1)?;
            let cells = section.chords.as_ref().filter(|_| *shift == 0)?;
            cells.get(into_pass)
        });
        let chords = cell.map_or(&[][..], |cell| &cell.chords);
        let names = chords.iter().map(|chord| chord.symbol.to_string());
        names.collect::<Vec<_>>().join(" ")
    }
}
