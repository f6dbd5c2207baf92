//! The HTTP forms of a calculation, written once for all: single (POST), query twin and value (GET), and those for many
//! requests at once.

use std::future::poll_fn;
use std::pin::pin;
use std::task::Poll;
use std::time::Duration;

use actix_web::http::header::{self, HeaderMap};
use actix_web::web::{self, Bytes, BytesMut, Payload};
use actix_web::{HttpRequest, HttpResponse, Resource};
use calc_core::stop::Stop;
use futures_util::{FutureExt, StreamExt};
use serde_json::Value;

use crate::calculation::{Entry, internal};
use crate::long_work::off_the_worker;
use crate::memory::{Held, InPieces};
use crate::problem::{self, Problem};
use crate::recent::Recent;
use crate::{bulk, query, value};

/// Largest body of a single calculation.
pub(crate) const LARGEST_BODY: usize = 256 * 1024;

/// What a question larger than that takes, over its text.
const LARGE_QUESTION: usize = 3;

/// A body must be there this long after its head.
pub(crate) const BODY_CLOCK: Duration = Duration::from_secs(10);

const JSON: &str = "application/json";
const CSV: &str = "text/csv";
const CACHEABLE: &str = "public, max-age=3600";

/// The resources of one calculation.
pub(crate) fn configure(entry: &'static Entry, config: &mut web::ServiceConfig) {
    let single = move |request: HttpRequest, payload: Payload| single(entry, request, payload);
    let twin = move |request: HttpRequest| query_twin(entry, request);
    let cell = move |request: HttpRequest| value_form(entry, request);
    let resource = web::resource(entry.path).route(web::post().to(single));
    // Addresses are compared in this order.
    if entry.has_query {
        let resource = resource.route(web::get().to(twin)).route(web::head().to(twin));
        config.service(closed(resource, "GET, HEAD, OPTIONS, POST"));
        config.service(readable(&format!("{}/value", entry.path), cell));
    } else {
        config.service(closed(resource, "OPTIONS, POST"));
    }
    bulk_forms(entry, config);
}

/// The forms for many requests at once.
fn bulk_forms(entry: &'static Entry, config: &mut web::ServiceConfig) {
    let batch = move |request: HttpRequest, payload: Payload| async move {
        check_headers(request.headers(), JSON, bulk::LARGEST_BODY)?;
        let (body, held) = read_body(payload, bulk::LARGEST_BODY).await?;
        let (answer, held) = off_the_worker(move |stop| bulk::batch::answer(entry, &body, held, stop)).await?;
        uncached(JSON, answer, held)
    };
    let stream = move |request: HttpRequest, payload: Payload| async move {
        check_headers(request.headers(), bulk::stream::MEDIA, usize::MAX)?;
        bulk::stream::answer(entry, payload)
    };
    let table = move |request: HttpRequest, payload: Payload| async move {
        check_headers(request.headers(), CSV, usize::MAX)?;
        bulk::table::http::answer(entry, request.query_string().to_owned(), payload).await
    };
    let csv = move |request: HttpRequest, payload: Payload| async move {
        check_headers(request.headers(), JSON, LARGEST_BODY)?;
        let (body, held) = read_body(payload, LARGEST_BODY).await?;
        let answer = off_the_worker(move |stop| entry.answer_csv(&body, stop)).await?;
        uncached("text/csv; charset=utf-8", answer, held)
    };
    let mut form = |suffix: &str, route| {
        config.service(closed(web::resource(format!("{}/{suffix}", entry.path)).route(route), "OPTIONS, POST"));
    };
    form("batch", web::post().to(batch));
    form("stream", web::post().to(stream));
    if entry.has_query {
        form("table", web::post().to(table));
    }
    if entry.has_csv() {
        form("csv", web::post().to(csv));
    }
}

pub(crate) fn uncached(media: &'static str, answer: Vec<u8>, held: Held) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, header::HeaderValue::from_static(media)))
        .insert_header((header::CACHE_CONTROL, header::HeaderValue::from_static("no-store")))
        .body(InPieces::new(answer, held)?))
}

/// A resource that answers GET and HEAD alike.
pub(crate) fn readable<F, Args>(path: &str, handler: F) -> Resource
where
    F: actix_web::Handler<Args> + Copy,
    Args: actix_web::FromRequest + 'static,
    F::Output: actix_web::Responder + 'static,
{
    let resource = web::resource(path).route(web::get().to(handler)).route(web::head().to(handler));
    closed(resource, "GET, HEAD, OPTIONS")
}

/// OPTIONS names the methods; any other method is refused with the same list.
fn closed(resource: Resource, allow: &'static str) -> Resource {
    resource
        .route(
            web::method(actix_web::http::Method::OPTIONS)
                .to(move || async move { HttpResponse::NoContent().insert_header((header::ALLOW, allow)).finish() }),
        )
        .default_service(web::to(move || async move { Err::<HttpResponse, _>(Problem::not_allowed(allow)) }))
}

async fn single(entry: &'static Entry, request: HttpRequest, payload: Payload) -> Result<HttpResponse, Problem> {
    check_headers(request.headers(), JSON, entry.largest_body)?;
    let (body, mut held) = read_body(payload, entry.largest_body).await?;
    if body.len() > LARGEST_BODY {
        // Read and sorted, a large question takes a few times its text.
        held.grow(LARGE_QUESTION * body.len())?;
    }
    let answer = answered(entry, move |stop| entry.answer_while_wanted(&body, stop)).await?;
    uncached(JSON, answer, held)
}

/// Short work is done at once: handing it over would cost more than it does.
async fn answered(
    entry: &Entry,
    work: impl FnOnce(&Stop) -> Result<Vec<u8>, Problem> + Send + 'static,
) -> Result<Vec<u8>, Problem> {
    if entry.is_long { off_the_worker(work).await } else { work(&Stop::never()) }
}

async fn query_twin(entry: &'static Entry, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let pairs = query::pairs(request.query_string());
    let answer = answered(entry, move |stop| answer_query(entry, &pairs, stop)).await?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, JSON))
        .insert_header((header::CACHE_CONTROL, CACHEABLE))
        .body(InPieces::new(answer, Held::default())?))
}

fn answer_query(entry: &'static Entry, pairs: &[(String, String)], stop: &Stop) -> Result<Vec<u8>, Problem> {
    static RECENT: Recent = Recent::new();
    let key = entry.is_long.then(|| Recent::key(entry.path, pairs));
    if let Some(answer) = key.as_ref().and_then(|key| RECENT.find(key)) {
        return Ok(answer);
    }
    let body = query::request(entry.shape()?, pairs)?;
    let answer = entry.answer_value(&body, stop).map_err(Problem::in_query)?;
    if let Some(key) = key {
        RECENT.keep(key, &answer);
    }
    Ok(answer)
}

async fn value_form(entry: &'static Entry, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut pairs = query::pairs(request.query_string());
    let mut controls = value::controls(&mut pairs);
    if controls.fields.is_empty() {
        controls.fields.push(entry.default_field.to_owned());
    }
    let answer = match controls.check() {
        Ok(()) => answered(entry, move |stop| answer_query(entry, &pairs, stop)).await,
        Err(problem) => Err(problem),
    };
    let cell = answer.and_then(|answer| {
        let answer: Value = serde_json::from_slice(&answer).map_err(|error| internal(&error.to_string()))?;
        value::text(entry, &answer, &controls.fields)
    });
    let (text, cache) = match cell {
        Ok(text) => (text, CACHEABLE),
        Err(problem) if controls.inline_errors && problem.kind().status < 500 => (value::inline(&problem), "no-store"),
        Err(problem) => return Err(problem),
    };
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "text/plain; charset=utf-8"))
        .insert_header((header::CACHE_CONTROL, cache))
        .body(text))
}

/// The body must be of the form's media type, in UTF-8 and not compressed, and its announced length within bounds.
fn check_headers(headers: &HeaderMap, wanted: &str, largest: usize) -> Result<(), Problem> {
    let text = |name| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let media = text(header::CONTENT_TYPE).unwrap_or("");
    check_media(media, wanted)?;
    if text(header::CONTENT_ENCODING).is_some_and(|encoding| !encoding.eq_ignore_ascii_case("identity")) {
        return Err(Problem::new(problem::UNSUPPORTED_MEDIA_TYPE, "Send the body without Content-Encoding."));
    }
    let announced = text(header::CONTENT_LENGTH).and_then(|length| length.parse::<usize>().ok());
    if announced.is_some_and(|length| length > largest) {
        return Err(too_large(largest));
    }
    Ok(())
}

fn check_media(media: &str, wanted: &str) -> Result<(), Problem> {
    if media == wanted {
        return Ok(());
    }
    let (kind, parameters) = media.split_once(';').unwrap_or((media, ""));
    let charset = parameters.trim().trim_start_matches("charset=").trim_matches('"');
    if !kind.trim().eq_ignore_ascii_case(wanted) || !(charset.is_empty() || charset.eq_ignore_ascii_case("utf-8")) {
        let got = if media.is_empty() { "none".to_owned() } else { format!("'{media}'") };
        let detail = format!("The Content-Type must be {wanted} in UTF-8; got {got}.");
        return Err(Problem::new(problem::UNSUPPORTED_MEDIA_TYPE, detail));
    }
    Ok(())
}

fn too_large(largest: usize) -> Problem {
    Problem::new(problem::BODY_TOO_LARGE, format!("The body may have at most {largest} bytes."))
}

/// The whole body, bounded in size and time, and what is held for it; a body of one chunk is not copied, and one that is there
/// at once is not counted.
async fn read_body(mut payload: Payload, largest: usize) -> Result<(Bytes, Held), Problem> {
    let read = async {
        let mut held = Held::default();
        let mut first = Bytes::new();
        let mut rest = BytesMut::new();
        loop {
            let next = match payload.next().now_or_never() {
                Some(next) => next,
                None => {
                    held.grow(first.len().max(rest.capacity()))?;
                    payload.next().await
                }
            };
            let Some(chunk) = next else { break };
            let chunk = chunk.map_err(|error| bulk::broke_off(&error))?;
            if first.is_empty() {
                first = chunk;
            } else {
                if rest.is_empty() {
                    rest.extend_from_slice(&first);
                }
                rest.extend_from_slice(&chunk);
            }
            if first.len().max(rest.len()) > largest {
                return Err(too_large(largest));
            }
        }
        Ok((if rest.is_empty() { first } else { rest.freeze() }, held))
    };
    within_body_clock(read).await
}

/// What reads a body must be done in time. Most bodies come with their head, and then no clock is set: the server looks for an
/// answer when it has read the head, hands over what it has of the body, and looks again. For a request that waited behind another
/// it looks once; then the next tick of the connection is the second look.
pub(crate) async fn within_body_clock<T>(read: impl Future<Output = Result<T, Problem>>) -> Result<T, Problem> {
    let mut read = pin!(read);
    let mut looks = 0;
    let there = poll_fn(|_| {
        looks += 1;
        match (&mut read).now_or_never() {
            Some(read) => Poll::Ready(Some(read)),
            None if looks == 1 => Poll::Pending,
            None => Poll::Ready(None),
        }
    });
    if let Some(read) = there.await {
        return read;
    }
    tokio::time::timeout(BODY_CLOCK, read).await.unwrap_or_else(|_| {
        let detail = format!("The body was not complete {} seconds after its head.", BODY_CLOCK.as_secs());
        Err(Problem::new(problem::SLOW_BODY, detail))
    })
}
