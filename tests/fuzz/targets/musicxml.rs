//! The MusicXML reader, plain and compressed, as far as the text of a line.

#![no_main]

use leadsman::import::musicxml::{self, Choice};
use leadsman_fuzz::assert_tidies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    match musicxml::read(bytes, &Choice::default()) {
        Ok(read) => assert_tidies(&read.score),
        Err(error) => drop(error.to_string()),
    }
});
