//! The player's way: open strings on the click. What comes out is the latency **and** the player's own lean in one
//! number; nothing can tell the two apart.

use super::NoteOn;
use crate::findings::stats::median;
use crate::units::Nanos;

/// Beats that have to be answered.
const FEWEST: usize = 8;
/// Half of the answers lie within this of their middle, or the player was not with the click.
const WIDEST_SCATTER_MS: f64 = 30.0;
const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// The sum of latency and lean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tapped {
    /// In ms: the middle note against its beat.
    pub sum_ms: f64,
    /// Its standard error.
    pub sum_se_ms: f64,
    /// How far the notes scatter, in ms, as a standard deviation.
    pub scatter_ms: f64,
    /// Beats that were answered.
    pub answered: usize,
    /// Beats that were clicked.
    pub beats: usize,
}

/// Why there is no sum.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NotTapped {
    /// Too few beats were played.
    #[error("only {answered} of {beats} beats were played on; at least {FEWEST} are needed")]
    TooFew {
        /// With a note.
        answered: usize,
        /// In all.
        beats: usize,
    },
    /// No steady relation to the click.
    #[error("the notes scatter by {0:.0} ms about their middle: that is not on the click")]
    Scattered(f64),
}

/// Sets each note against its beat; the first note of a beat counts. `beats` are in stream time, `apart` from each
/// other. A note is a beat's from a third of a beat before it to two thirds after it: a latency only delays.
pub fn tapped(beats: &[Nanos], apart: Nanos, notes: &[NoteOn]) -> Result<Tapped, NotTapped> {
    let mut offsets: Vec<f64> = beats
        .iter()
        .filter_map(|beat| {
            let near = |note: &&NoteOn| {
                let offset = note.at - *beat;
                offset.0 >= -apart.0 / 3 && offset.0 < apart.0 * 2 / 3
            };
            Some((notes.iter().find(near)?.at - *beat).ms())
        })
        .collect();
    let (answered, beats) = (offsets.len(), beats.len());
    let Some(sum_ms) = median(&mut offsets).filter(|_| answered >= FEWEST) else {
        return Err(NotTapped::TooFew { answered, beats });
    };
    let mut sizes: Vec<f64> = offsets.iter().map(|o| (o - sum_ms).abs()).collect();
    let scatter_ms = MAD_TO_SD * median(&mut sizes).unwrap_or(0.0);
    if scatter_ms > WIDEST_SCATTER_MS {
        return Err(NotTapped::Scattered(scatter_ms));
    }
    // The median of normal values scatters by √(π/2) times as much as their mean.
    let factor = std::f64::consts::FRAC_PI_2.sqrt();
    Ok(Tapped {
        sum_ms,
        sum_se_ms: factor * scatter_ms / (answered as f64).sqrt(),
        scatter_ms,
        answered,
        beats,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Key;

    fn beats() -> Vec<Nanos> {
        (0..16)
            .map(|beat| Nanos::from_ms(5000 + 600 * beat))
            .collect()
    }

    fn notes(offset: impl Fn(usize) -> i64) -> Vec<NoteOn> {
        let note = |(index, beat): (usize, &Nanos)| NoteOn {
            at: *beat + Nanos::from_ms(offset(index)),
            key: Key(28),
        };
        beats().iter().enumerate().map(note).collect()
    }

    const APART: Nanos = Nanos::from_ms(600);

    #[test]
    fn the_sum_is_the_middle_of_the_offsets() {
        // 38 to 42 around 40, and one slip.
        let notes = notes(|index| {
            if index == 5 {
                150
            } else {
                38 + (index as i64 % 5)
            }
        });
        let tapped = tapped(&beats(), APART, &notes).unwrap();
        assert!((tapped.sum_ms - 40.0).abs() < 0.6, "{tapped:?}");
        assert_eq!((tapped.answered, tapped.beats), (16, 16));
        assert!(tapped.sum_se_ms > 0.1 && tapped.sum_se_ms < 1.5);
    }

    #[test]
    fn too_few_notes_or_notes_all_over_the_place_give_nothing() {
        let few = &notes(|_| 10)[..5];
        assert_eq!(
            tapped(&beats(), APART, few),
            Err(NotTapped::TooFew {
                answered: 5,
                beats: 16
            })
        );
        let wild = notes(|index| [-150, 0, 170, 60][index % 4]);
        assert!(matches!(
            tapped(&beats(), APART, &wild),
            Err(NotTapped::Scattered(_))
        ));
    }
}
