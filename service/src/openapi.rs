//! The OpenAPI document: schemas from the Rust types, paths from the list of calculations.
//!
//! Passes over the generated schemas: optional does not mean `null` (the service refuses `null`), and every quantity carries
//! its unit, in `x-unit` and in words.

use std::collections::HashMap;

use serde_json::{Map, Value, json};
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::Schema;

use crate::calculation::Entry;
use crate::problem::ProblemDocument;
use crate::routes::{self, methods};
use crate::shape::Shape;

const DESCRIPTION: &str = "Engine-build calculations for machine shops: a build goes in as data, every consequence comes out \
    as data, each number with its unit, its equation, the source of the equation and a caution where it leaves the range that \
    the trade or a standard considers sound.\n\nEvery calculation is pure: equal requests get equal answers, so retry freely. \
    `units` decides the unit of every bare number; any quantity may instead be text with its unit, such as \"107.95 mm\". \
    Errors are problem documents (RFC 9457) that name every wrong field.\n\nNothing returned here replaces measuring the \
    actual parts, mocking the assembly up, the part maker's own limits, and a qualified machinist.";

/// The schemas of all calculations by name, before units are spelt out.
pub(crate) fn components() -> HashMap<String, Value> {
    let mut schemas = Vec::new();
    for entry in routes::CALCULATIONS {
        (entry.schemas)(&mut schemas);
    }
    add_type::<ProblemDocument>(&mut schemas);
    add_type::<methods::MethodPage>(&mut schemas);
    add_type::<methods::Methods>(&mut schemas);
    schemas
        .into_iter()
        .map(|(name, schema)| {
            let mut schema = serde_json::to_value(schema).unwrap_or_default();
            without_null(&mut schema);
            (name, schema)
        })
        .collect()
}

/// A type's schema, and those of the types inside it.
pub(crate) fn add_type<T: ToSchema>(schemas: &mut Vec<(String, RefOr<Schema>)>) {
    schemas.push((T::name().into_owned(), T::schema()));
    T::schemas(schemas);
}

/// `T or null` becomes `T`.
fn without_null(schema: &mut Value) {
    match schema {
        Value::Object(fields) => {
            if let Some(Value::Array(types)) = fields.get_mut("type") {
                types.retain(|kind| kind != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    fields.insert("type".to_owned(), only);
                }
            }
            if let Some(Value::Array(choices)) = fields.get_mut("oneOf") {
                choices.retain(|choice| choice["type"] != "null");
            }
            // A choice of one is no choice: its parts move up.
            if let Some(Value::Array(choices)) = fields.get("oneOf")
                && let [Value::Object(only)] = choices.as_slice()
            {
                let only = only.clone();
                fields.remove("oneOf");
                fields.extend(only);
            }
            // Comments break lines; descriptions need not.
            if let Some(Value::String(text)) = fields.get_mut("description") {
                *text = text.replace('\n', " ");
            }
            fields.values_mut().for_each(without_null);
        }
        Value::Array(items) => items.iter_mut().for_each(without_null),
        _ => {}
    }
}

/// The whole document.
#[must_use]
pub fn document() -> Value {
    let components = components();
    let mut schemas: Vec<_> = components.iter().filter(|(name, _)| !is_output(name)).collect();
    schemas.sort_by_key(|(name, _)| name.as_str());
    let schemas: Map<String, Value> = schemas
        .into_iter()
        .map(|(name, schema)| {
            let mut schema = schema.clone();
            spell_units(&mut schema, &components);
            (name.clone(), schema)
        })
        .collect();
    let mut paths = Map::new();
    for entry in routes::CALCULATIONS {
        calculation_paths(entry, &components, &mut paths);
    }
    paths.extend(service_paths());
    let mut tags: Vec<&str> = routes::CALCULATIONS.iter().map(|entry| tag(entry.path)).collect();
    tags.dedup();
    let describe = |name: &str| json!({"name": name, "description": tag_description(name)});
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Blockwright",
            "version": env!("CARGO_PKG_VERSION"),
            "description": DESCRIPTION,
            "license": {"name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0"},
        },
        "servers": [{"url": "/", "description": "The service that sent this document."}],
        "tags": tags.into_iter().chain(["methods", "service"]).map(describe).collect::<Vec<_>>(),
        "paths": paths,
        "components": {"schemas": schemas},
    })
}

/// The document as text, as committed and as served.
#[must_use]
pub fn text() -> String {
    let mut text = serde_json::to_string_pretty(&document()).unwrap_or_default();
    text.push('\n');
    text
}

/// Output quantities are plain numbers: they are written in place, not referred to.
fn is_output(name: &str) -> bool {
    name.ends_with("Output")
}

fn spell_units(schema: &mut Value, components: &HashMap<String, Value>) {
    match schema {
        Value::Object(fields) => {
            let target = fields.get("$ref").and_then(Value::as_str).and_then(|path| path.rsplit('/').next());
            let target = target.and_then(|name| components.get(name).map(|schema| (name.to_owned(), schema)));
            if let Some((name, target)) = target
                && target.get("x-unit").is_some()
            {
                let units = &target["x-unit"];
                let described = fields.get("description").and_then(Value::as_str).unwrap_or_default();
                let described = format!("{described} {}", unit_sentence(units)).trim().to_owned();
                if is_output(&name) {
                    fields.remove("$ref");
                    for key in ["type", "format"] {
                        fields.insert(key.to_owned(), target[key].clone());
                    }
                }
                fields.insert("description".to_owned(), described.into());
                fields.insert("x-unit".to_owned(), units.clone());
                return;
            }
            fields.values_mut().for_each(|value| spell_units(value, components));
        }
        Value::Array(items) => items.iter_mut().for_each(|value| spell_units(value, components)),
        _ => {}
    }
}

fn unit_sentence(units: &Value) -> String {
    match (units["inch"].as_str().unwrap_or_default(), units["metric"].as_str().unwrap_or_default()) {
        ("1", "1") => "Without a unit.".to_owned(),
        (inch, metric) if inch == metric => format!("Unit: {inch}."),
        (inch, metric) => format!("Unit: {inch} with inch, {metric} with metric."),
    }
}

fn tag(path: &str) -> &str {
    path.split('/').nth(2).unwrap_or("service")
}

fn tag_description(tag: &str) -> &'static str {
    match tag {
        "geometry" => "Bore, stroke, deck and the motion of the piston.",
        "compression" => "Volumes above the piston and the ratios they make.",
        "builds" => "The whole build sheet.",
        "methods" => "Equations, their ranges, sources and published checks.",
        _ => "The service itself.",
    }
}

fn calculation_paths(entry: &Entry, components: &HashMap<String, Value>, paths: &mut Map<String, Value>) {
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
        responses.extend(statuses.iter().map(|status| (status.to_string(), problem_response(*status))));
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
    let parameter = |(name, field, required): (String, &crate::shape::Field, bool)| {
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
            Shape::Text { .. } | Shape::Object(_) => {}
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

fn service_paths() -> Map<String, Value> {
    let get = |id: &str, tag: &str, summary: &str, media: &str, schema: Value| {
        json!({"get": {
            "operationId": id,
            "tags": [tag],
            "summary": summary,
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
    Map::from_iter([
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
        ("/healthz".to_owned(), get("health", "service", "The process is alive", "text/plain", text())),
        ("/readyz".to_owned(), ready),
        (
            "/metrics".to_owned(),
            get("metrics", "service", "Counts in the Prometheus text format", "text/plain", text()),
        ),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_types_share_a_name() {
        let mut schemas = Vec::new();
        for entry in routes::CALCULATIONS {
            (entry.schemas)(&mut schemas);
        }
        add_type::<ProblemDocument>(&mut schemas);
        add_type::<methods::MethodPage>(&mut schemas);
        add_type::<methods::Methods>(&mut schemas);
        let mut seen: HashMap<String, Value> = HashMap::new();
        for (name, schema) in schemas {
            let schema = serde_json::to_value(schema).unwrap();
            let earlier = seen.entry(name.clone()).or_insert_with(|| schema.clone());
            assert_eq!(*earlier, schema, "{name} names two types");
        }
    }
}
