//! The reader of Standard MIDI Files.

#![no_main]

use leadsman::midi::smf;

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
});
