//! Takes as `play` keeps them, by a stand-in with a seed of its own.

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::judge::Settings;
use leadsman::line::bar_range::BarRange;
use leadsman::line::parse::parse;
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::TimedMessage;
use leadsman::stand_in::play;
use leadsman::take::recording::conduct;
use leadsman::take::{END_TAG, TakeEnd, TakeHead};
use leadsman::units::Nanos;
use std::path::Path;

/// Who plays what, and how it ends.
#[derive(Clone, Copy)]
pub struct Playing<'a> {
    pub line: &'a str,
    pub habits: &'a str,
    pub seed: u64,
    pub speed_pct: u32,
    pub bars: Option<[u32; 2]>,
    /// In ms since bar 1 beat 1.
    pub stopped_ms: Option<i64>,
}

impl<'a> Playing<'a> {
    pub fn of(line: &'a str, habits: &'a str, seed: u64) -> Playing<'a> {
        Playing {
            line,
            habits,
            seed,
            speed_pct: 100,
            bars: None,
            stopped_ms: None,
        }
    }

    pub fn write(&self, path: &Path) {
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        let whole = parse(self.line, "line.toml").unwrap_or_else(|mistakes| panic!("{mistakes}"));
        let bars = self.bars.map(BarRange::from);
        let line = match bars {
            Some(bars) => whole.excerpt(bars).expect("bars of the line"),
            None => whole,
        };
        let speed = Speed(1000 * self.speed_pct);
        let expected = unroll(&line, speed);
        let stopped = self.stopped_ms.map(Nanos::from_ms);
        let mut events = play(&expected, &self.habits.parse().expect("habits"), self.seed);
        events.retain(|event| stopped.is_none_or(|stopped| event.at < stopped));
        let mut head = TakeHead {
            line: line.title.clone(),
            line_file: "line.toml".into(),
            speed: speed.0,
            start_ns: 0,
            bars,
            silent: None,
            settings: Settings::default(),
            player: "a stand-in".into(),
            has_port: false,
            has_cable: false,
            begun: "2026-01-01T00:00:00Z".into(),
        };
        let conductor = conduct(&expected, 1, &mut head).expect("a tempo map");
        let mut writer = TakeWriter::create(path, &conductor).expect("a new file");
        let from_start = |at: Nanos| at + Nanos(head.start_ns);
        for event in &events {
            writer.push(TimedMessage {
                at: from_start(event.at),
                ..*event
            });
        }
        let end = TakeEnd {
            stopped_ns: stopped.map(|stopped| stopped.0),
            ..TakeEnd::default()
        };
        let end = serde_json::to_string(&end).expect("plain numbers");
        let last = events.last().map_or(Nanos::ZERO, |event| event.at);
        writer
            .push_text(from_start(last), END_TAG, &end)
            .expect("a short text");
        writer.flush().expect("room on the disk");
    }
}
