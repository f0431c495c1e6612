//! The message of every kind of mistake, as a player reads it.

use leadsman::line::parse::parse;

/// A whole file, with the mistake in its notes.
fn notes(notes: &str) -> String {
    section(&format!("notes = \"{notes}\""))
}

/// A whole file, with the mistake in the keys of its section.
fn section(body: &str) -> String {
    head("", &format!("[[section]]\nname = \"A\"\n{body}"))
}

/// A whole file, with the mistake in its head.
fn settings(line: &str) -> String {
    head(line, "[[section]]\nname = \"A\"\nnotes = \"r/1\"")
}

fn head(line: &str, rest: &str) -> String {
    let own = |key: &str| line.starts_with(key);
    let mut text = String::from("title = \"Gangway\"\n");
    for (key, usual) in [("meter", "meter = \"4/4\""), ("tempo", "tempo = 120")] {
        if !own(key) {
            text.push_str(usual);
            text.push('\n');
        }
    }
    format!("{text}{line}\n{rest}\n")
}

/// The id of each mistake with a file that has it and no other.
fn cases() -> Vec<(&'static str, String)> {
    let five = "tuning = \"D1 A1 D2 G2\"";
    vec![
        ("toml-syntax", settings("gate = = 1")),
        ("unknown-key", settings("tunning = \"E1 A1 D2 G2\"")),
        ("unknown-key", settings("notes = \"E1/1\"")),
        ("unknown-key", section("title = \"B\"\nnotes = \"r/1\"")),
        ("unknown-key", section("composer = \"me\"\nnotes = \"r/1\"")),
        ("missing-key", section("passes = [0]")),
        (
            "missing-key",
            "title = \"Gangway\"\nmeter = \"4/4\"\n[[section]]\nname = \"A\"\nnotes = \"r/1\"\n"
                .into(),
        ),
        ("wrong-type", settings("tempo = \"126\"")),
        (
            "wrong-type",
            head("", "[section]\nname = \"A\"\nnotes = \"r/1\""),
        ),
        ("wrong-type", section("notes = \"r/1\"\npasses = [0, 1.5]")),
        (
            "wrong-type",
            section("notes = \"r/1\"").replace("\"A\"", "2"),
        ),
        ("duplicate-key", section("notes = \"r/1\"\nnotes = \"r/1\"")),
        ("no-section", head("", "")),
        (
            "blank-text",
            section("notes = \"r/1\"").replace("\"A\"", "\" \""),
        ),
        (
            "pickup-disagrees",
            head(
                "pickup = true",
                "[[section]]\nname = \"A\"\npickup = false\nnotes = \"r/2 | r/1\"",
            ),
        ),
        ("bad-meter", settings("meter = \"4/5\"")),
        ("tempo-out-of-range", settings("tempo = 500")),
        ("tempo-too-fine", settings("tempo = 120.0625")),
        ("bad-swing", settings("swing = \"triplet\"")),
        ("swing-out-of-range", settings("swing = \"1:2\"")),
        ("swing-out-of-range", settings("swing = \"5:1\"")),
        ("bad-swung", settings("swung = \"1/4\"")),
        ("gate-out-of-range", settings("gate = 90")),
        ("gate-too-fine", settings("gate = 0.8888")),
        (
            "bad-open-string",
            settings("tuning = \"E A D G\"").replace("E A D G", "E1 A D2 G2"),
        ),
        ("open-string-outside-midi", settings("tuning = \"C-2 E1\"")),
        ("tuning-not-rising", settings("tuning = \"E1 A1 G2 D2\"")),
        ("tuning-size", settings("tuning = \"\"")),
        ("bad-tonic", settings("key = \"Dm\"")),
        ("bad-tonic", settings("key = \"eb major\"")),
        ("bad-tonic", settings("key = \"nautical\"")),
        ("bad-mode", settings("key = \"D mixolidian\"")),
        ("bad-mode", settings("key = \"D\"")),
        ("no-pass", section("notes = \"r/1\"\npasses = []")),
        (
            "pass-shift-too-large",
            section("notes = \"r/1\"\npasses = [0, 100]"),
        ),
        (
            "pass-off-fingerboard",
            section("notes = \"E2/2 F1/2 | G2/1\"\npasses = [0, -3, 2]"),
        ),
        (
            "pass-off-fingerboard",
            section("notes = \"G:3/2 D:0/2 | E1/1\"\npasses = [0, -1]"),
        ),
        ("bad-place", notes("d2/1")),
        ("bad-place", notes("D/1")),
        ("bad-place", notes("H2/1")),
        ("bad-place", notes("E♭2/1")),
        ("bad-place", notes("X/1")),
        ("bad-place", notes("A2+r/1")),
        (
            "bad-place",
            head(
                "tuning = \"E1 G4\"",
                "[[section]]\nname = \"A\"\nnotes = \"F3/1\"",
            ),
        ),
        ("unknown-string", notes("C:3/1")),
        (
            "ambiguous-string",
            head(five, "[[section]]\nname = \"A\"\nnotes = \"D:0/1\""),
        ),
        ("fret-out-of-range", notes("D:25/1")),
        ("fret-out-of-range", notes("G:25/1")),
        ("not-on-string", notes("A1@D/1")),
        ("fret-is-not-pitch", notes("A2@D:5/1")),
        ("fret-is-not-pitch", notes("A1@D:7/1")),
        ("below-lowest-string", notes("Eb1/1")),
        ("above-highest-string", notes("E5/1")),
        ("outside-midi", notes("A10/1")),
        ("string-used-twice", notes("D:2+A2@D/1")),
        ("string-used-twice", notes("E1+G1/1")),
        ("too-many-stops", notes("E1+A1+D2+G2+B2/1")),
        ("no-string-left", notes("E1+A1+B1+C2/1")),
        ("missing-length", notes("D3")),
        ("missing-length", notes("D3/ r/1")),
        ("bad-length", notes("D3/12")),
        ("bad-length", notes("D3/8t.")),
        ("bad-length", notes("D3/q")),
        ("bad-length", notes("D3/64")),
        ("bad-mark", notes("D3/1!")),
        ("repeated-mark", notes("D3/1>>")),
        ("contradictory-marks", notes("D3/1'_")),
        ("contradictory-marks", notes("D3/1_m")),
        ("mark-on-rest", notes("r/1m")),
        ("length-mark-on-dead-note", notes("x@A/2 x/2'")),
        ("mark-on-tied-note", notes("D3/2~ D3/2>")),
        ("tie-not-last", notes("D3/2~> D3/2")),
        ("tie-on-rest", notes("r/2~ r/2")),
        ("tie-on-dead-note", notes("x/2~ x/2")),
        ("tie-to-rest", notes("D3/2~ r/2")),
        ("tie-to-dead-note", notes("D3/2~ x/2")),
        ("tie-to-another-pitch", notes("D3/2~ Eb3/2")),
        ("tie-to-another-string", notes("D3@G/2~ D:12/2")),
        ("tie-at-end", notes("D3/1~")),
        ("no-notes", notes(" | ")),
        ("empty-bar", notes("D3/1 | | D3/1")),
        ("bar-too-short", notes("D3/1 | D3/4 D3/4 D3/4. | D3/1")),
        ("bar-too-short", notes("D3/2.")),
        ("bar-too-long", notes("D3/2 D3/4 D3/4 D3/4.t")),
        (
            "pickup-not-shorter",
            head(
                "pickup = true",
                "[[section]]\nname = \"A\"\nnotes = \"D3/1 | D3/1\"",
            ),
        ),
        (
            "pickup-not-first",
            head(
                "",
                "[[section]]\nname = \"A\"\nnotes = \"r/1\"\n[[section]]\nname = \"B\"\npickup = true\nnotes = \"r/1\"",
            ),
        ),
        (
            "nothing-after-pickup",
            head(
                "pickup = true",
                "[[section]]\nname = \"A\"\nnotes = \"D3/4\"",
            ),
        ),
        (
            "layer-mark-count",
            section(
                "notes = \"E1/1 | E1/8 E1/8 E1/8 E1/8 E1/8 E1/8 E1/8 E1/8\"\nstrokes = \"d | d u d u d u d\"",
            ),
        ),
        (
            "layer-mark-count",
            section("notes = \"E1/1 | E1/1\"\nfingers = \"0 |\""),
        ),
        (
            "layer-bar-count",
            section("notes = \"E1/1 | E1/1\"\nfingers = \"0\""),
        ),
        (
            "layer-bar-count",
            section("notes = \"E1/1 | E1/1\"\nchords = \"Em | - | C\""),
        ),
        (
            "bad-stroke",
            section("notes = \"E1/2 E1/2\"\nstrokes = \"d down\""),
        ),
        (
            "bad-finger",
            section("notes = \"E1/2 E1/2\"\nfingers = \"0 5\""),
        ),
        ("bad-chord", section("notes = \"E1/1\"\nchords = \"em7\"")),
        ("bad-chord", section("notes = \"E1/1\"\nchords = \"Hm7\"")),
        ("bad-chord", section("notes = \"E1/1\"\nchords = \"Em7 -\"")),
        (
            "bad-chord-beat",
            section("notes = \"E1/1\"\nchords = \"Em7@1 A7@three\""),
        ),
        (
            "chord-beat-out-of-range",
            section("notes = \"E1/1\"\nchords = \"Em7@1 A7@5\""),
        ),
        (
            "chord-beats-not-rising",
            section("notes = \"E1/1\"\nchords = \"Em7@3 A7@2\""),
        ),
        (
            "chord-without-beat",
            section("notes = \"E1/1\"\nchords = \"Em7 A7@3\""),
        ),
    ]
}

#[test]
fn every_mistake_says_what_would_be_right() {
    let mut shown: Vec<(&str, String)> = Vec::new();
    for (id, text) in cases() {
        let mistakes = parse(&text, "lines/gangway.toml").expect_err(&text);
        let rendered = mistakes.render(false);
        let ids: Vec<&str> = mistakes.iter().map(|at| at.mistake.id()).collect();
        assert_eq!(ids, [id], "\n{rendered}");
        match shown.iter_mut().find(|(other, _)| *other == id) {
            Some((_, shown)) => {
                shown.push_str("\n\n");
                shown.push_str(&rendered);
            }
            None => shown.push((id, rendered)),
        }
    }
    for (id, rendered) in shown {
        insta::assert_snapshot!(id, rendered);
    }
}

#[test]
fn every_kind_of_mistake_is_shown_above() {
    let sources = [
        include_str!("../src/line/mistake/bar.rs"),
        include_str!("../src/line/mistake/document.rs"),
        include_str!("../src/line/mistake/layer.rs"),
        include_str!("../src/line/mistake/note.rs"),
        include_str!("../src/line/mistake/place.rs"),
        include_str!("../src/line/mistake/setting.rs"),
    ];
    let covered: Vec<&str> = cases().into_iter().map(|(id, _)| id).collect();
    let mut kinds = 0;
    for source in sources {
        for after in source.split("Explanation::new(").skip(1) {
            let id = after.split('"').nth(1).unwrap_or_default();
            assert!(covered.contains(&id), "{id} has no case");
            kinds += 1;
        }
    }
    assert!(
        kinds > 60,
        "only {kinds} kinds found: is the list of sources complete?"
    );
}
