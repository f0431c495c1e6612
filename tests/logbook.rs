//! The logbook through the program: what a take leaves in it, by whom and how many at once.

mod takes;

use leadsman::logbook::Logbook;
use leadsman::logbook::merge::Merged;
use leadsman::logbook::takes::{Filter, State};
use rusqlite::Connection;
use std::fs;
use std::path::Path;
use takes::{Bench, leadsman};

const LINE: &str = "title = \"Night Ferry\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [0, 0, 0, 0, 0, 0]\n\
                    notes = \"r/8 E2/8 A2/4 D3/4 G2/8 F2/8 | E2/4 r/4 A2/4 x/4 | E2/8 A2/8 D3/4 G2/4 r/4\"\n";

fn demo(bench: &Bench, more: &str) {
    let args: Vec<&str> = "demo line.toml --habits late-entries,missed-muting,patchy"
        .split(' ')
        .chain(more.split(' '))
        .collect();
    let ran = bench.run(&args);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
}

fn open(bench: &Bench, name: &str) -> Logbook {
    Logbook::open_existing(&bench.path(name)).expect("a logbook")
}

fn count(logbook: &Logbook, sql: &str) -> i64 {
    let count = logbook.db().query_row(sql, [], |row| row.get(0));
    count.unwrap_or_else(|error| panic!("{sql}: {error}"))
}

fn is_sound(logbook: &Logbook) {
    let check = "PRAGMA integrity_check";
    let check: String = logbook
        .db()
        .query_row(check, [], |row| row.get(0))
        .expect("an answer");
    assert_eq!(check, "ok");
    assert_eq!(
        count(logbook, "SELECT count(*) FROM pragma_foreign_key_check"),
        0
    );
}

#[test]
fn a_take_in_the_logbook_is_the_file_to_the_byte() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite --take take.mid");
    let logbook = open(&bench, "a.sqlite");
    let kept = logbook.take_file(1).expect("a take");
    assert_eq!(kept, fs::read(bench.path("take.mid")).expect("a file"));
    let row = logbook.take_row(1).expect("a take");
    assert_eq!((row.line.as_str(), row.state), ("Night Ferry", State::Over));
    assert_eq!(row.player, "stand-in");
    is_sound(&logbook);
}

#[test]
fn the_readings_in_the_logbook_are_those_of_a_check() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite --take take.mid");
    let checked = bench
        .run(&["check", "line.toml", "take.mid", "--json"])
        .json();
    let logbook = open(&bench, "a.sqlite");
    let mut query = logbook
        .db()
        .prepare(
            "SELECT offset_ns / 1e6, key, timing, expected_ns / 1e9 FROM reading ORDER BY note",
        )
        .expect("a question");
    type Row = (Option<f64>, Option<i64>, Option<String>, f64);
    let row = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?));
    let kept: Vec<Row> = query
        .query_map([], row)
        .expect("rows")
        .map(|row| row.expect("a row"))
        .collect();
    let notes = checked["notes"].as_array().expect("notes");
    assert!(notes.len() == kept.len() && notes.len() > 10);
    for (note, (offset, key, timing, onset)) in notes.iter().zip(&kept) {
        assert_eq!(note["offset_ms"].as_f64(), *offset);
        assert_eq!(note["played"]["key"].as_i64(), *key);
        assert_eq!(note["timing"].as_str(), timing.as_deref());
        assert_eq!(note["expected"]["onset_s"].as_f64(), Some(*onset));
    }
    let findings = checked["findings"].as_array().expect("findings").len() as i64;
    assert_eq!(count(&logbook, "SELECT count(*) FROM finding"), findings);
    assert!(findings > 0);
}

#[test]
fn a_line_that_changes_leaves_old_takes_with_the_line_they_were_played_to() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite");
    bench.write("line.toml", LINE.replace("x/4", "F2/4").as_bytes());
    demo(&bench, "--logbook a.sqlite");
    demo(&bench, "--logbook a.sqlite");
    let logbook = open(&bench, "a.sqlite");
    let lines: Vec<_> = (1..=3)
        .map(|take| logbook.line_of(take).expect("a line"))
        .collect();
    assert_eq!(lines[0].source, LINE);
    assert_ne!(lines[0].notes_hash, lines[1].notes_hash);
    assert_eq!(lines[1], lines[2]);
    assert_eq!(count(&logbook, "SELECT count(*) FROM line"), 2);
    let of_old = Filter {
        notes_hash: Some(lines[0].notes_hash.clone()),
        ..Filter::default()
    };
    assert_eq!(logbook.takes(&of_old).expect("takes").len(), 1);
}

#[test]
fn many_programs_at_once_lose_nothing() {
    let bench = Bench::new(LINE);
    let each = |_| {
        let args = [
            "demo",
            "line.toml",
            "--logbook",
            "a.sqlite",
            "--habits",
            "steady",
        ];
        leadsman(bench.dir.path(), &args)
            .output()
            .expect("a program that runs")
    };
    // Also the first moment, when there is no logbook yet.
    std::thread::scope(|scope| {
        let runs: Vec<_> = (0..12).map(|n| scope.spawn(move || each(n))).collect();
        for run in runs {
            let output = run.join().expect("no panic");
            assert!(
                output.status.success(),
                "{}",
                String::from_utf8_lossy(&output.stderr)
            );
        }
    });
    let logbook = open(&bench, "a.sqlite");
    let takes = logbook.takes(&Filter::default()).expect("takes");
    assert_eq!(takes.len(), 12);
    assert_eq!(
        count(&logbook, "SELECT count(DISTINCT take) FROM judgement"),
        12
    );
    assert_eq!(count(&logbook, "SELECT count(*) FROM chunk"), 0);
    assert_eq!(count(&logbook, "SELECT count(*) FROM session"), 1);
    for take in &takes {
        assert_eq!(
            logbook.take(take.number).expect("a take").damage,
            Vec::<String>::new()
        );
    }
    is_sound(&logbook);
}

#[test]
fn a_merge_brings_each_take_once() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite --seed 1");
    demo(&bench, "--logbook a.sqlite --seed 2");
    // The laptop's logbook began as a copy of this one.
    fs::copy(bench.path("a.sqlite"), bench.path("b.sqlite")).expect("a copy");
    demo(&bench, "--logbook b.sqlite --seed 3");
    bench.write("line.toml", LINE.replace("Night", "Day").as_bytes());
    demo(&bench, "--logbook b.sqlite --seed 4");
    demo(&bench, "--logbook a.sqlite --seed 5");
    open(&bench, "a.sqlite")
        .note_take(1, "older")
        .expect("a note");
    std::thread::sleep(std::time::Duration::from_millis(2));
    open(&bench, "b.sqlite")
        .note_take(1, "newer")
        .expect("a note");
    let before = fs::read(bench.path("b.sqlite")).expect("a file");
    let mut a = open(&bench, "a.sqlite");
    let merged = a.merge(&bench.path("b.sqlite"), None).expect("a merge");
    assert_eq!(
        merged,
        Merged {
            takes: 2,
            known: 2,
            thrown_away: 0,
            judgements: 2
        }
    );
    let again = a.merge(&bench.path("b.sqlite"), None).expect("a merge");
    assert_eq!(
        again,
        Merged {
            takes: 0,
            known: 4,
            thrown_away: 0,
            judgements: 0
        }
    );
    assert_eq!(before, fs::read(bench.path("b.sqlite")).expect("a file"));
    assert_eq!(a.take_row(1).expect("a take").note, "newer");
    let rows = a.takes(&Filter::default()).expect("takes");
    let titles: Vec<&str> = rows.iter().map(|take| take.line.as_str()).collect();
    assert_eq!(
        titles,
        [
            "Night Ferry",
            "Night Ferry",
            "Night Ferry",
            "Day Ferry",
            "Day Ferry"
        ]
    );
    for sql in [
        "SELECT count(*) - 5 FROM judgement",
        "SELECT count(*) - 5 * (SELECT count(*) FROM reading WHERE judgement = 1) FROM reading",
        "SELECT count(*) FROM take WHERE id NOT IN (SELECT take FROM judgement)",
    ] {
        assert_eq!(count(&a, sql), 0, "{sql}");
    }
    is_sound(&a);
    let left: Vec<_> = fs::read_dir(bench.dir.path())
        .expect("a folder")
        .filter_map(|file| {
            let name = file
                .expect("a file")
                .file_name()
                .to_string_lossy()
                .into_owned();
            name.starts_with(".merge").then_some(name)
        })
        .collect();
    assert_eq!(left, Vec::<String>::new());
}

#[test]
fn what_was_thrown_away_stays_away_and_what_was_removed_comes_back_when_asked() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite --seed 1");
    demo(&bench, "--logbook a.sqlite --seed 2");
    fs::copy(bench.path("a.sqlite"), bench.path("b.sqlite")).expect("a copy");
    let mut a = open(&bench, "a.sqlite");
    a.remove(&[1, 2]).expect("takes");
    assert!(a.takes(&Filter::default()).expect("takes").is_empty());
    assert!(a.remove(&[1, 9]).is_err());
    a.restore(&[2]).expect("a take");
    assert_eq!(a.tidy().expect("room"), 1);
    let merged = a.merge(&bench.path("b.sqlite"), None).expect("a merge");
    assert_eq!(
        merged,
        Merged {
            takes: 0,
            known: 1,
            thrown_away: 1,
            judgements: 0
        }
    );
    demo(&bench, "--logbook a.sqlite --seed 3");
    let numbers: Vec<i64> = a
        .takes(&Filter::default())
        .expect("takes")
        .iter()
        .map(|take| take.number)
        .collect();
    assert_eq!(numbers, [2, 3], "a number is never given twice");
    is_sound(&a);
}

#[test]
fn what_is_no_logbook_or_a_newer_one_is_refused_and_left_as_it_is() {
    let bench = Bench::new(LINE);
    bench.write("text.sqlite", b"tide tables, not a database, but long enough to look at: 0123456789 0123456789 0123456789");
    let db = Connection::open(bench.path("other.sqlite")).expect("a database");
    db.execute_batch("CREATE TABLE tide (at TEXT); INSERT INTO tide VALUES ('high')")
        .expect("a table");
    drop(db);
    demo(&bench, "--logbook newer.sqlite");
    let db = Connection::open(bench.path("newer.sqlite")).expect("a database");
    db.pragma_update(None, "user_version", 1000)
        .expect("a number");
    drop(db);
    for (name, says) in [
        ("text.sqlite", "no logbook"),
        ("other.sqlite", "no logbook"),
        ("newer.sqlite", "version 1000"),
    ] {
        let before = fs::read(bench.path(name)).expect("a file");
        let ran = bench.run(&["demo", "line.toml", "--logbook", name]);
        assert_eq!(ran.code, Some(2), "{name}");
        assert!(
            ran.err.contains(says) && ran.err.contains(name),
            "{}",
            ran.err
        );
        assert_eq!(
            before,
            fs::read(bench.path(name)).expect("a file"),
            "{name}"
        );
    }
}

#[test]
fn a_take_judged_again_keeps_what_was_said_before() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite --take take.mid");
    let args = "rejudge 1 --logbook a.sqlite --window 5 --latency 7 --ring-window 80";
    let ran = bench.run(&args.split(' ').collect::<Vec<_>>());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let args = "check line.toml take.mid --json --window 5 --latency 7 --ring-window 80";
    let checked = bench.run(&args.split(' ').collect::<Vec<_>>()).json();
    let logbook = open(&bench, "a.sqlite");
    let both = logbook.judgements(1).expect("judgements");
    assert_eq!(both.len(), 2);
    assert_eq!(both[0].settings.windows.timing.ms(), 30.0);
    assert_eq!(both[1].settings.latency.fixed.ms(), 7.0);
    let in_time = |judgement: i64| {
        let sql = "SELECT count(*) FROM reading WHERE timing = 'in' AND judgement =";
        count(&logbook, &format!("{sql} {judgement}"))
    };
    assert_eq!(Some(in_time(2)), checked["summary"]["timing_in"].as_i64());
    assert_ne!(in_time(1), in_time(2));
    let mean = checked["summary"]["offset_mean_ms"]
        .as_f64()
        .expect("a mean");
    let (_, _, kept) = logbook.verdicts(1).expect("verdicts").expect("a judgement");
    assert!((kept.expect("a mean") - mean).abs() < 1e-9);
}

#[test]
fn the_same_settings_give_the_same_readings_to_the_bit() {
    let bench = Bench::new(LINE);
    demo(&bench, "--logbook a.sqlite");
    let ran = bench.run(&["rejudge", "--all", "--logbook", "a.sqlite"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let logbook = open(&bench, "a.sqlite");
    let columns =
        "note, key, onset_ns, length_ns, velocity, offset_ns, ring_ns, pitch, timing, length";
    let of =
        |judgement: i64| format!("SELECT {columns} FROM reading WHERE judgement = {judgement}");
    let same = format!("SELECT count(*) FROM ({} INTERSECT {})", of(1), of(2));
    let all = "SELECT count(*) FROM reading WHERE judgement = 1";
    assert_eq!(count(&logbook, &same), count(&logbook, all));
    assert!(count(&logbook, all) > 50);
}

#[test]
fn takes_kept_in_files_are_added_once() {
    let bench = Bench::new(LINE);
    demo(&bench, "--take one.mid --seed 1");
    demo(&bench, "--take two.mid --seed 2");
    let add = "logbook add one.mid two.mid --logbook a.sqlite --player Mara";
    for (round, says) in [(1, "2 takes added"), (2, "0 takes added")] {
        let ran = bench.run(&add.split(' ').collect::<Vec<_>>());
        assert!(
            ran.code == Some(0) && ran.out.contains(says),
            "{round}: {ran:?}"
        );
    }
    let logbook = open(&bench, "a.sqlite");
    assert_eq!(
        logbook.take_file(2).expect("a take"),
        fs::read(bench.path("two.mid")).expect("a file")
    );
    assert_eq!(logbook.judgements(1).expect("judgements").len(), 1);
    assert_eq!(logbook.usual_player().expect("a player"), "Mara");
    // A line that is another by now is not taken for the one that was played.
    bench.write("line.toml", LINE.replace("Night", "Day").as_bytes());
    let ran = bench.run(&["logbook", "add", "one.mid", "--logbook", "b.sqlite"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err.contains("Night Ferry") && ran.err.contains("--line"),
        "{}",
        ran.err
    );
    bench.write("foreign.mid", &takes::smf(&[takes::note(0.0, 40, 100.0)]));
    let ran = bench.run(&["logbook", "add", "foreign.mid", "--logbook", "b.sqlite"]);
    assert!(
        ran.code == Some(2) && ran.err.contains("not recorded by leadsman"),
        "{}",
        ran.err
    );
}

/// Each file is the dump of a logbook as that version wrote it; `tests/golden/logbook.py` wrote the file's head.
#[test]
fn a_logbook_of_every_earlier_version_is_brought_up_to_date_with_all_that_is_in_it() {
    let bench = Bench::new(LINE);
    for version in 1..=leadsman::logbook::VERSION {
        let dump =
            Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/logbooks/{version}.sql"));
        let dump =
            fs::read_to_string(&dump).unwrap_or_else(|error| panic!("{}: {error}", dump.display()));
        let path = bench.path(&format!("{version}.sqlite"));
        Connection::open(&path)
            .expect("a database")
            .execute_batch(&dump)
            .expect("a logbook");
        let logbook = Logbook::open(&path).expect("a logbook");
        let takes = logbook.takes(&Filter::default()).expect("takes");
        assert_eq!(takes.len(), 2, "version {version}");
        assert_eq!(
            (takes[1].number, takes[1].note.as_str()),
            (1, "with a cold hand")
        );
        assert_eq!((takes[0].number, takes[0].state), (2, State::BrokenOff));
        for take in &takes {
            assert!(logbook.take(take.number).expect("a take").events.len() > 8);
            assert!(logbook.line_of(take.number).expect("a line").line().is_ok());
        }
        assert_eq!(logbook.judgements(1).expect("judgements").len(), 1);
        assert_eq!(
            logbook.session(1).expect("a session").note,
            "in the mess room"
        );
        is_sound(&logbook);
    }
}
