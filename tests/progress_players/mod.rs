//! Simulated players whose progress is known: figures of takes drawn from the distributions that the notes would have.
//!
//! Shared by `tests/progress_truth.rs` (few months) and `benches/progress.rs` (the tables).
#![allow(dead_code, reason = "each user takes a part of this")]

use leadsman::line::bar_range::BarRange;
use leadsman::progress::figures::{
    FindingFigures, Group, Part, Scatter, SectionFigures, TakeFigures, VERSION,
};
use leadsman::progress::history::Entry;
use leadsman::progress::{History, Progress};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Binomial, ChiSquared, Distribution, StandardNormal};

pub const DAY_MS: i64 = 86_400_000;
const HOUR_MS: i64 = 3_600_000;

/// What a player is like.
#[derive(Clone, Copy)]
pub struct Player {
    /// Notes of a take.
    pub notes: u32,
    /// The correlation of neighbouring notes.
    pub alike: f64,
    /// What days differ by, as a share of the usual: 1 is [`DAYS`], 0 none.
    pub days: f64,
    /// The correlation of a day with the one before.
    pub days_alike: f64,
    /// Takes a session: at least, at most.
    pub takes: [usize; 2],
    /// The true spread in ms after so many takes.
    pub spread_ms: fn(f64) -> f64,
}

/// What days differ by (standard deviations): the logarithm of the spread, lean, entries and upbeats in ms, the logarithms of
/// swing and length, the logit of right notes and of findings. Takes of one day differ by half as much.
pub const DAYS: [f64; 8] = [0.10, 4.0, 5.0, 4.0, 0.05, 0.05, 0.5, 0.7];

/// Of hand-annotated bass: SD 22.5 ms, lag-1 correlation 0.25 (references).
pub const STEADY: Player = Player {
    notes: 120,
    alike: 0.25,
    days: 1.0,
    days_alike: 0.0,
    takes: [1, 5],
    spread_ms: |_| 22.5,
};

const SECTIONS: [(&str, [u32; 2]); 3] = [("A", [1, 8]), ("B", [9, 16]), ("C", [17, 24])];
const FINDINGS: [(&str, f64); 4] = [
    ("late-entries", -1.5),
    ("rushed-upbeats", 0.0),
    ("short-notes", 1.0),
    ("missed-muting", -3.0),
];

/// Draws a history of so many sessions, one a day.
pub struct Month {
    pub history: History,
    /// Takes before the middle of each session.
    pub practised: Vec<f64>,
    /// What the day did to the logarithm of the spread, by session.
    pub day_of_spread: Vec<f64>,
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    fn group(&mut self, n: u32, mean: f64, sd: f64) -> Group {
        let se = sd / f64::from(n).sqrt();
        Group {
            n,
            mean: rounded(mean + se * self.normal()),
            sd: rounded(sd),
            se: rounded(se),
        }
    }
}

impl Player {
    pub fn month(&self, sessions: usize, seed: u64) -> Month {
        let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
        let (mut entries, mut practised, mut day_of_spread) = (Vec::new(), Vec::new(), Vec::new());
        let mut day = DAYS.map(|_| draw.normal());
        for session in 0..sessions {
            let fresh = (1.0 - self.days_alike.powi(2)).sqrt();
            day = day.map(|day| self.days_alike * day + fresh * draw.normal());
            let takes = draw.0.random_range(self.takes[0]..=self.takes[1]);
            practised.push(entries.len() as f64 + takes as f64 / 2.0);
            day_of_spread.push(self.days * day[0] * DAYS[0]);
            let begun_ms = session as i64 * DAY_MS + 18 * HOUR_MS;
            for take in 0..takes {
                let differs = std::array::from_fn(|at| {
                    self.days * DAYS[at] * (day[at] + 0.5 * draw.normal())
                });
                let number = entries.len();
                entries.push(Entry {
                    take: number as i64 + 1,
                    session: session as i64 + 1,
                    session_begun_ms: begun_ms,
                    begun_ms: begun_ms + take as i64 * 300_000,
                    utc_offset_s: 0,
                    speed: 100.0,
                    bars: None,
                    figures: self.figures((self.spread_ms)(number as f64), differs, &mut draw),
                });
            }
        }
        Month {
            history: History::new(entries),
            practised,
            day_of_spread,
        }
    }

    fn figures(&self, spread_ms: f64, differs: [f64; 8], draw: &mut Draw) -> TakeFigures {
        let spread_ms = spread_ms * differs[0].exp();
        let of_section = self.notes / SECTIONS.len() as u32;
        let parts = SECTIONS.map(|_| self.part(of_section, spread_ms, differs, draw));
        let sections =
            std::iter::zip(SECTIONS, &parts).map(|((name, bars), part)| SectionFigures {
                name: name.into(),
                bars: BarRange::from(bars),
                part: part.clone(),
            });
        let findings = FINDINGS.iter().filter(|(_, logit)| {
            draw.0.random::<f64>() < 1.0 / (1.0 + (-logit - differs[7]).exp())
        });
        let finding = |(id, _): &(&str, f64)| FindingFigures {
            id: (*id).into(),
            count: 6,
            of: 12,
            hurt: 0.2,
            mean_ms: Some(20.0),
            interval_ms: Some([12.0, 28.0]),
            bars: Some(BarRange { first: 5, last: 8 }),
            speed: Some(75.0),
        };
        TakeFigures {
            v: VERSION,
            findings: findings.map(finding).collect(),
            whole: whole(&parts),
            sections: sections.collect(),
        }
    }

    fn part(&self, notes: u32, spread_ms: f64, differs: [f64; 8], draw: &mut Draw) -> Part {
        let count = f64::from(notes);
        let (r, rr) = (self.alike, self.alike * self.alike);
        // A standard deviation of notes that are alike rests on (1 − r²) / (1 + r²) of them; the moving mean takes some.
        let freedom = 0.8 * count * (1.0 - rr) / (1.0 + rr);
        let chi: f64 = ChiSquared::new(freedom)
            .expect("freedom")
            .sample(&mut draw.0);
        let sd = spread_ms * (chi / freedom).sqrt();
        let kind = (notes / 6).max(5);
        let effective = (count * (1.0 - r) / (1.0 + r)) as u32;
        let right = 1.0 / (1.0 + (-3.5 - differs[6]).exp());
        let pitch_right = Binomial::new(u64::from(notes), right).expect("a share");
        let in_time = Binomial::new(u64::from(notes), 0.8).expect("a share");
        Part {
            expected: notes,
            matched: notes,
            pitched: notes,
            pitch_right: pitch_right.sample(&mut draw.0) as u32,
            timed: notes,
            timing_in: in_time.sample(&mut draw.0) as u32,
            lean: Some(Group {
                n: notes,
                ..draw.group(effective, -5.0 + differs[1], spread_ms)
            }),
            spread: Some(Scatter {
                sd: rounded(sd),
                freedom: rounded(freedom),
                alike: r,
            }),
            entries: Some(draw.group(kind, 12.0 + differs[2], spread_ms)),
            upbeats: Some(draw.group(2 * kind, -8.0 + differs[3], spread_ms)),
            swing: Some(draw.group(kind, 0.6 + differs[4], 0.3)),
            swing_asked: Some(0.69),
            length: Some(draw.group(notes, -0.1 + differs[5], 0.25)),
            ..Part::default()
        }
    }
}

/// As figures are kept.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// Sections make the whole, so that what is said of them goes together as it does of notes.
fn whole(parts: &[Part; 3]) -> Part {
    let count = |of: fn(&Part) -> u32| parts.iter().map(of).sum::<u32>();
    let group = |of: fn(&Part) -> Option<Group>| {
        let groups: Vec<Group> = parts.iter().filter_map(of).collect();
        let share = 1.0 / groups.len() as f64;
        Some(Group {
            n: groups.iter().map(|group| group.n).sum(),
            mean: rounded(share * groups.iter().map(|group| group.mean).sum::<f64>()),
            sd: groups[0].sd,
            se: rounded(share * groups.iter().map(|g| g.se * g.se).sum::<f64>().sqrt()),
        })
    };
    let scatters = || parts.iter().filter_map(|part| part.spread);
    let freedom: f64 = scatters().map(|scatter| scatter.freedom).sum();
    let squares: f64 = scatters().map(|s| s.sd * s.sd * s.freedom).sum();
    Part {
        expected: count(|part| part.expected),
        matched: count(|part| part.matched),
        pitched: count(|part| part.pitched),
        pitch_right: count(|part| part.pitch_right),
        timed: count(|part| part.timed),
        timing_in: count(|part| part.timing_in),
        lean: group(|part| part.lean),
        spread: Some(Scatter {
            sd: rounded((squares / freedom).sqrt()),
            freedom: rounded(freedom),
            alike: 0.25,
        }),
        entries: group(|part| part.entries),
        upbeats: group(|part| part.upbeats),
        swing: group(|part| part.swing),
        swing_asked: Some(0.69),
        length: group(|part| part.length),
        ..Part::default()
    }
}

use leadsman::progress::measure::Measure;
use leadsman::progress::outcome::{Change, Told, Verdict};

/// What was said of one month.
#[derive(Clone, Copy, Default)]
pub struct Said {
    pub better_whole: bool,
    pub better_part: bool,
    pub worse_whole: bool,
    pub worse_part: bool,
    pub moved: bool,
}

impl Said {
    pub fn of(progress: &Progress) -> Said {
        let known = |told: &Told<Change>| match told {
            Told::Known(change) => Some(change.verdict),
            Told::NotYet(_) => None,
        };
        let whole: Vec<Verdict> = progress
            .measures
            .iter()
            .filter_map(|measure| known(&measure.change))
            .collect();
        let sections = progress
            .sections
            .iter()
            .flat_map(|section| &section.measures);
        let findings = progress.findings.iter().map(|finding| &finding.change);
        let parts: Vec<Verdict> = sections
            .map(|measure| &measure.change)
            .chain(findings)
            .filter_map(known)
            .collect();
        Said {
            better_whole: whole.contains(&Verdict::Better),
            better_part: parts.contains(&Verdict::Better),
            worse_whole: whole.contains(&Verdict::Worse),
            worse_part: parts.contains(&Verdict::Worse),
            moved: whole.contains(&Verdict::Moved) || parts.contains(&Verdict::Moved),
        }
    }

    pub fn better(&self) -> bool {
        self.better_whole || self.better_part
    }

    pub fn worse(&self) -> bool {
        self.worse_whole || self.worse_part
    }
}

/// What is said of the spread of the whole line.
pub fn of_spread(progress: &Progress) -> Option<Change> {
    let measure = progress
        .measures
        .iter()
        .find(|m| m.measure == Measure::Spread)?;
    match measure.change {
        Told::Known(change) => Some(change),
        Told::NotYet(_) => None,
    }
}
