//! The line that takes are judged against: read once, and unrolled once for each way in which it was played.

use super::excerpting::Played;
use super::{Failure, shared};
use crate::expected::silent_bars::SilentBars;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, unroll};
use crate::line::Line;
use crate::line::bar_range::BarRange;
use std::collections::HashMap;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// A line, and what was made of it so far. Several threads may ask at once.
pub struct Reference {
    /// The whole line.
    pub line: Line,
    played: Kept<Option<BarRange>, Played>,
    expected: Kept<(Option<BarRange>, Speed, Option<SilentBars>), Expected>,
}

type Kept<K, V> = Mutex<HashMap<K, Arc<V>>>;

impl Reference {
    /// Reads the line.
    pub fn read(path: &Path) -> Result<Reference, Failure> {
        Ok(Reference {
            line: shared::read_line(path)?,
            played: Mutex::default(),
            expected: Mutex::default(),
        })
    }

    /// The line, or these bars of it.
    pub fn played(&self, bars: Option<BarRange>) -> Result<Arc<Played>, Failure> {
        kept(&self.played, bars, || {
            let line = match bars {
                Some(range) => self.line.excerpt(range).map_err(Failure::input)?,
                None => self.line.clone(),
            };
            Ok(Played { line, bars })
        })
    }

    /// The same unrolled, with those bars silent.
    pub fn expected(
        &self,
        bars: Option<BarRange>,
        speed: Speed,
        silent: Option<SilentBars>,
    ) -> Result<Arc<Expected>, Failure> {
        let played = self.played(bars)?;
        kept(&self.expected, (bars, speed, silent), || {
            let mut expected = unroll(&played.line, speed);
            if let Some(silent) = silent {
                expected.silence(silent);
            }
            Ok(expected)
        })
    }
}

/// What is kept under a key, made when it is first asked for. Who asks meanwhile waits, rather than make it twice.
fn kept<K: std::hash::Hash + Eq, V>(
    all: &Kept<K, V>,
    key: K,
    make: impl FnOnce() -> Result<V, Failure>,
) -> Result<Arc<V>, Failure> {
    // Nothing is left half done when `make` panics.
    let mut all = all.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(found) = all.get(&key) {
        return Ok(Arc::clone(found));
    }
    let made = Arc::new(make()?);
    all.insert(key, Arc::clone(&made));
    Ok(made)
}
