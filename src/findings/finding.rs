//! What is said of a take: one statement with its evidence.

use super::evidence::Evidence;
use super::practice::{Drill, Practice};
use serde::Serialize;

/// One statement about the playing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// Its stable name, such as `late-entries`.
    pub id: &'static str,
    /// How many notes show it.
    pub count: usize,
    /// Out of how many that could.
    pub of: usize,
    /// The mean effect in ms (negative is early, or too short), where it has one.
    pub mean_ms: Option<f64>,
    /// The 95 % interval of that mean.
    pub interval_ms: Option<[f64; 2]>,
    /// One sentence that says what was heard.
    pub text: String,
    /// One sentence that says what to practise.
    pub advice: &'static str,
    /// What to set up for it, where a part of the line shows it most.
    pub practice: Option<Practice>,
    /// Indices of the notes that show it.
    pub notes: Vec<u32>,
    /// How much it hurts: see [`Finding::hurting`].
    #[serde(skip)]
    pub hurt: f64,
}

/// No single note hurts more than this many times what can be heard: it is then simply in the wrong place, as a wrong
/// note is.
const WRONG: f64 = 8.0;

impl Finding {
    /// A statement about these notes, out of `of` that could show it.
    pub fn new(id: &'static str, notes: Vec<u32>, of: usize) -> Finding {
        Finding {
            id,
            count: notes.len(),
            of,
            mean_ms: None,
            interval_ms: None,
            text: String::new(),
            advice: "",
            practice: None,
            notes,
            hurt: 0.0,
        }
    }

    /// How large it is, in ms, with its interval where it has one.
    pub fn sized(mut self, mean_ms: f64, interval_ms: Option<[f64; 2]>) -> Finding {
        self.mean_ms = Some(mean_ms);
        self.interval_ms = interval_ms;
        self
    }

    /// What was heard, and what to do about it.
    pub fn told(mut self, text: String, advice: &'static str) -> Finding {
        self.text = text;
        self.advice = advice;
        self
    }

    /// What to set up for practice.
    pub fn drilled(mut self, evidence: &Evidence, drill: Drill) -> Finding {
        self.practice = Practice::of(evidence, &self.notes, drill);
        self
    }

    /// How much it hurts: its notes' share of all notes heard, each as many times worse than what can be heard at all.
    /// A note in the wrong place or of the wrong pitch counts as eight.
    pub fn hurting(mut self, evidence: &Evidence, times_heard: f64) -> Finding {
        let share = self.count as f64 / evidence.heard.len().max(1) as f64;
        self.hurt = share * times_heard.abs().min(WRONG);
        self
    }

    /// As much as a note of the wrong pitch.
    pub fn hurting_as_wrong(self, evidence: &Evidence) -> Finding {
        self.hurting(evidence, WRONG)
    }
}
