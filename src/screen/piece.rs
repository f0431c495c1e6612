//! What is played, ready to be drawn.

use super::sheet::Sheet;
use crate::expected::{Expected, ExpectedBar};
use crate::fingering::Fingering;
use crate::line::Line;
use crate::page::heading::passes;
use crate::units::{Nanos, shortest};
use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

/// A line with its expected notes and its fingering. What was laid out last is kept: a frame does not lay out again.
#[derive(Debug)]
pub struct Piece {
    line: Arc<Line>,
    expected: Arc<Expected>,
    fingering: Fingering,
    laid_out: RefCell<Option<LaidOut>>,
}

#[derive(Debug)]
struct LaidOut {
    width: usize,
    room: usize,
    sheet: Rc<Sheet>,
}

impl Piece {
    /// The line (or the excerpt of it) and the same, unrolled at the take's speed.
    pub fn new(line: Arc<Line>, expected: Arc<Expected>) -> Piece {
        Piece {
            fingering: Fingering::of(&expected),
            line,
            expected,
            laid_out: RefCell::new(None),
        }
    }

    /// The line.
    pub fn line(&self) -> &Line {
        &self.line
    }

    /// The line unrolled.
    pub fn expected(&self) -> &Expected {
        &self.expected
    }

    pub(super) fn fingering(&self) -> &Fingering {
        &self.fingering
    }

    /// Laid out; anew only when width or room are others than the last time.
    pub(super) fn sheet(&self, width: usize, room: usize) -> Rc<Sheet> {
        let mut last = self.laid_out.borrow_mut();
        let kept = last
            .take()
            .filter(|kept| (kept.width, kept.room) == (width, room));
        let laid_out = kept.unwrap_or_else(|| LaidOut {
            width,
            room,
            sheet: Rc::new(Sheet::of(self, width, room)),
        });
        let sheet = Rc::clone(&laid_out.sheet);
        *last = Some(laid_out);
        sheet
    }

    /// Index of the bar at a time; the first one before it begins, the last one after its end.
    pub(super) fn bar_at(&self, now: Nanos) -> Option<usize> {
        let bars = &self.expected.bars;
        let after = bars.partition_point(|bar| bar.onset <= now);
        (!bars.is_empty()).then(|| after.saturating_sub(1))
    }

    /// `On deck · pass 2 of 3 · D minor`, and the same without the pass.
    pub(super) fn section(&self, bar: &ExpectedBar) -> (String, String) {
        let section = &self.line.sections[usize::from(bar.section)];
        let several = section.passes.len() > 1;
        let pass = several.then(|| passes(&vec![0; section.passes.len()], bar.pass));
        let key = section.key.or(self.line.key).map(|key| {
            let shift = section.passes.get(bar.pass as usize - 1);
            key.shifted(shift.copied().unwrap_or(0)).to_string()
        });
        let name = || Some(section.name.clone());
        let join = |parts: [Option<String>; 3]| {
            let parts: Vec<String> = parts.into_iter().flatten().collect();
            parts.join(" · ")
        };
        (join([name(), pass, key.clone()]), join([name(), None, key]))
    }

    /// `quarter = 66`, at the take's speed.
    pub(super) fn tempo(&self, bar: &ExpectedBar) -> String {
        let changes = self.expected.tempo_map.changes();
        let rate = changes
            .take_while(|(start, _, _)| *start <= bar.start.max(crate::units::Ticks(0)))
            .last();
        rate.map_or_else(String::new, |(_, _, rate)| {
            format!("quarter = {}", shortest(rate.quarters_per_minute()))
        })
    }
}
