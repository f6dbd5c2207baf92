//! Cells as they are written: quoted where CSV needs it, harmless where a spreadsheet would run them.

use std::borrow::Cow;

use csv::StringRecord;

use crate::scan;

/// Appends a cell of a row that came, made harmless.
pub(super) fn echo_cell(out: &mut Vec<u8>, row: &StringRecord, place: usize, delimiter: u8) {
    let Some(cell) = row.range(place) else { return };
    let (text, length) = (row.as_slice(), cell.len());
    // Most cells are short: with what follows in the row they fill a piece, which is looked at and copied as a whole.
    if let Some(piece) = text.as_bytes()[cell.start..].first_chunk::<16>()
        && length <= piece.len()
        && !may_run(piece[0])
        && !scan::begins_with(piece, length, |byte| is_special(byte, delimiter))
    {
        let begin = out.len();
        out.extend_from_slice(piece);
        out.truncate(begin + length);
        return;
    }
    write_cell(out, &harmless(&text[cell]), delimiter);
}

/// Appends a text as a cell (RFC 4180).
pub(super) fn write_cell(out: &mut Vec<u8>, text: &str, delimiter: u8) {
    if !scan::has(text.as_bytes(), |byte| is_special(byte, delimiter)) {
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

fn is_special(byte: u8, delimiter: u8) -> bool {
    (byte == delimiter) | (byte == b'"') | (byte == b'\r') | (byte == b'\n')
}

/// A text that a spreadsheet would run as a formula gets an apostrophe before it; a number does not.
pub(super) fn harmless(text: &str) -> Cow<'_, str> {
    if !text.as_bytes().first().is_some_and(|first| may_run(*first)) {
        return text.into();
    }
    let number = text.replace(',', ".").trim().parse::<f64>().is_ok();
    if number { text.into() } else { format!("'{text}").into() }
}

fn may_run(first: u8) -> bool {
    matches!(first, b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r')
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
    fn cells_that_came_are_written_like_any_text() {
        let texts = ["", "4.25", "-4.25", "=1+1", "a,b", "4.25\"", "sixteen letters.", "seventeen letters", "x"];
        for first in texts {
            for second in texts {
                let row = StringRecord::from(vec![first, second, "and more than sixteen letters"]);
                let (mut echoed, mut written) = (Vec::new(), Vec::new());
                for (place, text) in row.iter().enumerate() {
                    echo_cell(&mut echoed, &row, place, b',');
                    write_cell(&mut written, &harmless(text), b',');
                }
                assert_eq!(String::from_utf8(echoed), String::from_utf8(written));
            }
        }
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
