//! Options that several commands share, and what they mean to the judge.

use crate::expected::tempo_map::Speed;
use crate::judge::Settings;
use crate::played::cleanup::{Rule, Rules};
use crate::units::Nanos;
use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

/// Tolerances and latency; what is not given stays as the take (or the default) has it.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Judging")]
pub struct JudgingOptions {
    /// Timing window either side, in ms [default: 30]
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = positive)]
    pub window: Option<f64>,
    /// The offset you aim for, in ms, negative ahead of the click [default: 0]
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = finite)]
    pub lean: Option<f64>,
    /// Smallest length window either side, in ms [default: 50]
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = positive)]
    pub length_window: Option<f64>,
    /// Length window either side, in percent of the expected length; the larger one holds [default: 20]
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true, value_parser = positive)]
    pub length_percent: Option<f64>,
    /// How long a note may ring into the next one or a rest, in ms [default: 30]
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = positive)]
    pub ring_window: Option<f64>,
    /// What the port adds to every note, in ms [default: 0]
    #[arg(long, value_name = "MS", allow_negative_numbers = true, value_parser = finite)]
    pub latency: Option<f64>,
    /// Periods of the string that a pitch-to-MIDI converter waits for [default: 0]
    #[arg(long, value_name = "PERIODS", allow_negative_numbers = true, value_parser = positive)]
    pub latency_periods: Option<f64>,
    /// Only this MIDI channel, 1 to 16 [default: all]
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=16))]
    pub channel: Option<u8>,
    /// Moves every played note by whole octaves, such as -1 for an instrument that sends written pitch
    #[arg(long, value_name = "OCTAVES", allow_negative_numbers = true, value_parser = clap::value_parser!(i8).range(-8..=8))]
    pub octave: Option<i8>,
    /// Leave as it came what this rule would clean up after a converter; may be given several times. `all` cleans
    /// nothing up, `none` everything
    #[arg(long, value_name = "RULE", value_parser = keep())]
    pub keep: Vec<Keep>,
}

/// What `--keep` names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// What one rule would clean up.
    One(Rule),
    /// Everything.
    All,
    /// Nothing: also where the take was played with other settings.
    Nothing,
}

impl Keep {
    fn over(self, rules: Rules) -> Rules {
        match self {
            Keep::One(rule) => rules.without(rule),
            Keep::All => Rules::NONE,
            Keep::Nothing => Rules::ALL,
        }
    }
}

fn keep() -> impl TypedValueParser<Value = Keep> {
    let rules = Rule::ALL.map(|rule| PossibleValue::new(rule.name()).help(rule.help()));
    let more = [
        PossibleValue::new("all").help("all of these: notes are judged as they came"),
        PossibleValue::new("none").help("none, also where the take was kept with some"),
    ];
    PossibleValuesParser::new(rules.into_iter().chain(more)).map(|name| match name.as_str() {
        "all" => Keep::All,
        "none" => Keep::Nothing,
        name => Rule::ALL
            .into_iter()
            .find(|rule| rule.name() == name)
            .map_or(Keep::Nothing, Keep::One),
    })
}

impl JudgingOptions {
    /// Whether the latency, or a part of it, is given here.
    pub fn gives_latency(&self) -> bool {
        self.latency.is_some() || self.latency_periods.is_some()
    }

    /// These options over the settings that hold without them.
    pub fn over(&self, mut settings: Settings) -> Settings {
        let windows = &mut settings.windows;
        set_ms(&mut windows.timing, self.window);
        set_ms(&mut windows.lean, self.lean);
        set_ms(&mut windows.length, self.length_window);
        set_ms(&mut windows.ring, self.ring_window);
        set_ms(&mut settings.latency.fixed, self.latency);
        // A number typed in comes without an error of its own.
        if self.latency.is_some() {
            settings.latency.fixed_se = None;
        }
        if let Some(percent) = self.length_percent {
            windows.length_share = percent / 100.0;
        }
        if let Some(periods) = self.latency_periods {
            settings.latency.periods = periods;
            settings.latency.periods_se = None;
        }
        if let Some(channel) = self.channel {
            settings.intake.channel = Some(channel - 1);
        }
        if let Some(octaves) = self.octave {
            settings.intake.octaves = octaves;
        }
        settings.cleanup = self
            .keep
            .iter()
            .fold(settings.cleanup, |rules, keep| keep.over(rules));
        settings
    }
}

fn set_ms(setting: &mut Nanos, ms: Option<f64>) {
    if let Some(ms) = ms {
        *setting = Nanos::from_ms_f64(ms);
    }
}

/// A number of ms that is neither infinite nor beyond a minute.
pub(crate) fn finite(text: &str) -> Result<f64, String> {
    let number: f64 = text.parse().map_err(|_| "not a number".to_string())?;
    if number.abs() <= 60_000.0 {
        Ok(number)
    } else {
        Err("must lie between -60000 and 60000".into())
    }
}

/// The same, and not negative.
pub(crate) fn positive(text: &str) -> Result<f64, String> {
    finite(text).and_then(|number| {
        if number >= 0.0 {
            Ok(number)
        } else {
            Err("must not be negative".into())
        }
    })
}

/// A speed in percent of the written tempo, 10 to 400, to a thousandth.
pub fn speed(text: &str) -> Result<Speed, String> {
    let percent: f64 = text
        .trim_end_matches('%')
        .trim()
        .parse()
        .map_err(|_| "not a number of percent".to_string())?;
    if !(10.0..=400.0).contains(&percent) {
        return Err("must lie between 10 and 400 percent".into());
    }
    Ok(Speed((percent * 1000.0).round() as u32))
}

/// Seconds into a take.
pub fn seconds(text: &str) -> Result<Nanos, String> {
    let seconds: f64 = text
        .parse()
        .map_err(|_| "not a number of seconds".to_string())?;
    if seconds.abs() <= 86_400.0 {
        Ok(Nanos::from_seconds(seconds))
    } else {
        Err("must lie within a day".into())
    }
}

/// Open strings, lowest first.
pub fn tuning(text: &str) -> Result<crate::line::tuning::Tuning, String> {
    let wrong =
        "write one to eight open strings as they sound, lowest first, such as \"E1 A1 D2 G2\"";
    crate::score::instrument::tuning(text).ok_or_else(|| wrong.to_owned())
}
