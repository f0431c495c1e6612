//! The line reader: what it accepts is printed, read back and formatted; what it refuses is explained.

#![no_main]

use leadsman::line::format::format;
use leadsman::line::parse::parse;
use leadsman_fuzz::assert_reads_back;

libfuzzer_sys::fuzz_target!(|text: &str| {
    let line = match parse(text, "fuzzed") {
        Ok(line) => line,
        Err(mistakes) => {
            let _ = (mistakes.render(false), mistakes.render(true));
            return;
        }
    };
    assert_reads_back(&line);
    let formatted = format(text, "fuzzed").expect("what is valid can be formatted");
    let again = format(&formatted, "formatted").expect("what is formatted is valid");
    assert_eq!(again, formatted, "formatted twice is formatted once");
});
