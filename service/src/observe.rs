//! What happens to every request besides being answered: an id, headers, counts and a line in the log.

use std::future::Future;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, LazyLock};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::dev::{Service, ServiceRequest, ServiceResponse};
use actix_web::http::header::{
    CONTENT_SECURITY_POLICY, HeaderMap, HeaderName, HeaderValue, REFERRER_POLICY, VARY, X_CONTENT_TYPE_OPTIONS,
    X_FRAME_OPTIONS,
};

use crate::access_log::{AccessLog, Line};
use crate::connection::Work;
use crate::metrics::Metrics;
use crate::problem::Problem;
use crate::unread::{Shared, holding};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Who is told of every request.
pub(crate) struct Watch {
    pub(crate) metrics: Arc<Metrics>,
    pub(crate) log: AccessLog,
}

/// Wraps the whole application.
pub(crate) fn observe<S, B>(
    watch: &Arc<Watch>,
    mut request: ServiceRequest,
    service: &S,
) -> impl Future<Output = Result<ServiceResponse<BoxBody>, actix_web::Error>> + use<S, B>
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = actix_web::Error>,
    B: MessageBody + 'static,
{
    let started = Instant::now();
    let id = request_id(request.headers());
    let watch = Arc::clone(watch);
    let at_work = request.conn_data().map(Work::begin);
    let body = Shared::of(&mut request);
    let answered = service.call(request);
    async move {
        let mut response = answered.await?.map_into_boxed_body();
        // A problem is rendered here, where the id is known.
        if let Some(problem) = response.response().error().and_then(|error| error.as_error::<Problem>()) {
            let mut rendered = problem.response(id.to_str().ok());
            // A page of another origin may read a refusal as well as an answer.
            let cross_origin = |name: &HeaderName| *name == VARY || name.as_str().starts_with("access-control-");
            let kept = response.headers().iter().filter(|(name, _)| cross_origin(name));
            kept.for_each(|(name, text)| rendered.headers_mut().append(name.clone(), text.clone()));
            response = response.into_response(rendered);
        }
        if let Some(body) = body {
            response = response.map_body(|_, answer| holding(answer, body));
        }
        // An answer of unknown length is still being made.
        if response.response().body().size() == BodySize::Stream {
            response = response.map_body(|_, answer| holding(answer, at_work));
        }
        let headers = response.headers_mut();
        headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
        headers.insert(REQUEST_ID, id.clone());
        if response.request().path().starts_with("/docs/") {
            close_page(response.headers_mut());
        }
        record(&watch, &response, &id, started.elapsed());
        Ok(response)
    }
}

/// The documentation page loads and calls nothing but this service, and stands in no other page.
fn close_page(headers: &mut HeaderMap) {
    // The page's library writes style attributes and draws its icons from data.
    let policy = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
                  font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(X_FRAME_OPTIONS, HeaderValue::from_static("DENY"));
}

fn record(watch: &Watch, response: &ServiceResponse<BoxBody>, id: &HeaderValue, took: Duration) {
    let request = response.request();
    let status = response.status();
    let route = watch.metrics.count(request.path(), status, took);
    let id = id.to_str().unwrap_or_default();
    watch.log.add(&Line { id, method: request.method(), route, status, took });
}

/// The caller's id if it is harmless in a log, otherwise one of ours.
fn request_id(headers: &HeaderMap) -> HeaderValue {
    const LONGEST: usize = 64;
    let harmless = |byte: &u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.');
    match headers.get(&REQUEST_ID) {
        Some(id) if !id.is_empty() && id.len() <= LONGEST && id.as_bytes().iter().all(harmless) => id.clone(),
        _ => new_id(),
    }
}

/// Every byte as two digits.
static HEX: [[u8; 2]; 256] = {
    let mut all = [[0; 2]; 256];
    let mut byte = 0;
    while byte < 256 {
        all[byte] = [b"0123456789abcdef"[byte >> 4], b"0123456789abcdef"[byte & 0xf]];
        byte += 1;
    }
    all
};

/// Start time of the process and a counter: unique without a source of random bytes.
fn new_id() -> HeaderValue {
    static COUNTER: AtomicU64 = AtomicU64::new(0);
    static SEED: LazyLock<u64> = LazyLock::new(|| {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        since.as_micros() as u64 ^ (u64::from(std::process::id()) << 44)
    });
    let count = COUNTER.fetch_add(1, Ordering::Relaxed);
    let mut text = [0_u8; 24];
    let bits = (u128::from(*SEED & 0xff_ffff_ffff_ffff) << 40) | u128::from(count & 0xff_ffff_ffff);
    for (place, pair) in text.chunks_exact_mut(2).enumerate() {
        pair.copy_from_slice(&HEX[(bits >> (8 * (11 - place))) as usize & 0xff]);
    }
    HeaderValue::from_bytes(&text).unwrap_or(HeaderValue::from_static("none"))
}
