//! Cells as they are written: quoted where CSV needs it, harmless where a spreadsheet would run them.

use std::borrow::Cow;

use super::record::Record;
use crate::scan;

/// Appends the cells of a row that came, made harmless, in as many columns as there are.
pub(super) fn echo(out: &mut Vec<u8>, row: &Record, width: usize, delimiter: u8) {
    // Most rows need nothing, and go back as they came.
    if let Some(text) = row.as_it_came()
        && row.len() == width
        && row.iter().all(is_harmless)
    {
        out.extend_from_slice(text.as_bytes());
        return;
    }
    // A short row is filled up, so that every row of the answer has every column.
    for place in 0..width {
        if place > 0 {
            out.push(delimiter);
        }
        write_cell(out, &harmless(row.get(place)), delimiter);
    }
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

pub(super) fn is_special(byte: u8, delimiter: u8) -> bool {
    (byte == delimiter) | (byte == b'"') | (byte == b'\r') | (byte == b'\n')
}

/// A text that a spreadsheet would run as a formula gets an apostrophe before it; a number does not.
pub(super) fn harmless(text: &str) -> Cow<'_, str> {
    if is_harmless(text) { text.into() } else { format!("'{text}").into() }
}

fn is_harmless(text: &str) -> bool {
    let may_run = matches!(text.as_bytes().first(), Some(b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r'));
    !may_run || text.replace(',', ".").trim().parse::<f64>().is_ok()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::record::Records;
    use super::*;

    #[test]
    fn formulas_are_made_harmless_and_numbers_are_left_alone() {
        assert_eq!(harmless("=1+1"), "'=1+1");
        assert_eq!(harmless("@cmd"), "'@cmd");
        assert_eq!(harmless("-0.125"), "-0.125");
        assert_eq!(harmless("-0,125"), "-0,125");
        assert_eq!(harmless("head, left"), "head, left");
    }

    /// What a table of one row gets back in two columns.
    fn echoed(row: &str) -> String {
        let mut records = Records::new(b',', row.as_bytes());
        let row = records.next().expect("there is a row").expect("which is text");
        let mut out = Vec::new();
        echo(&mut out, &row, 2, b',');
        String::from_utf8(out).expect("text stays text")
    }

    #[test]
    fn rows_go_back_as_they_came_unless_they_would_do_harm() {
        for row in ["4.25,4.03", "-4.25,x", "\"a,b\",c", "a,\"b\"", ",", "\"\",\"\"", "\u{e4},\"\u{e4}\""] {
            for end in ["", "\n", "\r\n", "\r"] {
                assert_eq!(echoed(&format!("{row}{end}")), row);
            }
            assert_eq!(echoed(&format!("\n\r\n{row}\n")), row);
        }
        assert_eq!(echoed("a,=1+1"), "a,'=1+1");
        assert_eq!(echoed("\"=1+1\",a"), "'=1+1,a");
        assert_eq!(echoed("a"), "a,");
        assert_eq!(echoed("a\"b,c"), "\"a\"\"b\",c");
        assert_eq!(echoed("a,\"b\"\"c\""), "a,\"b\"\"c\"");
        assert_eq!(echoed("a,\"never closed"), "a,never closed");
    }

    proptest! {
        #[test]
        fn what_goes_back_is_read_as_what_came(row in "[a=1,\"][a=1,\"\n]{0,12}") {
            let read = |text: &str| {
                let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
                let row = reader.records().next();
                row.map(|row| row.expect("text is always readable").iter().map(str::to_owned).collect::<Vec<_>>())
            };
            let mut wanted: Vec<_> = read(&row).unwrap_or_default().iter().map(|cell| harmless(cell).into_owned()).collect();
            wanted.resize(2, String::new());
            prop_assert_eq!(read(&echoed(&row)), Some(wanted));
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
