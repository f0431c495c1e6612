//! `leadsman import` as it is run: what is written where, what is said, and the exit code.

mod musicxml_text;
mod takes;

use musicxml_text::{note, parts, quarters, score};
use takes::Bench;

fn bench() -> Bench {
    let bench = Bench::new("");
    let grace = note("A1", 0, "").replace("<note>", "<note><grace/>");
    let xml = score(&[
        &quarters("E1 G1 A1 B1"),
        &format!("{grace}{}", quarters("E1 E1 E1 E1")),
    ]);
    bench.write("slack tide.musicxml", xml.as_bytes());
    bench
}

const LINE: &str = "# From slack tide.musicxml (MusicXML, part \"Bass\", voice 1).
# It names no tempo: 120 is a guess.
# Not carried over:
#   1 × grace notes: bar 2 beat 1

title   = \"slack tide\"
meter   = \"4/4\"
tempo   = 120

[[section]]
name    = \"A\"
notes   = \"E1/4 G1/4 A1/4 B1/4 | E1/4 E1/4 E1/4 E1/4\"
";

#[test]
fn without_an_output_the_line_is_printed_and_what_is_lost_said_beside_it() {
    let ran = bench().run(&["import", "slack tide.musicxml"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), LINE));
    assert_eq!(
        ran.err,
        "note: not carried over: 1 × grace notes: bar 2 beat 1\n"
    );
}

#[test]
fn a_line_is_written_and_never_over_another_one_unasked() {
    let bench = bench();
    let import = ["import", "slack tide.musicxml", "-o", "new.toml"];
    let ran = bench.run(&import);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), ""));
    assert_eq!(
        std::fs::read_to_string(bench.path("new.toml")).unwrap(),
        LINE
    );
    bench.write("new.toml", b"mine");
    let ran = bench.run(&import);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err
            .ends_with("error: new.toml is there already: --force replaces it\n"),
        "{}",
        ran.err
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("new.toml")).unwrap(),
        "mine"
    );
    assert_eq!(
        bench.run(&[&import[..], &["--force"]].concat()).code,
        Some(0)
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("new.toml")).unwrap(),
        LINE
    );
}

#[test]
fn an_imported_line_can_be_played() {
    let bench = bench();
    bench.run(&["import", "slack tide.musicxml", "-o", "new.toml"]);
    let ran = bench.run(&["demo", "new.toml"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
}

#[test]
fn octave_and_tuning_are_as_wished() {
    let bench = bench();
    let ran = bench.run(&[
        "import",
        "slack tide.musicxml",
        "--octave",
        "1",
        "--tuning",
        "B0 E1 A1 D2 G2",
    ]);
    assert!(ran.out.contains("# Moved by octaves: +1.\n"), "{}", ran.out);
    assert!(ran.out.contains("tuning  = \"B0 E1 A1 D2 G2\"\n"));
    assert!(ran.out.contains("E2/4 G2/4 A2/4 B2/4"));
    let ran = bench.run(&["import", "slack tide.musicxml", "--octave", "4"]);
    let words = "error: slack tide.musicxml: the part goes from E5 to B5 as it sounds, which a bass of up to six strings does not reach: --octave 3 would bring it there";
    assert_eq!((ran.code, ran.err.trim_end()), (Some(2), words));
    let ran = bench.run(&["import", "slack tide.musicxml", "--tuning", "E1 A1 A1"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err.contains("lowest first, such as \"E1 A1 D2 G2\""),
        "{}",
        ran.err
    );
}

#[test]
fn what_cannot_be_read_is_named_with_its_place() {
    let bench = bench();
    bench.write("empty.xml", b"");
    bench.write("broken.xml", b"<score-partwise>\n  <part></bar>");
    let two = parts(&[("Horn", &[&quarters("C2")]), ("Viola", &[&quarters("C2")])]);
    bench.write("two.xml", two.as_bytes());
    for (file, words) in [
        ("nope.xml", "error: cannot read nope.xml: "),
        (".", "error: cannot read .: "),
        ("empty.xml", "error: empty.xml: the file is empty"),
        (
            "broken.xml",
            "error: broken.xml: line 2, column 9: broken XML: ",
        ),
        (
            "two.xml",
            "error: two.xml: the score has several parts, choose one with --part:\n  1  Horn (1 note)\n",
        ),
    ] {
        let ran = bench.run(&["import", file]);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{file}");
        assert!(ran.err.starts_with(words), "{file}: {}", ran.err);
    }
}

#[test]
fn a_midi_file_becomes_a_line_and_the_error_report_is_said() {
    let bench = Bench::new("");
    let eighths: Vec<_> = (0..8)
        .map(|n| takes::note(250.0 * f64::from(n), 28 + n, 225.0))
        .collect();
    bench.write("slack tide.mid", &takes::smf(&eighths));
    let ran = bench.run(&["import", "slack tide.mid"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(
        ran.out,
        "# From slack tide.mid (MIDI file, track 1, channel 1, grid 1/8).
# It names no tempo: 120 is a guess.

title   = \"slack tide\"
meter   = \"4/4\"
tempo   = 120

[[section]]
name    = \"A\"
notes   = \"E1/8 F1/8 F#1/8 G1/8 Ab1/8 A1/8 Bb1/8 B1/8\"
"
    );
    assert_eq!(
        ran.err,
        "note: grid 1/8: notes were moved by 0.0 ms on average (they lie at +0.0 ms), by 0.0 ms at most (bar 1 beat 4.5)
note: lengths are exact: plain notes sound for 0.9 of what is written (gate)
"
    );
    let coarse = bench.run(&["import", "slack tide.mid", "--grid", "1/4"]);
    assert!(
        coarse
            .err
            .contains("4 were moved by more than a third of the grid: bar 1 beat"),
        "{}",
        coarse.err
    );
    assert!(
        coarse
            .out
            .contains("#   3 × notes too close to another for the grid (left out)"),
        "{}",
        coarse.out
    );
}

#[test]
fn an_option_of_the_other_format_is_refused() {
    let bench = bench();
    let ran = bench.run(&["import", "slack tide.musicxml", "--track", "1"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err
            .ends_with("error: slack tide.musicxml: --track is for MIDI files\n"),
        "{}",
        ran.err
    );
    bench.write("tide.mid", &takes::smf(&[takes::note(0.0, 40, 400.0)]));
    let ran = bench.run(&["import", "tide.mid", "--voice", "1"]);
    assert!(
        ran.err
            .ends_with("error: tide.mid: --voice is for MusicXML\n"),
        "{}",
        ran.err
    );
    let ran = bench.run(&["import", "tide.mid", "--grid", "1/7"]);
    assert!(
        ran.err.contains("`1/7` is not a grid (such as `1/16`"),
        "{}",
        ran.err
    );
}
