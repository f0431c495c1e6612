//! Which notes of the port are one: asked when a note begins, and again when the one before it ends a little late.

use super::voice::{Slot, Voice};
use super::{
    Cleanup, HOLD, JOIN, Rule, bend_splits, doubled_notes, ghost_triggers, octave_glitches,
    slide_steps,
};
use crate::units::Nanos;
use std::cmp::Reverse;

/// How a note belongs to the one before it, the surest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kin {
    Doubled,
    Corrected,
    Split,
    /// A semitone up (1) or down (−1): it takes more than one to make a slide.
    Step(i8),
}

impl Cleanup {
    /// A note has begun: what is it to those before it?
    pub(super) fn join_to_earlier(&mut self, slot: Slot) {
        let Some(later) = self.voices.get(slot).copied() else {
            return;
        };
        let ended_now = |v: &Voice| v.ended.is_some_and(|end| later.onset - end <= JOIN);
        let earlier = self
            .voices
            .of_channel(later.channel)
            .filter(|(other, _)| *other != slot)
            .filter_map(|(other, v)| {
                let kin = self.kin(v, &later, ended_now(v), later.onset)?;
                Some((kin, Reverse((v.since, v.serial)), other))
            });
        if let Some((kin, _, other)) = earlier.min() {
            self.join(other, slot, kin);
        }
    }

    /// A note has ended at `at`: has one begun just before that belongs to it?
    pub(super) fn join_later_to(&mut self, slot: Slot, at: Nanos) {
        let Some(earlier) = self.voices.get(slot).copied() else {
            return;
        };
        let began_now = |v: &Voice| {
            v.held && v.after.is_none() && v.serial > earlier.serial && at - v.onset <= JOIN
        };
        let later = self
            .voices
            .of_channel(earlier.channel)
            .filter(|(other, v)| *other != slot && began_now(v))
            .filter_map(|(other, v)| {
                let kin = self.kin(&earlier, v, true, at)?;
                Some((kin, v.serial, other))
            });
        if let Some((kin, _, other)) = later.min() {
            self.join(slot, other, kin);
        }
    }

    fn kin(&self, earlier: &Voice, later: &Voice, seamless: bool, now: Nanos) -> Option<Kin> {
        let (key, onset) = (later.key, later.onset);
        if earlier.cut {
            return None;
        }
        if self.has(Rule::DoubledNotes) && doubled_notes::repeats(earlier, key, onset) {
            return Some(Kin::Doubled);
        }
        let ghost = self.has(Rule::GhostTriggers) && ghost_triggers::comes_before(earlier, later);
        if !seamless || ghost {
            return None;
        }
        if self.has(Rule::OctaveGlitches) && octave_glitches::corrects(earlier, key, onset) {
            return Some(Kin::Corrected);
        }
        let wheel = &self.wheels[usize::from(earlier.channel & 15)];
        if self.has(Rule::BendSplits) && bend_splits::continues(earlier, key, now, wheel) {
            return Some(Kin::Split);
        }
        let a_semitone = earlier.key.0.abs_diff(key.0) == 1;
        let way = if key > earlier.key { 1 } else { -1 };
        (self.has(Rule::SlideSteps) && a_semitone).then_some(Kin::Step(way))
    }

    fn join(&mut self, earlier: Slot, later: Slot, kin: Kin) {
        let (Some(part), Some(whole)) = (
            self.voices.get(later).copied(),
            self.voices.get_mut(earlier),
        ) else {
            return;
        };
        let (rule, at, key) = match kin {
            Kin::Doubled => {
                if whole.ended.is_none() {
                    whole.spare_offs = whole.spare_offs.saturating_add(1);
                    whole.doubled_at = part.onset;
                }
                (Rule::DoubledNotes, part.onset, part.key)
            }
            Kin::Corrected => {
                whole.out = part.key;
                (Rule::OctaveGlitches, whole.since, whole.key)
            }
            Kin::Split => (Rule::BendSplits, part.onset, part.key),
            Kin::Step(way) => return self.step(earlier, later, way),
        };
        let into = whole.out;
        self.voices.join(earlier, later);
        self.record(rule, at, key, Some(into));
    }

    /// A semitone on from the earlier note: the slide goes on, or becomes one, or may become one.
    fn step(&mut self, earlier: Slot, later: Slot, way: i8) {
        let (Some(before), Some(now)) = (
            self.voices.get(earlier).copied(),
            self.voices.get(later).copied(),
        ) else {
            return;
        };
        let is_step = slide_steps::is_step(&before, now.onset);
        if is_step && before.held {
            if before.sliding == Some(way) {
                return self.slide_on(earlier, later, way);
            }
            if let Some(first) = self.step_before(&before, way) {
                self.voices.join(first, earlier);
                return self.slide_on(first, later, way);
            }
            if let Some(before) = self.voices.get_mut(earlier) {
                before.until = now.onset + HOLD;
            }
        }
        if let Some(now) = self.voices.get_mut(later) {
            now.after = Some((before.serial, way, is_step));
        }
    }

    /// The step that this one came from, if it went the same way and is still held back.
    fn step_before(&self, step: &Voice, way: i8) -> Option<Slot> {
        let (first, its_way, was_step) = step.after?;
        let first = self.voices.find(|v| v.serial == first && v.held)?;
        (was_step && its_way == way).then_some(first)
    }

    fn slide_on(&mut self, slide: Slot, step: Slot, way: i8) {
        self.voices.join(slide, step);
        if let Some(slide) = self.voices.get_mut(slide) {
            slide.out = slide.key;
            slide.sliding = Some(way);
            slide.until = (slide.since + HOLD).min(slide.onset + slide_steps::LONGEST);
        }
    }
}
