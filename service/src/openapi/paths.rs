//! The document's paths.

use std::collections::HashMap;

use serde_json::{Map, Value, json};

use super::{tag, unit_sentence};
use crate::bulk::batch::MOST_ITEMS;
use crate::bulk::stream;
use crate::calculation::Entry;
use crate::shape::{Field, Shape};

/// The paths of one calculation, all its forms.
pub(super) fn calculation(entry: &Entry, components: &HashMap<String, Value>, paths: &mut Map<String, Value>) {
    let name = entry.path.trim_start_matches("/v1/").replace(['/', '-'], "_");
    let reference = |name: &str| json!({"$ref": format!("#/components/schemas/{name}")});
    let request = (entry.request)();
    let parameters = components
        .get(request.as_ref())
        .and_then(|schema| Shape::compile(schema, components).ok())
        .map_or_else(Vec::new, |shape| parameters(&shape));
    let answer = json!({
        "description": "The answer.",
        "content": {"application/json": {"schema": reference(&(entry.response)())}},
    });
    let example: Value = serde_json::from_str(entry.example).unwrap_or_default();
    let operation = |form: &str, summary: String, parameters: &[Value], answer: &Value, statuses: &[u16]| {
        let mut responses = Map::from_iter([("200".to_owned(), answer.clone())]);
        let statuses = [401].iter().chain(statuses);
        responses.extend(statuses.map(|status| (status.to_string(), problem_response(*status))));
        json!({
            "operationId": format!("{name}{form}"),
            "tags": [tag(entry.path)],
            "summary": summary,
            "description": format!("{} Methods: {}.", entry.description, entry.methods.join(", ")),
            "parameters": parameters,
            "responses": responses,
        })
    };
    let mut single = operation("", entry.summary.to_owned(), &[], &answer, &[400, 408, 413, 415, 422, 500]);
    single["requestBody"] = json!({
        "required": true,
        "content": {"application/json": {"schema": reference(&request), "example": example}},
    });
    bulk(entry, &operation, paths);
    if entry.has_csv() {
        let text = json!({"type": "string", "description": "A header of dotted names with their units, then rows; the last column is error."});
        let answer = json!({"description": "The answer as a table.", "content": {"text/csv": {"schema": text}}});
        let summary = format!("{} (as CSV)", entry.summary);
        let mut post = operation("_csv", summary, &[], &answer, &[400, 408, 413, 415, 422, 500]);
        post["requestBody"] = single["requestBody"].clone();
        paths.insert(format!("{}/csv", entry.path), json!({"post": post}));
    }
    if !entry.has_query {
        let described = single["description"].as_str().unwrap_or_default();
        single["description"] =
            format!("{described} Its input is a list or a network, so it has no query form.").into();
        paths.insert(entry.path.to_owned(), json!({"post": single}));
        return;
    }
    let twin = operation("_query", format!("{} (as a query)", entry.summary), &parameters, &answer, &[422, 500]);
    let mut controls = value_controls(entry.default_field);
    controls.extend(parameters);
    let text = json!({
        "description": "The bare value, or several with commas between them; no line end.",
        "content": {"text/plain": {"schema": {"type": "string"}}},
    });
    let value = operation("_value", format!("{} (one value)", entry.summary), &controls, &text, &[422, 500]);
    paths.insert(entry.path.to_owned(), json!({"post": single, "get": twin}));
    paths.insert(format!("{}/value", entry.path), json!({"get": value}));
}

/// The query's parameters: the leaves of the body, as plain strings.
fn parameters(shape: &Shape) -> Vec<Value> {
    let parameter = |(name, field, required): (String, &Field, bool)| {
        let mut schema = json!({"type": "string"});
        let mut note = field.description.clone();
        match &field.shape {
            Shape::Choice(choices) => schema["enum"] = json!(choices),
            Shape::Whole => schema = json!({"type": "integer", "format": "int32", "minimum": 0}),
            Shape::Boolean => schema = json!({"type": "boolean"}),
            Shape::Quantity(kind) => {
                schema["x-unit"] = json!({"inch": kind.units[0], "metric": kind.units[1]});
                note = format!("{note} {}", unit_sentence(&schema["x-unit"]));
            }
            Shape::List { .. } => note.push_str(" Several are separated by commas."),
            Shape::Text { .. } | Shape::Object(_) | Shape::Anything => {}
        }
        json!({"name": name, "in": "query", "required": required, "description": note.trim(), "schema": schema})
    };
    shape.leaves().into_iter().map(parameter).collect()
}

fn value_controls(default_field: &str) -> Vec<Value> {
    let control = |name: &str, description: String, schema: Value| json!({"name": name, "in": "query", "required": false, "description": description, "schema": schema});
    vec![
        control(
            "field",
            format!("Dotted name of the result wanted; {default_field} when none is named."),
            json!({"type": "string"}),
        ),
        control("fields", "Several results, separated by commas.".to_owned(), json!({"type": "string"})),
        control(
            "errors",
            "inline: faults come as one line of text with status 200, for cells that lose the body of any other status."
                .to_owned(),
            json!({"type": "string", "enum": ["inline"]}),
        ),
    ]
}

fn problem_response(status: u16) -> Value {
    let title = crate::problem::ALL.iter().find(|kind| kind.status == status).map_or("A problem", |kind| kind.title);
    json!({
        "description": title,
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/ProblemDocument"}}},
    })
}

/// The service's own paths.
pub(super) fn service() -> Map<String, Value> {
    let get = |id: &str, tag: &str, summary: &str, media: &str, schema: Value| {
        json!({"get": {
            "operationId": id,
            "tags": [tag],
            "summary": summary,
            // Open even where tokens are configured; metrics alone are not.
            "security": if id == "metrics" { json!([{}, {"token": []}]) } else { json!([{}]) },
            "responses": {"200": {"description": summary, "content": {media: {"schema": schema}}}},
        }})
    };
    let text = || json!({"type": "string"});
    let reference = |name: &str| json!({"$ref": format!("#/components/schemas/{name}")});
    let named = |mut path: Value, name: &str, description: &str| {
        path["get"]["parameters"] = json!([{"name": name, "in": "path", "required": true, "description": description, "schema": {"type": "string"}}]);
        path["get"]["responses"]["404"] = problem_response(404);
        path
    };
    let mut ready = get("ready", "service", "Takes requests; 503 while it is stopping", "text/plain", text());
    ready["get"]["responses"]["503"] = json!({
        "description": "The service is stopping.", "content": {"text/plain": {"schema": {"type": "string"}}},
    });
    let workbook = get(
        "workbook",
        "service",
        "A spreadsheet of all calculations that fit a cell, calling the address it was fetched from",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        json!({"type": "string", "format": "binary"}),
    );
    Map::from_iter([
        (
            "/v1/builds/places".to_owned(),
            get(
                "builds_places",
                "builds",
                "Every number of a build sheet and of its answer by pointer, with its unit",
                "application/json",
                reference("Places"),
            ),
        ),
        ("/v1/methods".to_owned(), get("methods", "methods", "All methods", "application/json", reference("Methods"))),
        (
            "/v1/methods/{id}".to_owned(),
            named(
                get(
                    "method",
                    "methods",
                    "One method: equation, range, source, checks",
                    "application/json",
                    reference("MethodPage"),
                ),
                "id",
                "Identifier of the method, as answers name it.",
            ),
        ),
        (
            "/problems/{slug}".to_owned(),
            named(
                get("problem", "service", "What a kind of problem means", "text/html", text()),
                "slug",
                "Last part of the problem's type.",
            ),
        ),
        ("/v1/workbook.xlsx".to_owned(), workbook),
        ("/healthz".to_owned(), get("health", "service", "The process is alive", "text/plain", text())),
        ("/readyz".to_owned(), ready),
        (
            "/metrics".to_owned(),
            get("metrics", "service", "Counts in the Prometheus text format", "text/plain", text()),
        ),
    ])
}

/// Name of the calculation in its bulk schemas: `StaticRequest` gives `Static`.
fn stem(entry: &Entry) -> String {
    (entry.request)().trim_end_matches("Request").to_owned()
}

/// The forms for many requests at once.
fn bulk(
    entry: &Entry,
    operation: &impl Fn(&str, String, &[Value], &Value, &[u16]) -> Value,
    paths: &mut Map<String, Value>,
) {
    let stem = stem(entry);
    let reference = |part: &str| json!({"$ref": format!("#/components/schemas/{stem}{part}")});
    let content = |media: &str, schema: Value| json!({media: {"schema": schema}});
    let mut form = |suffix: &str, title: &str, media: &str, request: Value, answer: Value, parameters: &[Value]| {
        let answer = json!({"description": "The answers, in order.", "content": content(media, answer)});
        let statuses = [400, 408, 413, 415, 422, 500, 503];
        let summary = format!("{} ({title})", entry.summary);
        let mut post = operation(&format!("_{suffix}"), summary, parameters, &answer, &statuses);
        post["requestBody"] = json!({"required": true, "content": content(media, request)});
        paths.insert(format!("{}/{suffix}", entry.path), json!({"post": post}));
    };
    form("batch", "many at once", "application/json", reference("BatchRequest"), reference("BatchResponse"), &[]);
    form("stream", "endless lines", stream::MEDIA, reference("Item"), reference("Outcome"), &[]);
    if entry.has_query {
        let table = |text: &str| json!({"type": "string", "description": text});
        let control = |name: &str, only: &str, text: &str| {
            json!({"name": name, "in": "query", "required": false, "description": text,
                   "schema": {"type": "string", "enum": [only]}})
        };
        let units = json!({"name": "units", "in": "query", "required": false,
            "description": "Unit system of every row, instead of a column; like any other field that is the same in all rows.",
            "schema": {"type": "string", "enum": ["inch", "metric"]}});
        let controls = [
            units,
            control("dec", "comma", "comma: semicolons between fields and decimal commas, in and out."),
            control(
                "errors",
                "inline",
                "inline: a refusal of the whole table comes as a table of one cell, status 200.",
            ),
        ];
        let request = table("A header of dotted field names, each optionally with a unit: bore [mm]; then rows.");
        let answer = table("The same rows and columns, then one column per result, the codes of cautions, and error.");
        form("table", "a CSV table", "text/csv", request, answer, &controls);
    }
}

/// The schemas of the bulk forms of one calculation.
pub(super) fn bulk_schemas(entry: &Entry) -> Vec<(String, Value)> {
    let stem = stem(entry);
    let reference = |name: &str| json!({"$ref": format!("#/components/schemas/{name}")});
    let described =
        |name: &str, text: &str| json!({"$ref": format!("#/components/schemas/{name}"), "description": text});
    let id = json!({"type": "string", "maxLength": 200, "description": "An identifier of the caller's, given back."});
    let line = json!({"type": "integer", "format": "int64", "minimum": 1, "description": "Number of the item or line, from 1."});
    let item = json!({
        "type": "object",
        "description": "One request among many.",
        "required": ["request"],
        "properties": {"id": id, "request": described(&(entry.request)(), "The request.")},
        "additionalProperties": false,
    });
    let outcome = json!({
        "type": "object",
        "description": "What became of one item: a result or a problem. A stream ends with an outcome of type summary; while a \
                        long calculation runs, outcomes of type progress tell how far it is.",
        "required": ["type"],
        "properties": {
            "type": {"type": "string", "enum": ["result", "error", "progress", "summary"], "description": "Which it is."},
            "line": line,
            "id": id,
            "result": described(&(entry.response)(), "The answer, when type is result."),
            "problem": described("ProblemDocument", "The problem, when type is error."),
            "done": {"type": "number", "format": "double", "x-unit": {"inch": "1", "metric": "1"},
                     "description": "Share of the line's work that is done, from 0 to 1, when type is progress."},
            "lines": {"type": "integer", "format": "int64", "description": "Lines seen, when type is summary."},
            "ok": {"type": "integer", "format": "int64", "description": "Results, when type is summary."},
            "failed": {"type": "integer", "format": "int64", "description": "Problems, when type is summary."},
        },
    });
    let items = json!({
        "type": "array", "minItems": 1, "maxItems": MOST_ITEMS, "items": reference(&format!("{stem}Item")),
        "description": "The requests.",
    });
    let outcomes = json!({
        "type": "array", "items": reference(&format!("{stem}Outcome")), "description": "One outcome per item, in order.",
    });
    vec![
        (format!("{stem}Item"), item),
        (format!("{stem}Outcome"), outcome),
        (
            format!("{stem}BatchRequest"),
            json!({"type": "object", "description": "Many requests.", "required": ["items"],
                   "properties": {"items": items}, "additionalProperties": false}),
        ),
        (
            format!("{stem}BatchResponse"),
            json!({"type": "object", "description": "Their outcomes.", "required": ["items", "summary"],
                   "properties": {"items": outcomes, "summary": described("BulkSummary", "How many there were.")}}),
        ),
    ]
}

/// The schema of a batch's summary.
pub(super) fn summary_schema() -> (String, Value) {
    let count = |text: &str| json!({"type": "integer", "format": "int64", "description": text});
    let schema = json!({
        "type": "object",
        "description": "How many items there were.",
        "required": ["lines", "ok", "failed"],
        "properties": {"lines": count("Items."), "ok": count("Answered with a result."), "failed": count("Answered with a problem.")},
    });
    ("BulkSummary".to_owned(), schema)
}
