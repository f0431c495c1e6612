//! How loud a sound is.

/// The peak of an accent in dB below full scale. Starts low and is capped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level(f64);

impl Level {
    /// The loudest that there is, −6 dBFS.
    pub const CAP: Level = Level(-6.0);

    /// A level in dBFS; what is above [`Level::CAP`] (or is no number) becomes the cap.
    pub fn dbfs(level: f64) -> Level {
        Level(level.min(Level::CAP.0))
    }

    /// The level in dBFS.
    pub fn as_dbfs(self) -> f64 {
        self.0
    }

    /// The peak, at most 0.501.
    pub fn peak(self) -> f64 {
        gain(self.0)
    }
}

/// What a sound is multiplied by to be so many dB louder: 10^(dB / 20).
pub(super) fn gain(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

impl Default for Level {
    /// −18 dBFS.
    fn default() -> Level {
        Level(-18.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_above_the_cap_is_the_cap() {
        assert_eq!(Level::dbfs(3.0), Level::CAP);
        assert_eq!(Level::dbfs(f64::NAN), Level::CAP);
        assert_eq!(Level::dbfs(-30.0).as_dbfs(), -30.0);
    }
}
