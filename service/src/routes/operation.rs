//! The service's own addresses: is it alive, does it take requests, what has it counted, what does it offer.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, LazyLock};

use actix_web::http::header;
use actix_web::{HttpResponse, web};

use crate::calculation::internal;
use crate::metrics::Metrics;
use crate::openapi;
use crate::problem::Problem;

/// Set once the service has been told to stop.
pub type Draining = Arc<AtomicBool>;

pub(crate) async fn health() -> &'static str {
    "ok"
}

pub(crate) async fn ready(draining: web::Data<Draining>) -> HttpResponse {
    if draining.load(Ordering::Relaxed) {
        HttpResponse::ServiceUnavailable().content_type("text/plain; charset=utf-8").body("stopping")
    } else {
        HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ready")
    }
}

pub(crate) async fn metrics(metrics: web::Data<Arc<Metrics>>) -> Result<HttpResponse, Problem> {
    let text = metrics.text().map_err(|error| internal(&error.to_string()))?;
    Ok(HttpResponse::Ok().content_type("text/plain; version=0.0.4; charset=utf-8").body(text))
}

/// Made when it is first asked for: it takes longer than all else that happens at the start.
static DOCUMENT: LazyLock<web::Bytes> = LazyLock::new(|| openapi::text().into());

pub(crate) async fn document() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(DOCUMENT.clone())
}

/// A person who opens the bare address wants the documentation.
pub(crate) async fn root() -> HttpResponse {
    HttpResponse::TemporaryRedirect().insert_header((header::LOCATION, "/docs/")).finish()
}
