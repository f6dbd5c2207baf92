//! `/v1/builds/places`: every number of a build sheet and of its answer by name.

use actix_web::HttpResponse;
use actix_web::http::header;
use serde::Serialize;
use serde_json::{Map, Value, json};
use utoipa::ToSchema;

use crate::wire::place::{Listed, inputs, results};

/// The numbers that calculations over a whole build may vary, want, limit or list.
#[derive(Debug, Serialize, ToSchema)]
pub struct Places {
    /// Of the build sheet, in its order; single readings of `measured` are lists and have no place.
    inputs: Vec<ListedPlace>,
    /// Of the answer to it, in its order; the list of cylinders has no place.
    results: Vec<ListedPlace>,
}

/// One number.
#[derive(Debug, Serialize, ToSchema)]
pub struct ListedPlace {
    /// JSON Pointer (RFC 6901) into the request or answer of `/v1/builds/evaluate`.
    pointer: String,
    /// What it measures.
    quantity: &'static str,
    /// The unit of a bare number there.
    unit: PlaceUnits,
    /// What it is.
    description: String,
}

/// A unit by system; "1" is a plain number.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlaceUnits {
    /// With `units` inch.
    inch: &'static str,
    /// With `units` metric.
    metric: &'static str,
}

impl ListedPlace {
    fn new(listed: Listed) -> Self {
        let [inch, metric] = listed.kind.units;
        Self {
            pointer: listed.pointer,
            quantity: listed.kind.quantity,
            unit: PlaceUnits { inch, metric },
            description: listed.description,
        }
    }
}

pub(crate) async fn list() -> HttpResponse {
    let places =
        Places { inputs: inputs().map(ListedPlace::new).collect(), results: results().map(ListedPlace::new).collect() };
    HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "public, max-age=3600")).json(places)
}

/// What the document lists beside the schema of a pointer: each with its unit by system.
pub(crate) fn pointers(schema: &str) -> Option<Value> {
    let with_units = |listed: Listed| {
        let [inch, metric] = listed.kind.units;
        (listed.pointer, json!({"inch": inch, "metric": metric}))
    };
    match schema {
        "InputPointer" => Some(Value::Object(inputs().map(with_units).collect::<Map<_, _>>())),
        "ResultPointer" => Some(Value::Object(results().map(with_units).collect::<Map<_, _>>())),
        _ => None,
    }
}
