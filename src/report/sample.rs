//! A judged take for the tests of the report.

use super::{Checked, LineFacts, LineSource, StartFrom, TakeFacts};
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::judge::by_section::by_section;
use crate::judge::convention::convention;
use crate::judge::judge::judge;
use crate::judge::summary::summarise;
use crate::judge::{Judgement, Settings};
use crate::line::parse::parse;
use crate::stand_in::{Habits, play};
use std::sync::Arc;

/// What a report's parts point at.
pub struct Sample {
    pub expected: Expected,
    pub judgement: Judgement,
    settings: Settings,
}

impl Sample {
    /// A line with these sections, played by a stand-in with these habits.
    pub fn new(sections: &str, habits: &str) -> Sample {
        Sample::seeded(sections, habits, 1)
    }

    /// The same, of the chance with this seed.
    pub fn seeded(sections: &str, habits: &str, seed: u64) -> Sample {
        let text = format!("title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n{sections}");
        let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let settings = Settings::default();
        let habits: Habits = habits.parse().expect("habits");
        let events = play(&expected, &habits, seed);
        Sample {
            judgement: judge(Arc::clone(&expected), &settings, events.into_iter()),
            expected: (*expected).clone(),
            settings,
        }
    }

    /// The report's material, without findings.
    pub fn checked(&self) -> Checked<'_> {
        let (expected, judgement) = (&self.expected, &self.judgement);
        Checked {
            line: LineFacts {
                title: "a".into(),
                file: "line.toml".into(),
                tempo: 120.0,
                speed: 100.0,
                bars: None,
                notes: expected.notes.len(),
                source: LineSource::File,
            },
            take: TakeFacts {
                file: None,
                start_s: 0.0,
                played: judgement.played.len(),
                start_from: StartFrom::Take,
                trust: None,
            },
            expected,
            judgement,
            settings: &self.settings,
            summary: summarise(expected, judgement),
            sections: by_section(expected, judgement),
            tempi: Vec::new(),
            self_paced: None,
            lean: None,
            convention: convention(&[], &[]),
            findings: Vec::new(),
        }
    }
}
