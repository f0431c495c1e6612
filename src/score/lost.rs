//! What could not be carried over, and where it stood.

use crate::line::meter::Meter;
use crate::units::Ticks;
use std::borrow::Cow;
use std::fmt;

/// How many places are named before the rest is only counted.
const NAMED: usize = 4;

/// Where something stood in the source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// What the source calls the measure.
    pub measure: String,
    /// The beat in thousandths, from 1000 (beat one); `None` where it concerns the whole measure.
    pub beat: Option<u32>,
}

/// One kind of thing that could not be carried over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lost {
    /// What, in the plural: `grace notes`.
    pub what: Cow<'static, str>,
    /// Where each of them stood; empty for what concerns the whole piece.
    pub spots: Vec<Spot>,
}

/// Everything that could not be carried over, in the order in which it was first met.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Losses {
    /// One entry a kind.
    pub list: Vec<Lost>,
}

impl Spot {
    /// A place in a measure.
    pub fn new(measure: &str, meter: Meter, at: Ticks) -> Spot {
        Spot {
            measure: measure.to_owned(),
            beat: u32::try_from(1000 + 1000 * at.0 / meter.beat().0).ok(),
        }
    }
}

impl Losses {
    /// One more of a kind, at a place.
    pub fn add(&mut self, what: impl Into<Cow<'static, str>>, spot: Spot) {
        self.kind(what.into()).spots.push(spot);
    }

    /// Something that concerns the whole piece.
    pub fn say(&mut self, what: impl Into<Cow<'static, str>>) {
        self.kind(what.into());
    }

    /// Appends another list.
    pub fn join(&mut self, other: Losses) {
        for lost in other.list {
            self.kind(lost.what).spots.extend(lost.spots);
        }
    }

    /// Whether everything was carried over.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    fn kind(&mut self, what: Cow<'static, str>) -> &mut Lost {
        let index = self.list.iter().position(|lost| lost.what == what);
        let index = index.unwrap_or_else(|| {
            let spots = Vec::new();
            self.list.push(Lost { what, spots });
            self.list.len() - 1
        });
        &mut self.list[index]
    }
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bar {}", self.measure)?;
        match self.beat {
            Some(beat) => write!(f, " beat {}", f64::from(beat) / 1000.0),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Lost {
    /// `3 × grace notes: bar 2 beat 1, bar 2 beat 3, bar 7 beat 1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.spots.len();
        if count == 0 {
            return f.write_str(&self.what);
        }
        let mut spots: Vec<String> = self.spots.iter().map(Spot::to_string).collect();
        spots.dedup();
        let more = spots.len().saturating_sub(NAMED);
        spots.truncate(NAMED);
        write!(f, "{count} × {}: {}", self.what, spots.join(", "))?;
        if more > 0 {
            write!(f, " and {more} more places")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_kind_is_counted_and_its_first_places_named() {
        let mut losses = Losses::default();
        for measure in 1..=6 {
            let measure = measure.to_string();
            let beat = Some(2500);
            losses.add("grace notes", Spot { measure, beat });
        }
        losses.say("the key");
        let said: Vec<String> = losses.list.iter().map(Lost::to_string).collect();
        let first = "6 × grace notes: bar 1 beat 2.5, bar 2 beat 2.5, bar 3 beat 2.5, bar 4 beat 2.5 and 2 more places";
        assert_eq!(said, [first, "the key"]);
    }
}
