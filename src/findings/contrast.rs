//! How one kind of note differs from the others in what was measured of each: its length, its velocity.
//!
//! Statistic: the effect of being of the kind ([`super::model`]), beside what else is known to make such a difference.

use super::FEWEST;
use super::effect::Seen;
use super::evidence::{Evidence, Heard};
use super::hand::{Deed, Way};
use super::model::Model;
use crate::judge::Length;
use crate::line::Stroke;

fn share(is_so: bool) -> f64 {
    f64::from(u8::from(is_so))
}

/// Notes with a value each.
pub struct Contrast<'a> {
    heard: Vec<Heard<'a>>,
    values: Vec<f64>,
    /// What else makes a difference.
    beside: Vec<Vec<f64>>,
    harmless: f64,
}

impl<'a> Contrast<'a> {
    /// Notes as they are in the take with what is measured of them.
    pub fn new(
        heard: impl Iterator<Item = &'a Heard<'a>>,
        value: impl Fn(&Heard) -> f64,
        harmless: f64,
    ) -> Contrast<'a> {
        let heard: Vec<Heard> = heard.copied().collect();
        Contrast {
            values: heard.iter().map(value).collect(),
            heard,
            beside: Vec::new(),
            harmless,
        }
    }

    /// Lengths: played − expected, in ms, of the plain notes among these but for those that ring over: what these do
    /// to the mean makes no other note short. Harmless is half of what is judged as in place
    /// for a single note (our choice). Long notes have room for more, and those before a rest end by themselves; the
    /// place in the bar, strokes and moves of the hand each stand beside the others.
    pub fn of_lengths(evidence: &'a Evidence, belongs: impl Fn(&Heard) -> bool) -> Contrast<'a> {
        let is_plain = |heard: &&Heard| {
            let is = heard.note.is;
            let is_plain = !(is.short || is.muted || is.dead);
            is_plain && heard.length_off_ms().is_some() && !heard.length_is(Length::Rings)
        };
        let plain = evidence.heard.iter().filter(is_plain);
        Contrast::new(
            plain.filter(|heard| belongs(heard)),
            |heard| heard.length_off_ms().unwrap_or_default(),
            evidence.windows.length.ms() / 2.0,
        )
        .beside(|heard| heard.note.sounding.ms())
        .beside(|heard| share(heard.note.rest_at.is_some()))
        .beside(|heard| share(heard.note.is.upbeat))
        .beside(|heard| share(heard.note.stroke == Some(Stroke::Up)))
        .beside(|heard| {
            share(
                Deed::Crossing(Way::Either)
                    .follows(evidence, heard)
                    .is_some(),
            )
        })
        .beside(|heard| share(Deed::Shift(Way::Either).follows(evidence, heard).is_some()))
    }

    /// Something else that makes a difference.
    pub fn beside(mut self, of: impl Fn(&Heard) -> f64) -> Contrast<'a> {
        let column = self.heard.iter().map(of).collect();
        self.beside.push(column);
        self
    }

    /// How much the kind differs; `None` where the line does not put the question.
    pub fn ask(&self, is_of_kind: impl Fn(&Heard) -> bool) -> Option<Seen> {
        let column: Vec<f64> = self
            .heard
            .iter()
            .map(|heard| share(is_of_kind(heard)))
            .collect();
        let of = column.iter().filter(|share| **share > 0.0).count();
        if of < FEWEST || self.heard.len() < of + FEWEST {
            return None;
        }
        let mut model = Model::new(&self.values, &self.heard);
        for other in &self.beside {
            let mut further = model.clone();
            further.take(other);
            // What cannot be told from the kind itself, as it is that, stays with the kind.
            if further.tells(&column) {
                model = further;
            }
        }
        let estimate = model.ask(&column)?;
        model.take(&column);
        let size = |left: f64| (estimate.mean + left) * estimate.mean.signum();
        let showing = std::iter::zip(&self.heard, &column)
            .zip(model.left())
            .filter(|((_, share), left)| **share > 0.0 && size(**left) > self.harmless)
            .map(|((heard, _), _)| heard.index)
            .collect();
        Some(Seen {
            estimate,
            harmless_ms: self.harmless,
            of,
            showing,
        })
    }
}
