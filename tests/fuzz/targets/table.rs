//! The reader of CSV tables; the second line of an input is the address's query.

#![no_main]

use csv::{ReaderBuilder, StringRecord};
use libfuzzer_sys::{Corpus, fuzz_target};
use service::Entry;

/// What the last cell of a row says when a calculation failed by a fault that is not in the row.
const OUR_FAULT: &str = "for a reason that is not in the request";

fuzz_target!(|input: &[u8]| -> Corpus {
    let Some((entry, rest)) = fuzz::calculation(input) else { return Corpus::Reject };
    let Some((query, table)) = fuzz::first_line(rest) else { return Corpus::Reject };
    if !entry.has_query {
        return Corpus::Reject;
    }
    match entry.answer_table(query, table, &fuzz::patience(entry)) {
        Ok(answer) => check(entry, query, table, &answer),
        Err(problem) => fuzz::check_problem(entry, &problem),
    }
    Corpus::Keep
});

/// Every row has every column, and no result is something other than a number or a text.
fn check(entry: &Entry, query: &str, table: &[u8], answer: &[u8]) {
    let delimiters: &[u8] = if query.contains("dec") { b",;" } else { b"," };
    // A control may be spelled with percent signs; the delimiter that makes the rows even is the one that was used.
    let read = delimiters.iter().map(|delimiter| (*delimiter, rows(answer, *delimiter)));
    let even = read.filter(|(_, rows)| rows.iter().all(|row| row.len() == rows[0].len()));
    let Some((delimiter, found)) = even.max_by_key(|(_, rows)| rows.first().map_or(0, StringRecord::len)) else {
        panic!("{}: uneven rows in {}", entry.path, String::from_utf8_lossy(answer));
    };
    let given = rows(table, delimiter).first().map_or(0, StringRecord::len);
    for row in found.iter().skip(1) {
        for cell in row.iter().skip(given) {
            assert!(!matches!(cell, "NaN" | "inf" | "-inf" | "null"), "{}: {row:?}", entry.path);
        }
        // A fault repeats what stands in the cell.
        let repeated = row.iter().take(given).any(|cell| cell.contains(OUR_FAULT));
        assert!(repeated || !row[row.len() - 1].contains(OUR_FAULT), "{}: {row:?}", entry.path);
    }
}

fn rows(text: &[u8], delimiter: u8) -> Vec<StringRecord> {
    let mark = if text.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
    let mut reader =
        ReaderBuilder::new().delimiter(delimiter).flexible(true).has_headers(false).from_reader(&text[mark..]);
    reader.records().filter_map(Result::ok).collect()
}
