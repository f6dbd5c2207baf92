//! The table over HTTP. One that fits into [`LARGEST_BODY`] is read whole before it is answered, so that a macro may send
//! everything before it reads; a longer one is answered while it comes, like a stream.

use std::sync::Arc;

use actix_web::HttpResponse;
use actix_web::error::PayloadError;
use actix_web::http::header;
use actix_web::web::{self, Bytes, BytesMut, Payload};
use calc_core::stop::Stop;
use futures_util::{Stream, StreamExt, future, stream};

use super::{Controls, Table, refused, whole};
use crate::bulk::LARGEST_BODY;
use crate::bulk::body::{self, BLOCK, Part, Place};
use crate::calculation::Entry;
use crate::http::{Wanted, off_the_worker, within_body_clock};
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
    let (begun, ended) = within_body_clock(begin(&mut payload)).await?;
    let mut response = HttpResponse::Ok();
    response
        .insert_header((header::CONTENT_TYPE, header::HeaderValue::from_static(MEDIA)))
        .insert_header((header::CACHE_CONTROL, header::HeaderValue::from_static("no-store")));
    if ended {
        let work = move |stop: &Stop| whole(entry, &query, &begun, stop).or_else(|problem| refused(&query, problem));
        return Ok(response.body(off_the_worker(work).await?));
    }
    match open(entry, &query, begun, payload).await {
        Ok(body) => Ok(response.streaming(body)),
        Err(problem) => refused(&query, problem).map(|table| response.body(table)),
    }
}

/// The body, or its begin when it is larger than what is kept; and whether it is whole.
async fn begin(payload: &mut Payload) -> Result<(Bytes, bool), Problem> {
    let mut begun = BytesMut::new();
    while begun.len() <= LARGEST_BODY {
        match payload.next().await {
            Some(Ok(chunk)) => begun.extend_from_slice(&chunk),
            Some(Err(error)) => return Err(body::broke_off(&error)),
            None => return Ok((begun.freeze(), true)),
        }
    }
    Ok((begun.freeze(), false))
}

/// Reads the header; gives the answer as it grows.
async fn open(
    entry: &'static Entry,
    query: &str,
    begun: Bytes,
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
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let wanted = Wanted::default();
    let stop = wanted.stop();
    let answered = stream::iter([first]).chain(parts).map(move |part| {
        let table = Arc::clone(&table);
        let stop = stop.clone();
        web::block(move || answer_part(&table, &part, &stop))
    });
    let rows = answered.buffered(cores).map(move |rows| {
        // The place is given back, and the work ended, with the body.
        let _ = (&place, &wanted);
        Ok(Bytes::from(rows.unwrap_or_default()))
    });
    Ok(stream::once(future::ready(Ok(Bytes::from(header)))).chain(rows))
}

/// The answer to some rows; when the body broke off after them, a last row says so.
fn answer_part(table: &Table, part: &Part, stop: &Stop) -> Vec<u8> {
    let mut out = table.rows(&part.block.text, stop);
    if let Some(Err(problem)) = &part.end {
        table.wrong_row(&mut out, problem);
    }
    out
}
