//! `leadsman sessions` as it is run.

mod takes;

use serde_json::Value;
use takes::kept::Kept;
use takes::schema::{assert_valid, schema_of};

/// Two sessions: one of five takes, one of a single take.
fn two_days() -> Kept {
    let kept = Kept::new();
    for args in [
        "line.toml --habits unsteady,dropped=0.1,wrong-frets=0.2",
        "rope.toml --habits steady",
        "line.toml --habits late-entries,dropped=0.05",
        "line.toml --habits steady --speed 80",
        "line.toml --habits steady,extra=0.1",
        "rope.toml --habits unsteady --speed 120",
    ] {
        kept.demo(args);
    }
    for (take, minute) in [
        (1, "00"),
        (2, "03"),
        (3, "05"),
        (4, "07"),
        (5, "10"),
        (6, "50"),
    ] {
        kept.begun(
            take,
            &format!("2026-03-02T07:{minute}:00+01:00[Europe/Berlin]"),
        );
    }
    kept.sql(
        "UPDATE session SET begun_ms = (SELECT min(begun_ms) FROM take);
         INSERT INTO session (uid, player, begun_ms) SELECT 'later', player, begun_ms + 3000000 FROM session;
         UPDATE take SET session = last_insert_rowid() WHERE id = 6",
    );
    kept.out("sessions note 2 after the last boat");
    kept
}

fn json(kept: &Kept, args: &str) -> Value {
    let json = serde_json::from_str(&kept.out(args)).expect("JSON");
    assert_valid(&schema_of("sessions"), &json);
    json
}

#[test]
fn sessions_are_listed_in_80_columns() {
    insta::assert_snapshot!(two_days().out("sessions"));
}

#[cfg(target_os = "linux")]
#[test]
fn sessions_are_listed_in_40_columns() {
    let kept = two_days();
    if let Some(list) = kept.on_terminal(40, "sessions list", "") {
        insta::assert_snapshot!(list);
    }
}

#[test]
fn a_session_is_shown_with_its_takes_and_what_changed() {
    insta::assert_snapshot!(two_days().out("sessions show 1"));
}

#[cfg(target_os = "linux")]
#[test]
fn a_session_is_shown_in_40_columns() {
    let kept = two_days();
    if let Some(shown) = kept.on_terminal(40, "sessions show 1", "") {
        insta::assert_snapshot!(shown);
    }
}

#[test]
fn what_is_compared_was_played_through_at_one_speed_and_counted_alike() {
    let kept = two_days();
    let shown = json(&kept, "sessions show 1 --json");
    let changes = &shown["sessions"][0]["changes"];
    assert_eq!(changes.as_array().map(Vec::len), Some(1), "{changes}");
    assert_eq!(
        (&changes[0]["first"], &changes[0]["last"]),
        (&1.into(), &5.into())
    );
    let takes = shown["sessions"][0]["of_takes"].as_array().expect("takes");
    let right = |take: usize| takes[take].pointer("/summary/pitch_right").cloned();
    let told = kept.out("sessions show 1");
    let (first, last) = (right(0).expect("a count"), right(4).expect("a count"));
    assert!(
        told.contains(&format!("right: {first}, then {last} (")),
        "{told}"
    );
    assert!(told.contains("in time: "), "{told}");

    // With another window, notes in time are not compared.
    kept.run("rejudge 5 --window 50");
    let told = kept.out("sessions show 1");
    assert!(
        told.contains("right: ") && !told.contains("in time"),
        "{told}"
    );

    // A take that broke off is not the last of those that were played through.
    kept.sql(
        "DELETE FROM judgement WHERE take = 5; INSERT INTO chunk SELECT id, 0, substr(track, 1, 400) FROM take WHERE id = 5;
         UPDATE take SET track = NULL WHERE id = 5",
    );
    let shown = json(&kept, "sessions show 1 --json");
    assert_eq!(shown["sessions"][0]["of_takes"][4]["state"], "broken-off");
    assert_eq!(shown["sessions"][0]["changes"][0]["last"], 3);

    let told = kept.out("sessions show 2").replace('\n', " ");
    assert!(told.contains("Note: after the last boat"), "{told}");
    assert!(told.contains("nothing to compare"), "{told}");
}

#[test]
fn a_list_is_of_the_player_and_the_latest_that_are_asked_for() {
    let kept = two_days();
    let all = json(&kept, "sessions --json");
    assert_eq!(all["total"], 2);
    assert_eq!(all["sessions"][0]["takes"], 5);
    assert_eq!(
        all["sessions"][0]["begun"],
        "2026-03-02T07:00:00+01:00[Europe/Berlin]"
    );
    assert_eq!(all["sessions"][0]["lines"][1], "Rope Locker");
    assert_eq!(all["sessions"][1]["note"], "after the last boat");
    let latest = json(&kept, "sessions list --latest 1 --json");
    assert_eq!(
        (&latest["total"], &latest["sessions"][0]["number"]),
        (&2.into(), &2.into())
    );
    let latest = kept.out("sessions --latest 1");
    assert!(
        latest.ends_with("The latest 1 of 2 sessions: --all lists them all.\n"),
        "{latest}"
    );
    assert_eq!(json(&kept, "sessions --player stand-in --json")["total"], 2);
    let refused = kept.refused("sessions --player Cook");
    assert!(refused.contains("no player \"Cook\""), "{refused}");
}

#[test]
fn a_session_without_takes_is_none() {
    let kept = two_days();
    kept.out("takes remove 6 --yes");
    assert_eq!(json(&kept, "sessions --json")["total"], 1);
    let refused = kept.refused("sessions show 2");
    assert!(
        refused.contains("log.sqlite: there is no session 2; `leadsman sessions` lists"),
        "{refused}"
    );
    kept.refused("sessions note 2 gone");
    kept.out("takes restore 6");
    assert_eq!(kept.out("sessions note 2"), "after the last boat\n");
    kept.out("sessions note 2 --remove");
    assert_eq!(
        kept.out("sessions note 2"),
        "There is no note about session 2.\n"
    );
}

#[test]
fn where_nothing_was_played_that_is_said() {
    let kept = Kept::new();
    let ran = kept.bench.run(&["sessions"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    assert!(ran.out.contains("leadsman play LINE"), "{}", ran.out);
    let none = kept.bench.run(&["sessions", "--json"]).json();
    assert_valid(&schema_of("sessions"), &none);
    let refused = kept.refused("sessions show 1");
    assert!(refused.contains("there is none yet"), "{refused}");
}
