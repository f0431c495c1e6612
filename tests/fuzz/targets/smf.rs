//! The reader of Standard MIDI Files, and the import of a part as far as the text of a line.

#![no_main]

use leadsman::import::smf::{self as import, Choice};
use leadsman::midi::smf;
use leadsman_fuzz::assert_tidies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    match smf::read(bytes) {
        Ok(file) => {
            let messages = file.messages();
            assert!(
                messages.is_sorted_by_key(|message| message.at),
                "time runs forward"
            );
            let _: Vec<String> = file.damage.iter().map(ToString::to_string).collect();
            let _ = file.take_json();
        }
        Err(error) => drop(error.to_string()),
    }
    match import::read(bytes, &Choice::default()) {
        Ok(read) => assert_tidies(&read.score),
        Err(error) => drop(error.to_string()),
    }
});
