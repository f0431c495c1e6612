//! What leadsman gives to a shell, to `man` and to a terminal without colour.
#![cfg(unix)]

mod takes;

use std::fs;
use std::process::Command;
use takes::Bench;

const LINE: &str = "title = \"Open Water\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     notes = \"E1/4 A1/4 D2/4 G2/4\"";

/// What bash offers for the last of these words.
fn completed(bench: &Bench, words: &[&str]) -> Vec<String> {
    let words = [&["leadsman"], words].concat();
    let [.., before, last] = &words[..] else {
        panic!("a word to complete");
    };
    let script = format!(
        "source ./leadsman.bash; COMP_WORDS=({}); COMP_CWORD={}; _leadsman leadsman '{last}' '{before}'; \
         printf '%s\\n' \"${{COMPREPLY[@]}}\"",
        words
            .iter()
            .map(|word| format!("'{word}' "))
            .collect::<String>(),
        words.len() - 1,
    );
    let ran = Command::new("bash")
        .args(["--norc", "-c", &script])
        .current_dir(bench.dir.path())
        .output()
        .expect("bash");
    assert!(
        ran.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    let text = String::from_utf8(ran.stdout).expect("UTF-8");
    text.lines().map(str::to_owned).collect()
}

#[test]
fn bash_completes_commands_options_values_and_files() {
    let bench = Bench::new(LINE);
    let ran = bench.run(&["completions", "bash"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    bench.write("leadsman.bash", ran.out.as_bytes());
    let completed = |words: &[&str]| completed(&bench, words);
    assert_eq!(completed(&["pl"]), ["play"]);
    assert_eq!(completed(&["latency", "m"]), ["measure"]);
    let windows = completed(&["play", "--len"]);
    assert_eq!(windows, ["--length-window", "--length-percent"]);
    assert_eq!(completed(&["play", "--click", "up"]), ["upbeats"]);
    assert_eq!(completed(&["check", "--settings", "li"]), ["line.toml"]);
}

#[test]
fn every_shell_gets_a_script_that_knows_the_commands() {
    let bench = Bench::new(LINE);
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = bench.run(&["completions", shell]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        for word in ["leadsman", "rejudge", "length-window", "two-and-four"] {
            // PowerShell and elvish are not told the values of options.
            let told = word != "two-and-four" || !["powershell", "elvish"].contains(&shell);
            assert_eq!(ran.out.contains(word), told, "{shell}: {word}");
        }
    }
    assert_eq!(bench.run(&["completions", "tcsh"]).code, Some(2));
}

#[test]
fn there_is_a_page_for_every_command_and_one_can_be_printed() {
    let bench = Bench::new(LINE);
    let ran = bench.run(&["man", "--output", "pages"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let names: Vec<String> = fs::read_dir(bench.path("pages"))
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("a page")
                .file_name()
                .into_string()
                .expect("UTF-8")
        })
        .collect();
    for name in [
        "leadsman.1",
        "leadsman-play.1",
        "leadsman-latency-measure.1",
    ] {
        assert!(names.iter().any(|is| is == name), "no {name} in {names:?}");
    }
    let one = bench.run(&["man", "latency", "measure"]);
    let kept = fs::read_to_string(bench.path("pages/leadsman-latency-measure.1")).expect("a page");
    assert_eq!(one.out, kept);
    let again = bench.run(&["man", "--output", "pages"]);
    assert_eq!(again.code, Some(0), "{}", again.err);
    assert_eq!(bench.run(&["man", "latency", "tapp"]).code, Some(2));
}

#[test]
fn the_pages_are_roff_without_a_warning() {
    let bench = Bench::new(LINE);
    bench.run(&["man", "--output", "pages"]);
    let script = "groff -man -ww -z -Tutf8 -k pages/*.1";
    let ran = Command::new("sh")
        .args(["-c", script])
        .current_dir(bench.dir.path())
        .output()
        .expect("sh");
    let said = String::from_utf8_lossy(&ran.stderr);
    if ran.status.code() == Some(127) {
        eprintln!("groff is not here: the pages are not looked at");
        return;
    }
    assert!(ran.status.success() && said.is_empty(), "{said}");
}

/// What the program prints to a terminal of its own (`script`), with this value of `NO_COLOR`.
fn on_terminal(bench: &Bench, args: &str, no_color: Option<&str>) -> String {
    let program = env!("CARGO_BIN_EXE_leadsman");
    let mut script = Command::new("script");
    script
        .current_dir(bench.dir.path())
        .env("XDG_CONFIG_HOME", bench.path("config"))
        .env("HOME", bench.dir.path())
        .env("TERM", "xterm-256color")
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR")
        .env_remove("CLICOLOR_FORCE")
        .args(["-qec", &format!("'{program}' {args}"), "/dev/null"]);
    if let Some(value) = no_color {
        script.env("NO_COLOR", value);
    }
    let ran = script.output().expect("script");
    String::from_utf8(ran.stdout).expect("UTF-8")
}

#[test]
fn no_color_is_respected_by_help_errors_and_everything_printed() {
    let bench = Bench::new(LINE);
    bench.write("wrong.toml", b"title = 3\n");
    bench.write("settings.toml", b"[play]\nwindw = 3\n");
    let in_colour = [
        "--help",
        "play --help",
        "play --nonsense",
        "lint wrong.toml",
        "show wrong.toml",
        "demo --settings settings.toml",
        "settings --settings settings.toml",
    ];
    for args in in_colour {
        for (no_color, coloured) in [(None, true), (Some(""), true), (Some("1"), false)] {
            let said = on_terminal(&bench, args, no_color);
            assert_eq!(
                said.contains('\u{1b}'),
                coloured,
                "{args} {no_color:?}: {said}"
            );
            assert!(said.len() > 20, "{args}: {said}");
            assert!(!said.contains("error: error"), "{said}");
            assert!(!said.contains("error: \u{1b}"), "{said}");
        }
    }
    for args in [
        "demo line.toml",
        "check line.toml none.mid",
        "show line.toml",
        "settings",
        "ports",
    ] {
        let said = on_terminal(&bench, args, Some("1"));
        assert!(!said.contains('\u{1b}'), "{args}: {said}");
    }
}
