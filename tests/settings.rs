//! The settings, as they are used: what beats what, what is said of mistakes, and what `leadsman settings` shows.

mod takes;

use serde_json::Value;
use std::fs;
use std::path::Path;
use takes::{Bench, Ran};

const LINE: &str = "title = \"Open Water\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4 | A1/4 C2/4 E2/4 G2/4 | D2/4 A1/4 F1/4 E1/4\"";
const USUAL: &str = "config/leadsman/settings.toml";

fn bench(settings: &str) -> Bench {
    let bench = Bench::new(LINE);
    let usual = bench.path(USUAL);
    fs::create_dir_all(usual.parent().expect("a folder")).expect("a folder");
    bench.write(USUAL, settings.as_bytes());
    bench
}

/// The settings that a demo with these options was judged by, as its take says.
fn demo(bench: &Bench, options: &[&str]) -> Value {
    let take = bench.path("demo.mid");
    let ran = bench.run(&[&["demo", "line.toml", "--take", "demo.mid"], options].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let bytes = fs::read(&take).expect("a take");
    fs::remove_file(take).expect("it was there");
    let text = String::from_utf8_lossy(&bytes);
    let (_, head) = text.split_once("leadsman.take/1 ").expect("a head");
    let mut values = serde_json::Deserializer::from_str(head).into_iter();
    values.next().expect("a value").expect("JSON")
}

fn window(head: &Value) -> Option<f64> {
    let nanos = head["settings"]["windows"]["timing"].as_f64();
    nanos.map(|nanos| nanos / 1e6)
}

#[track_caller]
fn refused(ran: &Ran, words: &[&str]) {
    assert_eq!(ran.code, Some(2), "{}{}", ran.out, ran.err);
    for word in words {
        assert!(ran.err.contains(word), "no {word:?} in: {}", ran.err);
    }
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
}

#[test]
fn options_beat_the_file_and_the_file_beats_the_defaults() {
    let bench = bench("[demo]\nwindow = 41\nspeed = 90\n");
    let report = demo(&bench, &[]);
    assert_eq!(window(&report), Some(41.0));
    assert_eq!(report["speed"], 90_000);
    let typed = demo(&bench, &["--window", "22"]);
    assert_eq!(window(&typed), Some(22.0));
    assert_eq!(typed["speed"], 90_000);
    fs::remove_file(bench.path(USUAL)).expect("it was there");
    assert_eq!(window(&demo(&bench, &[])), Some(30.0));
}

#[test]
fn what_all_commands_share_is_beaten_by_a_commands_own() {
    let bench = bench("[all]\nwindow = 41\nlean = -5\n[demo]\nwindow = 43\n[play]\nwindow = 44\n");
    let report = demo(&bench, &[]);
    assert_eq!(window(&report), Some(43.0));
    assert_eq!(report["settings"]["windows"]["lean"], -5_000_000);
}

#[test]
fn a_file_can_be_named() {
    let bench = bench("[demo]\nwindow = 41\n");
    bench.write("other.toml", b"[demo]\nwindow = 47\n");
    assert_eq!(
        window(&demo(&bench, &["--settings", "other.toml"])),
        Some(47.0)
    );
    let before = bench.run(&["--settings", "other.toml", "settings", "demo"]);
    assert!(before.out.contains("window = 47"), "{}", before.out);
    refused(
        &bench.run(&["demo", "--settings", "none.toml"]),
        &["cannot read none.toml"],
    );
}

#[test]
fn a_flag_that_is_set_can_be_denied_and_a_list_is_replaced() {
    let bench = bench("[demo]\nall = true\nkeep = [\"bent-keys\", \"bend-splits\"]\n");
    let lines = |options: &[&str]| {
        let ran = bench.run(&[&["demo", "line.toml", "--habits", "dropped=0.5"], options].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        ran.out.lines().count()
    };
    assert!(lines(&[]) > lines(&["--all=false"]));
    assert_eq!(lines(&[]), lines(&["--all"]));
    let off = |report: Value| report["settings"]["cleanup"].clone();
    let from_file = off(demo(&bench, &[])).to_string();
    assert!(!from_file.contains("bend-splits") && from_file.contains("missing-offs"));
    let typed = off(demo(&bench, &["--keep", "missing-offs"])).to_string();
    assert!(typed.contains("bend-splits") && !typed.contains("missing-offs"));
    let denied = bench.run(&["demo", "--all=perhaps"]);
    refused(&denied, &["perhaps"]);
}

#[test]
fn what_clap_does_not_take_together_gives_way_to_what_was_typed() {
    let bench = bench(
        "[all]\nmidi = \"no such port\"\nlogbook = \"mine.sqlite\"\n[listen]\nbits = 24\naudio = \"no such output\"\n",
    );
    let play = [
        "play",
        "line.toml",
        "--bars",
        "1",
        "--backend",
        "silent",
        "--count-in",
        "0",
    ];
    let play = [&play[..], &["--speed", "400", "--stand-in"]].concat();
    let ran = bench.run(&play);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    // A file named in the settings lies beside them.
    let logbook = bench.path("config/leadsman/mine.sqlite");
    assert!(logbook.is_file());
    fs::remove_file(&logbook).expect("it was there");
    let ran = bench.run(&[&play[..], &["--no-logbook", "--take", "take.mid"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(bench.path("take.mid").is_file() && !logbook.exists());
    // --bits asks for --wav and --wav for no --audio; the file's values ask for nothing and forbid nothing.
    let ran = bench.run(&["listen", "line.toml", "--bars", "1", "--wav", "a.wav"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let bits = fs::read(bench.path("a.wav")).expect("a sound file")[34];
    assert_eq!(bits, 24);
    let both = bench.run(&["play", "line.toml", "--stand-in", "--midi", "a port"]);
    refused(&both, &["--stand-in", "--midi"]);
}

#[test]
fn of_two_keys_that_exclude_each_other_the_commands_own_holds_until_it_is_denied() {
    let bench = bench("[all]\nlogbook = \"mine.sqlite\"\n[play]\nno-logbook = true\nspeed = 400\n");
    let logbook = bench.path("config/leadsman/mine.sqlite");
    let play = [
        "play",
        "line.toml",
        "--bars",
        "1",
        "--backend",
        "silent",
        "--stand-in",
    ];
    let ran = bench.run(&[&play[..], &["--take", "a.mid"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(bench.path("a.mid").is_file() && !logbook.exists());
    let ran = bench.run(&[&play[..], &["--no-logbook=false"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(logbook.is_file());
}

#[test]
fn a_logbook_of_the_settings_is_nobodys_in_a_demo_and_found_by_those_who_read_it() {
    let bench = bench("[all]\nlogbook = \"~/mine.sqlite\"\n");
    demo(&bench, &[]);
    assert!(!bench.path("mine.sqlite").exists());
    let play = [
        "play",
        "line.toml",
        "--bars",
        "1",
        "--backend",
        "silent",
        "--stand-in",
        "--speed",
        "400",
    ];
    let ran = bench.run(&play);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let ran = bench.run(&["logbook"]);
    assert!(
        ran.out.contains("mine.sqlite") && ran.out.contains("1 take"),
        "{}",
        ran.out
    );
}

const WRONG: &str = "\
tempo = 100
[all]
windwo = 30
level = -20
[ply]
[play]
bars = \"5-8\"
click = \"sometimes\"
window = \"30\"
count-in = 9
no-logbook = true
logbook = \"x.sqlite\"
keep = [\"bent-keys\", \"bendy\", 3]
[lint]
[latency]
tap = 3
";

#[test]
fn every_mistake_is_told_at_once_with_its_place_and_what_would_be_right() {
    let bench = bench(WRONG);
    for command in [
        &["demo", "line.toml"][..],
        &["lint", "line.toml"],
        &["ports"],
    ] {
        let ran = bench.run(command);
        refused(
            &ran,
            &[
                "settings.toml:1:1",
                "`tempo` below `[new]`",
                "settings.toml:3:1",
                "did you mean `window`?",
                "settings.toml:4:1",
                "`level` is a key of `[play]`",
                "settings.toml:5:2",
                "did you mean `[play]`?",
                "settings.toml:7:1",
                "type --bars where you need it",
                "settings.toml:8:9",
                "beats, two-and-four, bar, upbeats",
                "settings.toml:9:10",
                "write `window = 30`",
                "settings.toml:10:12",
                "settings.toml:12:1",
                "not together with `no-logbook`",
                "settings.toml:14:2",
                "settings.toml:16:7",
                "write `[latency.tap]`",
            ],
        );
        assert_eq!(ran.out, "");
        assert!(ran.err.starts_with("error["), "{}", ran.err);
    }
}

#[test]
fn a_list_is_checked_entry_by_entry() {
    let wrong_type = bench("[play]\nkeep = [\"bent-keys\", true]\n");
    refused(
        &wrong_type.run(&["demo"]),
        &["settings.toml:2:22", "this is true or false"],
    );
    let wrong_value = bench("[play]\nkeep = [\"bent-keys\", \"bendy\"]\n");
    refused(
        &wrong_value.run(&["demo"]),
        &["settings.toml:2:22", "string-overlaps"],
    );
}

#[test]
fn text_that_is_not_toml_is_shown_where_it_breaks() {
    let broken = bench("[play]\nwindow = = 3\nspeed = 90\n[demo]\nwindow = \"x\"\n");
    let ran = broken.run(&["demo"]);
    refused(
        &ran,
        &[
            "settings.toml:2:",
            "error[toml-syntax]",
            "settings.toml:5:10",
        ],
    );
    let twice = bench("[demo]\nspeed = 90\nspeed = 80\n");
    refused(
        &twice.run(&["demo"]),
        &["settings.toml:3:1", "duplicate key"],
    );
    let no_text = bench("");
    no_text.write(USUAL, b"[demo]\n# \xff\n");
    refused(&no_text.run(&["demo"]), &["line 2 is not UTF-8"]);
}

#[test]
fn broken_settings_stop_neither_help_nor_what_shows_them() {
    let bench = bench(WRONG);
    for args in [
        &["--help"][..],
        &["play", "--help"],
        &["--version"],
        &["completions", "bash"],
        &["man", "play"],
    ] {
        let ran = bench.run(args);
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.err);
        assert!(!ran.out.is_empty());
    }
    let ran = bench.run(&["settings"]);
    refused(&ran, &["settings.toml:3:1"]);
    assert!(ran.out.contains("logbook = \"x.sqlite\""), "{}", ran.out);
    assert!(ran.out.contains("seed = 1"), "{}", ran.out);
}

#[test]
fn settings_say_what_holds_and_from_where() {
    let bench = bench("[all]\nclick = \"bar\"\n[play]\nwindow = 41\n");
    let ran = bench.run(&["settings", "play"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let line = |start: &str| {
        let mut lines = ran.out.lines();
        let found = lines.find(|line| line.starts_with(start));
        found.unwrap_or_else(|| panic!("no {start} in {}", ran.out))
    };
    assert!(line("#").ends_with(USUAL));
    assert!(line("click = \"bar\"").ends_with("# the file, [all], line 2"));
    assert!(line("window = 41").ends_with("# the file, line 4"));
    assert!(line("speed = 100").ends_with("# default"));
    assert!(line("#midi").ends_with("# default: the only one there is"));
    assert!(!ran.out.contains("[demo]"));
    let below = bench.run(&["settings", "latency", "tap"]);
    assert!(below.out.contains("[latency.tap]") && !below.out.contains("[latency.measure]"));
    refused(&bench.run(&["settings", "pla"]), &["no command `pla`"]);
    let whole: toml::Table = bench.run(&["settings"]).out.parse().expect("TOML");
    assert_eq!(whole["play"]["window"].as_integer(), Some(41));
}

/// The keys of a file to fill in, without their comment signs.
fn all_set(text: &str) -> String {
    // Each is refused beside another key of its table.
    let exclusive = ["climb", "play-through", "first-note", "big"];
    let set = |line: &str| {
        let key = line.strip_prefix('#');
        let key = key.filter(|key| {
            !exclusive
                .iter()
                .any(|one| key.starts_with(&format!("{one} = ")))
        });
        let key = key.filter(|key| key.starts_with(|c: char| c.is_ascii_lowercase()));
        key.unwrap_or(line).to_owned() + "\n"
    };
    text.lines().map(set).collect()
}

#[test]
fn a_file_to_fill_in_is_accepted_as_it_is_and_with_every_key_set() {
    let bench = Bench::new(LINE);
    let ran = bench.run(&["settings", "--write"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains(USUAL), "{}", ran.out);
    assert_eq!(window(&demo(&bench, &[])), Some(30.0));
    let text = fs::read_to_string(bench.path(USUAL)).expect("the settings");
    assert!(text.lines().all(|line| line.chars().count() <= 120));
    let set = all_set(&text);
    assert!(
        set.lines().filter(|line| line.contains(" = ")).count() > 60,
        "{set}"
    );
    bench.write(USUAL, set.as_bytes());
    let ran = bench.run(&["settings"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    demo(&bench, &[]);
}

#[test]
fn settings_that_are_there_are_never_written_over() {
    let bench = bench("# mine\n");
    refused(&bench.run(&["settings", "--write"]), &["is there already"]);
    assert_eq!(
        fs::read_to_string(bench.path(USUAL)).expect("the settings"),
        "# mine\n"
    );
    let other = bench.run(&["settings", "--write", "--settings", "new/other.toml"]);
    assert_eq!(other.code, Some(0), "{}", other.err);
    assert!(bench.path("new/other.toml").is_file());
}

#[test]
fn the_table_of_the_foot_switch_is_left_to_its_owner() {
    let bench =
        bench("[control]\nagain = { control = 64, channel = 1 }\nwhatever = [1, { a = 2 }]\n");
    demo(&bench, &[]);
    let value = self::bench("control = 3\n");
    refused(
        &value.run(&["demo"]),
        &["settings.toml:1:11", "`[control]`"],
    );
}

#[test]
fn the_config_folder_is_that_of_the_environment_or_of_the_home() {
    let bench = bench("[demo]\nwindow = 41\n");
    let home = Path::new(".config/leadsman");
    fs::create_dir_all(bench.path(".config/leadsman")).expect("a folder");
    bench.write(
        &home.join("settings.toml").display().to_string(),
        b"[demo]\nwindow = 42\n",
    );
    let mut command = bench.leadsman(&["settings", "demo"]);
    let output = command
        .env_remove("XDG_CONFIG_HOME")
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(said.contains("window = 42"), "{said}");
}
