//! Compressed MusicXML: a ZIP file whose `META-INF/container.xml` names the score (MusicXML 4.0, "Compressed .mxl files").

use super::error::Unreadable;
use super::guard::{self, LARGEST_BYTES};
use std::io::{Cursor, Read};
use zip::ZipArchive;

const CONTAINER: &str = "META-INF/container.xml";
/// The most entries; a score with pictures has a few dozen.
const MOST_ENTRIES: usize = 1000;

/// Whether the bytes begin as a ZIP file does.
pub fn is_compressed(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// The bytes of the score, inflated as far as [`LARGEST_BYTES`] and no further.
pub fn score(bytes: &[u8]) -> Result<Vec<u8>, Unreadable> {
    let mut archive =
        ZipArchive::new(Cursor::new(bytes)).map_err(|error| Unreadable::Zip(error.to_string()))?;
    if archive.len() > MOST_ENTRIES {
        return Err(Unreadable::Zip(format!(
            "it has more than {MOST_ENTRIES} entries"
        )));
    }
    let named = match inflate(&mut archive, CONTAINER)? {
        Some(container) => named_score(&container)?,
        None => first_score(&archive),
    };
    let name = named.ok_or(Unreadable::NoScoreInside)?;
    inflate(&mut archive, &name)?.ok_or(Unreadable::NoScoreInside)
}

fn inflate(
    archive: &mut ZipArchive<Cursor<&[u8]>>,
    name: &str,
) -> Result<Option<Vec<u8>>, Unreadable> {
    let entry = match archive.by_name(name) {
        Ok(entry) => entry,
        Err(zip::result::ZipError::FileNotFound) => return Ok(None),
        Err(error) => return Err(Unreadable::Zip(error.to_string())),
    };
    let mut bytes = Vec::new();
    // What the entry says of its own size is not believed.
    entry
        .take(LARGEST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| Unreadable::Zip(error.to_string()))?;
    if bytes.len() as u64 > LARGEST_BYTES {
        let what = format!("{name} inside the file");
        return Err(Unreadable::TooLarge { what });
    }
    Ok(Some(bytes))
}

/// The first root file: the score itself; others are pictures of it.
fn named_score(container: &[u8]) -> Result<Option<String>, Unreadable> {
    let text = guard::text(container)?;
    guard::scan(&text)?;
    let document = super::document(&text)?;
    let root = document
        .descendants()
        .find(|node| node.tag_name().name() == "rootfile");
    Ok(root
        .and_then(|root| root.attribute("full-path"))
        .map(str::to_owned))
}

/// Some programs leave the container out.
fn first_score(archive: &ZipArchive<Cursor<&[u8]>>) -> Option<String> {
    let is_score = |name: &String| {
        !name.starts_with("META-INF/") && (name.ends_with(".musicxml") || name.ends_with(".xml"))
    };
    let mut names = archive
        .file_names()
        .filter_map(|name| Some(name.ok()?.into_owned()));
    names.find(is_score)
}
