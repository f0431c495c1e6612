//! Compressed MusicXML (MusicXML 4.0, "Compressed .mxl files"): a ZIP file with the score and a container that names it.

use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

const CONTAINER: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container><rootfiles>\
    <rootfile full-path=\"score.musicxml\" media-type=\"application/vnd.recordare.musicxml+xml\"/>\
    </rootfiles></container>\n";
const MEDIA_TYPE: &str = "application/vnd.recordare.musicxml";

/// Packs a score.
pub fn pack(score: &[u8]) -> Vec<u8> {
    let deflated = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    // The first entry says what the file is, and is not compressed.
    let stored = deflated.compression_method(CompressionMethod::Stored);
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let mut add = |name, options, bytes: &[u8]| {
        zip.start_file(name, options)?;
        zip.write_all(bytes)?;
        zip::result::ZipResult::Ok(())
    };
    add("mimetype", stored, MEDIA_TYPE.as_bytes())
        .and_then(|()| add("META-INF/container.xml", deflated, CONTAINER.as_bytes()))
        .and_then(|()| add("score.musicxml", deflated, score))
        .expect("memory takes what is written to it");
    zip.finish()
        .expect("memory takes what is written to it")
        .into_inner()
}
