//! A take judged live and the same take judged from a list, or re-read from disk, give the same readings to the bit.

mod takes;

use leadsman::clock::glitch::{Glitch, GlitchKind};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::judge::{judge, judge_with_glitches};
use leadsman::judge::{Judge, Judgement, Reading, Settings};
use leadsman::line::parse::parse;
use leadsman::played::cleanup::{Rule, Rules};
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{Habits, play};
use leadsman::units::{Key, Nanos};
use proptest::prelude::*;
use serde_json::Value;
use std::sync::Arc;
use takes::Bench;

/// Lines of different shapes: swing with rests, compound meter, tempo changes with passes, five in a bar, double
/// stops, dead and ghost notes, one key at sixteenths, a pickup.
const LINES: [&str; 6] = [
    "title = \"a\"\nmeter = \"4/4\"\ntempo = 126\nswing = \"2:1\"\n[[section]]\nname = \"A\"\npasses = [0, 2]\n\
     notes = \"r/8 A2/8 D2/4 r/8 F2/8 A2/4 | r/8 G2/8' C2/4 E2/8 E2/8 D2/4_\"",
    "title = \"b\"\nmeter = \"6/8\"\ntempo = 90\n[[section]]\nname = \"A\"\n\
     notes = \"A1/8 A1/8 E2/8 A1/4 G1/8 | r/8 D2/8 D2/8 A2/4. | A1/4. G1/8 F1/8 E1/8 | A1/2.\"",
    "title = \"c\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [0, 0]\n\
     notes = \"C2/4 E2/4 G2/4 A2/4 | C3/8 A2/8 G2/8 E2/8 C2/2\"\n[[section]]\nname = \"B\"\ntempo = 123\n\
     notes = \"F2/4 A2/4 C3/4 D3/4 | G1/2 r/2\"\n[[section]]\nname = \"C\"\ntempo = 97\nmeter = \"3/4\"\n\
     notes = \"D2/4 D2/4 D2/4 | A1/2.\"",
    "title = \"d\"\nmeter = \"5/4\"\ntempo = 151\n[[section]]\nname = \"A\"\n\
     notes = \"D2+A2/4 D2/4 r/4 C2/8 D2/8 F2/4 | x/4 D2/8? D2/8 G2/4m A2/4> D2+A2/4 | D2/1~ D2/4\"",
    "title = \"e\"\nmeter = \"4/4\"\ntempo = 112\n[[section]]\nname = \"A\"\npasses = [0, 0, 0]\n\
     notes = \"E1/16 E1/16 x/16 E1/16 E1/16 E1/16 E1/16 x/16 G1/16 G1/16 A1/16 A1/16 E1/16 E1/16 E2/8\"",
    "title = \"f\"\nmeter = \"3/4\"\ntempo = 70\npickup = true\n[[section]]\nname = \"A\"\n\
     notes = \"B1/8t C2/8t D2/8t | E2/2. | r/2 D2/4 | C2/2 B1/4 | A1/2.\"",
];

fn expected(line: usize, speed: u32) -> Arc<Expected> {
    let line = parse(LINES[line], "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    Arc::new(unroll(&line, Speed(speed)))
}

/// What a stand-in does, and what is thrown into it.
#[derive(Clone, Debug)]
struct Scene {
    line: usize,
    speed: u32,
    habits: Habits,
    seed: u64,
    garbage: Vec<(i64, u8, u8, u8)>,
    settings: Settings,
}

fn scenes() -> impl Strategy<Value = Scene> {
    let habits = (
        (-60.0..60.0, 0.0..60.0, -1.0..1.0, 0.0..90.0),
        (0.0..400.0, 0.0..0.4, 0.0..0.4, 0.0..0.3, 0.3..1.0),
    );
    let garbage = prop::collection::vec((-2000i64..20_000, 0u8..6, 0u8..3, 26u8..52), 0..25);
    let latency = (0i64..12_000_000, 0.0..2.0, any::<bool>());
    let place = (
        0..LINES.len(),
        prop::sample::select(vec![100_000u32, 73_500, 140_000]),
    );
    let rules = prop_oneof![
        3 => Just(Rules::ALL),
        1 => Just(Rules::NONE),
        2 => prop::sample::subsequence(Rule::ALL.to_vec(), 0..=Rule::ALL.len())
            .prop_map(|rules| rules.into_iter().fold(Rules::NONE, Rules::with)),
    ];
    let converter = (0.0..0.17, any::<bool>(), rules);
    (place, habits, any::<u64>(), garbage, latency, converter).prop_map(
        |((line, speed), (timing, hands), seed, garbage, latency, (fault, strings, rules))| {
            let habits = Habits {
                mean_ms: timing.0,
                spread_ms: timing.1,
                drift_percent: timing.2,
                late_entries_ms: timing.3,
                ring_over_ms: hands.0,
                dropped: hands.1,
                extra: hands.2,
                wrong_frets: hands.3,
                short_notes: hands.4,
                latency_fixed_ms: 3.0,
                latency_periods: latency.1,
                octave_glitches: fault,
                doubled_notes: fault,
                slide_steps: fault,
                bend_splits: fault,
                ghost_triggers: fault,
                missing_offs: fault,
                string_channels: f64::from(u8::from(strings)),
                ..Habits::default()
            };
            let mut settings = Settings::default();
            settings.latency.fixed = Nanos(latency.0);
            settings.latency.periods = latency.1;
            settings.intake.channel = latency.2.then_some(0);
            settings.cleanup = rules;
            Scene {
                line,
                speed,
                habits,
                seed,
                garbage,
                settings,
            }
        },
    )
}

impl Scene {
    fn events(&self, expected: &Expected) -> Vec<TimedMessage> {
        let mut events = play(expected, &self.habits, self.seed);
        events.extend(self.garbage.iter().map(|(ms, kind, channel, key)| {
            let (channel, key) = (*channel, Key(*key));
            let message = match kind {
                0 | 1 => MidiMessage::NoteOn {
                    channel,
                    key,
                    velocity: 30,
                },
                2 | 3 => MidiMessage::NoteOff { channel, key },
                4 => MidiMessage::AllNotesOff { channel },
                _ => MidiMessage::Other([0xE0 | channel, 0, 2 * key.0]),
            };
            TimedMessage {
                at: Nanos::from_ms(*ms),
                message,
            }
        }));
        events.sort_by_key(|event| event.at);
        events
    }
}

/// Pushes the events with the clock moved on and readings looked at in between, as `chances` has it. Returns the
/// judgement and every reading that was called settled.
fn judge_live(
    expected: &Arc<Expected>,
    settings: &Settings,
    events: &[TimedMessage],
    chances: &[(u8, u16)],
) -> (Judgement, Vec<Reading>) {
    let mut judge = Judge::new(Arc::clone(expected), settings);
    let mut settled = Vec::new();
    let mut look = |judge: &Judge, peek: u16| {
        let final_now = judge.settled();
        settled.extend((0..final_now).map(|note| judge.reading(note)));
        let notes = judge.expected().notes.len();
        let _ = (judge.reading(usize::from(peek) % notes), judge.latest());
    };
    let mut chances = chances.iter().cycle();
    for (index, event) in events.iter().enumerate() {
        judge.push(*event);
        let (what, peek) = *chances.next().expect("some chances");
        let until = events.get(index + 1).map_or(event.at, |next| next.at);
        match what {
            0 => judge.advance(event.at),
            1 => judge.advance(until),
            2 => judge.advance(Nanos((event.at.0 + until.0) / 2)),
            3 => (0..4).for_each(|_| judge.advance(event.at)),
            _ => {}
        }
        if what % 2 == 0 {
            look(&judge, peek);
        }
    }
    (judge.finish(), settled)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn however_a_take_is_chunked_its_readings_are_those_of_the_whole_list(
        scene in scenes(),
        chances in prop::collection::vec((0u8..8, any::<u16>()), 1..40),
    ) {
        let expected = expected(scene.line, scene.speed);
        let events = scene.events(&expected);
        let whole = judge(Arc::clone(&expected), &scene.settings, events.iter().copied());
        let (live, settled) = judge_live(&expected, &scene.settings, &events, &chances);
        prop_assert_eq!(&live, &whole);
        for reading in settled {
            prop_assert_eq!(reading, whole.readings[reading.note as usize]);
        }
    }
}

fn glitches() -> impl Strategy<Value = Vec<Glitch>> {
    let kinds = [
        GlitchKind::Moved,
        GlitchKind::ClockReset,
        GlitchKind::Xrun,
        GlitchKind::Lost,
    ];
    let glitch = (
        -2000i64..20_000,
        0i64..1500,
        prop::sample::select(kinds.to_vec()),
    );
    let glitch = glitch.prop_map(|(from, length, what)| Glitch {
        from: Nanos::from_ms(from),
        until: Nanos::from_ms(from + length),
        what,
    });
    // More than are kept apart, now and then.
    prop_oneof![
        prop::collection::vec(glitch.clone(), 0..6),
        prop::collection::vec(glitch, 250..270)
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    #[test]
    fn whenever_a_glitch_is_noticed_the_take_comes_out_the_same(
        scene in scenes(),
        glitches in glitches(),
        every in 1usize..20,
    ) {
        let expected = expected(scene.line, scene.speed);
        let events = scene.events(&expected);
        let whole = judge_with_glitches(
            Arc::clone(&expected),
            &scene.settings,
            &glitches,
            events.iter().copied(),
        );
        let mut live = Judge::new(Arc::clone(&expected), &scene.settings);
        let mut untold = glitches.iter();
        for (index, event) in events.iter().enumerate() {
            live.push(*event);
            live.advance(event.at);
            if index % every == 0 && let Some(glitch) = untold.next() {
                live.doubt(*glitch);
            }
        }
        untold.for_each(|glitch| live.doubt(*glitch));
        prop_assert_eq!(live.finish(), whole);
    }
}

/// Readings must become final while a take goes on, or the property above says nothing.
#[test]
fn in_a_plain_take_readings_become_final_within_a_few_notes() {
    let expected = expected(2, 100_000);
    let events = play(&expected, &Habits::named("steady").unwrap(), 7);
    let mut judge = Judge::new(Arc::clone(&expected), &Settings::default());
    let mut furthest_behind = 0;
    for event in &events {
        judge.push(*event);
        judge.advance(event.at);
        let heard = judge
            .expected()
            .notes
            .iter()
            .filter(|note| note.onset <= event.at);
        furthest_behind = furthest_behind.max(heard.count().saturating_sub(judge.settled()));
    }
    assert!(furthest_behind <= 4, "{furthest_behind} notes behind");
}

/// What is cleaned up is cleaned up alike, and the property above has something to clean.
#[test]
fn a_bad_converters_take_is_cleaned_alike_live_and_from_a_list() {
    let expected = expected(4, 100_000);
    let events = play(&expected, &Habits::named("bad-converter").unwrap(), 7);
    let settings = Settings::default();
    let whole = judge(Arc::clone(&expected), &settings, events.iter().copied());
    assert!(whole.cleaned.len() >= 10, "{:?}", whole.cleaned);
    let (live, settled) = judge_live(&expected, &settings, &events, &[(1, 3), (2, 9), (4, 0)]);
    assert_eq!(live, whole);
    assert!(settled.len() > expected.notes.len());
}

/// What a check says of a take, the file and the rest of the take's head aside.
fn said(json: &Value) -> Vec<String> {
    let parts = [
        "notes",
        "extra",
        "cleaned",
        "summary",
        "convention",
        "findings",
        "line",
    ];
    assert!(json["cleaned"].is_array());
    parts.map(|part| json[part].to_string()).to_vec()
}

#[test]
fn a_kept_take_is_read_again_to_the_same_report() {
    let habits = [
        "steady",
        "late-entries,missed-muting",
        "patchy,wrong-frets,unsteady",
        "converter,rushed-upbeats",
        "mean-ms=-18,drift-percent=0.4,short-notes=0.6",
        "bad-converter",
        "bad-converter,string-channels=1",
    ];
    let options: [&[&str]; 6] = [
        &["--keep", "doubled-notes", "--keep", "slide-steps"],
        &[],
        &["--speed", "73.5"],
        &["--latency", "6", "--latency-periods", "1.5"],
        &[
            "--speed",
            "131.7",
            "--window",
            "12.5",
            "--lean",
            "-8",
            "--count-in",
            "0",
        ],
        &[
            "--ring-window",
            "5",
            "--length-percent",
            "33",
            "--count-in",
            "3",
            "--octave",
            "0",
        ],
    ];
    for (number, line) in LINES.iter().enumerate() {
        let bench = Bench::new(line);
        for (turn, habits) in habits.iter().enumerate() {
            let take = format!("{turn}.mid");
            let seed = (10 * number + turn).to_string();
            let options = options[(number + turn) % options.len()];
            let demo = [
                "demo",
                "line.toml",
                "--json",
                "--take",
                &take,
                "--habits",
                habits,
                "--seed",
                &seed,
            ];
            let demo = bench.run(&[&demo, options].concat());
            assert_eq!((demo.code, demo.err.as_str()), (Some(0), ""));
            let check = bench.run(&["check", "line.toml", &take, "--json"]);
            assert_eq!((check.code, check.err.as_str()), (Some(0), ""));
            assert_eq!(
                said(&demo.json()),
                said(&check.json()),
                "line {number}, {habits}, {options:?}"
            );
            assert_eq!(demo.out, check.out, "to the byte");
        }
    }
}
