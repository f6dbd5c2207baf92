//! `POST …/stream`: endless lines of JSON in, as many out, in the same order and in bounded memory.
//!
//! The body is cut into blocks of whole lines; blocks are answered on the pool for blocking work, as many at once as there are
//! cores, and sent in order. The last line is a summary: without it the answer was cut. A client that sends everything before
//! it reads will hang once the socket's buffers are full: read while you write.

use std::io::{self, BufRead, Write};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use actix_web::web::{self, Bytes, Payload};
use actix_web::{HttpResponse, error::PayloadError};
use calc_core::stop::Stop;
use futures_util::{FutureExt, Stream, StreamExt, future, stream};

use super::item::{self, Counts};
use crate::calculation::Entry;
use crate::http::Wanted;
use crate::problem::{self, Problem};

/// Longest line; a longer one gets a problem and the rest goes on.
pub(crate) const LONGEST_LINE: usize = 64 * 1024;
/// A block is answered once it has this many bytes, or once nothing more is there.
const BLOCK: usize = 64 * 1024;
/// A stream that sends nothing for this long is given up.
const SILENCE: Duration = Duration::from_secs(30);
/// Most streams at once.
const MOST_STREAMS: usize = 64;

pub(crate) const MEDIA: &str = "application/x-ndjson";

static RUNNING: AtomicUsize = AtomicUsize::new(0);

/// One of the places for streams; given back when dropped.
struct Place;

impl Place {
    fn take() -> Option<Self> {
        let running = RUNNING.fetch_add(1, Ordering::Relaxed);
        let place = Self;
        (running < MOST_STREAMS).then_some(place)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        RUNNING.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Whole lines of the body, and the number of the first.
#[derive(Default)]
struct Block {
    first: u64,
    lines: Vec<Line>,
    /// Reading failed after these lines.
    broken: Option<Problem>,
}

enum Line {
    Text(Vec<u8>),
    TooLong,
}

/// Cuts the body into lines, across the borders of its chunks.
#[derive(Default)]
struct Splitter {
    partial: Vec<u8>,
    too_long: bool,
    seen: u64,
}

impl Splitter {
    /// Adds the lines that a chunk completes; gives the bytes they hold.
    fn split(&mut self, chunk: &[u8], lines: &mut Vec<Line>) {
        let mut rest = chunk;
        while let Some(end) = memchr::memchr(b'\n', rest) {
            self.extend(&rest[..end]);
            lines.push(self.finish());
            rest = &rest[end + 1..];
        }
        self.extend(rest);
    }

    fn extend(&mut self, bytes: &[u8]) {
        if self.too_long || self.partial.len() + bytes.len() > LONGEST_LINE {
            self.too_long = true;
            self.partial.clear();
        } else {
            self.partial.extend_from_slice(bytes);
        }
    }

    fn finish(&mut self) -> Line {
        let text = std::mem::take(&mut self.partial);
        if std::mem::take(&mut self.too_long) { Line::TooLong } else { Line::Text(text) }
    }

    /// The last line, when it has no line end.
    fn end(&mut self) -> Option<Line> {
        (self.too_long || !self.partial.is_empty()).then(|| self.finish())
    }
}

/// Answers a stream.
pub(crate) fn answer(entry: &'static Entry, payload: Payload) -> Result<HttpResponse, Problem> {
    let Some(place) = Place::take() else {
        return Err(Problem::overloaded(format!("{MOST_STREAMS} streams are running; try again in a moment.")));
    };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let wanted = Wanted::default();
    let stop = wanted.stop();
    let answer_one = move |block| {
        let stop = stop.clone();
        web::block(move || answer_block(entry, &stop, &block))
    };
    let answered = blocks(payload).map(answer_one).buffered(cores);
    let body = answered.scan((Counts::default(), place, wanted), |(counts, _place, _wanted), block| {
        let (mut text, found, whole) = block.unwrap_or_else(|_| (Vec::new(), Counts::default(), false));
        counts.add(found);
        // The last block of a whole body is empty and carries the summary.
        if whole {
            write_summary(&mut text, *counts);
        }
        future::ready(Some(Ok::<_, PayloadError>(Bytes::from(text))))
    });
    Ok(HttpResponse::Ok()
        .insert_header(("content-type", MEDIA))
        .insert_header(("cache-control", "no-store"))
        .streaming(body))
}

/// The body as blocks of lines; after the last line an empty block, unless reading failed.
fn blocks(payload: Payload) -> impl Stream<Item = Block> {
    stream::unfold(Some((payload, Splitter::default())), |state| async move {
        let (mut payload, mut splitter) = state?;
        let mut lines = Vec::new();
        let first = splitter.seen + 1;
        let mut broken = None;
        let mut size = 0;
        let mut ended = false;
        while lines.is_empty() || size < BLOCK {
            let next = if lines.is_empty() {
                tokio::time::timeout(SILENCE, payload.next()).await.map_err(|_| silence())
            } else {
                // More is taken only if it is there already: a client may wait for the answer to its last line.
                match payload.next().now_or_never() {
                    Some(next) => Ok(next),
                    None => break,
                }
            };
            match next {
                Ok(Some(Ok(chunk))) => {
                    size += chunk.len();
                    splitter.split(&chunk, &mut lines);
                }
                Ok(Some(Err(error))) => broken = Some(broke_off(&error)),
                Ok(None) => {
                    lines.extend(splitter.end());
                    ended = true;
                }
                Err(problem) => broken = Some(problem),
            }
            if ended || broken.is_some() {
                break;
            }
        }
        splitter.seen += lines.len() as u64;
        let stop = broken.is_some() || (ended && lines.is_empty());
        let block = Block { first, lines, broken };
        Some((block, (!stop).then_some((payload, splitter))))
    })
}

/// The answers to a block, what they count, and whether the body ended whole here.
fn answer_block(entry: &Entry, stop: &Stop, block: &Block) -> (Vec<u8>, Counts, bool) {
    let mut out = Vec::with_capacity(4 * BLOCK);
    let mut counts = Counts::default();
    for (number, line) in (block.first..).zip(&block.lines) {
        match line {
            Line::Text(text) if text.trim_ascii().is_empty() => {
                counts.lines += 1;
                continue;
            }
            Line::Text(text) => item::answer(entry, stop, number, text, &mut out, &mut counts),
            Line::TooLong => {
                counts.lines += 1;
                counts.failed += 1;
                item::write_problem(&mut out, number, None, &too_long());
            }
        }
        out.push(b'\n');
    }
    if let Some(problem) = &block.broken {
        item::write_problem(&mut out, block.first + block.lines.len() as u64, None, problem);
        out.push(b'\n');
    }
    (out, counts, block.lines.is_empty() && block.broken.is_none())
}

fn too_long() -> Problem {
    Problem::new(problem::BODY_TOO_LARGE, format!("A line may have at most {LONGEST_LINE} bytes."))
}

fn silence() -> Problem {
    Problem::new(problem::SLOW_BODY, format!("Nothing came for {} seconds; the stream is given up.", SILENCE.as_secs()))
}

fn broke_off(error: &PayloadError) -> Problem {
    Problem::new(problem::MALFORMED_BODY, format!("The body broke off: {error}."))
}

/// The same without a server: lines from a reader to a writer, on all cores.
pub(crate) fn answer_all(entry: &Entry, mut input: impl BufRead, mut output: impl Write) -> io::Result<Counts> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut counts = Counts::default();
    let mut splitter = Splitter::default();
    let mut ended = false;
    while !ended {
        let mut blocks = Vec::new();
        while blocks.len() < cores && !ended {
            let block;
            (block, ended) = next_block(&mut input, &mut splitter)?;
            blocks.push(block);
        }
        let answered = std::thread::scope(|scope| {
            let running: Vec<_> =
                blocks.iter().map(|block| scope.spawn(|| answer_block(entry, &Stop::never(), block))).collect();
            running.into_iter().map(std::thread::ScopedJoinHandle::join).collect::<Vec<_>>()
        });
        for outcome in answered {
            let (text, found, _) = outcome.map_err(|_| io::Error::other("a calculation failed"))?;
            output.write_all(&text)?;
            counts.add(found);
        }
    }
    let mut summary = Vec::new();
    write_summary(&mut summary, counts);
    output.write_all(&summary)?;
    Ok(counts)
}

/// The next lines of a reader, a block's worth; and whether they are the last.
fn next_block(input: &mut impl BufRead, splitter: &mut Splitter) -> io::Result<(Block, bool)> {
    let first = splitter.seen + 1;
    let (mut lines, mut size) = (Vec::new(), 0);
    while size < BLOCK {
        let chunk = input.fill_buf()?;
        let length = chunk.len();
        splitter.split(chunk, &mut lines);
        input.consume(length);
        size += length;
        if length == 0 {
            lines.extend(splitter.end());
            break;
        }
    }
    splitter.seen += lines.len() as u64;
    Ok((Block { first, lines, broken: None }, size == 0))
}

fn write_summary(out: &mut Vec<u8>, counts: Counts) {
    out.extend_from_slice(b"{\"type\":\"summary\",");
    counts.write(out);
    out.extend_from_slice(b"}\n");
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn texts(lines: &[Line]) -> Vec<Option<String>> {
        lines
            .iter()
            .map(|line| match line {
                Line::Text(text) => Some(String::from_utf8_lossy(text).into_owned()),
                Line::TooLong => None,
            })
            .collect()
    }

    proptest! {
        #[test]
        fn lines_are_the_same_however_the_body_is_cut(text in "[ab\n]{0,200}", size in 1_usize..20) {
            let mut splitter = Splitter::default();
            let mut lines = Vec::new();
            for chunk in text.as_bytes().chunks(size) {
                splitter.split(chunk, &mut lines);
            }
            lines.extend(splitter.end());
            let wanted: Vec<_> = text.lines().map(|line| Some(line.to_owned())).collect();
            prop_assert_eq!(texts(&lines), wanted);
        }
    }

    #[test]
    fn an_endless_line_is_forgotten_and_the_next_is_read() {
        let mut splitter = Splitter::default();
        let mut lines = Vec::new();
        for _ in 0..100 {
            splitter.split(&[b'x'; 1000], &mut lines);
        }
        assert!(splitter.partial.capacity() <= 2 * LONGEST_LINE);
        splitter.split(b"\nnext\n", &mut lines);
        assert_eq!(texts(&lines), [None, Some("next".to_owned())]);
    }
}
