//! Lines by content.

use super::{Logbook, LogbookError, Result};
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, ExpectedNote, unroll};
use crate::line::Line;
use crate::line::parse::parse;
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

/// A line that takes were played to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptLine {
    /// Its number in the logbook.
    pub id: i64,
    /// What is to be played, in short: see [`notes_hash`].
    pub notes_hash: String,
    /// Its title.
    pub title: String,
    /// The file it was in, as it was given.
    pub file: String,
    /// The file's text.
    pub source: String,
}

impl KeptLine {
    /// The line as it was played.
    pub fn line(&self) -> std::result::Result<Line, String> {
        parse(&self.source, &self.file).map_err(|mistakes| mistakes.render(false))
    }
}

/// What a line asks for, in short (SHA-256, hexadecimal): when each note is to sound, how long and at which pitch, and how
/// it is judged. Comments, layout, fingerings and the line's title make no difference.
pub fn notes_hash(line: &Line) -> String {
    let expected = unroll(line, Speed::WRITTEN);
    let mut hash = Sha256::new();
    expected
        .notes
        .iter()
        .for_each(|note| hash.update(asked(note)));
    hash_bars(&expected, &mut hash);
    hex(&hash.finalize())
}

fn asked(note: &ExpectedNote) -> Vec<u8> {
    let key = note.key.map_or(-1, |key| i64::from(key.0));
    let rest = note.rest_at.map_or(-1, |rest| rest.0);
    let is = note.is;
    let traits = [
        is.entry,
        is.upbeat,
        is.skip,
        is.dead,
        is.short,
        is.muted,
        is.accent,
        is.optional,
    ];
    let times = [key, note.onset.0, note.sounding.0, note.written.0, rest];
    let times = times.into_iter().flat_map(i64::to_le_bytes);
    times.chain(traits.map(u8::from)).collect()
}

fn hash_bars(expected: &Expected, hash: &mut Sha256) {
    for bar in &expected.bars {
        hash.update(bar.onset.0.to_le_bytes());
        hash.update(bar.number.to_le_bytes());
        hash.update(expected.sections[usize::from(bar.section)].as_bytes());
        hash.update([0]);
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Keeps a line, or finds it where it is kept.
pub(super) fn keep(db: &Connection, line: &Line, file: &str, source: &str) -> Result<i64> {
    let content = hex(&Sha256::digest(source));
    db.prepare_cached(
        "INSERT INTO line (content_hash, notes_hash, title, file, source) VALUES (?, ?, ?, ?, ?)
         ON CONFLICT DO NOTHING",
    )?
    .execute(params![content, notes_hash(line), line.title, file, source])?;
    let id = db
        .prepare_cached("SELECT id FROM line WHERE content_hash = ?")?
        .query_row([content], |row| row.get(0))?;
    Ok(id)
}

impl Logbook {
    /// The titles of all lines that takes were played to.
    pub fn line_titles(&self) -> Result<Vec<String>> {
        let mut query = self
            .db
            .prepare("SELECT DISTINCT title FROM line ORDER BY title")?;
        let titles = query.query_map([], |row| row.get(0))?;
        Ok(titles.collect::<rusqlite::Result<_>>()?)
    }

    /// The line that a take was played to.
    pub fn line_of(&self, take: i64) -> Result<KeptLine> {
        let mut query = self.db.prepare_cached(
            "SELECT line.id, notes_hash, title, file, source FROM line JOIN take ON take.line = line.id
             WHERE take.id = ?",
        )?;
        let line = query.query_row([take], |row| {
            Ok(KeptLine {
                id: row.get(0)?,
                notes_hash: row.get(1)?,
                title: row.get(2)?,
                file: row.get(3)?,
                source: row.get(4)?,
            })
        });
        line.optional()?.ok_or(LogbookError::NoSuchTake(take))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &str = "title = \"Two Bells\"\nmeter = \"4/4\"\ntempo = 100\n[[section]]\nname = \"A\"\n\
                        notes = \"E2/4 A2/4 D3/4 G2/4\"\n";

    fn hash(source: &str) -> String {
        let line =
            parse(source, "two_bells.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        notes_hash(&line)
    }

    #[test]
    fn comments_and_the_title_do_not_change_what_a_line_asks_for_and_notes_do() {
        let of = hash(LINE);
        assert_eq!(
            of,
            hash(
                &LINE
                    .replace("Two", "# the mate's\ntitle = \"Four")
                    .replace("title = \"# the mate's\n", "")
            )
        );
        assert_eq!(of, hash(&format!("# by the bass player\n{LINE}")));
        for (from, to) in [
            ("G2/4", "F2/4"),
            ("100", "101"),
            ("\"A\"", "\"B\""),
            ("G2/4", "G2/4'"),
        ] {
            assert_ne!(of, hash(&LINE.replace(from, to)), "{from} {to}");
        }
    }
}
