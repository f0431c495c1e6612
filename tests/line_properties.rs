//! Properties of the line reader: printing is undone by reading, and no text makes it panic.

mod line_strategy;

use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::line::read::read;
use line_strategy::lines;
use proptest::prelude::*;

const GOOD: &str = include_str!("line_strategy/good.toml");

/// Bytes that a line file is made of, and some that it is not.
const ALPHABET: &str = "ABCDEFGHrxm0123456789/.t~'_>?|@:+-#b =\"[]\n\\,é♭du\u{0}";

proptest! {
    #[test]
    fn a_printed_line_reads_back_as_the_same_line(line in lines()) {
        let text = print(&line);
        match parse(&text, "printed.toml") {
            Ok(read) => prop_assert_eq!(read, line, "{}", text),
            Err(mistakes) => prop_assert!(false, "{}\n{}", mistakes, text),
        }
    }

    #[test]
    fn random_text_never_panics(text in any::<String>()) {
        if let Err(mistakes) = parse(&text, "random.toml") {
            prop_assert!(!mistakes.is_empty());
            mistakes.render(true);
        }
    }

    #[test]
    fn random_bytes_in_a_file_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("random.toml");
        std::fs::write(&path, &bytes).expect("a file");
        let error = read(&path).expect_err("random bytes are no line");
        prop_assert!(!error.to_string().is_empty());
    }

    #[test]
    fn random_notes_never_panic(notes in proptest::collection::vec(letter(), 0..60)) {
        let notes: String = notes.into_iter().collect();
        let text = GOOD.replacen("r/8 A2/8'", &notes, 1);
        if let Err(mistakes) = parse(&text, "random.toml") {
            mistakes.render(false);
        }
    }

    #[test]
    fn a_damaged_file_never_panics(
        edits in proptest::collection::vec((any::<prop::sample::Index>(), 0..4usize, letter()), 1..6)
    ) {
        let mut text: Vec<char> = GOOD.chars().collect();
        for (at, removed, inserted) in edits {
            let at = at.index(text.len());
            let end = (at + removed).min(text.len());
            text.splice(at..end, [inserted]);
        }
        let text: String = text.into_iter().collect();
        match parse(&text, "damaged.toml") {
            Ok(line) => {
 let again = parse(&print(&line), "again.toml");
 prop_assert_eq!(again, Ok(line));
 }
            Err(mistakes) => {
                for mistake in &mistakes {
                    prop_assert!(mistake.span.end <= text.len());
                    prop_assert!(mistakes.position(mistake).line >= 1);
                }
                mistakes.render(false);
            }
        }
    }
}

fn letter() -> impl Strategy<Value = char> {
    prop::sample::select(ALPHABET.chars().collect::<Vec<_>>())
}

#[test]
fn the_file_that_is_damaged_is_a_good_one() {
    let line = parse(GOOD, "good.toml").unwrap_or_else(|mistakes| panic!("{mistakes}"));
    assert_eq!(parse(&print(&line), "again.toml"), Ok(line));
}
