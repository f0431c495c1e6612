//! Arbitrary valid lines.

use leadsman::line::chord::{ChordCell, PlacedChord};
use leadsman::line::key_signature::{KeySignature, Mode};
use leadsman::line::length::NoteLength;
use leadsman::line::meter::Meter;
use leadsman::line::pitch::{Pitch, PitchClass};
use leadsman::line::tuning::{StringNumber, Tuning};
use leadsman::line::{
    Bar, Gate, Line, Marks, Note, Place, Section, Stop, Stroke, SwingRatio, Swung, Tempo,
};
use leadsman::units::{Key, Ticks};
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::{Index, select};

/// Valid lines of several meters and tunings.
pub fn lines() -> impl Strategy<Value = Line> {
    (tunings(), meters(), any::<bool>()).prop_flat_map(|(tuning, meter, pickup)| {
        let sections = (
            section(tuning.clone(), meter, pickup),
            vec(section(tuning.clone(), meter, false), 0..3),
        );
        let settings = (
            "(?s).{0,12}[a-z\"\\\\\\r\\n\\t']{0,6}[a-z]",
            tempos(),
            of(swings()),
            swungs(),
            gates(),
            of(keys()),
        );
        (sections, settings).prop_map(move |((first, mut rest), settings)| {
            let (title, tempo, swing, swung, gate, key) = settings;
            rest.insert(0, first);
            Line {
                title,
                meter,
                tempo,
                swing,
                swung,
                tuning: tuning.clone(),
                gate,
                key,
                pickup,
                first_bar: 1,
                sections: rest,
            }
        })
    })
}

fn section(tuning: Tuning, line_meter: Meter, pickup: bool) -> impl Strategy<Value = Section> {
    of(meters()).prop_flat_map(move |meter| {
        let played_in = meter.unwrap_or(line_meter);
        let seeds = vec((vec(note_seed(), 1..12), any::<Index>()), 1..5);
        let layers = (any::<u64>(), any::<[bool; 3]>(), vec(-1i8..=1, 1..4));
        let settings = (
            of(tempos()),
            of(swings()),
            of(swungs()),
            of(gates()),
            of(keys()),
        );
        let tuning = tuning.clone();
        ("[A-Z].{0,6}", seeds, layers, settings).prop_map(move |(name, seeds, layers, settings)| {
            let bars = fill(&tuning, played_in, pickup, &seeds);
            let (seed, has, passes) = layers;
            let (tempo, swing, swung, gate, key) = settings;
            let chords = chord_cells(bars.len(), seed, played_in);
            let marks = struck(&bars);
            Section {
                name,
                tempo,
                meter,
                swing,
                swung,
                key,
                gate,
                passes,
                chords: has[0].then_some(chords),
                strokes: has[1].then(|| map_marks(&marks, |n| stroke_of(seed, n))),
                fingers: has[2].then(|| map_marks(&marks, |n| ((seed >> (n % 60)) % 5) as u8)),
                bars,
            }
        })
    })
}

/// What a note is made from once it is known how much of the bar is left.
type NoteSeed = (u8, Index, Index, Index, [bool; 5], bool);

fn note_seed() -> impl Strategy<Value = NoteSeed> {
    (
        0..10u8,
        any::<Index>(),
        any::<Index>(),
        any::<Index>(),
        any::<[bool; 5]>(),
        any::<bool>(),
    )
}

/// Bars that fill their meter: each seed takes a length that fits, what is left is filled exactly.
fn fill(tuning: &Tuning, meter: Meter, pickup: bool, seeds: &[(Vec<NoteSeed>, Index)]) -> Vec<Bar> {
    let mut bars = Vec::new();
    if pickup {
        let shorter = NoteLength {
            value: 32,
            dots: 0,
            triplet: true,
        };
        bars.push(Bar {
            notes: vec![rest(shorter)],
        });
    }
    for (notes, _) in seeds {
        let mut left = meter.bar();
        let mut bar = Bar::default();
        for seed in notes {
            let fitting: Vec<NoteLength> = lengths()
                .into_iter()
                .filter(|length| fits(left - length.ticks()))
                .collect();
            if fitting.is_empty() {
                break;
            }
            let length = fitting[seed.1.index(fitting.len())];
            left -= length.ticks();
            bar.notes.push(note(tuning, seed, length));
        }
        bar.notes.extend(pieces(left).into_iter().map(rest));
        bars.push(bar);
    }
    tie_some(&mut bars, seeds);
    bars
}

/// Whether rests can fill the length.
fn fits(left: Ticks) -> bool {
    left.0 >= 0
        && pieces(left)
            .iter()
            .map(|piece| piece.ticks().0)
            .sum::<i64>()
            == left.0
}

fn pieces(mut left: Ticks) -> Vec<NoteLength> {
    let mut pieces = Vec::new();
    for length in lengths() {
        while length.ticks() <= left {
            left -= length.ticks();
            pieces.push(length);
        }
    }
    pieces
}

/// Longest first.
fn lengths() -> Vec<NoteLength> {
    let mut all = Vec::new();
    for value in [1, 2, 4, 8, 16, 32] {
        for dots in 0..=2 {
            for triplet in [false, true] {
                all.push(NoteLength {
                    value,
                    dots,
                    triplet,
                });
            }
        }
    }
    all.sort_by_key(|length| std::cmp::Reverse(length.ticks()));
    all
}

fn rest(length: NoteLength) -> Note {
    let marks = Marks::default();
    Note {
        place: Place::Rest,
        length,
        tie: false,
        marks,
    }
}

fn note(tuning: &Tuning, seed: &NoteSeed, length: NoteLength) -> Note {
    let (kind, _, string, fret, flags, _) = seed;
    let strings = tuning.open.len();
    let string = StringNumber(string.index(strings) as u8 + 1);
    // Frets that leave a semitone to both sides for the passes.
    let fret = 1 + fret.index(22) as u8;
    let stop = stop(tuning, kind % 3, string, fret);
    let [short, full, muted, accent, optional] = *flags;
    let full = full && !short && !muted;
    let marks = Marks {
        short,
        full,
        muted,
        accent,
        optional,
    };
    let ghost = Marks {
        accent,
        optional,
        ..Marks::default()
    };
    let (place, marks) = match kind {
        0 => (Place::Rest, Marks::default()),
        1 => (Place::Dead(None), ghost),
        2 => (Place::Dead(Some(string)), ghost),
        3 if string.0 > 1 => {
            let upper = StringNumber(string.0 - 1);
            let mut stops = vec![stop_on(tuning, string, fret), stop_on(tuning, upper, fret)];
            stops.sort_by_key(|stop| tuning.key_of(*stop));
            (Place::Struck(stops), marks)
        }
        _ => (Place::Struck(vec![stop]), marks),
    };
    Note {
        place,
        length,
        tie: false,
        marks,
    }
}

fn stop_on(tuning: &Tuning, string: StringNumber, fret: u8) -> Stop {
    stop(tuning, fret % 2, string, fret)
}

fn stop(tuning: &Tuning, way: u8, string: StringNumber, fret: u8) -> Stop {
    let key = tuning.key_at(string, fret).expect("frets up to 23 exist");
    let pitch = spelled(key, fret.is_multiple_of(2));
    match way {
        0 => Stop::Fret { string, fret },
        1 => Stop::PitchOn { pitch, string },
        _ => Stop::Pitch(pitch),
    }
}

/// One of the spellings of a key.
fn spelled(key: Key, sharps: bool) -> Pitch {
    let octave = (key.0 / 12) as i8 - 1;
    let candidates =
        (0..7).flat_map(|letter| (-2..=2).map(move |accidental| PitchClass { letter, accidental }));
    let octaves = [octave - 1, octave, octave + 1];
    candidates
        .flat_map(|class| octaves.map(|octave| Pitch { class, octave }))
        .filter(|pitch| pitch.key() == Some(key))
        .max_by_key(|pitch| {
            if sharps {
                pitch.class.accidental
            } else {
                -pitch.class.accidental
            }
        })
        .expect("every key has a spelling")
}

/// Ties some notes into a copy of themselves where the next one can become that copy.
fn tie_some(bars: &mut [Bar], seeds: &[(Vec<NoteSeed>, Index)]) {
    let wishes: Vec<bool> = seeds
        .iter()
        .flat_map(|(notes, _)| notes.iter().map(|seed| seed.5))
        .collect();
    let mut notes: Vec<&mut Note> = bars
        .iter_mut()
        .flat_map(|bar| bar.notes.iter_mut())
        .collect();
    for index in 1..notes.len() {
        let (before, after) = notes.split_at_mut(index);
        let (before, after) = (&mut before[index - 1], &mut after[0]);
        let wished = wishes
            .get(index % wishes.len().max(1))
            .copied()
            .unwrap_or(false);
        if wished && matches!(before.place, Place::Struck(_)) {
            before.tie = true;
            after.place = before.place.clone();
            after.marks = Marks::default();
        }
    }
}

fn struck(bars: &[Bar]) -> Vec<usize> {
    let mut tied = false;
    let mut count = |bar: &Bar| {
        let mut struck = 0;
        for note in &bar.notes {
            struck += usize::from(note.place != Place::Rest && !tied);
            tied = note.tie;
        }
        struck
    };
    bars.iter().map(&mut count).collect()
}

fn map_marks<T>(counts: &[usize], mark: impl Fn(usize) -> T) -> Vec<Vec<T>> {
    counts
        .iter()
        .map(|count| (0..*count).map(&mark).collect())
        .collect()
}

fn stroke_of(seed: u64, n: usize) -> Stroke {
    if (seed >> (n % 60)) & 1 == 0 {
        Stroke::Down
    } else {
        Stroke::Up
    }
}

fn chord_cells(bars: usize, seed: u64, meter: Meter) -> Vec<ChordCell> {
    let symbols = ["Dm7", "G7/B", "Ebmaj7", "C6/9", "F#dim", "Bbm7b5", "A"];
    let chord = |n: u64, beat| PlacedChord {
        symbol: symbols[(n % 7) as usize].parse().expect("a chord"),
        beat,
    };
    let beats = meter.bar().0 / meter.beat().0;
    (0..bars as u64)
        .map(|bar| match (seed >> (bar % 60)) % 4 {
            0 => ChordCell::default(),
            1 => ChordCell {
                chords: vec![chord(bar, None)],
            },
            2 => ChordCell {
                chords: vec![chord(bar, None), chord(bar + seed % 7, None)],
            },
            _ if beats > 1 => ChordCell {
                chords: vec![chord(bar, Some(1000)), chord(bar + 1, Some(1500))],
            },
            _ => ChordCell {
                chords: vec![chord(bar, Some(1000))],
            },
        })
        .collect()
}

fn tunings() -> impl Strategy<Value = Tuning> {
    let named = |text: &str| Tuning {
        open: text
            .split(' ')
            .map(|pitch| pitch.parse().expect("a pitch"))
            .collect(),
    };
    select(vec![
        Tuning::default(),
        named("D1 A1 D2 G2"),
        named("B0 E1 A1 D2 G2"),
        named("B0 E1 A1 D2 G2 C3"),
        named("Eb1 Ab1 Db2 Gb2"),
        named("E1 A1 E2 A2"),
        named("A1"),
    ])
}

fn meters() -> impl Strategy<Value = Meter> {
    select(vec![
        "4/4", "3/4", "5/4", "6/8", "12/8", "7/8", "2/2", "1/16",
    ])
    .prop_map(|text| text.parse().expect("a meter"))
}

fn tempos() -> impl Strategy<Value = Tempo> {
    (20_000u32..=400_000).prop_map(Tempo)
}

fn gates() -> impl Strategy<Value = Gate> {
    (1u16..=1000).prop_map(Gate)
}

fn swungs() -> impl Strategy<Value = Swung> {
    select(vec![Swung::Eighth, Swung::Sixteenth])
}

fn swings() -> impl Strategy<Value = SwingRatio> {
    (1u32..=25_000, 1000u32..=4000).prop_map(|(short, ratio)| SwingRatio {
        long: (short * ratio / 1000).max(short),
        short,
    })
}

fn keys() -> impl Strategy<Value = KeySignature> {
    let modes: Vec<Mode> = Mode::NAMES.iter().map(|(_, mode)| *mode).collect();
    (0u8..7, -2i8..=2, select(modes)).prop_map(|(letter, accidental, mode)| KeySignature {
        tonic: PitchClass { letter, accidental },
        mode,
    })
}
