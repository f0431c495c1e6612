//! Mistakes in a value: meter, tempo, swing, gate, tuning, key and passes.

use super::{Explanation, either};

/// A mistake in a value.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SettingMistake {
    /// The text is not a meter.
    #[error("`{found}` is not a meter")]
    BadMeter {
        /// The text.
        found: String,
    },
    /// A tempo that no click can keep.
    #[error("a tempo of {found} quarter notes a minute is outside 20 to 400")]
    TempoOutOfRange {
        /// The number as written.
        found: String,
    },
    /// More than three decimals.
    #[error("a tempo has at most three decimals")]
    TempoTooFine {
        /// The nearest tempo that can be written.
        nearest: String,
    },
    /// The text is not a ratio.
    #[error("`{found}` is not a swing ratio")]
    BadSwing {
        /// The text.
        found: String,
    },
    /// A ratio under 1:1 or over 4:1.
    #[error("a swing ratio of {found} is outside 1:1 to 4:1")]
    SwingOutOfRange {
        /// The text.
        found: String,
        /// The ratio turned round, when that one would be in range.
        turned: Option<String>,
    },
    /// Neither eighths nor sixteenths.
    #[error("`{found}` cannot swing")]
    BadSwung {
        /// The text.
        found: String,
    },
    /// A gate of nothing or of more than the whole length.
    #[error("a gate of {found} is outside 0.001 to 1")]
    GateOutOfRange {
        /// The number as written.
        found: String,
    },
    /// More than three decimals.
    #[error("a gate has at most three decimals")]
    GateTooFine {
        /// The nearest gate that can be written.
        nearest: String,
    },
    /// A word of the tuning is not a pitch.
    #[error("the tuning has `{found}`, which is not a pitch")]
    BadOpenString {
        /// The word.
        found: String,
    },
    /// An open string outside the MIDI keys.
    #[error("an open string on {found} is outside the MIDI keys (C-1 to G9)")]
    OpenStringOutsideMidi {
        /// The pitch.
        found: String,
    },
    /// A string that is not higher than the one before it.
    #[error("the open strings are not in order: {upper} is not above {lower}")]
    TuningNotRising {
        /// The string before.
        lower: String,
        /// The string marked.
        upper: String,
    },
    /// No string, or more than eight.
    #[error("a tuning has one to eight strings, this one has {count}")]
    TuningSize {
        /// How many it has.
        count: usize,
    },
    /// The tonic is not a note name.
    #[error("`{found}` is not the tonic of a key")]
    BadTonic {
        /// The first word of the key.
        found: String,
        /// The whole key as it should be, where that can be told.
        meant: Option<String>,
    },
    /// What follows the tonic is not a scale.
    #[error("{}", if found.is_empty() { format!("the key `{tonic}` does not say which scale") } else { format!("`{found}` is not a scale") })]
    BadMode {
        /// The tonic.
        tonic: String,
        /// What follows it; empty when nothing does.
        found: String,
        /// The scale that looks most like it.
        nearest: Option<&'static str>,
    },
    /// An empty list of passes.
    #[error("`passes` is empty, so the section would never be played")]
    NoPass,
    /// A shift of more than five octaves.
    #[error("a shift of {shift} semitones is more than five octaves")]
    PassShiftTooLarge {
        /// The shift as written.
        shift: String,
    },
    /// A shift that takes a note off the fingerboard.
    #[error("shifted by {shift} semitones, {note} in bar {bar} leaves the fingerboard")]
    PassOffFingerboard {
        /// The shift, signed.
        shift: String,
        /// The first such note as written.
        note: String,
        /// Its bar.
        bar: usize,
        /// What becomes of it: "falls below E1".
        why: String,
        /// The lowest and highest shift that every note of the section can take; none when only 0 works.
        range: Option<(i32, i32)>,
    },
}

impl SettingMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use SettingMistake as M;
        match self {
            M::BadMeter { .. } => Explanation::new(
                "bad-meter",
                "not a meter",
                "write beats over value, such as \"4/4\", \"5/4\" or \"12/8\"; the value is 1, 2, 4, 8, 16 or 32, the beats are 1 to 32",
            ),
            M::TempoOutOfRange { .. } => Explanation::new(
                "tempo-out-of-range",
                "out of range",
                "tempo counts quarter notes a minute, 20 to 400; in 12/8 a dotted-quarter beat of 80 is `tempo = 120`",
            ),
            M::TempoTooFine { nearest } => Explanation::new(
                "tempo-too-fine",
                "too many decimals",
                format!("the nearest is `tempo = {nearest}`"),
            ),
            M::BadSwing { .. } => Explanation::new(
                "bad-swing",
                "not a ratio",
                "write long half to short half, such as \"2:1\" for a triplet feel or \"1.5:1\" for a lighter one",
            ),
            M::SwingOutOfRange { turned, .. } => Explanation::new(
                "swing-out-of-range",
                "out of range",
                match turned {
                    Some(turned) => format!("the long half comes first: \"{turned}\""),
                    None => "1:1 is straight, 2:1 a triplet feel, 4:1 the widest that can be written".to_owned(),
                },
            ),
            M::BadSwung { .. } => Explanation::new(
                "bad-swung",
                "not a value that swings",
                "write \"1/8\" for swung eighths or \"1/16\" for swung sixteenths",
            ),
            M::GateOutOfRange { .. } => Explanation::new(
                "gate-out-of-range",
                "out of range",
                "the gate is the share of a written length that sounds: 0.9 is usual, 1 is full length",
            ),
            M::GateTooFine { nearest } => Explanation::new(
                "gate-too-fine",
                "too many decimals",
                format!("the nearest is `gate = {nearest}`"),
            ),
            M::BadOpenString { .. } => Explanation::new(
                "bad-open-string",
                "not a pitch",
                "write the sounding pitch of each open string, lowest first, such as \"E1 A1 D2 G2\"",
            ),
            M::OpenStringOutsideMidi { .. } => Explanation::new(
                "open-string-outside-midi",
                "outside the MIDI keys",
                "a bass is usually tuned between B0 and C3; the octave number counts from C4, middle C",
            ),
            M::TuningNotRising { lower, .. } => Explanation::new(
                "tuning-not-rising",
                format!("not above {lower}"),
                "write the open strings lowest first, such as \"E1 A1 D2 G2\" or \"B0 E1 A1 D2 G2\"",
            ),
            M::TuningSize { count } => Explanation::new(
                "tuning-size",
                super::counted(*count, "string"),
                "write one to eight open strings, lowest first, such as \"E1 A1 D2 G2\"",
            ),
            M::BadTonic { meant, .. } => Explanation::new(
                "bad-tonic",
                "not a note name",
                match meant {
                    Some(meant) => format!("write \"{meant}\""),
                    None => "write a note name A to G with `#` or `b`, then the scale, such as \"Eb major\"".to_owned(),
                },
            ),
            M::BadMode { tonic, nearest, found } => Explanation::new(
                "bad-mode",
                if found.is_empty() { "no scale after the tonic" } else { "no scale of that name" },
                match nearest {
                    Some(nearest) => format!("did you mean \"{tonic} {nearest}\"?"),
                    None => format!("write {}", either(&mode_names(tonic))),
                },
            ),
            M::NoPass => Explanation::new(
                "no-pass",
                "no pass in this list",
                "write one shift in semitones a pass, such as `passes = [0, 0, 2]`, or leave `passes` out to play once as written",
            ),
            M::PassShiftTooLarge { .. } => Explanation::new(
                "pass-shift-too-large",
                "more than five octaves",
                "a shift counts semitones: 12 is an octave up, -5 a fourth down",
            ),
            M::PassOffFingerboard { why, range, .. } => Explanation::new(
                "pass-off-fingerboard",
                why.clone(),
                match range {
                    Some((low, high)) => format!("every note of this section can take shifts from {low} to {high}"),
                    None => "this section can only be played as written: a shift of 0".to_owned(),
                },
            ),
        }
    }
}

fn mode_names(tonic: &str) -> Vec<String> {
    crate::line::key_signature::Mode::NAMES
        .iter()
        .map(|(name, _)| format!("\"{tonic} {name}\""))
        .collect()
}
