//! `format`: one layout, every comment kept, the meaning untouched; and the command around it.

mod line_strategy;
mod takes;

use leadsman::line::format::format;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use line_strategy::lines;
use proptest::prelude::*;
use takes::Bench;
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

fn formatted(text: &str) -> String {
    format(text, "line.toml").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// What the lexer takes for comments.
fn comments(text: &str) -> Vec<String> {
    let tokens = Source::new(text).lex();
    let comments = tokens.filter(|token| token.kind() == TokenKind::Comment);
    let mut comments: Vec<String> = comments
        .map(|token| {
            text[token.span().start()..token.span().end()]
                .trim_end()
                .to_owned()
        })
        .collect();
    comments.sort();
    comments
}

/// The keys of each table in another order.
fn reordered(text: &str, by: usize) -> String {
    let mut tables: Vec<Vec<&str>> = vec![Vec::new()];
    let mut start = 0;
    for token in Source::new(text).lex() {
        if token.kind() == TokenKind::Newline {
            let entry = &text[start..token.span().end()];
            start = token.span().end();
            if entry.starts_with("[[") {
                tables.push(Vec::new());
            }
            tables.last_mut().unwrap().push(entry);
        }
    }
    for (index, table) in tables.iter_mut().enumerate() {
        let first = usize::from(index > 0);
        let keys = table.len() - first;
        table[first..].rotate_left(by % keys);
    }
    tables.concat().concat()
}

/// The text with comments, blank lines and spaces thrown in, and its bars regrouped, one choice a token.
fn untidy(text: &str, choices: &[u8]) -> String {
    let mut choices = choices.iter().copied().cycle();
    let mut out = String::from("  # first\n");
    let mut count = 0;
    let mut key = String::new();
    for token in Source::new(text).lex() {
        let raw = &text[token.span().start()..token.span().end()];
        let choice = choices.next().unwrap_or(0);
        count += 1;
        let comment = format!("# {count} \"quoted\" = [Ä] |");
        let bars = ["notes", "chords", "strokes", "fingers"].contains(&key.as_str());
        match (token.kind(), choice % 8) {
            (TokenKind::Newline, 1) => out += &format!("   {comment}  \n"),
            (TokenKind::Newline, 2) => out += &format!("\n{comment}\n"),
            (TokenKind::Newline, 3) => out += &format!("\n\n\n \t{comment}\n#\n"),
            (TokenKind::Newline, 4) => out += &format!("{comment}\n\n{comment}\n\n"),
            (TokenKind::Newline, 5) => out += "\n\n \n",
            (TokenKind::Comma, 1 | 2) => out += &format!(", {comment}\n  "),
            (TokenKind::Comma, 3) => out += "\n,\n",
            (TokenKind::Whitespace, 1) => out += " \t ",
            (TokenKind::BasicString | TokenKind::MlBasicString, _) if bars => {
                let inner = raw.trim_matches('"').replace(" | ", &regrouped(choice));
                out += &format!("\"\"\"{inner}\"\"\"");
            }
            (kind, _) => {
                if kind == TokenKind::Atom {
                    key = raw.to_owned();
                }
                out += raw;
            }
        }
    }
    out
}

fn regrouped(choice: u8) -> String {
    ["|", " | ", " |\n", "\n|\n", "\t|\n\n  "][usize::from(choice / 8) % 5].to_owned()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn formatting_keeps_meaning_and_comments_and_settles_at_once(
        line in lines(),
        choices in proptest::collection::vec(any::<u8>(), 1..60),
        by in 0usize..8,
    ) {
        let text = untidy(&reordered(&print(&line), by), &choices);
        prop_assert_eq!(parse(&text, "untidy.toml"), Ok(line.clone()), "{}", text);
        let once = format(&text, "untidy.toml");
        prop_assert!(once.is_ok(), "{}", text);
        let once = once.unwrap();
        prop_assert_eq!(parse(&once, "once.toml"), Ok(line), "{}", once);
        prop_assert_eq!(comments(&once), comments(&text), "{}", once);
        prop_assert_eq!(format(&once, "once.toml"), Ok(once.clone()), "{}", text);
    }

    #[test]
    fn what_is_printed_is_formatted_already(line in lines()) {
        let text = print(&line);
        prop_assert_eq!(formatted(&text), text);
    }
}

const UNTIDY: &str = r##"

# A head,
# of two lines.


# About the tempo.
tempo=126.50 # the click
  title   = 'Ferry # Steps'
swung = "1/8"  # said though it goes without saying
meter = "4/4" # four


# parted from its header

[[section]]   # the first
# below the header
notes = """E1/2m' E1/4_>  r/4|
A1/2
  D2@D:0/2 | E1/1  |
A:0+D:2/1
|"""# four bars
passes = [ 0, # as written
  # two up
  2, ]

name = "A"
fingers = "1 1 | 0 0 | 0 | 0"
chords = "Em|-|Em7@1.50  A7@3| "
# the end
"##;

const TIDY: &str = r##"# A head,
# of two lines.

title   = "Ferry # Steps"
meter   = "4/4"  # four
# About the tempo.
tempo   = 126.5  # the click
swung   = "1/8"  # said though it goes without saying

# parted from its header

[[section]]  # the first
name    = "A"
# as written
# two up
passes  = [0, 2]
chords  = "Em | - | Em7@1.5 A7@3 | -"
# below the header
notes   = """
E1/2'm E1/4_> r/4 |
A1/2 D2@D/2 | E1/1 |
A:0+D:2/1
"""  # four bars
fingers = "1 1 | 0 0 | 0 | 0"
# the end
"##;

#[test]
fn an_untidy_file_comes_into_the_layout() {
    assert_eq!(formatted(UNTIDY), TIDY);
    assert_eq!(formatted(TIDY), TIDY);
}

#[test]
fn other_spellings_of_the_same_file_come_to_the_same_text() {
    assert_eq!(formatted(&UNTIDY.replace('\n', "\r\n")), TIDY);
    assert_eq!(formatted(&format!("\u{feff}{UNTIDY}")), TIDY);
    assert_eq!(formatted(&UNTIDY.replace("tempo=", "\"tempo\" =")), TIDY);
}

#[test]
fn sections_in_line_get_headers_and_keep_their_comments() {
    let text = "title = \"T\"\nmeter = \"4/4\"\ntempo = 60\nsection = [ # all\n  { name = \"A\", notes = \"E1/1\" }, # first\n  \
                # next\n  { name = \"B\", notes = \"A1/1\" },\n]\n";
    let tidy = "title   = \"T\"\nmeter   = \"4/4\"\ntempo   = 60\n\n# all\n[[section]]\nname    = \"A\"\nnotes   = \"E1/1\"  # first\n\n\
                # next\n[[section]]\nname    = \"B\"\nnotes   = \"A1/1\"\n";
    assert_eq!(formatted(text), tidy);
    assert_eq!(formatted(tidy), tidy);
}

#[test]
fn no_blank_line_stands_below_a_header() {
    let gap = TIDY.replace("first\nname", "first\n\n# its name\nname");
    let closed = TIDY.replace("first\nname", "first\n# its name\nname");
    assert_ne!(gap, TIDY);
    assert_eq!(formatted(&gap), closed);
}

#[test]
fn the_house_lines_are_in_the_layout() {
    for entry in std::fs::read_dir("lines").unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        assert_eq!(formatted(&text), text, "{}", path.display());
    }
}

#[test]
fn the_command_replaces_what_is_untidy_and_says_so() {
    let bench = Bench::new(UNTIDY);
    bench.write("tidy.toml", TIDY.as_bytes());
    let ran = bench.run(&["format", "tidy.toml", "line.toml"]);
    assert_eq!(
        (ran.code, ran.out.as_str(), ran.err.as_str()),
        (Some(0), "formatted line.toml\n", "")
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("line.toml")).unwrap(),
        TIDY
    );
    let left = std::fs::read_dir(bench.dir.path()).unwrap().count();
    assert_eq!(left, 2);
    let ran = bench.run(&["format", "tidy.toml", "line.toml"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), ""));
}

#[test]
fn check_names_what_is_untidy_and_changes_nothing() {
    let bench = Bench::new(UNTIDY);
    bench.write("tidy.toml", TIDY.as_bytes());
    let ran = bench.run(&["format", "--check", "tidy.toml", "line.toml"]);
    assert_eq!(
        (ran.code, ran.out.as_str()),
        (Some(1), "not formatted: line.toml\n")
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("line.toml")).unwrap(),
        UNTIDY
    );
    assert_eq!(bench.run(&["format", "--check", "tidy.toml"]).code, Some(0));
}

#[test]
fn a_dash_reads_standard_input_and_writes_standard_output() {
    let bench = Bench::new("");
    let run = |options: &[&str]| {
        bench
            .leadsman(options)
            .write_stdin(UNTIDY)
            .output()
            .unwrap()
    };
    let output = run(&["format", "-"]);
    assert_eq!(String::from_utf8(output.stdout).unwrap(), TIDY);
    assert!(output.status.success());
    let output = run(&["format", "--check", "-"]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(output.stdout, b"not formatted: -\n");
}

#[test]
fn a_file_with_errors_is_left_alone_and_the_others_are_not() {
    let bench = Bench::new(UNTIDY);
    let wrong = TIDY.replace("A1/2 D2", "A1/2 H2");
    bench.write("wrong.toml", wrong.as_bytes());
    let ran = bench.run(&["format", "wrong.toml", "line.toml", "none.toml"]);
    assert_eq!(
        (ran.code, ran.out.as_str()),
        (Some(2), "formatted line.toml\n")
    );
    assert!(
        ran.err.contains("wrong.toml:21:6") && ran.err.contains("cannot read none.toml"),
        "{}",
        ran.err
    );
    assert_eq!(
        std::fs::read_to_string(bench.path("wrong.toml")).unwrap(),
        wrong
    );
}
