//! The application: one list of calculations and the service's own addresses.

use std::sync::Arc;

use actix_cors::Cors;
use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use utoipa_swagger_ui::{Config, SwaggerUi};

use crate::http::{configure as configure_calculation, readable};
use crate::metrics::Metrics;
use crate::problem::{self, Problem};
use crate::routes::builds::places;
use crate::routes::operation::{self, Draining};
use crate::routes::{CALCULATIONS, methods, problems, workbook};

/// What all workers share.
#[derive(Clone)]
pub(crate) struct Shared {
    /// Counts and durations.
    pub(crate) metrics: Arc<Metrics>,
    /// Whether the service is stopping.
    pub(crate) draining: Draining,
}

/// Every address of the service.
pub(crate) fn configure(config: &mut ServiceConfig, shared: &Shared, with_metrics: bool) {
    config.app_data(web::Data::new(Arc::clone(&shared.metrics))).app_data(web::Data::new(Arc::clone(&shared.draining)));
    for entry in CALCULATIONS {
        configure_calculation(entry, config);
    }
    if with_metrics {
        config.service(readable("/metrics", operation::metrics));
    }
    config
        .service(readable("/v1/builds/places", places::list))
        .service(readable("/v1/methods", methods::list))
        .service(readable("/v1/methods/{id}", methods::page))
        .service(readable("/problems/{slug}", problems::page))
        .service(readable("/v1/workbook.xlsx", workbook::download))
        .service(readable("/healthz", operation::health))
        .service(readable("/readyz", operation::ready))
        .service(readable("/openapi.json", operation::document))
        .service(readable("/", operation::root))
        .service(readable("/docs", operation::root))
        // The page would otherwise send the document to a foreign validator.
        .service(
            SwaggerUi::new("/docs/{_:.*}")
                .config(Config::from("/openapi.json").validator_url("none").use_base_layout()),
        )
        .default_service(web::to(not_found));
}

/// The address for metrics alone.
pub(crate) fn configure_metrics(config: &mut ServiceConfig, shared: &Shared) {
    config.app_data(web::Data::new(Arc::clone(&shared.metrics))).service(readable("/metrics", operation::metrics));
}

async fn not_found() -> Result<actix_web::HttpResponse, Problem> {
    Err(Problem::new(problem::NOT_FOUND, "There is nothing here; /openapi.json lists every address."))
}

/// Answers to pages of the given origins; `*` is any.
pub(crate) fn cors(origins: &[String]) -> Cors {
    let cors = Cors::default()
        .allowed_methods(["GET", "HEAD", "OPTIONS", "POST"])
        .allowed_headers([
            header::AUTHORIZATION,
            header::CONTENT_TYPE,
            header::ACCEPT,
            header::HeaderName::from_static("x-request-id"),
        ])
        .expose_headers(["x-request-id"])
        .max_age(3600);
    if origins.iter().any(|origin| origin == "*") {
        return cors.allow_any_origin().send_wildcard();
    }
    origins.iter().fold(cors, |cors, origin| cors.allowed_origin(origin))
}
