//! Cells as they are written: quoted where CSV needs it, harmless where a spreadsheet would run them.

use std::borrow::Cow;

use crate::scan;

/// Appends a text as a cell (RFC 4180).
#[inline]
pub(super) fn write_cell(out: &mut Vec<u8>, text: &str, delimiter: u8) {
    let special = |byte: u8| (byte == delimiter) | (byte == b'"') | (byte == b'\r') | (byte == b'\n');
    if !scan::has(text.as_bytes(), special) {
        out.extend_from_slice(text.as_bytes());
        return;
    }
    out.push(b'"');
    for part in text.split_inclusive('"') {
        out.extend_from_slice(part.as_bytes());
        if part.ends_with('"') {
            out.push(b'"');
        }
    }
    out.push(b'"');
}

/// A text that a spreadsheet would run as a formula gets an apostrophe before it; a number does not.
#[inline]
pub(super) fn harmless(text: &str) -> Cow<'_, str> {
    if !matches!(text.as_bytes().first(), Some(b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r')) {
        return text.into();
    }
    suspicious(text)
}

#[cold]
fn suspicious(text: &str) -> Cow<'_, str> {
    let number = text.replace(',', ".").trim().parse::<f64>().is_ok();
    if number { text.into() } else { format!("'{text}").into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_made_harmless_and_numbers_are_left_alone() {
        assert_eq!(harmless("=1+1"), "'=1+1");
        assert_eq!(harmless("@cmd"), "'@cmd");
        assert_eq!(harmless("-0.125"), "-0.125");
        assert_eq!(harmless("-0,125"), "-0,125");
        assert_eq!(harmless("head, left"), "head, left");
    }

    #[test]
    fn cells_are_quoted_where_they_must_be() {
        let written = |text: &str| {
            let mut out = Vec::new();
            write_cell(&mut out, text, b',');
            String::from_utf8(out).expect("text stays text")
        };
        assert_eq!(written("a;b"), "a;b");
        assert_eq!(written("a,b"), "\"a,b\"");
        assert_eq!(written("4.25\""), "\"4.25\"\"\"");
        assert_eq!(written("two\nlines"), "\"two\nlines\"");
    }
}
