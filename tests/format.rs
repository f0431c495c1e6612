//! `format`: one layout, every comment kept, the meaning untouched; and the command around it.

mod line_strategy;

use leadsman::line::format::format;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use line_strategy::lines;
use proptest::prelude::*;
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
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn formatting_keeps_meaning_and_comments_and_settles_at_once(
        line in lines(),
        choices in proptest::collection::vec(any::<u8>(), 1..60),
    ) {
        let text = untidy(&print(&line), &choices);
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
