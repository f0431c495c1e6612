//! What stands between a file from anywhere and the XML reader: bounds on size, depth and attributes, no entities.

use super::error::{At, Unreadable};
use std::borrow::Cow;

/// The largest score, in bytes of XML text. A part of 500 bars written by a common notation program has about 1 MB.
pub const LARGEST_BYTES: u64 = 16 << 20;
/// The deepest nesting; a score needs about ten.
pub const DEEPEST: usize = 64;
/// The most attributes of one tag: the reader compares them in pairs.
pub const MOST_ATTRIBUTES: usize = 64;
/// The most namespaces that a file names: each element is checked against all of them. A score needs one.
pub const MOST_NAMESPACES: usize = 64;
/// The most nodes of a document; each takes about 100 bytes of memory.
pub const MOST_NODES: u32 = 2_000_000;

/// The text of a file: UTF-8, UTF-16 with its mark, or Latin-1 where the file says so.
pub fn text(bytes: &[u8]) -> Result<Cow<'_, str>, Unreadable> {
    match bytes {
        [0xFF, 0xFE, rest @ ..] => Ok(utf16(rest, u16::from_le_bytes).into()),
        [0xFE, 0xFF, rest @ ..] => Ok(utf16(rest, u16::from_be_bytes).into()),
        [0xEF, 0xBB, 0xBF, rest @ ..] => utf8(rest),
        _ => utf8(bytes),
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> String {
    let (units, _) = bytes.as_chunks::<2>();
    char::decode_utf16(units.iter().map(|pair| unit(*pair)))
        .map(|read| read.unwrap_or(char::REPLACEMENT_CHARACTER))
        .collect()
}

fn utf8(bytes: &[u8]) -> Result<Cow<'_, str>, Unreadable> {
    let error = match str::from_utf8(bytes) {
        Ok(text) => return Ok(text.into()),
        Err(error) => error,
    };
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(200)]).to_ascii_lowercase();
    let declared = head.split("?>").next().unwrap_or_default();
    if ["iso-8859-1", "latin1", "windows-1252"]
        .iter()
        .any(|name| declared.contains(name))
    {
        // The first 256 characters of Unicode are those of Latin-1.
        return Ok(bytes.iter().map(|byte| char::from(*byte)).collect());
    }
    let before = &bytes[..error.valid_up_to()];
    let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
    Err(Unreadable::NotText { line })
}

/// Refuses what the XML reader should not be given. Looks at the outlines of tags only; whatever else is wrong is for
/// the XML reader to say.
pub fn scan(text: &str) -> Result<(), Unreadable> {
    if let Some((byte, _)) = text.match_indices("xmlns").nth(MOST_NAMESPACES) {
        let at = At::of_byte(text, byte);
        return Err(Unreadable::TooManyNamespaces { at });
    }
    let bytes = text.as_bytes();
    let (mut byte, mut depth) = (0, 0_usize);
    while let Some(skipped) = bytes[byte..].iter().position(|b| *b == b'<') {
        let start = byte + skipped;
        let rest = &bytes[start..];
        let at = || At::of_byte(text, start);
        let length = if rest.starts_with(b"<!--") {
            through(rest, b"-->")
        } else if rest.starts_with(b"<![CDATA[") {
            through(rest, b"]]>")
        } else if rest.starts_with(b"<?") {
            through(rest, b"?>")
        } else if rest.starts_with(b"<!") {
            declaration(rest).ok_or_else(|| Unreadable::Entities { at: at() })?
        } else {
            let tag = tag(rest);
            if tag.attributes > MOST_ATTRIBUTES {
                return Err(Unreadable::TooManyAttributes { at: at() });
            }
            depth = match tag.kind {
                Kind::Opens => depth + 1,
                Kind::Closes => depth.saturating_sub(1),
                Kind::Empty => depth,
            };
            if depth > DEEPEST {
                return Err(Unreadable::TooDeep { at: at() });
            }
            tag.length
        };
        byte = start + length;
    }
    Ok(())
}

struct Tag {
    length: usize,
    attributes: usize,
    kind: Kind,
}

enum Kind {
    Opens,
    Closes,
    Empty,
}

fn tag(rest: &[u8]) -> Tag {
    let (mut quote, mut attributes) = (None, 0);
    let end = rest.iter().position(|byte| {
        match (quote, byte) {
            (Some(open), byte) if open == *byte => quote = None,
            (None, b'"' | b'\'') => quote = Some(*byte),
            (None, b'=') => attributes += 1,
            _ => {}
        }
        quote.is_none() && *byte == b'>'
    });
    let end = end.unwrap_or(rest.len() - 1);
    let kind = match (rest.get(1), rest[..end].last()) {
        (Some(b'/'), _) => Kind::Closes,
        (_, Some(b'/')) => Kind::Empty,
        _ => Kind::Opens,
    };
    Tag {
        length: end + 1,
        attributes,
        kind,
    }
}

/// The length of `<!DOCTYPE …>`, or `None` when it declares entities. One that only points to the published definition
/// is common; nothing is fetched for it.
fn declaration(rest: &[u8]) -> Option<usize> {
    let (mut quote, mut brackets) = (None, 0_usize);
    for (index, byte) in rest.iter().enumerate() {
        match (quote, byte) {
            (Some(open), byte) if open == *byte => quote = None,
            (Some(_), _) => {}
            (None, b'"' | b'\'') => quote = Some(*byte),
            (None, b'[') => brackets += 1,
            (None, b']') => brackets = brackets.saturating_sub(1),
            (None, b'<') if index > 0 && rest[index..].starts_with(b"<!ENTITY") => return None,
            (None, b'>') if brackets == 0 => return Some(index + 1),
            _ => {}
        }
    }
    Some(rest.len())
}

fn through(rest: &[u8], end: &[u8]) -> usize {
    rest.windows(end.len())
        .position(|window| window == end)
        .map_or(rest.len(), |start| start + end.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_doctype_is_accepted_and_entities_are_not() {
        let published = "<?xml version=\"1.0\"?>\n<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD\" \"http://x/y.dtd\"><a/>";
        assert_eq!(scan(published), Ok(()));
        let bomb = "<?xml version=\"1.0\"?>\n<!DOCTYPE a [ <!ENTITY b \"c\"> ]><a>&b;</a>";
        let at = At { line: 2, column: 1 };
        assert_eq!(scan(bomb), Err(Unreadable::Entities { at }));
    }

    #[test]
    fn depth_and_attributes_are_bounded() {
        let deep = "<a>".repeat(DEEPEST) + "<b/>";
        assert_eq!(scan(&deep), Ok(()));
        let at = At {
            line: 1,
            column: 193,
        };
        assert_eq!(
            scan(&(deep + "<a>")),
            Err(Unreadable::TooDeep {
                at: At { column: 197, ..at }
            })
        );
        let named = "<a xmlns:b='c'/>".repeat(MOST_NAMESPACES + 1);
        assert!(matches!(
            scan(&named),
            Err(Unreadable::TooManyNamespaces { .. })
        ));
        let wide = format!("<a{}>", " b='='".repeat(MOST_ATTRIBUTES + 1));
        let at = At { line: 1, column: 1 };
        assert_eq!(scan(&wide), Err(Unreadable::TooManyAttributes { at }));
    }

    #[test]
    fn comments_and_quotes_hide_brackets() {
        let text = "<!-- <a><a> --><a b='>'><![CDATA[<c>]]></a><?p <d> ?>";
        assert_eq!(scan(text), Ok(()));
        assert_eq!(scan("<"), Ok(()));
        assert_eq!(scan("<!"), Ok(()));
    }

    #[test]
    fn text_is_read_in_the_encodings_that_programs_write() {
        let utf16: Vec<u8> = [0xFF, 0xFE]
            .into_iter()
            .chain("<é>".encode_utf16().flat_map(u16::to_le_bytes))
            .collect();
        assert_eq!(text(&utf16).unwrap(), "<é>");
        assert_eq!(text(b"\xEF\xBB\xBF<a>").unwrap(), "<a>");
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?>\xE9";
        assert!(text(latin).unwrap().ends_with('é'));
        assert_eq!(text(b"a\n\xE9"), Err(Unreadable::NotText { line: 2 }));
    }
}
