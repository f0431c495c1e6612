//! What the fuzz targets have in common.

use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::line::print::print;
use leadsman::score::Score;
use leadsman::score::tidy::{Wishes, tidy};

/// Panics unless the printed line is read back as the same line.
pub fn assert_reads_back(line: &Line) {
    let text = print(line);
    match parse(&text, "printed") {
        Ok(read) => assert_eq!(&read, line, "another line reads back from:\n{text}"),
        Err(mistakes) => panic!("{}\nin:\n{text}", mistakes.render(false)),
    }
}

/// Panics unless the score makes a line that is read back, or an error.
pub fn assert_tidies(score: &Score) {
    let wishes = Wishes {
        octaves: 0,
        tuning: None,
        title: "Fuzzed".into(),
    };
    match tidy(score, &wishes) {
        Ok((line, losses)) => {
            let _: Vec<String> = losses.list.iter().map(ToString::to_string).collect();
            assert_reads_back(&line);
        }
        Err(error) => drop(error.to_string()),
    }
}
