//! `leadsman progress`, and `report` of what is in the logbook: words, tables and pages.

mod browser;
mod takes;

use browser::{Browser, View, faults};
use serde_json::Value;
use std::fs;
use takes::kept::Kept;
use takes::schema::{assert_valid, schema_of};

/// Takes of a stand-in who gets steadier, three a day for so many days; the last day is yesterday.
fn weeks(days: usize) -> Kept {
    let kept = Kept::new();
    let mut takes = 0;
    for day in 0..days {
        for _ in 0..3 {
            takes += 1;
            let spread = 10.0 + 16.0 * (-(takes as f64) / 8.0).exp();
            kept.demo(&format!(
                "line.toml --seed {takes} --habits late-entries,spread-ms={spread:.1}"
            ));
            let (hour, minute) = (18, (takes - 1) % 3 * 10);
            let at =
                jiff::ZonedDateTime::now().date() - jiff::Span::new().days((days - day) as i64);
            kept.begun(takes, &format!("{at}T{hour}:{minute:02}:00+00:00[UTC]"));
        }
    }
    // A day is a session.
    kept.sql(
        "INSERT INTO session (uid, player, begun_ms) SELECT 'day-' || min(id), 1, min(begun_ms) FROM take GROUP BY begun_ms / 86400000;
         UPDATE take SET session = (SELECT id FROM session WHERE uid LIKE 'day-%' AND begun_ms / 86400000 = take.begun_ms / 86400000);
         DELETE FROM session WHERE uid NOT LIKE 'day-%'",
    );
    kept
}

fn json(kept: &Kept, args: &str) -> Value {
    serde_json::from_str(&kept.out(args)).expect("JSON")
}

#[test]
fn what_became_of_a_line_is_told_with_what_is_real_of_it() {
    let kept = weeks(8);
    let told = kept.out("progress line.toml");
    for words in [
        "Night Ferry · 24 takes in 8 sessions by stand-in",
        "Compared: all of the line at 100 %: 24 takes in 8 sessions.",
        "better",
        "A change would stand out from: ",
        "Learning curve: ",
        "To play today",
        "leadsman play line.toml",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    let widest = told.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(80), "{told}");
    let json = json(&kept, "progress line.toml --json");
    assert_valid(&schema_of("progress"), &json);
    let spread = &json["lines"][0]["measures"][0];
    assert_eq!(spread["measure"], "spread");
    assert_eq!(spread["change"]["known"]["verdict"], "better");
    assert_eq!(spread["points"].as_array().map(Vec::len), Some(8));
    for other in json["lines"][0]["measures"]
        .as_array()
        .expect("measures")
        .iter()
        .skip(1)
    {
        let verdict = &other["change"]["known"]["verdict"];
        assert!(verdict == "no-change" || verdict.is_null(), "{other}");
    }
    // Section by section and finding by finding on top.
    let all = kept.out("progress line.toml --all");
    assert!(
        all.contains("late entries") && all.lines().count() > told.lines().count(),
        "{all}"
    );
}

#[test]
fn too_little_is_said_to_be_too_little() {
    let kept = weeks(1);
    let told = kept.out("progress line.toml");
    assert!(
        told.contains("too early to say") && told.contains("it takes"),
        "{told}"
    );
    assert!(
        !told.contains("better") && !told.contains("worse"),
        "{told}"
    );
    let json = json(&kept, "progress line.toml --json");
    assert_valid(&schema_of("progress"), &json);
    assert_eq!(json["lines"][0]["curve"]["not-yet"]["why"], "few-sessions");
}

#[test]
fn speeds_are_not_mixed_and_other_takes_are_named() {
    let kept = weeks(4);
    for seed in 1..4 {
        kept.demo(&format!(
            "line.toml --seed {seed} --habits exact --speed 50"
        ));
    }
    let json = json(&kept, "progress line.toml --json");
    let basis = &json["lines"][0]["basis"];
    assert_eq!(
        (&basis["how"], &basis["speed"], &basis["takes"]),
        (&"same".into(), &100.into(), &12.into())
    );
    let told = kept.out("progress line.toml");
    assert!(told.contains("Beside it: at 50 % (3 takes)."), "{told}");
    let slow = kept.out("progress line.toml --speed 50");
    assert!(slow.contains("3 takes in 1 session"), "{slow}");
}

#[test]
fn all_lines_are_a_row_each_and_a_changed_line_is_another() {
    let kept = weeks(2);
    kept.demo("rope.toml --habits steady");
    let told = kept.out("progress");
    assert!(
        told.contains("Night Ferry") && told.contains("Rope Locker"),
        "{told}"
    );
    kept.bench.write(
        "line.toml",
        takes::kept::LINE.replace("x/4", "F2/4").as_bytes(),
    );
    let refused = kept.refused("progress line.toml");
    assert!(
        refused.contains("present notes") && refused.contains("\"Night Ferry\""),
        "{refused}"
    );
    kept.demo("line.toml --habits steady");
    let told = kept.out("progress line.toml");
    assert!(
        told.contains("1 take in 1 session") && told.contains("6 takes of this line as it was"),
        "{told}"
    );
}

#[test]
fn the_table_has_a_row_a_measure_and_session() {
    let kept = weeks(3);
    let table = kept.out("progress line.toml --csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    assert_eq!(reader.headers().expect("heads").iter().next(), Some("line"));
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let spread = rows
        .iter()
        .filter(|row| &row[3] == "spread" && row[2].is_empty())
        .count();
    assert_eq!(spread, 3);
    assert!(
        rows.iter()
            .any(|row| &row[3] == "told:late-entries" && &row[7] == "1")
    );
}

#[test]
fn wrong_names_are_answered_by_what_there_is() {
    let kept = weeks(1);
    assert!(kept.refused("progress barnacle").contains("Night Ferry"));
    assert!(
        kept.refused("progress line.toml --player Mara")
            .contains("stand-in")
    );
    assert!(
        kept.refused("progress line.toml --speed 55")
            .contains("at 55 %")
    );
    assert!(kept.refused("report 99").contains("there is no take 99"));
    assert!(
        kept.refused("report --session 99")
            .contains("there is no session 99")
    );
    for (args, option) in [
        ("report 1 --start 3", "--start"),
        ("report 1 --line line.toml", "--line"),
        ("report --bars 1-2", "--bars"),
        ("report --line line.toml --section A", "--section"),
    ] {
        let refused = kept.refused(args);
        assert!(
            refused.contains(option) && refused.contains("no effect"),
            "{refused}"
        );
    }
    kept.out("takes remove 2 --yes");
    assert!(kept.refused("report 2").contains("takes restore 2"));
}

#[test]
fn pages_are_named_after_what_they_are_of() {
    let kept = weeks(3);
    let session = kept.sessions()[0];
    for (args, name, words) in [
        (
            "report".to_string(),
            "take-9.report.html",
            "From session to session",
        ),
        ("report 4".to_string(), "take-4.report.html", "Night Ferry"),
        (
            format!("report --session {session}"),
            "",
            "Offsets, take by take",
        ),
        (
            "report --line line.toml".to_string(),
            "line.progress.html",
            "What changed",
        ),
    ] {
        let said = kept.out(&args);
        let name = if name.is_empty() {
            format!("session-{session}.report.html")
        } else {
            name.to_string()
        };
        assert!(said.contains(&name), "{said}");
        let page = fs::read_to_string(kept.bench.path(&name)).expect("a page");
        assert!(page.contains(words), "{args}");
        assert!(
            !page.contains("src=\"http") && !page.contains("href=\"http"),
            "{args}"
        );
        // A page that is there is not written over unasked.
        assert!(kept.refused(&args).contains("--force"), "{args}");
    }
    kept.out("progress line.toml --html page.html");
    let same = |name: &str| fs::read_to_string(kept.bench.path(name)).expect("a page");
    assert_eq!(same("page.html"), same("line.progress.html"));
}

/// Where there is a Chromium; elsewhere there is nothing to ask.
#[test]
fn a_browser_finds_nothing_wrong_with_pages_of_sessions_and_of_progress() {
    let Some(mut browser) = Browser::start() else {
        eprintln!("no chromium here: nothing was asked");
        return;
    };
    let kept = weeks(6);
    kept.out("report --line line.toml -o progress.html");
    kept.out(&format!(
        "report --session {} -o session.html",
        kept.sessions()[0]
    ));
    for name in ["progress.html", "session.html"] {
        for (width, scheme) in [
            (1400, "light"),
            (360, "light"),
            (1400, "dark"),
            (360, "dark"),
        ] {
            let view = View { width, scheme };
            for (question, wrong) in faults(&mut browser, &kept.bench.path(name), view) {
                assert!(wrong.is_empty(), "{name} {view:?} {question}: {wrong:?}");
            }
        }
    }
}
