//! `latency measure` against a real JACK server: a second client hears the bursts and answers with MIDI after a known
//! law at exact frames. What is found is kept, `play` takes it off, and the take carries it.
#![cfg(feature = "jack")]

mod support;

use leadsman::clock::frames::frame_at;
use leadsman::latency::Schedule;
use leadsman::latency::kept::Kept;
use leadsman::stand_in::converter::Law;
use leadsman::take::Take;
use leadsman::units::Nanos;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::Duration;
use support::jack_player::{Player, Stroke};
use support::jack_recorder::Recorder;
use support::jack_server::with_server;

const RATE: u32 = 48_000;
const SEED: &str = "4";
const PORTS: [&str; 6] = [
    "--backend",
    "jack",
    "--midi",
    "latency-player",
    "--audio",
    "latency-recorder",
];

/// Long enough for the answer to be scheduled in time on a busy machine.
fn law() -> Law {
    "fixed-ms=90,periods=1.5".parse().expect("a law")
}

/// Frames that are added to an answer: a scatter that is known.
fn scatter(burst: usize) -> i64 {
    [0, 24, -24, 48, -48][burst % 5]
}

fn leadsman(home: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leadsman"));
    command.env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
    command
        .env("XDG_DATA_HOME", home)
        .env("HOME", home)
        .args(args)
        .args(PORTS)
        .stderr(Stdio::piped());
    command
}

/// Answers every burst after the law until leadsman ends. Whether the run was disturbed.
fn answer(mut child: Child, recorder: &mut Recorder, player: &mut Player) -> bool {
    let schedule = Schedule::new(Schedule::LEAD, 1800, SEED.parse().expect("a number"));
    let mut bursts = schedule.bursts().iter().enumerate();
    let status = loop {
        for onset in recorder.onsets().collect::<Vec<_>>() {
            let (index, burst) = bursts.next().expect("a burst for each onset");
            let delay = Nanos::from_ms_f64(law().delay_ms(burst.key));
            let frame = onset.frame + (frame_at(delay, RATE) + scatter(index)) as u64;
            let key = burst.key.0;
            let stroke = |frame, bytes| Stroke { frame, bytes };
            player.schedule([
                stroke(frame, [0x90, key, 90]),
                stroke(frame + 480, [0x80, key, 0]),
            ]);
        }
        if let Some(status) = child.try_wait().expect("leadsman can be waited for") {
            break status;
        }
        sleep(Duration::from_millis(2));
    };
    let output = child.wait_with_output().expect("its words");
    let said = String::from_utf8_lossy(&output.stdout).to_string();
    assert!(
        status.success(),
        "{said}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    println!("{said}");
    recorder.xruns() + player.late() > 0
}

/// Measures once; whether the law was found, and whether the run was disturbed.
fn measured(
    home: &Path,
    recorder: &mut Recorder,
    player: &mut Player,
) -> Result<(), (String, bool)> {
    let child = leadsman(home, &["latency", "measure", "--seed", SEED])
        .stdout(Stdio::piped())
        .spawn()
        .expect("leadsman runs");
    let disturbed = answer(child, recorder, player);
    let kept = Kept::read(&home.join("leadsman/latency.toml")).expect("a file");
    let found = kept.ports.first().expect("a latency");
    let off = (found.fixed_ms - law().fixed_ms).abs();
    let periods_off = (found.periods - law().periods).abs();
    println!("off by {off:.3} ms and {periods_off:.4} periods");
    assert_eq!(
        (found.midi.as_str(), found.audio.as_str()),
        ("latency-player:out", "latency-recorder")
    );
    if off <= 0.5 && periods_off <= 0.05 {
        Ok(())
    } else {
        Err((format!("{found:?}"), disturbed))
    }
}

/// The latency that a take of one bar, which nobody plays, says it was judged with.
fn latency_of_take(home: &Path, name: &str, options: &[&str]) -> (String, f64, Option<Nanos>) {
    let line = home.join("line.toml");
    let text = "title = \"Short\"\nmeter = \"4/4\"\ntempo = 300\n[[section]]\nname = \"A\"\nnotes = \"E1/1\"";
    std::fs::write(&line, text).expect("a line");
    let take = home.join(name);
    let paths = [line.display().to_string(), take.display().to_string()];
    let play = ["play", &paths[0], "--count-in", "0", "--take", &paths[1]];
    let output = leadsman(home, &[&play, options].concat())
        .output()
        .expect("leadsman runs");
    let said = String::from_utf8_lossy(&output.stdout).to_string();
    assert!(
        output.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let head = Take::read(&take).expect("a take").head.expect("a head");
    let latency = head.settings.latency;
    (said, latency.fixed.ms(), latency.fixed_se)
}

fn kept_is_used(home: &Path) {
    let (said, fixed, se) = latency_of_take(home, "kept.mid", &[]);
    assert!(said.contains("Latency taken off: "), "{said}");
    assert!((fixed - 90.0).abs() < 0.5 && se.is_some(), "{fixed} {se:?}");
    let (said, fixed, se) = latency_of_take(home, "given.mid", &["--latency", "7"]);
    assert!(!said.contains("Latency"), "{said}");
    assert_eq!((fixed, se), (7.0, None));

    let given = leadsman(
        home,
        &["latency", "given", "--fixed", "12", "--periods", "1"],
    )
    .output()
    .expect("leadsman runs");
    assert!(given.status.success());
    let (said, fixed, se) = latency_of_take(home, "typed.mid", &[]);
    assert!(
        said.contains("12.00 ms + 1.000 periods, given on"),
        "{said}"
    );
    assert_eq!((fixed, se), (12.0, None));
}

#[test]
fn a_converter_on_a_real_server_is_measured_and_its_latency_taken_off() {
    with_server(
        "a_converter_on_a_real_server_is_measured_and_its_latency_taken_off",
        64,
        || {
            for attempt in 0..4 {
                let home = tempfile::tempdir().expect("a folder");
                let mut recorder = Recorder::start("latency-recorder");
                let mut player = Player::start("latency-player");
                match measured(home.path(), &mut recorder, &mut player) {
                    Ok(()) => return kept_is_used(home.path()),
                    // A server that lost a block because the machine was busy proves nothing: once more.
                    Err((reason, true)) => eprintln!("attempt {attempt} disturbed: {reason}"),
                    Err((reason, false)) => panic!("{reason}"),
                }
            }
            panic!("the machine is too busy for a JACK server: four runs lost blocks");
        },
    );
}
