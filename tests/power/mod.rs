//! A simulated player with known habits, heard by the findings: how often each habit is found, and what else is told.
//!
//! Shared by `tests/findings_power.rs` (few takes) and `benches/findings.rs` (the whole table).

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::{Finding, find};
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::line::parse::parse;
use leadsman::stand_in::{Habits, play};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A line of one or more sections; all of it is played as often as it takes to have notes enough.
pub struct Line {
    head: &'static str,
    /// What stands in each section but its name and passes.
    sections: &'static [&'static str],
    /// The shifts of the passes, from the first again where more are needed.
    shifts: &'static [i8],
}

/// Strings, strokes and fingers are written; up strokes and upbeats are different notes.
pub const LAYERED: Line = Line {
    head: "meter = \"4/4\"\ntempo = 112\nkey = \"D minor\"",
    sections: &["chords = \"Dm7 | Dm7 | Gm7 | Am7\"
notes = \"A1@E/8 C2@A/8 D2@A/8 E2@A/8 r/8 D2@A/8 C2@A/8 A1@E/8 | F2@D/4 A2@G/8 F2@D/8 D2@A/4 r/8 A1@E/8 | G2@D/8 G2@D/8 r/4 Bb1@A/8 F2@A/8 G2@D/4 | r/8 E2@A/8 A1@A/4 C2@A/8 E2@D/8 G2@G/8 A2@G/8\"
strokes = \"d d u d u u d | u d u d u | d u u d u | u d d u u d\"
fingers = \"3 1 3 4 3 1 3 | 2 1 2 4 4 | 3 3 1 4 1 | 3 0 2 1 0 1\""],
    shifts: &[0],
};

/// Swung pairs, entries on and off the beat, skips.
pub const SWUNG: Line = Line {
    head: "meter = \"4/4\"\ntempo = 126\nswing = \"2:1\"\nkey = \"D minor\"",
    sections: &[
        "notes = \"D2/8 A2/8' D2/4 r/8 F2/8 A2/8 C2/8' | r/8 G2/8 C2/8 D2/8' E2/8 G2/8 A2/4 | D2/8 F2/8' C2/8 A1/8' r/8 F2/8 D2/8 C2/8' | A1/4 E2/8 G2/8' r/4 A2/4\"",
    ],
    shifts: &[0],
};

/// No layers; passes that move up a tone and down again; muted notes.
pub const MOVED: Line = Line {
    head: "meter = \"4/4\"\ntempo = 104\nkey = \"D dorian\"",
    sections: &[
        "notes = \"E1/8m E1/8m r/8 G1/8 A1/8 E2/8 r/4 | D2/4 r/8 D2/8m A1/8 C2/8 E2/4 | r/4 E1/8m B1/8 E2/8m D2/8 B1/4 | A1/8 A2/8 r/8 A1/8m G1/8 G2/8 r/4\"",
    ],
    shifts: &[0, 2],
};

/// Four sections, each in its own tempo.
pub const TEMPI: Line = Line {
    head: "meter = \"4/4\"\ntempo = 100\nkey = \"G major\"",
    sections: &[
        "tempo = 100\nnotes = \"G1/8 G1/8 r/8 G1/8 B1/4 D2/8 B1/8 | C2/8 C2/8 r/8 C2/8 E2/4 C2/8 D2/8 | D2/8 D2/8 r/8 D2/8 B1/8 A1/8 G1/4 | A1/8 A1/8 r/8 A1/8 C2/8 E2/8 D2/4\"",
        "tempo = 102\nnotes = \"E1/8 E1/8 r/8 E1/8 G1/4 B1/8 G1/8 | A1/8 A1/8 r/8 A1/8 C2/4 E2/8 C2/8 | B1/8 B1/8 r/8 B1/8 D2/8 F#2/8 D2/4 | C2/8 C2/8 r/8 C2/8 A1/8 F#1/8 G1/4\"",
        "tempo = 106\nnotes = \"G1/8 B1/8 r/8 D2/8 G2/4 D2/8 B1/8 | C2/8 E2/8 r/8 G2/8 E2/4 C2/8 D2/8 | D2/8 F#2/8 r/8 A2/8 D2/8 A1/8 G1/4 | A1/8 C2/8 r/8 E2/8 C2/8 A1/8 D2/4\"",
        "tempo = 103\nnotes = \"E2/8 D2/8 r/8 B1/8 G1/4 B1/8 G1/8 | C2/8 A1/8 r/8 A1/8 C2/4 E2/8 C2/8 | B1/8 F#1/8 r/8 B1/8 D2/8 F#2/8 D2/4 | C2/8 G1/8 r/8 C2/8 A1/8 F#1/8 G1/4\"",
    ],
    shifts: &[0],
};

/// A slow three-four, with few notes.
pub const SLOW: Line = Line {
    head: "meter = \"3/4\"\ntempo = 72\nkey = \"A minor\"",
    sections: &[
        "notes = \"D2/4 r/8 A2/8 F2/4 | C2/8 E2/8 G2/4 r/4 | A1/4. E2/8 r/8 C2/8 | D2/4 A1/8 D2/8 r/4\"",
    ],
    shifts: &[0],
};

/// Sixteenths.
pub const QUICK: Line = Line {
    head: "meter = \"4/4\"\ntempo = 92\nkey = \"E minor\"",
    sections: &[
        "notes = \"E1/16 E1/16 r/8 G1/16 A1/16 E2/8 r/8 D2/16 D2/16 A1/4 | r/8 A1/8 E2/16 E1/16 G1/8 r/4 B1/8 E2/8\"",
    ],
    shifts: &[0],
};

/// The line unrolled, with at least so many notes.
pub fn expected(line: &Line, notes: usize) -> Arc<Expected> {
    let of = |times: usize| {
        let passes: Vec<String> = line
            .shifts
            .iter()
            .cycle()
            .take(times)
            .map(i8::to_string)
            .collect();
        let passes = passes.join(", ");
        // Sections cannot be repeated as a whole: they are written out.
        let sections: String = if line.sections.len() == 1 {
            format!(
                "[[section]]\nname = \"A\"\npasses = [{passes}]\n{}\n",
                line.sections[0]
            )
        } else {
            let section = |number: usize| {
                format!(
                    "[[section]]\nname = \"S{number}\"\n{}\n",
                    line.sections[number % line.sections.len()]
                )
            };
            (0..times).map(section).collect()
        };
        let text = format!("title = \"Power\"\n{}\n{sections}", line.head);
        let line = parse(&text, "line.toml")
            .unwrap_or_else(|mistakes| panic!("{}", mistakes.render(false)));
        unroll(&line, Speed::WRITTEN)
    };
    let (mut times, mut expected) = (1, of(1));
    while expected.notes.len() < notes {
        times = (times + 1).max(times * notes / expected.notes.len().max(1));
        expected = of(times);
    }
    Arc::new(expected)
}

/// What is said of one take.
pub fn findings(expected: &Arc<Expected>, habits: &Habits, seed: u64) -> Vec<Finding> {
    let settings = Settings::default();
    let played = play(expected, habits, seed).into_iter();
    let judgement = judge(Arc::clone(expected), &settings, played);
    find(&Evidence::new(expected, &judgement, &settings.windows))
}

/// How often something was told in a number of takes.
#[derive(Clone, Debug, Default)]
pub struct Rates {
    /// Takes played.
    pub takes: usize,
    /// Takes with any finding.
    pub any: usize,
    /// Takes with each finding.
    pub told: BTreeMap<&'static str, usize>,
    /// Intervals given for each finding, and those that held the truth.
    pub intervals: BTreeMap<&'static str, (usize, usize)>,
}

impl Rates {
    /// Share of the takes that have a finding, in percent.
    pub fn percent(&self, id: &str) -> f64 {
        percent(self.told.get(id).copied().unwrap_or(0), self.takes)
    }

    /// Adds other takes.
    pub fn add(&mut self, other: &Rates) {
        self.takes += other.takes;
        self.any += other.any;
        for (id, count) in &other.told {
            *self.told.entry(id).or_default() += count;
        }
        for (id, (of, held)) in &other.intervals {
            let sum = self.intervals.entry(id).or_default();
            *sum = (sum.0 + of, sum.1 + held);
        }
    }
}

/// A share in percent; 0 of nothing.
pub fn percent(count: usize, of: usize) -> f64 {
    100.0 * count as f64 / of.max(1) as f64
}

/// Takes of one line by one player. `truth_ms` is what the intervals should hold.
pub fn rates(expected: &Arc<Expected>, habits: &str, takes: usize, truth_ms: Option<f64>) -> Rates {
    let habits: Habits = habits.parse().unwrap_or_else(|error| panic!("{error}"));
    let mut rates = Rates {
        takes,
        ..Rates::default()
    };
    for seed in 0..takes {
        let findings = findings(expected, &habits, seed as u64);
        rates.any += usize::from(!findings.is_empty());
        for finding in findings {
            *rates.told.entry(finding.id).or_default() += 1;
            if let (Some([low, high]), Some(truth)) = (finding.interval_ms, truth_ms) {
                let sum = rates.intervals.entry(finding.id).or_default();
                let held = (low..=high).contains(&truth);
                *sum = (sum.0 + 1, sum.1 + usize::from(held));
            }
        }
    }
    rates
}

/// A habit of the stand-in and what it should be told as.
pub struct Case {
    /// What should be told: any of these.
    pub ids: &'static [&'static str],
    /// The line that shows it.
    pub line: &'static Line,
    /// The habit, with `{}` for its size.
    pub habit: &'static str,
    /// Sizes from nothing to gross.
    pub sizes: &'static [f64],
    /// Whether the size is the truth that the interval of `mean_ms` should hold.
    pub size_is_ms: bool,
}

const fn in_ms(
    ids: &'static [&'static str],
    line: &'static Line,
    habit: &'static str,
    sizes: &'static [f64],
) -> Case {
    Case {
        ids,
        line,
        habit,
        sizes,
        size_is_ms: true,
    }
}

const fn other(
    ids: &'static [&'static str],
    line: &'static Line,
    habit: &'static str,
    sizes: &'static [f64],
) -> Case {
    Case {
        ids,
        line,
        habit,
        sizes,
        size_is_ms: false,
    }
}

const MS: &[f64] = &[0.0, 10.0, 20.0, 30.0, 45.0, 80.0];
/// Half a sixteenth of the line is 81 ms: beyond that it is the next note.
const SIXTEENTHS_MS: &[f64] = &[0.0, 10.0, 20.0, 30.0, 45.0, 60.0];
const EARLY_MS: &[f64] = &[0.0, -10.0, -20.0, -30.0, -45.0, -80.0];
const SHARES: &[f64] = &[0.0, 0.02, 0.05, 0.1, 0.2];

/// One case for each habit.
pub const CASES: &[Case] = &[
    in_ms(&["late-entries"], &LAYERED, "late-entries-ms={}", MS),
    in_ms(&["early-entries"], &SLOW, "late-entries-ms={}", EARLY_MS),
    in_ms(&["rushed-upbeats"], &LAYERED, "upbeats-ms={}", EARLY_MS),
    in_ms(&["dragged-upbeats"], &QUICK, "upbeats-ms={}", SIXTEENTHS_MS),
    other(
        &["swing-flat"],
        &SWUNG,
        "swing-factor={}",
        &[1.0, 0.9, 0.8, 0.7, 0.6, 0.5],
    ),
    other(
        &["swing-wide"],
        &SWUNG,
        "swing-factor={}",
        &[1.0, 1.1, 1.25, 1.5, 1.75, 2.0],
    ),
    other(
        &["rushing"],
        &LAYERED,
        "drift-percent={}",
        &[0.0, 0.05, 0.1, 0.2, 0.4, 0.8],
    ),
    other(
        &["dragging"],
        &SWUNG,
        "drift-percent={}",
        &[0.0, -0.05, -0.1, -0.2, -0.4, -0.8],
    ),
    other(
        &["rushing", "dragging"],
        &TEMPI,
        "old-tempo-beats={}",
        &[0.0, 2.0, 4.0, 6.0, 8.0],
    ),
    other(
        &["off-by-beats"],
        &LAYERED,
        "late-phrase-beats={}",
        &[0.0, 0.5, 1.0, -1.0, 2.0],
    ),
    other(&["off-by-beats"], &LAYERED, "skipped-bar={}", &[0.0, 1.0]),
    other(&["off-by-beats"], &LAYERED, "repeated-bar={}", &[0.0, 1.0]),
    other(
        &["missed-muting"],
        &LAYERED,
        "ring-over-ms={}",
        &[0.0, 40.0, 60.0, 90.0, 150.0],
    ),
    other(
        &["missed-muting"],
        &SLOW,
        "rests-ring-ms={}",
        &[0.0, 40.0, 60.0, 90.0, 150.0],
    ),
    other(
        &["missed-muting"],
        &MOVED,
        "mutes-open-ms={}",
        &[0.0, 40.0, 80.0, 120.0, 200.0],
    ),
    other(
        &["short-notes"],
        &LAYERED,
        "short-notes={}",
        &[1.0, 0.85, 0.7, 0.6, 0.5, 0.3],
    ),
    other(&["octave-slips"], &LAYERED, "octave-slips={}", SHARES),
    other(&["neighbour-frets"], &LAYERED, "wrong-frets={}", SHARES),
    other(&["wrong-string"], &LAYERED, "next-string={}", SHARES),
    other(
        &["wrong-degree"],
        &LAYERED,
        "raised-sevenths={}",
        &[0.0, 1.0],
    ),
    other(&["wrong-degree"], &LAYERED, "major-thirds={}", &[0.0, 1.0]),
    other(&["shifts"], &MOVED, "old-key={}", &[0.0, 1.0]),
    in_ms(&["uneven-strokes"], &LAYERED, "up-strokes-ms={}", EARLY_MS),
    other(
        &["uneven-strokes"],
        &LAYERED,
        "up-strokes-velocity={}",
        &[0.0, -10.0, -20.0, -30.0],
    ),
    in_ms(&["string-crossings"], &LAYERED, "crossings-ms={}", MS),
    in_ms(&["shifts"], &LAYERED, "shifts-ms={}", MS),
    other(
        &["unsteady"],
        &LAYERED,
        "rough-bars-ms={}",
        &[0.0, 15.0, 30.0, 45.0, 60.0],
    ),
];

impl Case {
    /// The habit at a size, for a player with this spread and correlation.
    pub fn habits(&self, size: f64, spread_ms: f64, correlation: f64) -> String {
        let habit = self.habit.replace("{}", &size.to_string());
        format!("spread-ms={spread_ms},correlation={correlation},velocity-spread=8,{habit}")
    }

    /// Takes of this case.
    pub fn rates(
        &self,
        size: f64,
        notes: usize,
        spread_ms: f64,
        correlation: f64,
        takes: usize,
    ) -> Rates {
        let habits = self.habits(size, spread_ms, correlation);
        let truth = self.size_is_ms.then_some(size);
        rates(&expected(self.line, notes), &habits, takes, truth)
    }

    /// Share of the takes in which it is told as what it is, in percent.
    pub fn found_percent(&self, rates: &Rates) -> f64 {
        self.ids
            .iter()
            .map(|id| rates.percent(id))
            .fold(0.0, f64::max)
    }

    /// The largest share of takes in which it is told as something else, in percent, with that other finding.
    pub fn mistaken(&self, rates: &Rates) -> Option<(&'static str, f64)> {
        let others = rates.told.keys().filter(|id| !self.ids.contains(id));
        others
            .map(|id| (*id, rates.percent(id)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }
}
