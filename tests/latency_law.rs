//! What `latency measure` makes of converters whose law is known.
//!
//! `LATENCY_SEEDS=200 cargo test --release --test latency_law -- --nocapture` measures on more seeds than the default
//! and prints the rates.

use leadsman::backend::scripted::ScriptedSession;
use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Session};
use leadsman::click::Level;
use leadsman::latency::answers::{Answers, pair};
use leadsman::latency::bursts::{BurstRenderer, LENGTH};
use leadsman::latency::listen::{Next, listen};
use leadsman::latency::{Burst, Doubt, Measurement, NoteOn, Schedule};
use leadsman::live::{Pace, Stop};
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::converter::{Law, Tone, answer};
use leadsman::units::Nanos;

const RATE: u32 = 48_000;
/// As many as the command plays at the most.
const BURSTS: usize = 1800;

fn seeds() -> u64 {
    let set = std::env::var("LATENCY_SEEDS").ok();
    set.and_then(|text| text.parse().ok()).unwrap_or(12)
}

fn law(text: &str) -> Law {
    text.parse().expect("a law")
}

fn events(bursts: &[Burst], law: &Law, seed: u64) -> Vec<TimedMessage> {
    let tone = |burst: &Burst| Tone {
        at: burst.at,
        key: burst.key,
        length: LENGTH,
    };
    let tones: Vec<Tone> = bursts.iter().map(tone).collect();
    answer(&tones, law, seed)
}

fn notes(events: &[TimedMessage]) -> Vec<NoteOn> {
    let on = |event: &TimedMessage| match event.message {
        MidiMessage::NoteOn { key, .. } => Some(NoteOn { at: event.at, key }),
        _ => None,
    };
    events.iter().filter_map(on).collect()
}

/// Measures as the command does: looks every ten seconds, ends when it is enough.
fn measure(law: &Law, seed: u64) -> (Answers, Result<Measurement, Doubt>) {
    let bursts = Schedule::new(Schedule::LEAD, BURSTS, seed).on_frames(RATE);
    let notes = notes(&events(&bursts, law, seed ^ 0xbea7));
    let mut until = Nanos::ZERO;
    loop {
        until += Nanos::from_ms(10_000);
        let answers = pair(&bursts, &notes, until);
        let measured = Measurement::of(&answers);
        let is_enough = measured
            .as_ref()
            .is_ok_and(|measured| measured.is_enough(answers.bursts));
        if is_enough || answers.bursts == BURSTS {
            return (answers, measured);
        }
    }
}

const SLIPS: &str = "octave-errors=0.1,dropped=0.1,doubled=0.1,hesitates=0.02";

#[test]
fn the_law_is_found_to_half_a_millisecond_and_a_twentieth_of_a_period() {
    let (mut runs, mut far, mut fixed_in, mut periods_in) = (0, 0, 0, 0);
    for jitter in ["0", "0.5", "1", "2", "3"] {
        let (mut bursts, mut of_jitter, mut worst) = (0, 0, (0f64, 0f64));
        for (fixed, periods) in [
            ("0", "0"),
            ("6", "1"),
            ("3", "2"),
            ("40", "1.5"),
            ("120", "3"),
        ] {
            let law = law(&format!(
                "fixed-ms={fixed},periods={periods},jitter-ms={jitter},{SLIPS}"
            ));
            for seed in 0..seeds() {
                let (answers, measured) = measure(&law, seed);
                let measured = measured.unwrap_or_else(|doubt| panic!("{law}: {doubt}"));
                assert_eq!(measured.doubts, [], "{law}, seed {seed}");
                let off = (measured.fixed_ms - law.fixed_ms).abs();
                let periods_off = (measured.periods - law.periods).abs();
                worst = (worst.0.max(off), worst.1.max(periods_off));
                far += usize::from(off > 0.5 || periods_off > 0.05);
                fixed_in += usize::from(off <= 1.96 * measured.fixed_se_ms);
                periods_in += usize::from(periods_off <= 1.96 * measured.periods_se);
                (runs, of_jitter) = (runs + 1, of_jitter + 1);
                bursts += answers.bursts;
            }
        }
        println!(
            "jitter {jitter} ms: {} bursts on average, at worst {:.2} ms and {:.3} periods off",
            bursts / of_jitter,
            worst.0,
            worst.1
        );
    }
    println!(
        "{runs} runs: {far} off by more; 95 % intervals hold the fixed part in {fixed_in}, the periods in {periods_in}"
    );
    assert!(far == 0, "{far} of {runs} runs are off by more");
    for held in [fixed_in, periods_in] {
        let share = held as f64 / runs as f64;
        assert!(share >= 0.90, "intervals hold in {held} of {runs} runs");
    }
}

/// The doubts that a law raises; those of a measurement that cannot be made count too.
fn doubts(law: &Law) -> Vec<Doubt> {
    match measure(law, 3).1 {
        Ok(measured) => measured.doubts,
        Err(doubt) => vec![doubt],
    }
}

#[test]
fn what_no_converter_does_is_not_believed() {
    for (text, is_the_doubt) in [
        (
            "fixed-ms=220,jitter-ms=1",
            (|doubt| matches!(doubt, Doubt::TooLong(_))) as fn(&Doubt) -> bool,
        ),
        ("periods=6,jitter-ms=1", |doubt| {
            matches!(doubt, Doubt::TooManyPeriods(_))
        }),
        ("fixed-ms=100,periods=1,jitter-ms=25", |doubt| {
            matches!(doubt, Doubt::Scattered(_))
        }),
        ("fixed-ms=6,periods=1,dropped=0.7", |doubt| {
            matches!(doubt, Doubt::TooFewAnswers { .. })
        }),
        ("dropped=1", |doubt| {
            matches!(doubt, Doubt::TooFewAnswers { answers: 0, .. })
        }),
        (
            "fixed-ms=6,periods=2,hesitates=0.35,jitter-ms=0.3",
            |doubt| matches!(doubt, Doubt::ManyOutliers { .. }),
        ),
    ] {
        let doubts = doubts(&law(text));
        assert!(doubts.iter().any(is_the_doubt), "{text}: {doubts:?}");
    }
}

/// Answers that are moved by hand, since no law of the stand-in is of this kind.
fn doubts_of(moved: impl Fn(&Burst) -> Nanos) -> Vec<Doubt> {
    let bursts = Schedule::new(Schedule::LEAD, 200, 8).on_frames(RATE);
    let note = |burst: &Burst| NoteOn {
        at: burst.at + moved(burst),
        key: burst.key,
    };
    let mut notes: Vec<NoteOn> = bursts.iter().map(note).collect();
    notes.sort_by_key(|note| note.at);
    match Measurement::of(&pair(&bursts, &notes, Nanos::MAX)) {
        Ok(measured) => measured.doubts,
        Err(doubt) => vec![doubt],
    }
}

#[test]
fn a_slope_that_falls_or_a_fixed_part_below_nothing_is_not_believed() {
    let falls = doubts_of(|burst| Nanos::from_ms_f64(60.0 - 1000.0 / burst.key.frequency_hz()));
    assert!(
        matches!(falls[..], [Doubt::FallsWithPeriod(_)]),
        "{falls:?}"
    );
    let early = doubts_of(|_| Nanos::from_ms(-12));
    assert!(matches!(early[..], [Doubt::BeforeTheSound(_)]), "{early:?}");
    assert_eq!(doubts_of(|_| Nanos::from_ms(9)), []);
}

#[test]
fn one_pitch_is_not_enough() {
    let bursts = Schedule::new(Schedule::LEAD, 400, 8).on_frames(RATE);
    let low = bursts.iter().filter(|burst| burst.key.0 < 34);
    let notes: Vec<NoteOn> = low
        .map(|burst| NoteOn {
            at: burst.at + Nanos::from_ms(30),
            key: burst.key,
        })
        .collect();
    let measured = Measurement::of(&pair(&bursts, &notes, Nanos::MAX)).expect("a law");
    let too_few = |doubt: &Doubt| matches!(doubt, Doubt::TooFewPitches(2));
    assert!(measured.doubts.iter().any(too_few), "{measured:?}");
}

#[test]
fn a_midi_bass_waits_for_no_period() {
    for seed in 0..seeds() {
        let (_, measured) = measure(&law("fixed-ms=4,jitter-ms=0.4"), seed);
        let measured = measured.expect("a law");
        assert!(measured.periods >= 0.0 && measured.periods < 0.05);
        assert!((measured.fixed_ms - 4.0).abs() < 0.5, "{measured:?}");
    }
}

#[test]
fn through_a_session_in_virtual_time_it_is_the_same() {
    let schedule = Schedule::new(Nanos::from_ms(500), 200, 11);
    let renderer = BurstRenderer::new(schedule.clone(), Level::default());
    let config = Config {
        sample_rate: Some(44_100),
        period: Some(256),
        ..Config::default()
    };
    let inner = VirtualSession::open(&config, Box::new(renderer));
    let bursts = schedule.on_frames(inner.sample_rate());
    let script = events(&bursts, &law("fixed-ms=6,periods=1.5,jitter-ms=0.2"), 4);
    let mut session = ScriptedSession::new(inner, script.clone());
    let mut looks = 0;
    let heard = listen(
        &mut session,
        Nanos::from_ms(80_000),
        None,
        Pace::Virtual,
        &Stop::default(),
        |_| {
            looks += 1;
            Next::Listen
        },
    )
    .expect("a session");
    assert!(heard.notes == notes(&script) && looks == 7, "{looks} looks");
    let measured = Measurement::of(&pair(&bursts, &heard.notes, heard.until)).expect("a law");
    assert!((measured.fixed_ms - 6.0).abs() < 0.2, "{measured:?}");
    assert!((measured.periods - 1.5).abs() < 0.02, "{measured:?}");
}
