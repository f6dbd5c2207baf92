//! Cuts an endless text into blocks of whole lines, or of whole rows of CSV, across the borders of its chunks and in bounded
//! memory.

use memchr::{memchr, memchr_iter, memrchr, memrchr2};

/// Longest line or row; a longer one is answered with a problem and the rest goes on.
pub(crate) const LONGEST_LINE: usize = 64 * 1024;

/// Where lines end.
pub(crate) trait Ends {
    /// The end of the first line that ends in a chunk.
    fn first(&mut self, chunk: &[u8]) -> Option<usize>;
    /// The end of the last line that ends in a chunk.
    fn last(&mut self, chunk: &[u8]) -> Option<usize>;
}

/// Lines end with a line feed.
#[derive(Default)]
pub(crate) struct Lines;

impl Ends for Lines {
    fn first(&mut self, chunk: &[u8]) -> Option<usize> {
        memchr(b'\n', chunk).map(|place| place + 1)
    }

    fn last(&mut self, chunk: &[u8]) -> Option<usize> {
        memrchr(b'\n', chunk).map(|place| place + 1)
    }
}

/// Rows of CSV end with a line feed or a carriage return outside quotes (RFC 4180; a quote inside a cell that does not begin
/// with one is a character like any other).
pub(crate) struct Rows {
    delimiter: u8,
    place: Place,
}

#[derive(Clone, Copy, PartialEq)]
enum Place {
    CellStart,
    Plain,
    Quoted,
    QuoteInQuoted,
}

impl Rows {
    pub(crate) fn new(delimiter: u8) -> Self {
        Self { delimiter, place: Place::CellStart }
    }

    /// Goes one byte on; whether a row ended with it.
    fn step(&mut self, byte: u8) -> bool {
        let ends = matches!(byte, b'\n' | b'\r');
        self.place = match (self.place, byte) {
            (Place::Quoted, b'"') => Place::QuoteInQuoted,
            (Place::Quoted, _) | (Place::CellStart | Place::QuoteInQuoted, b'"') => Place::Quoted,
            _ if ends || byte == self.delimiter => Place::CellStart,
            _ => Place::Plain,
        };
        ends && self.place == Place::CellStart
    }

    /// Goes over text without a quote in it that begins `at` some place in its chunk.
    fn unquoted(&mut self, text: &[u8], at: usize, last: &mut Option<usize>) {
        if self.place == Place::Quoted {
            return;
        }
        if let Some(place) = memrchr2(b'\n', b'\r', text) {
            *last = Some(at + place + 1);
        }
        text.last().map(|byte| self.step(*byte));
    }
}

impl Ends for Rows {
    fn first(&mut self, chunk: &[u8]) -> Option<usize> {
        chunk.iter().position(|byte| self.step(*byte)).map(|place| place + 1)
    }

    fn last(&mut self, chunk: &[u8]) -> Option<usize> {
        let (mut last, mut at) = (None, 0);
        // From quote to quote: only what stands beside one matters for what follows.
        while let Some(length) = memchr(b'"', &chunk[at..]) {
            self.unquoted(&chunk[at..at + length], at, &mut last);
            self.step(b'"');
            at += length + 1;
        }
        self.unquoted(&chunk[at..], at, &mut last);
        last
    }
}

/// Whole lines, and the number of the first.
#[derive(Default)]
pub(crate) struct Block {
    pub(crate) first: u64,
    pub(crate) text: Vec<u8>,
}

/// Gathers chunks until whole lines are there.
pub(crate) struct Cutter<E> {
    ends: E,
    whole: Vec<u8>,
    begun: Vec<u8>,
    /// The line that has begun is too long: the rest of it is not kept.
    skipping: bool,
    lines: u64,
}

impl<E: Ends> Cutter<E> {
    pub(crate) fn new(ends: E) -> Self {
        Self { ends, whole: Vec::new(), begun: Vec::new(), skipping: false, lines: 0 }
    }

    /// Adds a chunk.
    pub(crate) fn add(&mut self, mut chunk: &[u8]) {
        if self.skipping {
            let Some(end) = self.ends.first(chunk) else { return };
            self.skipping = false;
            self.begun.push(b'\n');
            self.whole.append(&mut self.begun);
            chunk = &chunk[end..];
        }
        let end = self.ends.last(chunk).unwrap_or(0);
        if end > 0 {
            self.whole.append(&mut self.begun);
            self.whole.extend_from_slice(&chunk[..end]);
        }
        let rest = &chunk[end..];
        if self.begun.len() + rest.len() > LONGEST_LINE {
            self.skip();
        } else {
            self.begun.extend_from_slice(rest);
        }
    }

    /// In place of a line that is too long stands one that is too long as well, and harmless.
    fn skip(&mut self) {
        self.skipping = true;
        self.begun.clear();
        self.begun.resize(LONGEST_LINE + 1, b'x');
    }

    /// How many bytes of whole lines are there.
    pub(crate) fn len(&self) -> usize {
        self.whole.len()
    }

    /// The whole lines.
    pub(crate) fn take(&mut self) -> Block {
        let text = std::mem::take(&mut self.whole);
        let first = self.lines + 1;
        self.lines += memchr_iter(b'\n', &text).count() as u64;
        Block { first, text }
    }

    /// The body has ended: its last line is whole without a line end.
    pub(crate) fn end(&mut self) {
        self.skipping = false;
        self.whole.append(&mut self.begun);
    }
}

/// The lines of a block, without their ends.
pub(crate) fn lines(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = text;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let end = memchr(b'\n', rest);
        let line = &rest[..end.unwrap_or(rest.len())];
        rest = end.map_or(&[], |end| &rest[end + 1..]);
        Some(line)
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cut(ends: impl Ends, text: &[u8], size: usize) -> Vec<Vec<u8>> {
        let mut cutter = Cutter::new(ends);
        let mut blocks = Vec::new();
        for chunk in text.chunks(size) {
            cutter.add(chunk);
            blocks.push(cutter.take().text);
        }
        cutter.end();
        blocks.push(cutter.take().text);
        blocks
    }

    fn records(text: &[u8]) -> Vec<csv::ByteRecord> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text);
        reader.byte_records().map(|record| record.expect("bytes are always readable")).collect()
    }

    proptest! {
        #[test]
        fn lines_are_the_same_however_the_body_is_cut(text in "[ab\n]{0,200}", size in 1_usize..20) {
            let blocks = cut(Lines, text.as_bytes(), size);
            let found: Vec<_> = blocks.iter().flat_map(|block| lines(block)).map(<[u8]>::to_vec).collect();
            let wanted: Vec<_> = text.lines().map(|line| line.as_bytes().to_vec()).collect();
            prop_assert_eq!(found, wanted);
        }

        #[test]
        fn rows_are_the_same_however_the_table_is_cut(text in "[a,\"\r\n]{0,200}", size in 1_usize..20) {
            let found: Vec<_> =
                cut(Rows::new(b','), text.as_bytes(), size).iter().flat_map(|block| records(block)).collect();
            prop_assert_eq!(found, records(text.as_bytes()));
        }
    }

    #[test]
    fn an_endless_line_is_forgotten_and_the_next_is_read() {
        let mut cutter = Cutter::new(Lines);
        cutter.add(b"first\n");
        for _ in 0..1000 {
            cutter.add(&[b'y'; 1000]);
        }
        assert!(cutter.begun.capacity() <= 2 * LONGEST_LINE + 2, "{}", cutter.begun.capacity());
        cutter.add(b"yy\nnext\nlast");
        cutter.end();
        let block = cutter.take();
        let lengths: Vec<_> = lines(&block.text).map(<[u8]>::len).collect();
        assert_eq!(lengths, [5, LONGEST_LINE + 1, 4, 4]);
        assert_eq!((block.first, cutter.lines), (1, 3));
    }
}
