//! Counts and durations by route, in the Prometheus text format.

use std::collections::HashMap;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use actix_web::http::StatusCode;
use calc_core::build::evaluate::FORMULA_REVISION;
use prometheus::{
    Encoder, Histogram, HistogramOpts, HistogramVec, IntCounter, IntCounterVec, IntGauge, IntGaugeVec, Opts, Registry,
    TextEncoder,
};

use crate::routes;

/// Addresses that end in a name: counted under the prefix, or every name would be a series of its own.
const PREFIXES: [&str; 3] = ["/docs/", "/problems/", "/v1/methods/"];

/// Classes of status. A refusal for now is the service's, but no fault of it: it is counted by itself.
const CLASSES: [&str; 6] = ["1xx", "2xx", "3xx", "4xx", "5xx", "503"];

/// Everything that is counted.
pub(crate) struct Metrics {
    registry: Registry,
    exact: HashMap<String, Route>,
    prefixes: Vec<(&'static str, Route)>,
    other: Route,
}

struct Route {
    by_class: [IntCounter; CLASSES.len()],
    seconds: Histogram,
}

impl Metrics {
    /// Registers a series for every route.
    ///
    /// # Errors
    /// When the registry refuses a series, which would be a mistake in this file.
    pub(crate) fn new() -> prometheus::Result<Self> {
        let registry = Registry::new();
        let answers = IntCounterVec::new(
            Opts::new("blockwright_http_answers_total", "Answers by route and class of status."),
            &["route", "class"],
        )?;
        let buckets = prometheus::exponential_buckets(25e-6, 4.0, 8)?;
        let seconds = HistogramVec::new(
            HistogramOpts::new("blockwright_http_answer_seconds", "Time from the head of a request to its answer.")
                .buckets(buckets),
            &["route"],
        )?;
        let build = IntGaugeVec::new(
            Opts::new("blockwright_build_info", "Always one; the labels say what is running."),
            &["version", "formula_revision"],
        )?;
        build.with_label_values(&[env!("CARGO_PKG_VERSION"), &FORMULA_REVISION.to_string()]).set(1);
        let started =
            IntGauge::new("blockwright_start_time_seconds", "When the process started, in seconds since 1970.")?;
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        started.set(i64::try_from(now.as_secs()).unwrap_or_default());
        registry.register(Box::new(build))?;
        registry.register(Box::new(started))?;
        registry.register(Box::new(answers.clone()))?;
        registry.register(Box::new(seconds.clone()))?;
        let route = |name: &str| Route {
            by_class: CLASSES.map(|class| answers.with_label_values(&[name, class])),
            seconds: seconds.with_label_values(&[name]),
        };
        let exact = routes::paths().into_iter().map(|path| (path.clone(), route(&path))).collect();
        let prefixes = PREFIXES.map(|prefix| (prefix, route(prefix))).into();
        Ok(Self { exact, prefixes, other: route("other"), registry })
    }

    /// Counts one answer; gives the name under which it was counted.
    pub(crate) fn count<'a>(&'a self, path: &str, status: StatusCode, took: Duration) -> &'a str {
        let (name, route) = self.route(path);
        let class = match status.as_u16() {
            503 => 5,
            code => usize::from(code / 100).clamp(1, 5) - 1,
        };
        route.by_class[class].inc();
        route.seconds.observe(took.as_secs_f64());
        name
    }

    fn route(&self, path: &str) -> (&str, &Route) {
        if let Some((name, route)) = self.exact.get_key_value(path) {
            return (name, route);
        }
        let by_prefix = self.prefixes.iter().find(|(prefix, _)| path.starts_with(prefix));
        by_prefix.map_or(("other", &self.other), |(prefix, route)| (*prefix, route))
    }

    /// The text that `/metrics` sends.
    ///
    /// # Errors
    /// When a series cannot be written.
    pub(crate) fn text(&self) -> prometheus::Result<Vec<u8>> {
        let mut text = Vec::new();
        TextEncoder::new().encode(&self.registry.gather(), &mut text)?;
        Ok(text)
    }
}
