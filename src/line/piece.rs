//! A piece of the file: some text together with where it stands.

use std::ops::Range;

/// Text out of a quoted value. Where the value stands in the file character by character, so does every part of it;
/// where the file spells it with escapes, every part points to the whole value.
#[derive(Clone, Copy, Debug)]
pub struct Piece<'t> {
    /// The text.
    pub text: &'t str,
    place: PlaceInFile,
}

#[derive(Clone, Copy, Debug)]
enum PlaceInFile {
    Exact { start: usize },
    Whole { start: usize, end: usize },
}

impl<'t> Piece<'t> {
    /// A TOML string's value, whose quoted form stands at `span` of `file`.
    pub fn of_value(value: &'t str, span: Range<usize>, file: &str) -> Piece<'t> {
        let raw = file.get(span.clone()).unwrap_or_default();
        let place = match unquoted(raw) {
            Some((skipped, inner)) if inner == value => PlaceInFile::Exact {
                start: span.start + skipped,
            },
            _ => PlaceInFile::Whole {
                start: span.start,
                end: span.end,
            },
        };
        Piece { text: value, place }
    }

    /// Bytes of the file.
    pub fn span(&self) -> Range<usize> {
        match self.place {
            PlaceInFile::Exact { start } => start..start + self.text.len(),
            PlaceInFile::Whole { start, end } => start..end,
        }
    }

    /// Bytes of the file, with the characters on both sides of it where those are inside the quotes or are the quotes.
    pub fn span_with_neighbours(&self) -> Range<usize> {
        match self.place {
            PlaceInFile::Exact { start } => start.saturating_sub(1)..start + self.text.len() + 1,
            PlaceInFile::Whole { start, end } => start..end,
        }
    }

    /// The parts between separators.
    pub fn split(self, separator: char) -> impl Iterator<Item = Piece<'t>> {
        self.text
            .split(separator)
            .map(move |part| self.within(part))
    }

    /// The words between white space.
    pub fn words(self) -> impl Iterator<Item = Piece<'t>> {
        self.text
            .split_whitespace()
            .map(move |word| self.within(word))
    }

    /// Without white space at both ends.
    pub fn trimmed(self) -> Piece<'t> {
        self.within(self.text.trim())
    }

    /// What stands before and after the first separator.
    pub fn split_once(self, separator: char) -> Option<(Piece<'t>, Piece<'t>)> {
        let (before, after) = self.text.split_once(separator)?;
        Some((self.within(before), self.within(after)))
    }

    /// The first `length` bytes and the rest; `length` lies between two characters.
    pub fn split_at(self, length: usize) -> (Piece<'t>, Piece<'t>) {
        let (before, after) = self.text.split_at(length);
        (self.within(before), self.within(after))
    }

    /// One piece for each character.
    pub fn characters(self) -> impl Iterator<Item = (char, Piece<'t>)> {
        self.text.char_indices().map(move |(at, character)| {
            let part = &self.text[at..at + character.len_utf8()];
            (character, self.within(part))
        })
    }

    /// A subslice of this piece's own text.
    fn within(self, part: &'t str) -> Piece<'t> {
        let skipped = part.as_ptr() as usize - self.text.as_ptr() as usize;
        let place = match self.place {
            PlaceInFile::Exact { start } => PlaceInFile::Exact {
                start: start + skipped,
            },
            whole => whole,
        };
        Piece { text: part, place }
    }
}

/// What stands between the quotes of a TOML string, and how many bytes come before it.
fn unquoted(raw: &str) -> Option<(usize, &str)> {
    for quotes in ["\"\"\"", "'''"] {
        if let Some(inner) = raw
            .strip_prefix(quotes)
            .and_then(|rest| rest.strip_suffix(quotes))
        {
            // TOML drops a newline that follows the opening quotes.
            let trimmed = inner
                .strip_prefix("\r\n")
                .or_else(|| inner.strip_prefix('\n'))
                .unwrap_or(inner);
            return Some((quotes.len() + inner.len() - trimmed.len(), trimmed));
        }
    }
    ["\"", "'"].iter().find_map(|quote| {
        let inner = raw.strip_prefix(quote)?.strip_suffix(quote)?;
        Some((1, inner))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece<'t>(value: &'t str, raw: &str) -> Piece<'t> {
        Piece::of_value(value, 0..raw.len(), raw)
    }

    #[test]
    fn a_plain_value_is_mapped_character_by_character() {
        let words = |value, raw| piece(value, raw).words().map(|w| w.span()).last();
        assert_eq!(words("ab cd", "\"ab cd\""), Some(4..6));
        assert_eq!(words("ab cd", "'ab cd'"), Some(4..6));
        assert_eq!(words("ab\ncd", "\"\"\"\nab\ncd\"\"\""), Some(7..9));
        assert_eq!(words("ab cd", "'''ab cd'''"), Some(6..8));
    }

    #[test]
    fn an_escaped_value_points_to_the_whole() {
        let raw = r#""ab\u0020cd""#;
        assert_eq!(piece("ab cd", raw).words().last().unwrap().span(), 0..12);
    }
}
