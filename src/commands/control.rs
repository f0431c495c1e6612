//! What is bound to foot switches and to two quick notes: read from the settings, and written into them again.

use super::{Failure, colour};
use crate::practice::control::{Bound, Mapping};
use crate::settings::control::{self, CONTROL};
use crate::settings::edit::write_table;
use crate::settings::file::Place;
use std::path::Path;

/// The table `[control]` of the settings, as read, and how it is written again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Controls {
    /// What is bound.
    pub mapping: Mapping,
    /// `None` where the user has no home, and so no settings.
    place: Option<Place>,
}

impl Controls {
    /// Reads the table from the file that was named, or from the usual one. Without one, nothing is bound.
    ///
    /// # Errors
    /// A file that cannot be read; every mistake in the table, with file, line, column and what would be right.
    pub fn read(named: Option<&Path>) -> Result<Controls, Failure> {
        let Ok(place) = Place::of(named) else {
            return Ok(Controls::default());
        };
        let file = place.read().map_err(Failure::input)?;
        let control = control::read(&file);
        let mistakes = file.mistakes(control.mistakes);
        if !mistakes.is_empty() {
            return Err(Failure::WrongInput(mistakes.render(colour::on_stderr())));
        }
        Ok(Controls {
            mapping: control.mapping,
            place: Some(place),
        })
    }

    /// Writes a binding into the table as it is by now: another leadsman may have written meanwhile.
    ///
    /// # Errors
    /// Why it is not written, in words, as [`Controls::keep`].
    pub fn keep_bound(&mut self, bound: &Bound) -> Result<(), String> {
        let place = self.place.clone();
        let file = place.as_ref().map(Place::read).transpose();
        let file = file.map_err(|error| error.to_string())?;
        if let Some(control) = file.as_ref().map(control::read)
            && control.mistakes.is_empty()
        {
            self.mapping = control.mapping;
        }
        self.mapping.bind(bound.command, bound.trigger);
        self.keep(&self.mapping)
    }

    /// The file of the settings, whether it is there or not.
    pub fn file(&self) -> Option<&Path> {
        self.place.as_ref().map(Place::path)
    }

    /// Writes the table into the file as it is by now, whole or not at all; what stands around it stays as it is.
    ///
    /// # Errors
    /// Why it is not written, in words: no place for settings, a file that cannot be written or is no longer TOML.
    pub fn keep(&self, mapping: &Mapping) -> Result<(), String> {
        let place = self.place.as_ref();
        let place = place.ok_or("there is no folder for settings: you have no home folder")?;
        let file = place.read().map_err(|error| error.to_string())?;
        let entries = mapping.entries().map_err(|error| error.to_string())?;
        write_table(&file, CONTROL, &entries).map_err(|error| error.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::Command;
    use crate::practice::control::{Press, Trigger};
    use std::fs;
    use tempfile::TempDir;

    const BEFORE: &str = "# mine\n[play]\nwindow = 40 # narrow\n\n[control]\n# the left one\n\
                          stop = { channel = 1, control = 65 } # worn\n\n[demo]\nseed = 3\n";

    fn settings(text: &str) -> (TempDir, std::path::PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("settings.toml");
        fs::write(&path, text).unwrap();
        (folder, path)
    }

    fn pedal() -> Trigger {
        Trigger::Control {
            number: 64,
            channel: Some(0),
            press: Press::Rise,
        }
    }

    #[test]
    fn what_is_kept_is_read_again_and_the_rest_of_the_file_stays() {
        let (_folder, path) = settings(BEFORE);
        let mut controls = Controls::read(Some(&path)).unwrap();
        assert_eq!(controls.file(), Some(&*path));
        controls.mapping.bind(Command::Again, pedal());
        // Somebody else writes meanwhile, elsewhere in the file.
        let meanwhile = BEFORE.replace("seed = 3", "seed = 4");
        fs::write(&path, &meanwhile).unwrap();
        controls.keep(&controls.mapping).unwrap();
        let text = fs::read_to_string(&path).unwrap();
        let line = "stop = { channel = 1, control = 65 } # worn\n";
        let both = format!("{line}again = {{ channel = 1, control = 64 }}\n");
        assert_eq!(text, meanwhile.replace(line, &both));
        assert_eq!(Controls::read(Some(&path)).unwrap(), controls);
    }

    #[test]
    fn mistakes_are_told_with_their_place_and_nothing_is_bound() {
        let (_folder, path) = settings("[control]\nagain = { control = 640 }\nfastr = 1\n");
        let Err(Failure::WrongInput(said)) = Controls::read(Some(&path)) else {
            panic!("it is wrong");
        };
        for words in ["settings.toml:2:21", "settings.toml:3:1", "`faster`"] {
            assert!(said.contains(words), "no {words:?} in {said}");
        }
    }

    #[test]
    fn a_file_that_is_no_longer_toml_is_left_as_it_is() {
        let (_folder, path) = settings(BEFORE);
        let controls = Controls::read(Some(&path)).unwrap();
        fs::write(&path, "[play\n").unwrap();
        let said = controls.keep(&Mapping::default()).unwrap_err();
        assert!(said.contains("settings.toml:1:6"), "{said}");
        assert_eq!(fs::read_to_string(&path).unwrap(), "[play\n");
        assert!(Controls::default().keep(&Mapping::default()).is_err());
    }
}
