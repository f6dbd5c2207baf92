//! The rows of a block one by one. The state machine of the csv library reads them where they lie; its reader would copy them
//! into a buffer first, and take the time of a hundred rows to make a new machine for every block.

use std::ops::Range;
use std::str::Utf8Error;
use std::sync::{Mutex, PoisonError};

use csv_core::ReadRecordResult;
use memchr::memchr_iter;

/// The cells of a row.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Record<'a> {
    /// One behind the other.
    text: &'a str,
    /// Where each begins, and where the last ends.
    borders: &'a [usize],
    /// The row as it stands in the table, without its line end.
    pub(super) raw: &'a [u8],
}

impl<'a> Record<'a> {
    /// How many cells there are.
    pub(super) fn len(&self) -> usize {
        self.borders.len() - 1
    }

    /// The text of a cell; of a short row's missing cells, none.
    pub(super) fn get(&self, place: usize) -> &'a str {
        self.range(place).map_or("", |range| &self.text[range])
    }

    /// All cells.
    pub(super) fn iter(self) -> impl Iterator<Item = &'a str> {
        (0..self.len()).map(move |place| self.get(place))
    }

    /// Whether every quote stands around a cell, and not in one.
    pub(super) fn is_well_quoted(&self) -> bool {
        let delimiters = self.len() - 1;
        // Of a quote that is never closed, the line ends behind it are part of the text but not of `raw`.
        let left_out = self.raw.len().checked_sub(delimiters + self.text.len());
        left_out.is_some_and(|quotes| quotes % 2 == 0 && quotes == memchr_iter(b'"', self.raw).count())
    }

    fn range(&self, place: usize) -> Option<Range<usize>> {
        match self.borders.get(place..)? {
            [start, end, ..] => Some(*start..*end),
            _ => None,
        }
    }
}

/// Machines for a delimiter: each block takes one and gives it back.
pub(super) struct Machines {
    delimiter: u8,
    idle: Mutex<Vec<csv_core::Reader>>,
}

impl Machines {
    pub(super) fn new(delimiter: u8) -> Self {
        Self { delimiter, idle: Mutex::default() }
    }

    fn take(&self) -> csv_core::Reader {
        let idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        idle.unwrap_or_else(|| csv_core::ReaderBuilder::new().delimiter(self.delimiter).build())
    }

    /// A copy of a machine would read nothing (csv-core 0.1.13 copies its table only in part), so the machine itself comes back.
    fn give_back(&self, mut machine: csv_core::Reader) {
        machine.reset();
        self.idle.lock().unwrap_or_else(PoisonError::into_inner).push(machine);
    }
}

/// Reads the rows of a text.
pub(super) struct Records<'a> {
    machine: csv_core::Reader,
    text: &'a [u8],
    /// How many of its bytes are read.
    position: usize,
    bytes: Vec<u8>,
    borders: Vec<usize>,
}

impl<'a> Records<'a> {
    /// From the first row on.
    pub(super) fn new(machines: &Machines, text: &'a [u8]) -> Self {
        Self { machine: machines.take(), text, position: 0, bytes: vec![0; 1024], borders: vec![0; 64] }
    }

    /// Ends reading; gives how many bytes are read.
    pub(super) fn end(self, machines: &Machines) -> usize {
        machines.give_back(self.machine);
        self.position
    }

    /// The next row.
    ///
    /// # Errors
    /// When it is no text in UTF-8.
    pub(super) fn next(&mut self) -> Option<Result<Record<'_>, Utf8Error>> {
        let start = self.position;
        let (mut length, mut ended) = (0, 0);
        loop {
            let (bytes, borders) = (&mut self.bytes[length..], &mut self.borders[ended + 1..]);
            let (result, read, written, more) = self.machine.read_record(&self.text[self.position..], bytes, borders);
            self.position += read;
            length += written;
            ended += more;
            match result {
                // The machine learns from an empty text that no more will come.
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull => self.bytes.resize(2 * self.bytes.len(), 0),
                ReadRecordResult::OutputEndsFull => self.borders.resize(2 * self.borders.len(), 0),
                ReadRecordResult::Record => break,
                ReadRecordResult::End => return None,
            }
        }
        let text = std::str::from_utf8(&self.bytes[..length]);
        let raw = without_line_ends(&self.text[start..self.position]);
        Some(text.map(|text| Record { text, borders: &self.borders[..=ended], raw }))
    }
}

/// The second half of a line end, and empty lines, may stand before a row.
fn without_line_ends(mut raw: &[u8]) -> &[u8] {
    while let [b'\r' | b'\n', rest @ ..] | [rest @ .., b'\r' | b'\n'] = raw {
        raw = rest;
    }
    raw
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn rows_are_those_of_the_librarys_own_reader(texts in prop::collection::vec("[a,\"\r\n\u{e4}]{0,300}", 1..4)) {
            let machines = Machines::new(b',');
            // One machine reads them all.
            for text in &texts {
                let mut records = Records::new(&machines, text.as_bytes());
                let mut own = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
                for wanted in own.records() {
                    let wanted = wanted.expect("text is always readable");
                    let found = records.next().expect("there is a row").expect("which is text");
                    prop_assert_eq!(found.iter().collect::<Vec<_>>(), wanted.iter().collect::<Vec<_>>());
                }
                prop_assert!(records.next().is_none());
                prop_assert_eq!(records.end(&machines), text.len());
                prop_assert_eq!(machines.idle.lock().expect("nobody failed").len(), 1);
            }
        }
    }

    #[test]
    fn a_row_may_be_long_and_have_many_cells() {
        let text = format!("{}\n{}\nlast", "ab".repeat(9000), "c,".repeat(3000));
        let mut records = Records::new(&Machines::new(b','), text.as_bytes());
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
        let mut records = Records::new(&Machines::new(b','), b"a,b\n\xff\nc");
        assert!(records.next().expect("there is a row").is_ok());
        assert!(records.next().expect("there is a row").is_err());
        assert!(records.next().expect("there is a row").is_ok());
    }
}
