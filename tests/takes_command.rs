//! `leadsman takes` as it is run.

mod takes;

use leadsman::logbook::sums::Adder;
use leadsman::logbook::takes::Filter;
use leadsman::report::takes_list::{Listed, list};
use serde_json::Value;
use std::fs;
use std::process::Stdio;
use takes::kept::Kept;
use takes::schema::{assert_valid, schema_of};

/// Five takes on three days.
fn week() -> Kept {
    let kept = Kept::new();
    kept.demo("line.toml --habits late-entries");
    kept.demo("line.toml --habits unsteady --speed 80 --bars 2-3");
    kept.demo("rope.toml --habits steady --speed 92.5");
    kept.demo("line.toml --habits steady,dropped=0.2,wrong-frets=0.1");
    kept.demo("line.toml --habits steady,mean-ms=-12");
    for (take, begun) in [
        (1, "2026-03-02T07:15:00+01:00[Europe/Berlin]"),
        (2, "2026-03-02T07:21:00+01:00[Europe/Berlin]"),
        (3, "2026-03-03T23:59:00+13:00[Pacific/Auckland]"),
        (4, "2026-03-04T18:05:00+13:00[Pacific/Auckland]"),
        (5, "2026-03-04T18:10:00+13:00[Pacific/Auckland]"),
    ] {
        kept.begun(take, begun);
    }
    kept.sql(
        "UPDATE take SET note = 'slept badly' WHERE id IN (2, 5);
         INSERT INTO player (name) VALUES ('Mate');
         INSERT INTO session (uid, player, begun_ms) SELECT 'other', id, 0 FROM player WHERE name = 'Mate';
         UPDATE take SET session = last_insert_rowid() WHERE id = 3",
    );
    kept
}

fn summary(json: &Value, name: &str) -> f64 {
    json["summary"][name].as_f64().unwrap_or(f64::NAN)
}

/// What the list says of a take is what its report says.
fn assert_listed_as_shown(kept: &Kept, take: usize) {
    let listed: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    let listed = &listed["takes"][take - 1];
    let shown = kept.out(&format!("takes show {take} --json"));
    let shown: Value = serde_json::from_str(&shown).expect("JSON");
    for count in [
        "expected",
        "matched",
        "missed",
        "extra",
        "pitch_right",
        "timing_in",
    ] {
        assert_eq!(
            listed["summary"][count], shown["summary"][count],
            "take {take}: {count}"
        );
    }
    for ms in ["offset_mean_ms", "offset_sd_ms"] {
        let (listed, shown) = (summary(listed, ms), summary(&shown, ms));
        assert!(
            (listed - shown).abs() < 1e-9 || listed.is_nan() && shown.is_nan(),
            "take {take}: {ms} {listed} {shown}"
        );
    }
    let found = shown["findings"].as_array().expect("findings");
    let found: Vec<&Value> = found.iter().map(|finding| &finding["id"]).collect();
    let ids = listed["findings"].as_array().expect("findings");
    assert_eq!(ids.iter().collect::<Vec<_>>(), found);
}

#[test]
fn takes_are_listed_in_80_columns() {
    insta::assert_snapshot!(week().out("takes"));
}

#[cfg(target_os = "linux")]
#[test]
fn takes_are_listed_in_40_columns() {
    let kept = week();
    if let Some(list) = kept.on_terminal(40, "takes", "") {
        insta::assert_snapshot!(list);
    }
}

#[test]
fn every_line_of_the_list_fits_and_keeps_number_line_and_notes() {
    let kept = week();
    let logbook = kept.logbook();
    let mut adder = Adder::new(&logbook);
    let takes: Vec<Listed> = logbook
        .takes(&Filter::default())
        .expect("takes")
        .into_iter()
        .map(|take| Listed {
            sums: adder.of(&take).expect("sums"),
            take,
        })
        .collect();
    let now = jiff::Timestamp::now();
    for width in 30..=80 {
        let list = list(&takes, 143, now, width);
        for line in list.lines() {
            assert!(
                unicode_width::UnicodeWidthStr::width(line) <= width,
                "{width}: {line}"
            );
        }
        assert!(list.contains("take") && list.contains("line") && list.contains("right"));
    }
}

#[test]
fn a_list_is_of_the_latest_and_says_how_many_there_are() {
    let kept = Kept::new();
    kept.demo("rope.toml --habits steady");
    kept.sql(
        "WITH RECURSIVE more (n) AS (VALUES (1) UNION ALL SELECT n + 1 FROM more WHERE n < 22)
         INSERT INTO take (uid, session, line, begun_ms, begun, length_ms, speed, head, track)
         SELECT hex(randomblob(16)), session, line, begun_ms - 3600000 * n, begun, length_ms, speed, head, track FROM take, more",
    );
    let usual = kept.out("takes");
    assert_eq!(usual.matches("Rope Locker").count(), 20, "{usual}");
    assert!(usual.ends_with("The latest 20 of 23 takes: --all lists them all.\n"));
    let all = kept.out("takes list --all");
    assert_eq!(all.matches("Rope Locker").count(), 23);
    assert!(!all.contains("--all"), "{all}");
    let latest = kept.out("takes list --latest 2");
    assert_eq!(latest.matches("Rope Locker").count(), 2, "{latest}");
    // The newest is the last.
    assert!(
        latest
            .lines()
            .nth(2)
            .expect("a row")
            .starts_with("   1  today")
    );
    let json: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    assert_eq!(json["takes"].as_array().map(Vec::len), Some(23));
}

#[test]
fn a_list_is_of_the_line_the_player_and_the_session_that_are_asked_for() {
    let kept = week();
    let numbers = |args: &str| -> Vec<u64> {
        let json = kept.out(&format!("takes list {args} --json"));
        let json: Value = serde_json::from_str(&json).expect("JSON");
        assert_valid(&schema_of("takes"), &json);
        let takes = json["takes"].as_array().expect("takes");
        takes
            .iter()
            .map(|take| take["number"].as_u64().expect("a number"))
            .collect()
    };
    assert_eq!(numbers(""), [1, 2, 3, 4, 5]);
    assert_eq!(numbers("--line rope.toml"), [3]);
    assert_eq!(numbers("--line Rope"), [3]);
    assert_eq!(numbers("--line ferry"), [1, 2, 4, 5]);
    assert_eq!(numbers("--player Mate"), [3]);
    assert_eq!(numbers("--session 1 --latest 2"), [4, 5]);
    assert_eq!(numbers("--removed"), [0; 0]);
    assert_eq!(kept.out("takes --removed"), "No such take was removed.\n");

    let refused = kept.refused("takes --line r");
    assert!(
        refused.contains("\"r\" could be \"Night Ferry\", \"Rope Locker\""),
        "{refused}"
    );
    let refused = kept.refused("takes --line Moorings");
    assert!(
        refused.contains("log.sqlite: there is no take of a line \"Moorings\"")
            && refused.contains("\"Night Ferry\", \"Rope Locker\""),
        "{refused}"
    );
    let refused = kept.refused("takes --player Cook");
    assert!(refused.contains("there are takes of stand-in, Mate"));
    let refused = kept.refused("takes --session 9");
    assert!(refused.contains("there is no session 9; `leadsman sessions` lists"));

    // The file was changed: what was played to it before is found by the title.
    kept.bench.write(
        "rope.toml",
        takes::kept::SHORT.replace("E1/1", "A1/1").as_bytes(),
    );
    let said = kept.out("takes --line rope.toml").replace('\n', " ");
    assert!(
        said.contains("None of 5 takes is so.") && said.contains("--line \"Rope Locker\" lists"),
        "{said}"
    );
}

#[test]
fn the_list_says_of_each_take_what_its_report_says() {
    let kept = Kept::new();
    kept.demo("line.toml --habits late-entries,dropped=0.3,extra=0.1,wrong-frets=0.1");
    // A phrase a beat late: its offsets count from where it is.
    kept.demo("line.toml --habits steady,late-phrase-beats=1");
    kept.demo("line.toml --habits dropped=1,extra=1");
    kept.demo("line.toml --habits unsteady --bars 2-3 --speed 70");
    for take in 1..=4 {
        assert_listed_as_shown(&kept, take);
    }
    let moved = "SELECT count(*) FROM reading WHERE judgement = 2 AND displaced <> 0";
    let moved = kept.logbook().db().query_row(moved, [], |row| row.get(0));
    assert!(moved.is_ok_and(|moved: i64| moved > 3));
    let ghosts =
        "SELECT count(*) FROM reading WHERE judgement = 1 AND key IS NULL AND timing IS NULL";
    let missed: i64 = kept
        .logbook()
        .db()
        .query_row(ghosts, [], |row| row.get(0))
        .expect("a count");
    let json: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    // Some of the ghost notes were left out, which is no miss.
    assert!((json["takes"][0]["summary"]["missed"].as_i64()) < Some(missed));
}

#[test]
fn notes_that_may_have_been_lost_in_a_glitch_are_listed_as_they_are_shown() {
    let kept = Kept::new();
    kept.demo("line.toml --habits steady,dropped=0.3");
    // Five seconds in which the machine was out of time, told at the end of the take.
    let text =
        "leadsman.glitch/1 {\"from_ns\":5000000000,\"until_ns\":10000000000,\"what\":\"xrun\"}";
    let event: String = [0, 0xFF, 1, text.len() as u8]
        .iter()
        .chain(text.as_bytes())
        .map(|byte| format!("{byte:02x}"))
        .collect();
    kept.sql(&format!(
        "UPDATE take SET track = CAST(track || x'{event}' AS BLOB); DELETE FROM judgement"
    ));
    assert_listed_as_shown(&kept, 1);
    let unjudged = "SELECT count(*) FROM reading WHERE timing = 'unjudged' AND key IS NULL";
    let unjudged = kept
        .logbook()
        .db()
        .query_row(unjudged, [], |row| row.get(0));
    assert!(unjudged.is_ok_and(|unjudged: i64| unjudged > 0));
}

#[test]
fn a_report_is_that_of_the_take_when_it_was_played() {
    let kept = Kept::new();
    let played = kept.demo("line.toml --habits late-entries,missed-muting --all");
    let shown = kept.out("takes show 1 --all");
    assert!(shown.starts_with("Take 1 · today "), "{shown}");
    let from = |text: &str| {
        let at = text.find("Notes    ").expect("the report");
        let end = text.find("\nBar ").unwrap_or(text.len());
        text[at..end].to_string()
    };
    // The demo names itself where the logbook names what was played.
    let report = from(&played.out);
    let first = report.lines().next().expect("a line");
    assert!(from(&shown).starts_with(first));
    let both: Vec<&str> = report
        .lines()
        .filter(|line| !line.contains("leadsman"))
        .collect();
    let shown_lines = from(&shown);
    for line in both {
        assert!(shown_lines.contains(line), "{line}\n{shown_lines}");
    }

    let played = kept.demo("line.toml --habits unsteady --json").json();
    let mut shown: Value = serde_json::from_str(&kept.out("takes show 2 --json")).expect("JSON");
    assert_valid(&takes::schema::schema(), &shown);
    shown["take"]["file"] = played["take"]["file"].clone();
    assert_eq!(shown, played);
}

#[test]
fn a_take_that_was_judged_otherwise_says_so() {
    let kept = Kept::new();
    kept.demo("line.toml --habits late-entries");
    let changed = |sql: &str, undo: &str| {
        kept.sql(sql);
        let ran = kept.run("takes show 1");
        assert_eq!(ran.code, Some(0));
        assert!(
            ran.err
                .starts_with("note: take 1 was judged by leadsman 0.0.9 then;"),
            "{sql}: {}",
            ran.err
        );
        kept.sql(undo);
    };
    kept.sql("UPDATE judgement SET program = '0.0.9'");
    assert!(kept.out("takes show 1").contains("Notes "));
    changed(
        "UPDATE reading SET offset_ns = offset_ns + 1 WHERE note = 7",
        "UPDATE reading SET offset_ns = offset_ns - 1 WHERE note = 7",
    );
    changed(
        "UPDATE finding SET text = text || '.' WHERE rank = 0",
        "UPDATE finding SET text = rtrim(text, '.') || '.' WHERE rank = 0",
    );
    changed("DELETE FROM reading WHERE note = 8", "SELECT 1");
}

#[test]
fn a_take_that_cannot_be_read_any_more_says_why_and_the_others_are_listed() {
    let kept = Kept::new();
    kept.demo("line.toml --habits steady");
    kept.demo("rope.toml --habits steady");
    kept.sql("UPDATE take SET track = substr(track, 1, length(track) - 20) WHERE id = 2");
    let ran = kept.run("takes show 2");
    assert_eq!(ran.code, Some(0));
    assert!(ran.err.contains("note: take 2: "), "{}", ran.err);
    kept.sql("UPDATE line SET source = 'title = 7' WHERE title = 'Night Ferry'; DELETE FROM judgement WHERE take = 1");
    let refused = kept.run("takes show 1");
    assert_eq!(refused.code, Some(2));
    let why = "take 1: the line that it was played to cannot be read any more: ";
    assert!(
        refused.err.lines().all(|line| line.contains(why)),
        "{}",
        refused.err
    );
    let ran = kept.run("takes");
    assert_eq!(ran.code, Some(0));
    assert!(
        ran.err.starts_with("note: ") && ran.err.contains(why),
        "{}",
        ran.err
    );
    assert!(ran.out.contains("11/11"), "{}", ran.out);
}

#[test]
fn of_several_judgements_the_latest_is_shown() {
    let kept = Kept::new();
    kept.demo("line.toml --habits steady,mean-ms=20");
    let ran = kept.run("rejudge 1 --latency 20");
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let shown = kept.out("takes show 1");
    assert!(
        shown.contains("Judged 2 times; this is the latest, of today "),
        "{shown}"
    );
    assert_listed_as_shown(&kept, 1);
    let json: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    let mean = summary(&json["takes"][0], "offset_mean_ms");
    assert!(mean.abs() < 5.0, "{mean}");
}

#[cfg(unix)]
#[test]
fn a_killed_take_is_judged_when_nobody_can_be_playing_it_any_more() {
    use std::io::{BufRead, BufReader};
    let kept = Kept::new();
    let args = "play rope.toml --backend silent --count-in 0 --stand-in steady --player Mate --logbook log.sqlite";
    let mut playing = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .current_dir(kept.bench.dir.path())
        .env("XDG_DATA_HOME", kept.bench.path("data"))
        .args(args.split(' '))
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("a program that runs");
    let out = BufReader::new(playing.stdout.take().expect("its output"));
    let mut lines = out.lines();
    assert!(lines.any(|line| line.is_ok_and(|line| line.contains("bar 1"))));

    let list = kept.out("takes");
    assert!(
        list.contains("–  >") && list.contains("(> is being played)"),
        "{list}"
    );
    let refused = kept.refused("takes show 1");
    assert!(
        refused.contains("take 1 is still being played"),
        "{refused}"
    );
    assert!(
        kept.refused("takes remove 1 --yes")
            .contains("still being played")
    );
    let json: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    assert_eq!(json["takes"][0]["state"], "playing");
    assert_eq!(json["takes"][0]["summary"], Value::Null);
    assert_valid(&schema_of("takes"), &json);

    playing.kill().expect("a signal");
    playing.wait().expect("an end");
    kept.begun(1, "2026-03-02T07:15:00+01:00[Europe/Berlin]");
    let list = kept.out("takes");
    assert!(list.contains("(/ broke off)"), "{list}");
    let shown = kept.out("takes show 1");
    assert!(shown.contains("It broke off;"), "{shown}");
    assert_listed_as_shown(&kept, 1);
    let json: Value = serde_json::from_str(&kept.out("takes --json")).expect("JSON");
    assert_eq!(json["takes"][0]["state"], "broken-off");
    let (heard, of) = (
        summary(&json["takes"][0], "matched"),
        summary(&json["takes"][0], "expected"),
    );
    assert!(heard >= 3.0 && of < 11.0, "{heard} of {of}");
    // Judged once, whoever looks.
    let judgements = kept.logbook().judgements(1).expect("judgements");
    assert_eq!(judgements.len(), 1);
}

#[test]
fn a_take_that_broke_off_before_its_first_note_is_of_none() {
    let kept = Kept::new();
    kept.demo("line.toml --habits steady");
    kept.begun(1, "2026-03-02T07:15:00+01:00[Europe/Berlin]");
    kept.sql("UPDATE take SET track = NULL; DELETE FROM judgement");
    let list = kept.out("takes");
    assert!(list.contains("0/0") && list.contains('/'), "{list}");
    assert_listed_as_shown(&kept, 1);
    assert!(kept.out("takes show 1").contains("0 of 0 played"));
    kept.out("takes export 1 -o none.csv");
    let table = fs::read_to_string(kept.bench.path("none.csv")).expect("a file");
    assert!(table.starts_with("note,section,") && table.lines().count() == 1);
}

#[cfg(target_os = "linux")]
#[test]
fn numbers_that_no_take_has_are_refused_in_one_line() {
    let kept = Kept::new();
    kept.demo("rope.toml --habits steady");
    for args in [
        "takes show 99",
        "takes note 99",
        "takes note 99 text",
        "takes export 99",
        "takes export 1 99",
        "takes remove 99 --yes",
        "takes restore 99",
    ] {
        let refused = kept.refused(args);
        assert!(
            refused.contains("logbook log.sqlite: there is no take 99; `leadsman takes` lists"),
            "{args}: {refused}"
        );
    }
    for args in ["takes show 0", "takes show one", "takes --latest 0"] {
        assert_eq!(kept.run(args).code, Some(2), "{args}");
    }
    let refused = kept.refused("takes --all show 1");
    assert!(refused.contains("go after the name"), "{refused}");
}

#[test]
fn where_nothing_was_played_that_is_said() {
    let kept = Kept::new();
    let ran = kept.bench.run(&["takes"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.contains("leadsman play LINE"), "{}", ran.out);
    let json = kept.bench.run(&["takes", "--json"]).json();
    assert_valid(&schema_of("takes"), &json);
    assert_eq!(json["total"], 0);
    // One that is named has to be there, and no list makes one.
    let refused = kept.refused("takes");
    assert!(
        refused.contains("logbook log.sqlite: there is none yet"),
        "{refused}"
    );
    assert!(!kept.bench.path("log.sqlite").exists());
    kept.bench.write("log.sqlite", b"sail plan");
    let refused = kept.refused("takes");
    assert!(
        refused.contains("it is no logbook of leadsman"),
        "{refused}"
    );
}

#[test]
fn a_reader_that_has_gone_is_no_mistake() {
    let kept = Kept::new();
    kept.demo("rope.toml --habits steady");
    for args in [
        "takes",
        "takes --json",
        "takes show 1",
        "takes show 1 --json",
        "takes note 1",
    ] {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let ran = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .current_dir(kept.bench.dir.path())
            .args(args.split(' '))
            .args(["--logbook", "log.sqlite"])
            .stdout(writer)
            .output()
            .expect("a program that runs");
        assert_eq!(ran.status.code(), Some(0), "{args}");
        assert!(ran.stderr.is_empty(), "{args}: {:?}", ran.stderr);
    }
}
