//! The OpenAPI document: schemas from the Rust types, paths from the list of calculations.
//!
//! Passes over the generated schemas: optional does not mean `null` (the service refuses `null`), and every quantity carries
//! its unit, in `x-unit` and in words.

mod paths;
mod results;

use std::collections::HashMap;

use serde_json::{Map, Value, json};
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::Schema;

use crate::problem::ProblemDocument;
use crate::routes::builds::places;
use crate::routes::{self, methods};

const DESCRIPTION: &str = "Engine-build calculations for machine shops: a build goes in as data, every consequence comes out \
    as data, each number with its unit, its equation, the source of the equation and a caution where it leaves the range that \
    the trade or a standard considers sound.\n\nEvery calculation is pure: equal requests get equal answers, so retry freely. \
    `units` decides the unit of every bare number; any quantity may instead be text with its unit, such as \"107.95 mm\". \
    Errors are problem documents (RFC 9457) that name every wrong field.\n\nNothing returned here replaces measuring the \
    actual parts, mocking the assembly up, the part maker's own limits, and a qualified machinist.";

/// The schemas of all calculations by name, before units are spelt out.
pub(crate) fn components() -> HashMap<String, Value> {
    by_name(types())
}

/// The schemas that are added, by name.
pub(crate) fn components_of(add: fn(&mut Vec<(String, RefOr<Schema>)>)) -> HashMap<String, Value> {
    let mut types = Vec::new();
    add(&mut types);
    by_name(types)
}

fn by_name(types: Vec<(String, RefOr<Schema>)>) -> HashMap<String, Value> {
    let typed = |(name, schema)| {
        let mut schema = serde_json::to_value(schema).unwrap_or_default();
        without_null(&mut schema);
        (name, schema)
    };
    // Each once, whoever uses it.
    types.into_iter().collect::<HashMap<_, _>>().into_iter().map(typed).collect()
}

/// Every type of the document, the shared ones as often as they are used.
fn types() -> Vec<(String, RefOr<Schema>)> {
    let mut types = Vec::new();
    for entry in routes::CALCULATIONS {
        (entry.schemas)(&mut types);
    }
    add_type::<ProblemDocument>(&mut types);
    add_type::<methods::MethodPage>(&mut types);
    add_type::<methods::Methods>(&mut types);
    add_type::<places::Places>(&mut types);
    types
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

pub(crate) use results::results;

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
            if let Some(pointers) = places::pointers(name) {
                schema["x-pointers"] = pointers;
            }
            (name.clone(), schema)
        })
        .chain(routes::CALCULATIONS.iter().flat_map(paths::bulk_schemas))
        .chain([paths::summary_schema()])
        .collect();
    let mut paths = Map::new();
    for entry in routes::CALCULATIONS {
        paths::calculation(entry, &components, &mut paths);
    }
    paths.extend(paths::service());
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
        // Open unless whoever runs the service has configured tokens.
        "security": [{}, {"token": []}],
        "components": {
            "schemas": schemas,
            "securitySchemes": {"token": {
                "type": "http",
                "scheme": "bearer",
                "description": "Needed for calculations and metrics where whoever runs the service has configured tokens.",
            }},
        },
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
        "oil" => "What oil is at a temperature, and where it goes.",
        "builds" => "The whole build sheet.",
        "methods" => "Equations, their ranges, sources and published checks.",
        _ => "The service itself.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_types_share_a_name() {
        let mut seen: HashMap<String, Value> = HashMap::new();
        for (name, schema) in types() {
            let schema = serde_json::to_value(schema).unwrap();
            let earlier = seen.entry(name.clone()).or_insert_with(|| schema.clone());
            assert_eq!(*earlier, schema, "{name} names two types");
        }
        // The schemas of the forms for many requests are made up beside the types and must not hide one.
        for (name, _) in routes::CALCULATIONS.iter().flat_map(paths::bulk_schemas).chain([paths::summary_schema()]) {
            assert!(!seen.contains_key(&name), "{name} names a type and a schema of batches");
        }
    }
}
