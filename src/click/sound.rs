//! What the click sounds like: as the player likes it, and never too loud.

use super::Level;
use super::level::gain;
use std::f64::consts::FRAC_PI_2;
use std::fmt;
use std::str::FromStr;

/// A click's sound. One that is only given a level has the middle pitch, an accent of 3 dB, both ears, no fade.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ClickSound {
    /// The peak of beat one.
    pub level: Level,
    /// By how much beat one stands out.
    pub accent: Accent,
    /// How high it is.
    pub pitch: ClickPitch,
    /// Where it is.
    pub pan: Pan,
    /// How it begins.
    pub fade: FadeIn,
}

impl From<Level> for ClickSound {
    fn from(level: Level) -> ClickSound {
        ClickSound {
            level,
            ..ClickSound::default()
        }
    }
}

/// By how much beat one stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Accent {
    /// Not at all: it sounds as every other beat.
    None,
    /// It is higher, and louder by so many dB, 0 to [`Accent::MOST`].
    Db(f64),
}

impl Accent {
    /// In dB. More, and the other beats are lost under the bass.
    pub const MOST: f64 = 24.0;

    /// What a plain click is multiplied by against an accent.
    pub fn plain_gain(self) -> f64 {
        match self {
            Accent::None => 1.0,
            Accent::Db(db) => gain(-db.clamp(0.0, Accent::MOST)),
        }
    }
}

impl Default for Accent {
    /// 3 dB.
    fn default() -> Accent {
        Accent::Db(3.0)
    }
}

/// No accent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("an accent is `none` or 0 to 24 dB, such as 3")]
pub struct NotAnAccent;

impl FromStr for Accent {
    type Err = NotAnAccent;

    fn from_str(text: &str) -> Result<Accent, NotAnAccent> {
        if text == "none" {
            return Ok(Accent::None);
        }
        let db: f64 = text.parse().map_err(|_| NotAnAccent)?;
        let is_fit = (0.0..=Accent::MOST).contains(&db);
        is_fit.then_some(Accent::Db(db)).ok_or(NotAnAccent)
    }
}

impl fmt::Display for Accent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Accent::None => f.write_str("none"),
            Accent::Db(db) => write!(f, "{db}"),
        }
    }
}

/// How high a plain click is, in Hz; an accent is a fifth higher.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClickPitch(u32);

impl ClickPitch {
    /// Soft to the ear, near the bass.
    pub const LOW: ClickPitch = ClickPitch(500);
    /// Between.
    pub const MIDDLE: ClickPitch = ClickPitch(1000);
    /// Cuts through a loud bass.
    pub const HIGH: ClickPitch = ClickPitch(2000);
    /// What can be chosen, in Hz: lower ones are taken for a note, higher ones hurt.
    pub const RANGE: std::ops::RangeInclusive<u32> = 200..=4000;

    const NAMED: [(&str, ClickPitch); 3] = [
        ("low", ClickPitch::LOW),
        ("middle", ClickPitch::MIDDLE),
        ("high", ClickPitch::HIGH),
    ];

    /// A plain click's, in Hz.
    pub fn plain_hz(self) -> f64 {
        f64::from(self.0)
    }

    /// An accent's, in Hz.
    pub fn accent_hz(self) -> f64 {
        1.5 * self.plain_hz()
    }
}

impl Default for ClickPitch {
    fn default() -> ClickPitch {
        ClickPitch::MIDDLE
    }
}

/// No pitch of a click.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a click is `low`, `middle` or `high`, or 200 to 4000 Hz, such as 800")]
pub struct NotAClickPitch;

impl FromStr for ClickPitch {
    type Err = NotAClickPitch;

    fn from_str(text: &str) -> Result<ClickPitch, NotAClickPitch> {
        let named = ClickPitch::NAMED.iter().find(|(name, _)| *name == text);
        if let Some((_, pitch)) = named {
            return Ok(*pitch);
        }
        let hz = text.strip_suffix("Hz").unwrap_or(text).trim_end();
        let hz = hz.parse().map_err(|_| NotAClickPitch)?;
        let is_fit = ClickPitch::RANGE.contains(&hz);
        is_fit.then_some(ClickPitch(hz)).ok_or(NotAClickPitch)
    }
}

impl fmt::Display for ClickPitch {
    /// `middle`, `800 Hz`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match ClickPitch::NAMED.iter().find(|(_, pitch)| pitch == self) {
            Some((name, _)) => f.write_str(name),
            None => write!(f, "{} Hz", self.0),
        }
    }
}

/// Where a sound is between the ears: −100 is left, 100 is right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pan(i8);

impl Pan {
    /// On the left only.
    pub const LEFT: Pan = Pan(-100);
    /// On both sides alike.
    pub const CENTRE: Pan = Pan(0);
    /// On the right only.
    pub const RIGHT: Pan = Pan(100);

    /// What each ear's sound is multiplied by, the left one's first. The side that the sound goes to keeps its level, so
    /// that no pan is above the cap; the other falls like a quarter of a cosine.
    pub fn gains(self) -> [f32; 2] {
        let falling = match self.0.abs() {
            0 => 1.0,
            100 => 0.0,
            share => (FRAC_PI_2 * f64::from(share) / 100.0).cos() as f32,
        };
        if self.0 < 0 {
            [1.0, falling]
        } else {
            [falling, 1.0]
        }
    }
}

/// No place between the ears.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a pan is -100 (left) to 100 (right); 0 is the middle")]
pub struct NotAPan;

impl TryFrom<i8> for Pan {
    type Error = NotAPan;

    fn try_from(pan: i8) -> Result<Pan, NotAPan> {
        (-100..=100)
            .contains(&pan)
            .then_some(Pan(pan))
            .ok_or(NotAPan)
    }
}

impl FromStr for Pan {
    type Err = NotAPan;

    fn from_str(text: &str) -> Result<Pan, NotAPan> {
        text.parse::<i8>().map_err(|_| NotAPan)?.try_into()
    }
}

impl fmt::Display for Pan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// How the click begins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum FadeIn {
    /// At its full level.
    #[default]
    None,
    /// 12 dB below it, rising evenly with the clicks of the count-in; bar 1 has the full level.
    CountIn,
}

impl FadeIn {
    /// How far below its level the first click is, in dB.
    const DEPTH: f64 = 12.0;

    /// What the click of this number is multiplied by, when so many come before bar 1.
    pub fn gain(self, click: usize, before: usize) -> f32 {
        if self == FadeIn::None || click >= before {
            return 1.0;
        }
        gain(-FadeIn::DEPTH * (1.0 - click as f64 / before as f64)) as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        for text in ["none", "0", "3", "4.5", "24"] {
            assert_eq!(
                text.parse::<Accent>().map(|a| a.to_string()),
                Ok(text.into())
            );
        }
        for text in ["low", "middle", "high", "800 Hz", "4000 Hz"] {
            assert_eq!(
                text.parse::<ClickPitch>().map(|p| p.to_string()),
                Ok(text.into())
            );
        }
        assert_eq!("1000".parse(), Ok(ClickPitch::MIDDLE));
        for text in ["-100", "0", "37", "100"] {
            assert_eq!(text.parse::<Pan>().map(|p| p.to_string()), Ok(text.into()));
        }
    }

    #[test]
    fn what_is_out_of_range_is_refused() {
        for text in ["-1", "24.1", "nan", "", "loud"] {
            assert_eq!(text.parse::<Accent>(), Err(NotAnAccent));
        }
        for text in ["199", "4001", "-800", "shrill", ""] {
            assert_eq!(text.parse::<ClickPitch>(), Err(NotAClickPitch));
        }
        for text in ["-101", "101", "1000", "left", ""] {
            assert_eq!(text.parse::<Pan>(), Err(NotAPan));
        }
    }

    #[test]
    fn no_pan_is_louder_than_the_middle_and_the_ends_have_one_ear() {
        let gains = |pan: i8| Pan::try_from(pan).expect("a pan").gains();
        assert_eq!(gains(0), [1.0, 1.0]);
        assert_eq!((gains(-100), gains(100)), ([1.0, 0.0], [0.0, 1.0]));
        for pan in 1..=100 {
            let ([near, far], [other, same]) = (gains(-pan), gains(pan));
            assert_eq!((near, far), (same, other));
            assert!(near == 1.0 && far < gains(-(pan - 1))[1]);
        }
        assert!((gains(-50)[1] - 0.707).abs() < 1e-3);
    }

    #[test]
    fn the_fade_rises_evenly_to_the_full_level_at_bar_1() {
        let db = |click| 20.0 * f64::from(FadeIn::CountIn.gain(click, 4)).log10();
        for (click, expected) in [
            (0, -12.0),
            (1, -9.0),
            (2, -6.0),
            (3, -3.0),
            (4, 0.0),
            (9, 0.0),
        ] {
            assert!((db(click) - expected).abs() < 1e-5, "click {click}");
        }
        assert_eq!(FadeIn::CountIn.gain(0, 0), 1.0);
        assert_eq!(FadeIn::None.gain(0, 4), 1.0);
    }
}
