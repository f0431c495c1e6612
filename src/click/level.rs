//! How loud a sound is.

/// The peak of an accent in dB below full scale. Starts low and is capped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level(f64);

impl Level {
    /// The loudest that there is, −6 dBFS.
    pub const CAP: Level = Level(-6.0);

    /// The quietest that a player steps down to, −60 dBFS.
    pub const QUIETEST: Level = Level(-60.0);
    /// A step louder or softer, in dB: surely heard, and not much.
    const STEP: f64 = 3.0;

    /// A level in dBFS; what is above [`Level::CAP`] (or is no number) becomes the cap.
    pub fn dbfs(level: f64) -> Level {
        Level(level.min(Level::CAP.0))
    }

    /// A step of 3 dB louder, up to [`Level::CAP`]; what is below [`Level::QUIETEST`] comes up to that at least.
    pub fn louder(self) -> Level {
        Level((self.0 + Level::STEP).clamp(Level::QUIETEST.0, Level::CAP.0))
    }

    /// A step of 3 dB softer, down to [`Level::QUIETEST`]; what is below that stays.
    pub fn softer(self) -> Level {
        Level(self.0.min((self.0 - Level::STEP).max(Level::QUIETEST.0)))
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

    #[test]
    fn steps_of_3_db_end_at_the_cap_and_at_the_quietest() {
        let steps = |first: Level, step: fn(Level) -> Level| {
            let steps = std::iter::successors(Some(first), |level| Some(step(*level)));
            steps.map(Level::as_dbfs).take(16).collect::<Vec<_>>()
        };
        let up = steps(Level::default(), Level::louder);
        assert_eq!(up[..5], [-18.0, -15.0, -12.0, -9.0, -6.0]);
        assert_eq!(up[5..], [-6.0; 11]);
        let down = steps(Level::default(), Level::softer);
        assert_eq!(down[13..], [-57.0, -60.0, -60.0]);
        // Off the steps.
        assert_eq!(Level::dbfs(-7.5).louder(), Level::CAP);
        assert_eq!(Level::dbfs(-58.0).softer(), Level::QUIETEST);
        assert_eq!(Level::dbfs(-80.0).softer(), Level::dbfs(-80.0));
        assert_eq!(Level::dbfs(-80.0).louder(), Level::QUIETEST);
    }
}
