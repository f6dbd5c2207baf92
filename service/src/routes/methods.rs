//! `/v1/methods`: what every calculation rests on, and the published values it is checked against.

use std::sync::LazyLock;

use actix_web::{HttpResponse, web};
use calc_core::method::{self, Method};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::internal;
use crate::problem::{self, Problem};

/// The checks that the test suite runs, as data: the pages cannot drift from them.
pub const PUBLISHED: &[(&str, &str)] = &[
    ("geometry/displacement", include_str!("../../../fixtures/published/geometry/displacement.json")),
    ("geometry/deck_stack", include_str!("../../../fixtures/published/geometry/deck_stack.json")),
    ("geometry/piston_motion", include_str!("../../../fixtures/published/geometry/piston_motion.json")),
    ("geometry/manifold_fit", include_str!("../../../fixtures/published/geometry/manifold_fit.json")),
    ("geometry/valve_to_piston", include_str!("../../../fixtures/published/geometry/valve_to_piston.json")),
    ("geometry/bore_survey", include_str!("../../../fixtures/published/geometry/bore_survey.json")),
    ("geometry/deck_survey", include_str!("../../../fixtures/published/geometry/deck_survey.json")),
    ("geometry/line_hone", include_str!("../../../fixtures/published/geometry/line_hone.json")),
    ("compression/static", include_str!("../../../fixtures/published/compression/static.json")),
    ("compression/target", include_str!("../../../fixtures/published/compression/target.json")),
    ("compression/measured_volume", include_str!("../../../fixtures/published/compression/measured_volume.json")),
    ("compression/flat_mill", include_str!("../../../fixtures/published/compression/flat_mill.json")),
    ("compression/tolerance", include_str!("../../../fixtures/published/compression/tolerance.json")),
    ("compression/trapped", include_str!("../../../fixtures/published/compression/trapped.json")),
    ("compression/end_state", include_str!("../../../fixtures/published/compression/end_state.json")),
    ("compression/knock_margin", include_str!("../../../fixtures/published/compression/knock_margin.json")),
    ("oil/properties", include_str!("../../../fixtures/published/oil/properties.json")),
    ("oil/restrictor", include_str!("../../../fixtures/published/oil/restrictor.json")),
    ("oil/circuit", include_str!("../../../fixtures/published/oil/circuit.json")),
    ("oil/budget", include_str!("../../../fixtures/published/oil/budget.json")),
    ("builds/evaluate", include_str!("../../../fixtures/published/builds/evaluate.json")),
    ("builds/compare", include_str!("../../../fixtures/published/builds/compare.json")),
    ("builds/goal", include_str!("../../../fixtures/published/builds/goal.json")),
    ("builds/tolerance", include_str!("../../../fixtures/published/builds/tolerance.json")),
    ("builds/sweep", include_str!("../../../fixtures/published/builds/sweep.json")),
    ("builds/fit", include_str!("../../../fixtures/published/builds/fit.json")),
    ("builds/operations", include_str!("../../../fixtures/published/builds/operations.json")),
];

/// All methods.
#[derive(Debug, Serialize, ToSchema)]
pub struct Methods {
    /// In the order of the job.
    methods: Vec<MethodSummary>,
}

/// One method in the list.
#[derive(Debug, Serialize, ToSchema)]
pub struct MethodSummary {
    /// Identifier, as answers name it.
    id: &'static str,
    /// What it gives.
    title: &'static str,
    /// Where its page is.
    href: String,
}

/// One method: equation, range, source, checks.
#[derive(Debug, Serialize, ToSchema)]
pub struct MethodPage {
    /// Identifier, as answers name it.
    id: &'static str,
    /// What it gives.
    title: &'static str,
    /// The equation in plain text, symbols explained.
    equation: &'static str,
    /// Where it holds, and what happens outside.
    valid_for: &'static str,
    /// Textbooks and standards, with the place in them.
    sources: &'static [&'static str],
    /// Published values that the test suite compares with.
    checks: Vec<PublishedCheck>,
}

/// One published value.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PublishedCheck {
    /// Where the value is printed; "common practice" or "from memory" where that is so.
    source: String,
    /// Path of the calculation.
    calculation: String,
    /// JSON Pointer (RFC 6901) of the result in the answer.
    pointer: String,
    /// The value as printed.
    value: f64,
    /// How far the answer may be from it: half the last printed digit, or the method's own difference.
    within: f64,
}

/// A file of `fixtures/published`.
#[derive(Deserialize)]
struct PublishedFile {
    path: String,
    checks: Vec<PublishedCase>,
}

#[derive(Deserialize)]
struct PublishedCase {
    source: String,
    method: String,
    expect: Vec<Expected>,
}

#[derive(Deserialize)]
struct Expected {
    pointer: String,
    value: f64,
    within: f64,
}

type ChecksByMethod = Vec<(String, PublishedCheck)>;

static CHECKS: LazyLock<Result<ChecksByMethod, String>> = LazyLock::new(|| {
    let mut checks = Vec::new();
    for (name, text) in PUBLISHED {
        let file: PublishedFile = serde_json::from_str(text).map_err(|error| format!("{name}: {error}"))?;
        for case in file.checks {
            let check = |expected: Expected| PublishedCheck {
                source: case.source.clone(),
                calculation: file.path.clone(),
                pointer: expected.pointer,
                value: expected.value,
                within: expected.within,
            };
            checks.extend(case.expect.into_iter().map(|expected| (case.method.clone(), check(expected))));
        }
    }
    Ok(checks)
});

pub(crate) async fn list() -> HttpResponse {
    let summary = |method: &Method| MethodSummary {
        id: method.id,
        title: method.title,
        href: format!("/v1/methods/{}", method.id),
    };
    HttpResponse::Ok().json(Methods { methods: method::ALL.iter().map(summary).collect() })
}

pub(crate) async fn page(id: web::Path<String>) -> Result<HttpResponse, Problem> {
    let Some(method) = method::ALL.iter().find(|method| method.id == *id) else {
        return Err(Problem::new(problem::NOT_FOUND, "There is no method of this name; /v1/methods lists them."));
    };
    let checks = CHECKS.as_ref().map_err(|message| internal(message))?;
    let checks = checks.iter().filter(|(name, _)| name == method.id).map(|(_, check)| check.clone()).collect();
    Ok(HttpResponse::Ok().json(MethodPage {
        id: method.id,
        title: method.title,
        equation: method.equation,
        valid_for: method.valid_for,
        sources: method.sources,
        checks,
    }))
}
