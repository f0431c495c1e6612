//! `leadsman check` over several takes and folders of them.

mod takes;

use serde_json::Value;
use std::io::{BufRead, BufReader, Read};
use std::process::{Command, Stdio};
use takes::own::Playing;
use takes::schema::{assert_valid, schema};
use takes::{Bench, Ran};

/// Two passes of two bars with entries, upbeats and swing; 36 notes.
const LINE: &str = "title = \"Shift Change\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [0, 0]\n\
     notes = \"r/8 E1/8 A1/8 C2/8 D2/8 E2/8 G2/8 E2/8 | A1/4 r/8 C2/8 E2/4 G2/4\"\n\
     [[section]]\nname = \"B\"\nnotes = \"D2/8 D2/8 A1/8 A1/8 D2/4 F2/4 | E1/8 E1/8 G1/8 G1/8 E1/8 E1/8 A1/4\"";

/// A folder with what a folder of takes has in it: takes at two speeds, of some bars, one that is no MIDI file, one that
/// breaks off, one of something else, and what is no take.
fn bench() -> Bench {
    let bench = Bench::new(LINE);
    let late = Playing::of(LINE, "late-entries,spread-ms=8", 1);
    late.write(&bench.path("takes/a.mid"));
    let slow = Playing {
        speed_pct: 80,
        ..Playing::of(LINE, "steady", 2)
    };
    slow.write(&bench.path("takes/b, slow.mid"));
    let some = Playing {
        bars: Some([1, 2]),
        ..Playing::of(LINE, "steady", 3)
    };
    some.write(&bench.path("takes/march/c.MIDI"));
    let stopped = Playing {
        stopped_ms: Some(5000),
        ..Playing::of(LINE, "steady", 4)
    };
    stopped.write(&bench.path("takes/march/d.mid"));
    bench.write("takes/e.mid", b"no music");
    bench.write("takes/f.mid", &takes::smf(&[]));
    bench.write("takes/.hidden.mid", b"no music");
    bench.write("takes/notes.txt", b"no music");
    bench
}

const IN_ORDER: [&str; 6] = [
    "takes/a.mid",
    "takes/b, slow.mid",
    "takes/e.mid",
    "takes/f.mid",
    "takes/march/c.MIDI",
    "takes/march/d.mid",
];
const NOT_JUDGED: [&str; 2] = ["takes/e.mid", "takes/f.mid"];

fn lines(ran: &Ran) -> Vec<Value> {
    let parse = |line: &str| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}"));
    ran.out.lines().map(parse).collect()
}

#[test]
fn each_line_is_what_a_check_of_that_take_alone_prints() {
    let bench = bench();
    let all = bench.run(&["check", "line.toml", "takes", "--json"]);
    assert_eq!(all.code, Some(1), "{}", all.err);
    let told: Vec<&str> = all.out.lines().collect();
    assert_eq!(told.len(), IN_ORDER.len());
    for (take, line) in std::iter::zip(IN_ORDER, told) {
        let alone = bench.run(&["check", "line.toml", take, "--json"]);
        if NOT_JUDGED.contains(&take) {
            let failure: Value = serde_json::from_str(line).expect("JSON");
            assert_eq!(failure["schema"], "leadsman.check-failure/1");
            assert_eq!(failure["take"]["file"], take);
            let why = failure["error"].as_str().expect("a reason");
            assert!(alone.err.contains(why), "{why}: {}", alone.err);
        } else {
            assert_eq!(alone.out.trim_end(), line);
            assert_valid(&schema(), &alone.json());
        }
    }
    assert_eq!(all.err, "error: 2 takes could not be judged\n");
}

#[test]
fn takes_come_in_the_order_given_with_those_of_a_folder_by_name() {
    let bench = bench();
    let given = [
        "check",
        "line.toml",
        "takes/march",
        "takes/a.mid",
        "takes/march/c.MIDI",
    ];
    let ran = bench.run(&[&given[..], &["--json"]].concat());
    let files: Vec<String> = lines(&ran)
        .iter()
        .map(|line| line["take"]["file"].as_str().expect("a file").to_string())
        .collect();
    let expected = [
        "takes/march/c.MIDI",
        "takes/march/d.mid",
        "takes/a.mid",
        "takes/march/c.MIDI",
    ];
    assert_eq!(
        (files.as_slice(), ran.code),
        (&expected.map(String::from)[..], Some(0))
    );
}

#[test]
fn a_summary_is_the_document_without_its_single_notes() {
    let bench = bench();
    let whole = lines(&bench.run(&["check", "line.toml", "takes", "--json"]));
    let ran = bench.run(&["check", "line.toml", "takes", "--json", "--summary"]);
    for (whole, summary) in std::iter::zip(whole, lines(&ran)) {
        let mut whole = whole.as_object().expect("an object").clone();
        if whole["schema"] == "leadsman.check/1" {
            for single in ["notes", "extra", "cleaned"] {
                assert!(whole.remove(single).is_some());
            }
            whole["schema"] = "leadsman.check-summary/1".into();
        }
        assert_eq!(Value::Object(whole), summary);
    }
    assert_eq!(ran.code, Some(1));
}

#[test]
fn a_table_has_a_row_a_take_with_the_numbers_of_the_json() {
    let bench = bench();
    let documents = lines(&bench.run(&["check", "line.toml", "takes", "--json"]));
    let ran = bench.run(&["check", "line.toml", "takes", "--csv"]);
    assert_eq!(ran.code, Some(1));
    assert!(
        ran.out.lines().count() == 7 && ran.out.ends_with("\r\n"),
        "{}",
        ran.out
    );
    let mut reader = csv::Reader::from_reader(ran.out.as_bytes());
    let heads = reader.headers().expect("heads").clone();
    let at = |name: &str| {
        heads
            .iter()
            .position(|head| head == name)
            .unwrap_or_else(|| panic!("{name}"))
    };
    for (document, row) in std::iter::zip(&documents, reader.records()) {
        let row = row.expect("a row");
        let cell = |name: &str| &row[at(name)];
        assert_eq!(cell("file"), document["take"]["file"]);
        if let Some(why) = document["error"].as_str() {
            assert_eq!((cell("error"), cell("expected")), (why, ""));
            continue;
        }
        let sum = &document["summary"];
        for count in [
            "expected",
            "matched",
            "missed",
            "extra",
            "pitch_right",
            "timing_in",
            "length_in",
        ] {
            assert_eq!(cell(count), sum[count].to_string(), "{count}");
        }
        for number in ["offset_mean_ms", "offset_sd_ms", "tempo_drift_pct"] {
            let exact = sum[number].as_f64().expect("a number");
            let told: f64 = cell(number).parse().expect("a number");
            assert!((told - exact).abs() <= 5e-4, "{number}: {told}, {exact}");
        }
        let speed: f64 = cell("speed_pct").parse().expect("a number");
        assert_eq!(Some(speed), document["line"]["speed"].as_f64());
        let bars = &document["line"]["bars"];
        let (first, last) = (cell("first_bar"), cell("last_bar"));
        let wanted = bars.as_array().map_or(("".into(), "".into()), |bars| {
            (bars[0].to_string(), bars[1].to_string())
        });
        assert_eq!((first, last), (wanted.0.as_str(), wanted.1.as_str()));
        let ids: Vec<&str> = document["findings"]
            .as_array()
            .expect("findings")
            .iter()
            .map(|finding| finding["id"].as_str().expect("an id"))
            .collect();
        assert_eq!(cell("findings"), ids.join(" "));
    }
}

#[test]
fn text_is_a_row_a_take_that_says_why_one_could_not_be_judged() {
    let bench = bench();
    let ran = bench.run(&["check", "line.toml", "takes"]);
    assert_eq!(ran.code, Some(1));
    let rows: Vec<&str> = ran.out.lines().collect();
    assert!(
        rows[0].starts_with("take ") && rows[0].ends_with("to work on"),
        "{}",
        ran.out
    );
    assert!(rows[1].starts_with("takes/a.mid"), "{}", rows[1]);
    assert!(ran.out.contains("takes/f.mid") && ran.out.contains("the take has no notes in it"));
    assert!(ran.out.contains("\n6 takes. "), "{}", ran.out);
    let widest = rows.iter().map(|row| row.chars().count()).max();
    assert!(widest <= Some(80), "{}", ran.out);
}

#[test]
fn what_is_odd_about_a_take_is_told_with_its_name() {
    let bench = bench();
    // Without its last bytes: the End of Track and the end that a take of ours has.
    let whole = std::fs::read(bench.path("takes/a.mid")).expect("a take");
    bench.write("cut.mid", &whole[..whole.len() - 60]);
    let alone = bench.run(&["check", "line.toml", "cut.mid"]);
    assert!(
        alone
            .err
            .contains("note: the take breaks off without its end"),
        "{}",
        alone.err
    );
    let ran = bench.run(&["check", "line.toml", "takes/a.mid", "cut.mid", "--csv"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        ran.err
            .contains("note: cut.mid: the take breaks off without its end"),
        "{}",
        ran.err
    );
    assert!(
        ran.err
            .lines()
            .all(|line| line.starts_with("note: cut.mid: ")),
        "{}",
        ran.err
    );
    assert!(
        ran.out
            .lines()
            .nth(2)
            .is_some_and(|row| row.contains("breaks off without its end"))
    );
}

#[test]
fn a_wrong_line_or_wrong_bars_end_it_before_the_first_take() {
    let bench = bench();
    bench.write("wrong.toml", b"title = \"Wrong\"");
    for wrong in [
        &["check", "wrong.toml", "takes"][..],
        &["check", "line.toml", "takes", "--bars", "3-9"],
        &["check", "line.toml", "takes", "--section", "C"],
        &["check", "line.toml", "takes", "--all"],
        &["check", "line.toml", "takes", "--json", "--csv"],
        &["check", "line.toml", "takes", "--summary"],
    ] {
        let ran = bench.run(wrong);
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (Some(2), ""),
            "{wrong:?}: {}",
            ran.err
        );
    }
    std::fs::create_dir(bench.path("empty")).expect("a folder");
    let none = bench.run(&["check", "line.toml", "empty"]);
    assert_eq!(none.code, Some(2));
    assert!(none.err.contains("empty has no take in it"), "{}", none.err);
}

#[test]
fn a_missing_take_stops_one_check_but_not_many() {
    let bench = bench();
    let alone = bench.run(&["check", "line.toml", "gone.mid"]);
    assert_eq!((alone.code, alone.out.as_str()), (Some(2), ""));
    let many = bench.run(&["check", "line.toml", "gone.mid", "takes/a.mid", "--json"]);
    assert_eq!(many.code, Some(1));
    let told = lines(&many);
    assert_eq!(told[0]["schema"], "leadsman.check-failure/1");
    assert_eq!(told[1]["schema"], "leadsman.check/1");
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_whole_lines_and_says_how_far_it_came() {
    let bench = bench();
    let takes = vec!["takes/a.mid"; 5000];
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .current_dir(bench.dir.path())
        .args([&["check", "line.toml", "--json"][..], &takes].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("a program that runs");
    let mut out = BufReader::new(child.stdout.take().expect("output"));
    let mut told = String::new();
    out.read_line(&mut told).expect("a line");
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .expect("kill")
            .success()
    );
    out.read_to_string(&mut told).expect("text");
    let mut err = String::new();
    child
        .stderr
        .take()
        .expect("errors")
        .read_to_string(&mut err)
        .expect("text");
    assert_eq!(child.wait().expect("an end").code(), Some(1), "{err}");
    let count = told.lines().count();
    assert!(count < takes.len() && told.ends_with('\n'));
    for line in told.lines() {
        let document: Value = serde_json::from_str(line).expect("a whole document");
        assert_eq!(document["take"]["file"], "takes/a.mid");
    }
    assert_eq!(err, format!("error: stopped after {count} of 5000 takes\n"));
}

#[test]
fn a_reader_who_has_enough_is_no_failure() {
    let bench = bench();
    let takes = vec!["takes/a.mid"; 2000];
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .current_dir(bench.dir.path())
        .args([&["check", "line.toml", "--json"][..], &takes].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("a program that runs");
    let mut out = BufReader::new(child.stdout.take().expect("output"));
    out.read_line(&mut String::new()).expect("a line");
    drop(out);
    let ended = child.wait_with_output().expect("an end");
    assert_eq!(ended.status.code(), Some(0));
    assert!(
        ended.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&ended.stderr)
    );
}
