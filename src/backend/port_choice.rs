//! Which port a part of a name means.

use super::{MidiChoice, OpenError};

/// The index of the MIDI input that is meant, or `None` when none is wanted. `when_none` says what to do when there
/// is nothing to choose from.
pub fn midi_input(
    choice: &MidiChoice,
    names: &[String],
    when_none: &'static str,
) -> Result<Option<usize>, OpenError> {
    match choice {
        MidiChoice::Absent => Ok(None),
        MidiChoice::Only => only_input(names, when_none).map(Some),
        MidiChoice::Named(_) if names.is_empty() => Err(OpenError::NoMidiInputs(when_none)),
        MidiChoice::Named(wanted) => match matching(wanted, names)[..] {
            [] => Err(OpenError::NoSuchMidiInput {
                wanted: wanted.clone(),
                have: names.to_vec(),
            }),
            [one] => Ok(Some(one)),
            ref several => Err(OpenError::SeveralMidiInputs {
                wanted: wanted.clone(),
                matching: several.iter().map(|&index| names[index].clone()).collect(),
            }),
        },
    }
}

/// The index of the port that is `gone`, now that it may be back: of its whole name, or else the only one whose name
/// differs in nothing but the numbers that a system gives anew at every connection (`20:0` in ALSA's names, `[20]` in
/// those of its bridges to JACK).
pub fn again(gone: &str, names: &[String]) -> Option<usize> {
    if let Some(index) = names.iter().position(|name| name == gone) {
        return Some(index);
    }
    let lasting = without_numbers(gone);
    let mut same = (0..names.len()).filter(|&index| without_numbers(&names[index]) == lasting);
    same.next().filter(|_| same.next().is_none())
}

/// The words of a name, without those that are only a number for now.
fn without_numbers(name: &str) -> Vec<&str> {
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let is_passing = |word: &str| {
        let bracketed = word
            .strip_prefix('[')
            .and_then(|rest| rest.strip_suffix(']'));
        let address = word.split_once(':');
        bracketed.is_some_and(is_number)
            || address.is_some_and(|(client, port)| is_number(client) && is_number(port))
    };
    name.split_whitespace()
        .filter(|word| !is_passing(word))
        .collect()
}

fn only_input(names: &[String], when_none: &'static str) -> Result<usize, OpenError> {
    let real: Vec<usize> = (0..names.len())
        .filter(|&index| !contains(&names[index], "through"))
        .collect();
    match real[..] {
        [] => Err(OpenError::NoMidiInputs(when_none)),
        [one] => Ok(one),
        ref several => Err(OpenError::UnnamedMidiInput(
            several.iter().map(|&index| names[index].clone()).collect(),
        )),
    }
}

/// The index of the audio output with a part of a name.
pub fn audio_output(
    wanted: &str,
    names: &[String],
    when_none: &'static str,
) -> Result<usize, OpenError> {
    if names.is_empty() {
        return Err(OpenError::NoAudioOutputs(when_none));
    }
    match matching(wanted, names)[..] {
        [] => Err(OpenError::NoSuchAudioOutput {
            wanted: wanted.to_string(),
            have: names.to_vec(),
        }),
        [one] => Ok(one),
        ref several => Err(OpenError::SeveralAudioOutputs {
            wanted: wanted.to_string(),
            matching: several.iter().map(|&index| names[index].clone()).collect(),
        }),
    }
}

/// The names that contain a part in any case; a name that equals it shuts out those that merely contain it.
fn matching(part: &str, names: &[String]) -> Vec<usize> {
    let whole = |name: &String| name.to_lowercase() == part.to_lowercase();
    if let Some(index) = names.iter().position(whole) {
        return vec![index];
    }
    (0..names.len())
        .filter(|&index| contains(&names[index], part))
        .collect()
}

fn contains(name: &str, part: &str) -> bool {
    name.to_lowercase().contains(&part.to_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_string()).collect()
    }

    fn named(part: &str) -> MidiChoice {
        MidiChoice::Named(part.into())
    }

    #[test]
    fn a_part_of_a_name_in_any_case_is_enough() {
        let names = names(&["Midi Through Port-0", "Bass Converter MIDI 1"]);
        assert_eq!(midi_input(&named("CONVERTER"), &names, ""), Ok(Some(1)));
        assert_eq!(midi_input(&named("through"), &names, ""), Ok(Some(0)));
    }

    #[test]
    fn without_a_name_the_only_real_input_is_taken() {
        let one = names(&["Midi Through Port-0", "Bass"]);
        assert_eq!(midi_input(&MidiChoice::Only, &one, ""), Ok(Some(1)));
        let two = names(&["Bass", "Keys", "Midi Through Port-0"]);
        assert_eq!(
            midi_input(&MidiChoice::Only, &two, ""),
            Err(OpenError::UnnamedMidiInput(names_of(&two, 2)))
        );
        let none = names(&["Midi Through Port-0"]);
        assert_eq!(
            midi_input(&MidiChoice::Only, &none, "plug it in"),
            Err(OpenError::NoMidiInputs("plug it in"))
        );
    }

    fn names_of(names: &[String], count: usize) -> Vec<String> {
        names[..count].to_vec()
    }

    #[test]
    fn a_whole_name_wins_over_names_that_contain_it() {
        let names = names(&["Bass 2", "Bass"]);
        assert_eq!(midi_input(&named("bass"), &names, ""), Ok(Some(1)));
        assert!(matches!(
            midi_input(&named("bas"), &names, ""),
            Err(OpenError::SeveralMidiInputs { matching, .. }) if matching.len() == 2
        ));
    }

    #[test]
    fn an_unknown_output_is_answered_by_the_known_ones() {
        let known = names(&["Speakers"]);
        assert_eq!(
            audio_output("phones", &known, ""),
            Err(OpenError::NoSuchAudioOutput {
                wanted: "phones".into(),
                have: known.clone()
            })
        );
        assert_eq!(
            audio_output("phones", &[], "plug it in"),
            Err(OpenError::NoAudioOutputs("plug it in"))
        );
    }

    #[test]
    fn a_port_is_known_again_whatever_its_numbers_are_now() {
        let back = names(&[
            "Keys MIDI 1 24:0",
            "Bass MIDI 1 28:0",
            "a2j:Bass [28] (capture): MIDI 1",
        ]);
        assert_eq!(again("Bass MIDI 1 20:0", &back), Some(1));
        assert_eq!(again("a2j:Bass [20] (capture): MIDI 1", &back), Some(2));
        // The number of a port of the device is a part of its name.
        assert_eq!(again("Bass MIDI 2 20:1", &back), None);
        let two = names(&["Bass MIDI 1 28:0", "Bass MIDI 1 32:0"]);
        assert_eq!(again("Bass MIDI 1 20:0", &two), None, "which of the two?");
        assert_eq!(again("Bass MIDI 1 32:0", &two), Some(1));
    }

    #[test]
    fn no_input_is_chosen_for_a_stand_in() {
        assert_eq!(midi_input(&MidiChoice::Absent, &[], ""), Ok(None));
    }
}
