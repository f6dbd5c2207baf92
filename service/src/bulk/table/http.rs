//! The table over HTTP. One that fits into [`LARGEST_BODY`] is read whole before it is answered, so that a macro may send
//! everything before it reads; a longer one is answered while it comes, like a stream.

use std::sync::Arc;

use actix_web::HttpResponse;
use actix_web::error::PayloadError;
use actix_web::http::header;
use actix_web::web::{Bytes, BytesMut, Payload};
use calc_core::stop::Stop;
use futures_util::{Stream, StreamExt, future, stream};

use super::{Controls, ENOUGH, Table, refused, whole};
use crate::bulk::LARGEST_BODY;
use crate::bulk::body::{self, BLOCK, Part, Place};
use crate::calculation::Entry;
use crate::http::{uncached, within_body_clock};
use crate::long_work::{Wanted, off_the_worker};
use crate::memory::Held;
use crate::problem::Problem;

const MEDIA: &str = "text/csv; charset=utf-8";

/// Answers a table.
///
/// # Errors
/// The problem to send instead: unreadable CSV, or a header that does not fit.
pub(crate) async fn answer(
    entry: &'static Entry,
    query: String,
    mut payload: Payload,
) -> Result<HttpResponse, Problem> {
    let (begun, ended, held) = within_body_clock(begin(&mut payload)).await?;
    let mut response = HttpResponse::Ok();
    response
        .insert_header((header::CONTENT_TYPE, header::HeaderValue::from_static(MEDIA)))
        .insert_header((header::CACHE_CONTROL, header::HeaderValue::from_static("no-store")));
    if ended {
        let work = move |stop: &Stop| match whole(entry, &query, &begun, held, stop) {
            // A table that is refused is nothing but its fault.
            Err(problem) => refused(&query, problem).map(|table| (table, Held::default())),
            answered => answered,
        };
        let (table, held) = off_the_worker(work).await?;
        return uncached(MEDIA, table, held);
    }
    match open(entry, &query, begun, held, payload).await {
        Ok(body) => Ok(response.streaming(body)),
        Err(problem) => refused(&query, problem).map(|table| response.body(table)),
    }
}

/// The body, or its begin when it is larger than what is kept; and whether it is whole.
async fn begin(payload: &mut Payload) -> Result<(Bytes, bool, Held), Problem> {
    let mut held = Held::default();
    let mut begun = BytesMut::new();
    while begun.len() <= LARGEST_BODY {
        held.grow(begun.capacity())?;
        match payload.next().await {
            Some(Ok(chunk)) => begun.extend_from_slice(&chunk),
            Some(Err(error)) => return Err(body::broke_off(&error)),
            None => return Ok((begun.freeze(), true, held)),
        }
    }
    Ok((begun.freeze(), false, held))
}

/// Reads the header; gives the answer as it grows.
async fn open(
    entry: &'static Entry,
    query: &str,
    begun: Bytes,
    held: Held,
    payload: Payload,
) -> Result<impl Stream<Item = Result<Bytes, PayloadError>> + use<>, Problem> {
    let place = Place::take()?;
    let controls = Controls::read(query)?;
    let cutter = controls.cutter();
    let starts = (0..begun.len()).step_by(BLOCK);
    let begun = starts.map(move |start| Ok(begun.slice(start..begun.len().min(start + BLOCK))));
    let begun: Vec<_> = begun.collect();
    let mut parts = Box::pin(body::parts(stream::iter(begun).chain(payload), cutter));
    let mut first = parts.next().await.unwrap_or_default();
    let (table, header, begin) = Table::open(entry, controls, &first.block.text)?;
    first.block.text.drain(..begin);
    let table = Arc::new(table);
    let wanted = Wanted::default();
    let stop = wanted.stop();
    let pieces = stream::iter([first]).chain(parts).map(|part| (part, 0));
    let answered = body::answered(pieces, stop, move |(part, from), stop| answer_part(&table, part, from, stop));
    let rows = answered.map(move |rows| {
        // The place is given back, and the work ended, with the body.
        let _ = (&place, &wanted, &held);
        Ok(Bytes::from(rows))
    });
    Ok(stream::once(future::ready(Ok(Bytes::from(header)))).chain(rows))
}

/// The answer to the rows of a part from a byte on, and what is left of it; when the body broke off after them, a last row says
/// so.
fn answer_part(table: &Table, part: Part, from: usize, stop: &Stop) -> (Vec<u8>, Option<(Part, usize)>) {
    let (mut out, read) = table.rows(&part.block.text[from..], ENOUGH, stop);
    if from + read < part.block.text.len() {
        return (out, Some((part, from + read)));
    }
    if let Some(Err(problem)) = &part.end {
        table.wrong_row(&mut out, problem);
    }
    (out, None)
}
