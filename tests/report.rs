//! What the text report tells, and what it leaves to `--all`.

mod takes;

use std::process::Command;
use takes::Bench;

/// Two sections, the first one twice; entries, upbeats, rests and jumps.
const LINE: &str = "title = \"Harbour Round\"\nmeter = \"4/4\"\ntempo = 104\n\
     [[section]]\nname = \"Out\"\npasses = [0, 0]\n\
     notes = \"E1/8 E1/8 r/8 G1/8 A1/8 E2/8 r/4 | D2/4 r/8 D2/8 A1/8 C2/8 E2/4 | r/4 E1/8 B1/8 E2/8 D2/8 B1/4 | A1/8 A2/8 r/8 A1/8 G1/8 G2/8 r/4\"\n\
     [[section]]\nname = \"Back\"\n\
     notes = \"D2/4 r/8 A2/8 F2/4 r/4 | C2/8 E2/8 G2/4 r/4 G1/4 | A1/4 E2/8 r/8 C2/8 C3/8 A1/4 | E1/4 E2/8 G2/8 r/2\"";

fn demo(bench: &Bench, habits: &str, more: &[&str]) -> String {
    let ran = bench.run(&[&["demo", "line.toml", "--habits", habits], more].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    ran.out
}

/// The report without what was printed before it.
fn report(out: &str) -> &str {
    let begins = out.rfind("\nNotes  ").expect("the sums");
    &out[begins..]
}

fn numbered(report: &str) -> usize {
    let is_numbered = |line: &&str| line.starts_with(|first: char| first.is_ascii_digit());
    report
        .lines()
        .filter(is_numbered)
        .filter(|line| line.contains(". "))
        .count()
}

const FOUR_HABITS: &str = "rushed-upbeats,late-entries,missed-muting,short-notes";

#[test]
fn at_most_three_things_are_told_and_the_rest_on_request() {
    let bench = Bench::new(LINE);
    let json = bench.run(&[
        "demo",
        "line.toml",
        "--habits",
        FOUR_HABITS,
        "--json",
        "--all",
    ]);
    let found = json.json()["findings"].as_array().expect("findings").len();
    assert!(found > 3, "{found}");
    let brief = demo(&bench, FOUR_HABITS, &[]);
    assert_eq!(numbered(report(&brief)), 3, "{brief}");
    assert!(
        brief.contains(&format!("\n{} more: --all\n", found - 3)),
        "{brief}"
    );
    let all = demo(&bench, FOUR_HABITS, &["--all"]);
    assert_eq!(numbered(report(&all)), found, "{all}");
    assert!(!report(&all).contains("--all"), "{all}");
}

#[test]
fn what_hurts_most_comes_first() {
    let bench = Bench::new(LINE);
    let first = |habits: &str| {
        let out = demo(&bench, habits, &[]);
        let begins = out.find("\n1. ").expect("a first thing");
        out[begins..].lines().nth(1).expect("its line").to_string()
    };
    let entries = first("steady,late-entries-ms=120,upbeats-ms=-25");
    let upbeats = first("steady,late-entries-ms=25,upbeats-ms=-120");
    assert!(entries.contains("entries came in late"), "{entries}");
    assert!(upbeats.contains("upbeats were rushed"), "{upbeats}");
}

#[test]
fn every_command_that_is_told_can_be_entered_as_it_stands() {
    let bench = Bench::new(LINE);
    for (args, program) in [(&["demo"][..], "demo"), (&["demo", "line.toml"], "play")] {
        let habits = ["--habits", FOUR_HABITS, "--speed", "70", "--all"];
        let ran = bench.run(&[args, &habits].concat());
        let commands: Vec<&str> = ran
            .out
            .lines()
            .filter_map(|line| line.trim().strip_prefix("Next: leadsman "))
            .collect();
        assert!(commands.len() >= 3, "{}", ran.out);
        for command in commands {
            assert!(command.starts_with(program), "{command}");
            // Played by a stand-in, in no time, whatever plays it at home.
            let played = command.replacen("play ", "demo ", 1);
            let words: Vec<&str> = played.split(' ').collect();
            let practised = bench.run(&[&words[..], &["--json"]].concat());
            assert_eq!(practised.code, Some(0), "{command}: {}", practised.err);
            let line = practised.json()["line"].clone();
            // Slower than the take, by the drill's own share.
            let speed = line["speed"].as_f64().expect("a speed");
            assert!((40.0..70.0).contains(&speed), "{command}");
            assert!(line["bars"].is_array() && line["notes"].as_u64() > Some(0));
        }
    }
}

#[test]
fn what_went_astray_is_counted_in_a_line_and_named_on_request() {
    let bench = Bench::new(LINE);
    let habits = "patchy,wrong-frets=0.1,extra=0.2";
    let brief = demo(&bench, habits, &["--take", "take.mid"]);
    let sums = bench
        .run(&["check", "line.toml", "take.mid", "--json"])
        .json()["summary"]
        .clone();
    let (missed, extra) = (&sums["missed"], &sums["extra"]);
    let count = report(&brief)
        .lines()
        .find(|line| line.starts_with("Missed "))
        .expect("the counts");
    assert!(
        count.starts_with(&format!("Missed {missed}, another note ")),
        "{count}"
    );
    assert!(
        count.ends_with(&format!(", extra {extra}: --all names each.")),
        "{count}"
    );
    let check = bench.run(&["check", "line.toml", "take.mid", "--all"]).out;
    let after = |title: &str| {
        let begins = check.find(title).expect("a list");
        let items = check[begins..].lines().skip(2);
        items.take_while(|line| line.starts_with("  ")).count() as u64
    };
    assert_eq!(Some(after("\nMissed\n")), missed.as_u64());
    assert_eq!(Some(after("\nExtra\n")), extra.as_u64());
    // Each of the twelve bars as it was told while it was played.
    let bars: Vec<&str> = brief
        .lines()
        .filter(|line| line.starts_with("  bar "))
        .collect();
    assert_eq!(bars.len(), 12);
    assert!(bars.iter().all(|bar| check.contains(bar)), "{check}");
    let clean = demo(&bench, "steady", &[]);
    assert!(!report(&clean).contains("--all"), "{clean}");
}

#[test]
fn the_sections_add_up_to_the_take() {
    let bench = Bench::new(LINE);
    let json = bench
        .run(&[
            "demo",
            "line.toml",
            "--habits",
            "patchy,wrong-frets=0.1,unsteady",
            "--json",
        ])
        .json();
    let sections = json["sections"].as_array().expect("sections");
    let names: Vec<_> = sections
        .iter()
        .map(|section| (section["name"].as_str(), section["passes"].as_u64()))
        .collect();
    assert_eq!(names, [(Some("Out"), Some(2)), (Some("Back"), Some(1))]);
    for count in [
        "expected",
        "matched",
        "missed",
        "pitch_right",
        "timing_in",
        "length_in",
    ] {
        let sum: u64 = sections.iter().filter_map(|s| s[count].as_u64()).sum();
        assert_eq!(Some(sum), json["summary"][count].as_u64(), "{count}");
    }
    let weighted = sections.iter().map(|section| {
        section["offset_mean_ms"].as_f64().unwrap() * section["matched"].as_f64().unwrap()
    });
    let mean = weighted.sum::<f64>() / json["summary"]["matched"].as_f64().unwrap();
    assert!((mean - json["summary"]["offset_mean_ms"].as_f64().unwrap()).abs() < 1e-9);
}

#[test]
fn a_steady_lean_is_told_once_and_is_no_finding() {
    let bench = Bench::new(LINE);
    let told = |habits: &str| {
        let out = demo(&bench, habits, &[]);
        out.lines()
            .find(|line| line.starts_with("Lean "))
            .map(str::to_string)
    };
    let behind = told("laid-back").expect("a lean");
    assert!(
        behind.ends_with("steadily behind the click") && behind.contains('+'),
        "{behind}"
    );
    let ahead = told("steady,mean-ms=-20").expect("a lean");
    assert!(
        ahead.ends_with("steadily ahead of the click") && ahead.contains('-'),
        "{ahead}"
    );
    let laid_back = demo(&bench, "laid-back", &[]);
    assert!(
        laid_back.contains("Nothing stands out as a habit"),
        "{laid_back}"
    );
    // Nobody who wanders, nor a late entry now and then, nor what the way in may have added.
    for none in [
        "steady",
        "steady,drift-percent=0.3",
        "late-entries",
        "steady,mean-ms=80",
    ] {
        assert_eq!(told(none), None, "{none}");
    }
}

/// In 40 columns no line of the report is broken by the terminal but a command, which is to be copied.
#[cfg(target_os = "linux")]
#[test]
fn a_narrow_terminal_has_its_own_layout() {
    let bench = Bench::new(LINE);
    let program = env!("CARGO_BIN_EXE_leadsman");
    // `script` runs it on a terminal of its own.
    let ran = Command::new("script")
        .current_dir(bench.dir.path())
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .args(["-qec"])
        .arg(format!(
            "stty rows 12 cols 40; '{program}' demo line.toml --habits {FOUR_HABITS},wrong-frets=0.1"
        ))
        .arg("/dev/null")
        .output();
    let Ok(ran) = ran else {
        return;
    };
    let out = String::from_utf8_lossy(&ran.stdout).replace('\r', "");
    assert!(out.contains("To work on"), "{out}");
    for line in out
        .lines()
        .filter(|line| !line.contains("leadsman") && !line.contains("habits"))
    {
        assert!(line.chars().count() <= 40, "{line}");
    }
}
