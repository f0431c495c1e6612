//! Lines that are but bars, to be clicked.

use leadsman::expected::tempo_map::{Rate, Speed, TempoMap};
use leadsman::expected::{Expected, ExpectedBar};
use leadsman::line::Tempo;
use leadsman::units::{Nanos, Ticks};

/// One bar of so many quarters, at so many a minute.
pub fn steady(bpm: u32, beats: i64) -> Expected {
    let bar = ExpectedBar {
        section: 0,
        pass: 1,
        number: 1,
        onset: Nanos::ZERO,
        end: Nanos::ZERO,
        beat: Ticks(960),
        start: Ticks(0),
        length: Ticks(960 * beats),
        offset: Ticks(0),
        upbeat: (Ticks(480), 1),
        silent: false,
    };
    Expected {
        notes: vec![],
        bars: vec![bar],
        sections: vec!["A".into()],
        strings: vec![],
        open: vec![],
        tempo_map: TempoMap::new(Rate::new(Tempo(bpm * 1000), Speed::WRITTEN)),
        end: Nanos::ZERO,
    }
}
