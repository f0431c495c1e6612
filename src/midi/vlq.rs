//! Variable-length quantities of Standard MIDI Files: seven bits a byte, the high bit set on all but the last,
//! four bytes at most (SMF 1.0, "Variable-Length Quantities").

/// The largest value that four bytes hold.
pub(crate) const MAX: u32 = 0x0FFF_FFFF;

/// Why no quantity could be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum VlqError {
    /// The bytes end inside it.
    Cut,
    /// It goes on after its fourth byte.
    TooLong,
}

/// Reads a quantity from the front of `bytes`: its value and how many bytes it takes.
pub(crate) fn read(bytes: &[u8]) -> Result<(u32, usize), VlqError> {
    let mut value = 0;
    for (index, &byte) in bytes.iter().take(4).enumerate() {
        value = value << 7 | u32::from(byte & 0x7F);
        if byte < 0x80 {
            return Ok((value, index + 1));
        }
    }
    Err(if bytes.len() < 4 {
        VlqError::Cut
    } else {
        VlqError::TooLong
    })
}

/// Appends `value`, which must not exceed [`MAX`].
pub(crate) fn push(out: &mut Vec<u8>, value: u32) {
    debug_assert!(value <= MAX);
    for shift in [21, 14, 7] {
        if value >> shift != 0 {
            out.push((value >> shift) as u8 & 0x7F | 0x80);
        }
    }
    out.push(value as u8 & 0x7F);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of examples in the SMF 1.0 text (from memory of that text).
    #[test]
    fn the_standards_table_is_read_and_written() {
        let table: [(u32, &[u8]); 12] = [
            (0x0000_0000, &[0x00]),
            (0x0000_0040, &[0x40]),
            (0x0000_007F, &[0x7F]),
            (0x0000_0080, &[0x81, 0x00]),
            (0x0000_2000, &[0xC0, 0x00]),
            (0x0000_3FFF, &[0xFF, 0x7F]),
            (0x0000_4000, &[0x81, 0x80, 0x00]),
            (0x0010_0000, &[0xC0, 0x80, 0x00]),
            (0x001F_FFFF, &[0xFF, 0xFF, 0x7F]),
            (0x0020_0000, &[0x81, 0x80, 0x80, 0x00]),
            (0x0800_0000, &[0xC0, 0x80, 0x80, 0x00]),
            (0x0FFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
        ];
        for (value, bytes) in table {
            let mut written = Vec::new();
            push(&mut written, value);
            assert_eq!(written, bytes, "{value:#x}");
            assert_eq!(read(bytes), Ok((value, bytes.len())), "{value:#x}");
        }
    }

    #[test]
    fn a_quantity_that_does_not_end_is_told_apart_from_one_that_is_cut() {
        assert_eq!(read(&[]), Err(VlqError::Cut));
        assert_eq!(read(&[0x81, 0x80]), Err(VlqError::Cut));
        assert_eq!(
            read(&[0x81, 0x80, 0x80, 0x80, 0x00]),
            Err(VlqError::TooLong)
        );
    }
}
