//! What the line sounds like: when notes begin and end, how high they are, how loud the mix is.

use leadsman::click::{ClickSound, ClickTrack, Level, Pan, Pattern, Render, Stereo, Subdivision};
use leadsman::clock::frames::frame_at;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use leadsman::tone::{LineAndClick, Mix, Tone};
use leadsman::units::Nanos;
use std::sync::Arc;

const RATE: u32 = 48_000;
/// Rests, swing, dead and ghost notes, accents, a double stop, a note that touches the next.
const LINE: &str = "title = \"Loose Ropes\"\nmeter = \"4/4\"\ntempo = 97\nswing = \"3:2\"\n[[section]]\nname = \"A\"\n\
     passes = [0, 3]\nnotes = \"E1/4 r/8 A1/8> x@A/8 C#2/8? D2/4' | E1+B1/4 r/4 G2/2_ | G2/8m r/8 r/4 C4/2\"";

fn expected_of(text: &str) -> Expected {
    let line = parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    unroll(&line, Speed::WRITTEN)
}

/// Every line that comes with the program.
fn study_lines() -> Vec<Expected> {
    let files = std::fs::read_dir("lines").expect("the folder of lines");
    let text = |file: std::fs::DirEntry| std::fs::read_to_string(file.path()).expect("a line");
    files
        .map(|file| expected_of(&text(file.expect("a file"))))
        .collect()
}

fn notes_alone(expected: &Expected, origin: u64, rate: u32) -> Vec<f32> {
    let mut tone = Tone::new(expected, origin, rate, Level::default());
    let length = origin + frame_at(expected.end, rate).unsigned_abs() + u64::from(rate) / 10;
    let mut sound = vec![0.0; length as usize];
    tone.mix(0, &mut sound);
    sound
}

fn mixed(expected: Expected, level: Level, blocks: impl Iterator<Item = usize>) -> Vec<f32> {
    let clicks = ClickTrack::new(&expected, 1, Pattern::Beats);
    let silence = Nanos::from_ms(1000);
    let mut render = LineAndClick::new(Arc::new(expected), clicks, silence, level);
    let length = frame_at(render.end(), RATE) as usize;
    render.prepare(RATE);
    let mut sound = Vec::with_capacity(length);
    for block in blocks {
        let block = block.min(length - sound.len());
        let [mut out, mut right] = [(); 2].map(|()| vec![f32::NAN; block]);
        render.render(sound.len() as u64, Stereo::new(&mut out, &mut right));
        assert_eq!(out, right);
        sound.extend(out);
        if sound.len() == length {
            break;
        }
    }
    sound
}

fn rms(part: &[f32]) -> f64 {
    let squares: f64 = part.iter().map(|s| f64::from(*s).powi(2)).sum();
    (squares / part.len().max(1) as f64).sqrt()
}

/// The period of the strongest peak of the normalised autocorrelation within half a semitone of `near_hz`, refined by a
/// parabola through its neighbours.
fn pitch_hz(sound: &[f32], rate: u32, near_hz: f64) -> f64 {
    let near = f64::from(rate) / near_hz;
    let window = sound.len() - (near * 1.06) as usize - 2;
    let likeness = |lag: usize| {
        let pairs = sound[..window].iter().zip(&sound[lag..lag + window]);
        let (product, power) = pairs.fold((0.0, 0.0), |(product, power), (a, b)| {
            let (a, b) = (f64::from(*a), f64::from(*b));
            (product + a * b, power + a * a + b * b)
        });
        2.0 * product / power
    };
    let lags = (near / 1.03) as usize..=(near * 1.03) as usize;
    let by_lag: Vec<f64> = lags.clone().map(likeness).collect();
    let best = (1..by_lag.len() - 1)
        .max_by(|a, b| by_lag[*a].total_cmp(&by_lag[*b]))
        .expect("a lag");
    let [before, at, after] = [best - 1, best, best + 1].map(|index| by_lag[index]);
    let shift = (before - after) / (2.0 * (before - 2.0 * at + after));
    f64::from(rate) / ((lags.start() + best) as f64 + shift)
}

#[test]
fn each_note_begins_on_its_frame_to_the_sample() {
    for rate in [44_100, 48_000] {
        let expected = expected_of(LINE);
        for note in &expected.notes {
            let alone = Expected {
                notes: vec![note.clone()],
                ..expected.clone()
            };
            let sound = notes_alone(&alone, 777, rate);
            let first = sound.iter().position(|sample| *sample != 0.0);
            // In integers, halves up: what the click's frames are too.
            let frame = (i128::from(note.onset.0) * i128::from(rate) + 500_000_000) / 1_000_000_000;
            assert_eq!(first, Some(777 + frame as usize), "{note:?}");
            assert!(sound[first.unwrap_or(0)].abs() > 0.001);
        }
    }
}

#[test]
fn sixty_ms_after_a_note_its_rest_is_silent_to_the_last_bit() {
    let mut rests = 0;
    for expected in study_lines().into_iter().chain([expected_of(LINE)]) {
        let sound = notes_alone(&expected, 0, RATE);
        let frame = |at: Nanos| (frame_at(at, RATE).max(0) as usize).min(sound.len());
        for (index, note) in expected.notes.iter().enumerate() {
            let others = expected
                .notes
                .iter()
                .filter(|other| other.group != note.group);
            let next = others
                .filter(|other| other.onset > note.onset)
                .map(|other| other.onset)
                .min()
                .unwrap_or(expected.end);
            let silence = frame(note.end() + Nanos::from_ms(60))..frame(next);
            if note.onset < Nanos::ZERO || silence.is_empty() {
                continue;
            }
            let loud = rms(&sound[frame(note.onset)..frame(note.end())]);
            assert!(loud > 0.005, "note {index}: {loud}");
            assert_eq!(rms(&sound[silence]), 0.0, "note {index}");
            rests += 1;
        }
    }
    assert!(rests > 50, "{rests}");
}

#[test]
fn every_note_sounds_at_its_pitch_until_its_end() {
    // One of each from E1 to G4, a second apart.
    let names = [
        "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
    ];
    let name = |key: usize| format!("{}{}/4", names[key % 12], key / 12 - 1);
    let bars: Vec<String> = (28..=67).map(name).collect();
    let bars: Vec<String> = bars.chunks(4).map(|bar| bar.join(" ")).collect();
    let head =
        "title = \"Ladder\"\nmeter = \"4/4\"\ntempo = 60\n[[section]]\nname = \"A\"\nnotes = ";
    let expected = expected_of(&format!("{head}\"{}\"", bars.join(" | ")));
    for rate in [44_100, 48_000] {
        let sound = notes_alone(&expected, 0, rate);
        for note in &expected.notes {
            let key = note.key.expect("a pitch");
            let frame = |at: Nanos| frame_at(at, rate) as usize;
            let part = &sound[frame(note.onset + Nanos::from_ms(100))..frame(note.end())];
            let hz = pitch_hz(&part[..9600], rate, key.frequency_hz());
            let cents = 1200.0 * (hz / key.frequency_hz()).log2();
            assert!(cents.abs() < 1.0, "{key} at {rate}: {cents:+.2} cents");
            // A gate is heard as one: the end is as sharp for the last of it.
            assert!(rms(&part[part.len() - 2000..]) > 0.1 * rms(part));
        }
    }
}

#[test]
fn accents_are_louder_and_ghost_notes_softer_than_the_rest() {
    let notes = "A1/4> A1/4 A1/4? r/4";
    let head = "title = \"a\"\nmeter = \"4/4\"\ntempo = 60\n[[section]]\nname = \"A\"\nnotes = ";
    let expected = expected_of(&format!("{head}\"{notes}\""));
    let sound = notes_alone(&expected, 0, RATE);
    let level = |note: usize| rms(&sound[48_000 * note..48_000 * note + 40_000]);
    assert!(level(0) > 1.3 * level(1) && level(1) > 1.7 * level(2));
}

#[test]
fn both_notes_of_a_double_stop_sound_and_add_up() {
    let expected = expected_of(LINE);
    let alone = |keep: &dyn Fn(u8) -> bool| {
        let notes = expected.notes.iter();
        let notes = notes.filter(|note| note.key.is_some_and(|key| keep(key.0)));
        let expected = Expected {
            notes: notes.cloned().collect(),
            ..expected.clone()
        };
        notes_alone(&expected, 0, RATE)
    };
    let (low, high) = (alone(&|key| key == 28), alone(&|key| key == 35));
    let both = alone(&|key| key == 28 || key == 35);
    let sum = low.iter().zip(&high).map(|(low, high)| low + high);
    assert!(sum.zip(&both).all(|(sum, both)| (sum - both).abs() < 1e-6));
    let at = frame_at(
        expected
            .notes
            .iter()
            .find(|n| n.key.is_some_and(|k| k.0 == 35))
            .expect("the double stop")
            .onset,
        RATE,
    );
    let part = at as usize..at as usize + 9600;
    assert!(rms(&low[part.clone()]) > 0.02 && rms(&high[part]) > 0.02);
}

#[test]
fn the_sound_does_not_depend_on_the_block_length() {
    let with = |block: usize| {
        mixed(
            expected_of(LINE),
            Level::default(),
            std::iter::repeat(block),
        )
    };
    let whole = with(usize::MAX);
    for block in [1, 64, 1000] {
        assert!(with(block) == whole, "blocks of {block}");
    }
    let uneven = (1..).map(|n| n * 37 % 501 + 1);
    assert!(mixed(expected_of(LINE), Level::default(), uneven) == whole);
}

#[test]
fn nothing_clips_at_the_cap_and_nothing_is_bent_at_the_level_without_options() {
    let crowd = "title = \"a\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\n\
         notes = \"E1+B1+F2+C3/4> E1+B1+F2+C3/4>_ E1+B1+F2+C3/8>_ E1+B1+F2+C3/8>_ E1+B1+F2+C3/4>\"";
    let peak = |expected, level| {
        let sound = mixed(expected, level, std::iter::once(usize::MAX));
        sound
            .iter()
            .fold(0f32, |peak, sample| peak.max(sample.abs()))
    };
    let loudest = peak(expected_of(crowd), Level::CAP);
    assert!((0.9..=1.0).contains(&loudest), "{loudest}");
    for line in study_lines() {
        let peak = peak(line, Level::default());
        assert!((0.1..0.5).contains(&peak), "{peak}");
    }
}

#[test]
fn the_line_may_be_soft_in_both_ears_while_the_click_is_loud_in_one() {
    let expected = Arc::new(expected_of(LINE));
    let ears = |mix: Mix| {
        let clicks = ClickTrack::subdivided(&expected, 1, Pattern::Beats, Subdivision::Halves);
        let mut render = LineAndClick::new(Arc::clone(&expected), clicks, Nanos::ZERO, mix);
        let length = frame_at(render.end(), RATE) as usize;
        render.prepare(RATE);
        let [mut left, mut right] = [(); 2].map(|()| vec![f32::NAN; length]);
        render.render(0, Stereo::new(&mut left, &mut right));
        let peak = |ear: &[f32]| ear.iter().fold(0f32, |peak, s| peak.max(s.abs()));
        [(peak(&left), rms(&left)), (peak(&right), rms(&right))]
    };
    let click = ClickSound {
        pan: Pan::RIGHT,
        ..Level::CAP.into()
    };
    let alone = ears(click.into());
    assert_eq!(alone[0], (0.0, 0.0));
    let soft = ears(Mix {
        click,
        line: Some(Level::dbfs(-30.0)),
    });
    assert!((0.02..0.07).contains(&soft[0].0), "{soft:?}");
    assert!((0.5..0.6).contains(&soft[1].0), "{soft:?}");
    let loud = ears(Mix {
        click,
        line: Some(Level::CAP),
    });
    assert!(loud[0].1 > 10.0 * soft[0].1 && loud[1].0 <= 1.0, "{loud:?}");
}

#[test]
fn a_note_whose_beginning_was_lost_begins_at_once_and_ends_in_time() {
    let text = "title = \"a\"\nmeter = \"4/4\"\ntempo = 60\n[[section]]\nname = \"A\"\nnotes = \"r/4 A1/4 r/2\"";
    let expected = expected_of(text);
    let mut tone = Tone::new(&expected, 0, RATE, Level::default());
    tone.mix(0, &mut [0.0; 64]);
    let mut block = vec![0.0; 96_000];
    tone.mix(60_000, &mut block);
    assert!(block[0] != 0.0);
    // It lasts 0.9 s from 1 s on.
    let end = 91_200 - 60_000;
    assert!(rms(&block[end - 1000..end]) > 0.01);
    assert!(block[end + 2016..].iter().all(|sample| *sample == 0.0));
    let mut late = Tone::new(&expected, 0, RATE, Level::default());
    let mut block = vec![0.0; 4800];
    late.mix(92_000, &mut block);
    assert!(block.iter().all(|sample| *sample == 0.0), "over is over");
}

#[test]
fn a_pickup_without_a_count_in_is_heard_whole() {
    let text = "title = \"a\"\nmeter = \"4/4\"\ntempo = 60\npickup = true\n[[section]]\nname = \"A\"\n\
         notes = \"A1/4 D2/4 E2/4 | A1/1\"";
    let expected = expected_of(text);
    let clicks = ClickTrack::new(&expected, 0, Pattern::Bar);
    let mut render = LineAndClick::new(Arc::new(expected), clicks, Nanos::ZERO, Level::default());
    assert_eq!(render.bar_1(), Nanos::from_ms(3000));
    render.prepare(RATE);
    let mut sound = vec![0.0; 4 * RATE as usize];
    render.render(
        0,
        Stereo::new(&mut sound, &mut vec![0.0; 4 * RATE as usize]),
    );
    assert!(sound[0] != 0.0);
    // The accent of bar 1 begins at its peak, with the note's first sample on top.
    assert!(sound[3 * RATE as usize] > 0.125 && sound[3 * RATE as usize - 1] == 0.0);
}
