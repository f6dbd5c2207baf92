//! The rows of a block one by one.
//!
//! A row whose quotes stand around whole cells is split where it lies. Every other is read by the csv library, whose rules hold
//! for both: it takes each byte through a table, which was a tenth of a table's time.

use std::ops::Range;
use std::str::Utf8Error;

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};

use super::text::is_special;
use crate::scan::places;

/// The cells of a row.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Record<'a> {
    text: &'a str,
    /// Where they stand in the text.
    cells: &'a [Range<usize>],
    /// Whether the text is the row as it came.
    split: bool,
    /// How many bytes of the table the row is.
    pub(super) size: usize,
}

impl<'a> Record<'a> {
    /// How many cells there are.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    /// The text of a cell; of a short row's missing cells, none.
    pub(super) fn get(&self, place: usize) -> &'a str {
        self.cells.get(place).map_or("", |range| &self.text[range.clone()])
    }

    /// All cells.
    pub(super) fn iter(&self) -> impl Iterator<Item = &'a str> {
        let text = self.text;
        self.cells.iter().map(move |range| &text[range.clone()])
    }

    /// The row as it came, if its quotes stand around whole cells.
    pub(super) fn as_it_came(&self) -> Option<&'a str> {
        self.split.then_some(self.text)
    }
}

/// Reads the rows of a text.
pub(super) struct Records<'a> {
    delimiter: u8,
    text: &'a [u8],
    /// How many of its bytes are read.
    pub(super) position: usize,
    cells: Vec<Range<usize>>,
    library: Option<Library>,
}

impl<'a> Records<'a> {
    /// From the first row on.
    pub(super) fn new(delimiter: u8, text: &'a [u8]) -> Self {
        Self { delimiter, text, position: 0, cells: Vec::with_capacity(64), library: None }
    }

    /// The next row.
    ///
    /// # Errors
    /// When it is no text in UTF-8.
    pub(super) fn next(&mut self) -> Option<Result<Record<'_>, Utf8Error>> {
        // An empty line is no row.
        while self.text.get(self.position).is_some_and(|byte| ends_row(*byte)) {
            self.position += 1;
        }
        let rest = &self.text[self.position..];
        if rest.is_empty() {
            return None;
        }
        let (length, text, split) = match split(rest, self.delimiter, &mut self.cells) {
            Some(length) => (length, &rest[..length], true),
            None => {
                let library = self.library.get_or_insert_with(|| Library::new(self.delimiter));
                let (length, text) = library.read(rest, &mut self.cells);
                (length, text, false)
            }
        };
        // The library may have read the line end, or half of it.
        let end = rest[length..].iter().take_while(|byte| ends_row(**byte)).count();
        self.position += length + end;
        Some(std::str::from_utf8(text).map(|text| Record { text, cells: &self.cells, split, size: length }))
    }
}

fn ends_row(byte: u8) -> bool {
    matches!(byte, b'\r' | b'\n')
}

/// Splits the row that begins a text, and gives its length without the line end; `None` when a quote stands anywhere but around a
/// whole cell.
fn split(text: &[u8], delimiter: u8, cells: &mut Vec<Range<usize>>) -> Option<usize> {
    cells.clear();
    let mut special = places(text, |byte| is_special(byte, delimiter));
    let mut start = 0;
    loop {
        let mut end = special.next().unwrap_or(text.len());
        if end == start && text.get(start) == Some(&b'"') {
            let closing = special.find(|place| text[*place] == b'"')?;
            end = special.next().unwrap_or(text.len());
            if end > closing + 1 {
                return None;
            }
            cells.push(start + 1..closing);
        } else {
            cells.push(start..end);
        }
        match text.get(end) {
            Some(byte) if *byte == delimiter => start = end + 1,
            Some(b'"') => return None,
            _ => return Some(end),
        }
    }
}

/// The csv library's reader of one row after the other.
struct Library {
    machine: Reader,
    bytes: Vec<u8>,
    ends: Vec<usize>,
}

impl Library {
    fn new(delimiter: u8) -> Self {
        Self { machine: ReaderBuilder::new().delimiter(delimiter).build(), bytes: vec![0; 1024], ends: vec![0; 64] }
    }

    /// Reads the row that begins a text; gives its length, and the text in which its cells stand.
    fn read(&mut self, text: &[u8], cells: &mut Vec<Range<usize>>) -> (usize, &[u8]) {
        cells.clear();
        let (mut read, mut length, mut ended) = (0, 0, 0);
        loop {
            let (bytes, ends) = (&mut self.bytes[length..], &mut self.ends[ended..]);
            let (result, taken, written, more) = self.machine.read_record(&text[read..], bytes, ends);
            read += taken;
            length += written;
            ended += more;
            match result {
                // The machine learns from an empty text that no more will come.
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull => self.bytes.resize(2 * self.bytes.len(), 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(2 * self.ends.len(), 0),
                ReadRecordResult::Record | ReadRecordResult::End => break,
            }
        }
        let starts = std::iter::once(0).chain(self.ends[..ended].iter().copied());
        cells.extend(starts.zip(&self.ends[..ended]).map(|(start, end)| start..*end));
        (read, &self.bytes[..length])
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn compare(text: &[u8]) {
        let mut records = Records::new(b',', text);
        let mut library = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text);
        for wanted in library.byte_records() {
            let wanted = wanted.expect("bytes are always readable");
            match records.next().expect("there is a row") {
                Ok(found) => assert!(found.iter().map(str::as_bytes).eq(wanted.iter()), "{found:?} {wanted:?}"),
                Err(_) => assert!(std::str::from_utf8(wanted.as_slice()).is_err(), "{wanted:?}"),
            }
        }
        assert!(records.next().is_none(), "{text:?}");
        assert_eq!(records.position, text.len());
    }

    #[test]
    fn rows_are_those_of_the_librarys_own_reader() {
        const SIGNS: &[u8] = b"a,\"\r\n";
        // Every text of at most six of these signs.
        for length in 0..=6 {
            for number in 0..SIGNS.len().pow(length) {
                let text: Vec<_> =
                    (0..length).map(|place| SIGNS[number / SIGNS.len().pow(place) % SIGNS.len()]).collect();
                compare(&text);
            }
        }
    }

    proptest! {
        #[test]
        fn so_are_long_ones(cells in prop::collection::vec("[a\u{e4}]{0,20}|\"[a,\n]{0,20}\"|\"[a\"]{0,5}\"|\r\n?|\n", 0..60)) {
            compare(cells.join(",").as_bytes());
        }
    }

    #[test]
    fn a_row_may_be_long_and_have_many_cells() {
        let text = format!("{}\n{}\nlast", "ab".repeat(9000), "c,".repeat(3000));
        let mut records = Records::new(b',', text.as_bytes());
        let row = records.next().expect("there is a row").expect("which is text");
        assert_eq!((row.len(), row.get(0).len(), row.get(1)), (1, 18_000, ""));
        let row = records.next().expect("there is a row").expect("which is text");
        assert_eq!((row.len(), row.get(2999), row.get(3000)), (3001, "c", ""));
        let row = records.next().expect("there is a row").expect("which is text");
        assert_eq!((row.len(), row.get(0)), (1, "last"));
        assert!(records.next().is_none());
    }

    #[test]
    fn what_is_no_text_spoils_its_own_row_only() {
        let mut records = Records::new(b',', b"a,b\n\xff\nc");
        assert!(records.next().expect("there is a row").is_ok());
        assert!(records.next().expect("there is a row").is_err());
        assert!(records.next().expect("there is a row").is_ok());
    }
}
