//! Expected notes laid out by hand.

use leadsman::expected::tempo_map::{Rate, Speed, TempoMap};
use leadsman::expected::{Expected, ExpectedBar, ExpectedNote, NoteTraits};
use leadsman::line::Tempo;
use leadsman::units::{Key, Nanos, Ticks};

/// Expected notes at 120 bpm in 4/4 from (onset in ms, key) in order; equal onsets are struck together. Each is
/// written as long as the time to the next.
pub fn expected_of(notes: &[(i64, Option<u8>)]) -> Expected {
    let mut groups = 0;
    let mut last = None;
    let note_of = |(index, (onset, key)): (usize, &(i64, Option<u8>))| {
        if last.is_some_and(|last| last != *onset) {
            groups += 1;
        }
        last = Some(*onset);
        let next = notes[index..]
            .iter()
            .find(|other| other.0 > *onset)
            .map_or(onset + 250, |other| other.0);
        let written = Nanos::from_ms(next - onset);
        ExpectedNote {
            section: 0,
            pass: 1,
            bar: (*onset / 2000) as u32,
            at: Ticks(onset % 2000 * 960 / 500),
            length: Ticks((next - onset) * 960 / 500),
            group: groups,
            key: key.map(Key),
            string: None,
            fret: None,
            signature: None,
            degree: None,
            chord: None,
            spelled: None,
            onset: Nanos::from_ms(*onset),
            written,
            sounding: Nanos(written.0 * 9 / 10),
            rest_at: None,
            beat: Nanos::from_ms(500),
            is: NoteTraits {
                dead: key.is_none(),
                ..NoteTraits::default()
            },
            stroke: None,
            finger: None,
        }
    };
    let expected_notes: Vec<ExpectedNote> = notes.iter().enumerate().map(note_of).collect();
    let bars = notes.last().map_or(1, |last| last.0 / 2000 + 1);
    let bar_of = |bar: i64| ExpectedBar {
        section: 0,
        pass: 1,
        number: bar as u32 + 1,
        onset: Nanos::from_ms(bar * 2000),
        end: Nanos::from_ms((bar + 1) * 2000),
        beat: Ticks(960),
        start: Ticks(bar * 3840),
        length: Ticks(3840),
        offset: Ticks(0),
        upbeat: (Ticks(480), 1),
        silent: false,
    };
    Expected {
        notes: expected_notes,
        bars: (0..bars).map(bar_of).collect(),
        sections: vec!["A".into()],
        strings: ["G", "D", "A", "E"].map(String::from).to_vec(),
        open: [43, 38, 33, 28].map(Key).to_vec(),
        tempo_map: TempoMap::new(Rate::new(Tempo(120_000), Speed::WRITTEN)),
        end: Nanos::from_ms(bars * 2000),
    }
}
