//! `POST …/stream`: endless lines of JSON in, as many out, in the same order and in bounded memory.
//!
//! The body is cut into blocks of whole lines; blocks are answered off the workers, as many at once as there are
//! cores, and sent in order. The last line is a summary: without it the answer was cut. A client that sends everything before
//! it reads will hang once the socket's buffers are full: read while you write.

use std::io::{self, Read, Write};

use actix_web::HttpResponse;
use actix_web::error::PayloadError;
use actix_web::web::{Bytes, Payload};
use calc_core::stop::{Progress, Stop};
use futures_util::{StreamExt, future};

use super::body::{self, BLOCK, ENOUGH, Part, Place};
use super::cut::{Block, Cutter, Ends, LONGEST_LINE, Lines, lines};
use super::in_order::in_order;
use super::item::{self, Counts};
use super::progress;
use crate::calculation::Entry;
use crate::long_work::Wanted;
use crate::problem::{self, Problem};

pub(crate) const MEDIA: &str = "application/x-ndjson";

/// An answer is about this many times as long as its line.
const GROWTH: usize = 3;

/// Answers a stream.
pub(crate) fn answer(entry: &'static Entry, payload: Payload) -> Result<HttpResponse, Problem> {
    let place = Place::take()?;
    let parts = body::parts(payload, Cutter::new(Lines));
    let wanted = Wanted::default();
    let stop = wanted.stop();
    let told = Progress::default();
    let progress = told.clone();
    let pieces = parts.map(|part| (part, From::default()));
    let answered = body::answered(pieces, stop, move |(part, from), stop| answer_part(entry, stop, &told, part, from));
    let body = answered.scan((Counts::default(), place, wanted), |(counts, _place, _wanted), answered| {
        let Answered { mut text, counts: found, whole } = answered;
        counts.add(found);
        if whole {
            write_summary(&mut text, *counts);
        }
        future::ready(Some(Ok::<_, PayloadError>(Bytes::from(text))))
    });
    Ok(HttpResponse::Ok()
        .insert_header(("content-type", MEDIA))
        .insert_header(("cache-control", "no-store"))
        .streaming(progress::among(body, progress)))
}

/// The answers to a part, or to some of its lines.
#[derive(Default)]
struct Answered {
    text: Vec<u8>,
    counts: Counts,
    /// Whether the body ended whole with it.
    whole: bool,
}

/// How far a block has been answered.
#[derive(Default)]
struct From {
    bytes: usize,
    lines: u64,
}

/// The answers to a part from somewhere on; and the part, and where to go on, when they are enough for once.
fn answer_part(
    entry: &Entry,
    stop: &Stop,
    told: &Progress,
    part: Part,
    from: From,
) -> (Answered, Option<(Part, From)>) {
    let (mut text, counts, from) = answer_block(entry, stop, told, &part.block, from);
    if from.bytes < part.block.text.len() {
        return (Answered { text, counts, whole: false }, Some((part, from)));
    }
    if let Some(Err(problem)) = &part.end {
        item::write_problem(&mut text, part.block.first + from.lines, None, problem);
        text.push(b'\n');
    }
    (Answered { text, counts, whole: matches!(part.end, Some(Ok(()))) }, None)
}

/// The answers to a block's lines from one on, what they count, and how far they reach.
fn answer_block(entry: &Entry, stop: &Stop, told: &Progress, block: &Block, mut from: From) -> (Vec<u8>, Counts, From) {
    let rest = &block.text[from.bytes..];
    let mut out = Vec::with_capacity(GROWTH * rest.len());
    let mut counts = Counts::default();
    for line in lines(rest) {
        let number = block.first + from.lines;
        from.bytes = (from.bytes + line.len() + 1).min(block.text.len());
        from.lines += 1;
        if line.trim_ascii().is_empty() {
            counts.lines += 1;
            continue;
        }
        if line.len() > LONGEST_LINE {
            counts.lines += 1;
            counts.failed += 1;
            item::write_problem(&mut out, number, None, &too_long());
        } else {
            // Only long work tells how far it is; short lines would pay for a flag of their own.
            if entry.is_long {
                stop.pause();
            }
            let telling = entry.is_long.then(|| stop.telling(u32::try_from(number).unwrap_or(u32::MAX), told));
            item::answer(entry, telling.as_ref().unwrap_or(stop), number, line, &mut out, &mut counts);
        }
        out.push(b'\n');
        if out.len() > ENOUGH {
            break;
        }
    }
    (out, counts, from)
}

fn too_long() -> Problem {
    Problem::new(problem::BODY_TOO_LARGE, format!("A line may have at most {LONGEST_LINE} bytes."))
}

/// The same without a server: lines from a reader to a writer, on all cores.
pub(crate) fn answer_all(
    entry: &Entry,
    mut input: impl Read + Send,
    mut output: impl Write + Send,
) -> io::Result<Counts> {
    let mut counts = Counts::default();
    let mut cutter = Cutter::new(Lines);
    in_order(
        || next_block(&mut input, &mut cutter),
        |block| answer_all_of(entry, &block),
        |(text, found)| {
            counts.add(found);
            output.write_all(&text)
        },
    )?;
    let mut summary = Vec::new();
    write_summary(&mut summary, counts);
    output.write_all(&summary)?;
    output.flush()?;
    Ok(counts)
}

/// Without a server nobody else needs the memory: a block is answered at once.
fn answer_all_of(entry: &Entry, block: &Block) -> (Vec<u8>, Counts) {
    let (mut text, mut counts, mut from) = (Vec::new(), Counts::default(), From::default());
    while from.bytes < block.text.len() {
        let (more, found, reached) = answer_block(entry, &Stop::never(), &Progress::default(), block, from);
        if text.is_empty() {
            text = more
        } else {
            text.extend_from_slice(&more)
        }
        counts.add(found);
        from = reached;
    }
    (text, counts)
}

/// The next whole lines of a reader.
pub(crate) fn next_block(input: &mut impl Read, cutter: &mut Cutter<impl Ends>) -> io::Result<Option<Block>> {
    let mut chunk = vec![0; BLOCK];
    while cutter.len() == 0 {
        match input.read(&mut chunk) {
            Ok(0) => {
                cutter.end();
                break;
            }
            Ok(length) => cutter.add(&chunk[..length]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    let block = cutter.take();
    Ok((!block.text.is_empty()).then_some(block))
}

fn write_summary(out: &mut Vec<u8>, counts: Counts) {
    out.extend_from_slice(b"{\"type\":\"summary\",");
    counts.write(out);
    out.extend_from_slice(b"}\n");
}
