//! Where bar 1 beat 1 falls in a take that does not say.

mod takes;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::Settings;
use leadsman::judge::fit;
use leadsman::line::parse::parse;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{Habits, play};
use leadsman::units::{Key, Nanos};
use takes::{Bench, Note, note};

const LINES: [&str; 4] = [
    // Four times the same.
    "title = \"a\"\nmeter = \"4/4\"\ntempo = 126\nswing = \"2:1\"\n[[section]]\nname = \"A\"\npasses = [0, 0, 0, 0]\n\
     notes = \"r/8 A2/8 D2/4 r/8 F2/8 A2/4 | r/8 G2/8 C2/8 D2/8 E2/8 G2/8 A2/4 | D2/4 C2/8 A1/8 r/8 F2/8 D2/4\"",
    // Two notes only, over and over.
    "title = \"b\"\nmeter = \"4/4\"\ntempo = 96\n[[section]]\nname = \"A\"\npasses = [0, 0, 0, 0, 0, 0]\n\
     notes = \"E1/4 E1/4 B1/4 E1/4 | E1/4 E1/8 E1/8 B1/4 E1/4 | r/4 E1/4 B1/4 B1/4\"",
    "title = \"c\"\nmeter = \"6/8\"\ntempo = 100\n[[section]]\nname = \"A\"\npasses = [0, 0, 5]\n\
     notes = \"A1/8 C2/8 E2/8 G2/4 E2/8 | D2/8 F2/8 A2/8 C3/4 A2/8 | E1/4 B1/8 E2/4. | A1/4. G1/4.\"\n\
     [[section]]\nname = \"B\"\ntempo = 104\nnotes = \"A1/4 A1/8 A1/4 A1/8 | G1/4 G1/8 G1/4 D2/8 | A1/2.\"",
    "title = \"d\"\nmeter = \"3/4\"\ntempo = 80\npickup = true\n[[section]]\nname = \"A\"\npasses = [0, 0, 0]\n\
     notes = \"D2/8 E2/8 | F2/4 C2/4 x/4 | Bb1/4 F2/8 G2/8 A2/4 | G1/4 D2/4 G2/8 F2/8 | E2/2.\"",
];

fn expected(line: usize) -> Expected {
    let line = parse(LINES[line], "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    unroll(&line, Speed::WRITTEN)
}

fn strike(at: Nanos, key: u8) -> [TimedMessage; 2] {
    let (channel, key) = (0, Key(key));
    let on = MidiMessage::NoteOn {
        channel,
        key,
        velocity: 50,
    };
    let off = MidiMessage::NoteOff { channel, key };
    [(at, on), (at + Nanos::from_ms(60), off)].map(|(at, message)| TimedMessage { at, message })
}

/// What comes before bar 1.
#[derive(Clone, Copy, Debug)]
enum Before {
    Silence,
    /// Two bars of muted hits on the open E string, at the tempo of the line.
    CountIn,
    /// Notes of the line in any order and rhythm.
    Noodling,
    /// The first two bars, broken off, then a breath.
    FalseStart,
}

/// A take whose bar 1 starts at `start`, in file time.
fn take(
    expected: &Expected,
    habits: &Habits,
    seed: u64,
    start: Nanos,
    before: Before,
) -> Vec<TimedMessage> {
    let at = |event: TimedMessage, from: Nanos| TimedMessage {
        at: event.at + from,
        ..event
    };
    let mut events: Vec<TimedMessage> = play(expected, habits, seed)
        .into_iter()
        .map(|e| at(e, start))
        .collect();
    let beat = expected.notes[0].beat;
    match before {
        Before::Silence => {}
        Before::CountIn => {
            events.extend((2..10).flat_map(|back| strike(start - Nanos(beat.0 * back), 28)));
        }
        Before::Noodling => {
            let keys: Vec<u8> = expected
                .notes
                .iter()
                .filter_map(|note| Some(note.key?.0))
                .collect();
            let mut at = Nanos::from_ms(300);
            for step in 0.. {
                let key = keys[(seed as usize * 7 + step * 13) % keys.len()];
                at += Nanos::from_ms(140 + ((seed as usize * 31 + step * 57) % 300) as i64);
                if at > start - Nanos::from_ms(1500) {
                    break;
                }
                events.extend(strike(at, key));
            }
        }
        Before::FalseStart => {
            let from = start - expected.bars[2].onset - Nanos::from_ms(2345);
            let first = play(expected, habits, seed + 1).into_iter();
            events.extend(
                first
                    .filter(|e| e.at < expected.bars[2].onset)
                    .map(|e| at(e, from)),
            );
        }
    }
    events.retain(|event| event.at >= Nanos::ZERO);
    events.sort_by_key(|event| event.at);
    events
}

/// How far the estimate lies from the truth, in ms.
fn error_ms(line: usize, seed: u64, before: Before, habits: &Habits) -> f64 {
    let expected = expected(line);
    // 3 to 60 s, spread by a prime.
    let start = Nanos::from_ms(3000 + (seed as i64 * 7919) % 57_000);
    let events = take(&expected, habits, seed, start, before);
    let estimate = fit::estimate(&expected, &events, &Settings::default()).expect("common notes");
    (estimate.at - start).ms() - habits.mean_ms
}

#[test]
fn the_start_is_found_to_5_ms_whatever_comes_before_it() {
    let habits: Habits = "spread-ms=10".parse().expect("habits");
    for before in [
        Before::Silence,
        Before::CountIn,
        Before::Noodling,
        Before::FalseStart,
    ] {
        let mut errors: Vec<f64> = (0..120)
            .map(|seed| error_ms(seed as usize % LINES.len(), seed, before, &habits).abs())
            .collect();
        errors.sort_by(f64::total_cmp);
        println!(
            "{before:?}: median {:.2} ms, worst {:.2} ms",
            errors[60], errors[119]
        );
        let beyond = errors.iter().filter(|error| **error > 5.0).count();
        assert_eq!(beyond, 0, "{before:?}: {:?}", &errors[120 - beyond..]);
    }
}

#[test]
fn wrong_missing_and_extra_notes_do_not_move_the_start() {
    let habits: Habits = "spread-ms=10,wrong-frets=0.15,dropped=0.1,extra=0.1"
        .parse()
        .expect("habits");
    for seed in 0..60 {
        let error = error_ms(seed as usize % LINES.len(), seed, Before::CountIn, &habits);
        assert!(error.abs() <= 6.0, "seed {seed}: {error} ms");
    }
}

/// Bar 1 of [`BENCH_LINE`] at 120: quarter notes.
const BENCH_LINE: &str = "title = \"Lean\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | A1/4 C2/4 E2/4 G2/4 | D2/4 A1/4 F1/4 E1/4\"";

fn leaning(by_ms: f64) -> Vec<Note> {
    let keys = [28, 33, 38, 43, 33, 36, 40, 43, 38, 33, 29, 28];
    let start = 4000.0;
    let at = |(beat, key): (usize, &u8)| note(start + 500.0 * beat as f64 + by_ms, *key, 450.0);
    keys.iter().enumerate().map(at).collect()
}

fn mean_ms(json: &serde_json::Value) -> f64 {
    json["summary"]["offset_mean_ms"].as_f64().expect("a mean")
}

#[test]
fn a_lean_is_kept_when_the_file_has_the_lines_own_beat_and_taken_out_otherwise() {
    let bench = Bench::new(BENCH_LINE);
    for lean in [18.0, -22.0] {
        let on_grid = takes::smf_at_tempo(&leaning(lean), 120.0);
        let json = bench.check_bytes(&on_grid, &["--json"]).json();
        assert_eq!(json["take"]["start_s"], 4.0);
        assert!((mean_ms(&json) - lean).abs() < 0.05);
        let without_tempo = takes::smf(&leaning(lean));
        let json = bench.check_bytes(&without_tempo, &["--json"]).json();
        assert!((json["take"]["start_s"].as_f64().unwrap() - (4.0 + lean / 1000.0)).abs() < 1e-4);
        assert!(mean_ms(&json).abs() < 0.05);
        let other_tempo = takes::smf_at_tempo(&leaning(lean), 97.0);
        let json = bench.check_bytes(&other_tempo, &["--json"]).json();
        assert!(mean_ms(&json).abs() < 0.05);
    }
}

#[test]
fn the_report_says_where_the_start_is_and_how_it_is_known() {
    let bench = Bench::new(BENCH_LINE);
    let notes = leaning(10.0);
    // The report is wrapped for a terminal.
    let said = |take: &[u8], options: &[&str]| {
        let out = bench.check_bytes(take, options).out;
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let by_notes = said(&takes::smf(&notes), &[]);
    assert!(by_notes.contains("bar 1 starts at 4.010 s (estimated from the notes, so a steady lean cannot be told; --start sets it)"), "{by_notes}");
    let by_grid = said(&takes::smf_at_tempo(&notes, 120.0), &[]);
    assert!(
        by_grid.contains(
            "bar 1 starts at 4.000 s (estimated from the notes and set on the file's own beat"
        ),
        "{by_grid}"
    );
    let given = said(&takes::smf(&notes), &["--start", "4"]);
    assert!(
        given.contains("bar 1 starts at 4.000 s (as given)"),
        "{given}"
    );
}

#[test]
fn a_take_that_begins_in_the_middle_of_the_line_starts_before_the_file() {
    let bench = Bench::new(BENCH_LINE);
    let notes = takes::moved(&leaning(0.0)[4..], -6000.0 + 100.0);
    let json = bench.check_bytes(&takes::smf(&notes), &["--json"]).json();
    assert!((json["take"]["start_s"].as_f64().unwrap() + 1.9).abs() < 1e-4);
    assert_eq!(
        (&json["summary"]["matched"], &json["summary"]["missed"]),
        (&8.into(), &4.into())
    );
    let again = bench
        .check_bytes(&takes::smf(&notes), &["--json", "--start", "-1.9"])
        .json();
    assert_eq!(again["notes"], json["notes"]);
}

/// Line 0 plays four times the same.
#[test]
fn of_a_line_that_repeats_itself_the_first_pass_is_the_one_that_was_played_first() {
    let expected = expected(0);
    let habits: Habits = "spread-ms=8".parse().expect("habits");
    let pass = expected.bars[3].onset;
    let start = Nanos::from_ms(31_000);
    for seed in 0..20 {
        let whole = take(&expected, &habits, seed, start, Before::CountIn);
        let unfinished: Vec<TimedMessage> = whole
            .iter()
            .copied()
            .filter(|e| e.at < start + pass)
            .collect();
        let mut more = whole.clone();
        let again = play(&expected, &habits, seed).into_iter();
        more.extend(again.map(|event| TimedMessage {
            at: event.at + start + expected.end,
            ..event
        }));
        for (what, events) in [
            ("unfinished", &unfinished),
            ("whole", &whole),
            ("more", &more),
        ] {
            let estimate =
                fit::estimate(&expected, events, &Settings::default()).expect("common notes");
            assert!(
                (estimate.at - start).ms().abs() < 8.0,
                "{what}, seed {seed}: {estimate:?}"
            );
        }
    }
}
