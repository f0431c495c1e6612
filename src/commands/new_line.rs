//! `leadsman new`: a line to fill in.

use super::{Failure, Outcome};
use crate::cli::NewArgs;
use crate::line::blank::{Blank, blank};
use std::fs::OpenOptions;
use std::io::{self, Write};
use std::path::Path;

/// Runs the command. A file that is there already is left alone.
pub fn run(args: &NewArgs) -> Outcome {
    let title = match &args.title {
        Some(title) => title.clone(),
        None => title_of(&args.file),
    };
    let file = args.file.display();
    if title.trim().is_empty() {
        return Err(Failure::input(format!(
            "what is {file} called? Say it with --title"
        )));
    }
    let text = blank(&Blank {
        title,
        meter: args.meter,
        tempo: args.tempo,
        key: args.key,
    });
    let text = text.ok_or_else(|| {
        Failure::input(format!(
            "{} needs triple accidentals: name it by another note",
            args.key
        ))
    })?;
    write_new(&args.file, &text).map_err(|error| {
        Failure::input(match error.kind() {
            io::ErrorKind::AlreadyExists => {
                format!("{file} is there already, and is left as it is")
            }
            _ => format!("cannot write {file}: {error}"),
        })
    })?;
    let quoted = quoted(&args.file);
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "{file} is a line of four bars. Open it in an editor and fill it in; then"
    )?;
    writeln!(out, "  leadsman lint {quoted}    says what is wrong")?;
    writeln!(out, "  leadsman show {quoted}    shows it")?;
    writeln!(
        out,
        "  leadsman play {quoted}    plays the click and listens"
    )?;
    Ok(())
}

fn write_new(path: &Path, text: &str) -> io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    file.write_all(text.as_bytes())
}

/// `night_crossing.toml` is Night Crossing.
fn title_of(file: &Path) -> String {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let words = stem.split(['_', '-', ' ']).filter(|word| !word.is_empty());
    let capital = |word: &str| {
        let mut letters = word.chars();
        let first = letters.next().map(|first| first.to_uppercase().to_string());
        first.unwrap_or_default() + letters.as_str()
    };
    words.map(capital).collect::<Vec<_>>().join(" ")
}

/// As a shell wants it.
fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    let plain = |c: char| c.is_alphanumeric() || "._/-+:\\".contains(c);
    if text.chars().all(plain) {
        text
    } else {
        format!("'{}'", text.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_is_made_of_the_words_of_the_file_name() {
        let title = |file: &str| title_of(Path::new(file));
        assert_eq!(title("lines/night_crossing.toml"), "Night Crossing");
        assert_eq!(title("étude-no.2.toml"), "Étude No.2");
        assert_eq!(title("_.toml"), "");
    }
}
