//! The OpenAPI document: committed as generated, and complete.

use std::process::Command;

use serde_json::Value;
use tests::{binary, root};

fn document() -> Value {
    let output = Command::new(binary()).arg("openapi").output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_committed_document_is_the_generated_one() {
    let generated = Command::new(binary()).arg("openapi").output().unwrap().stdout;
    let committed = std::fs::read(root().join("openapi/openapi.json")).unwrap();
    assert!(
        generated == committed,
        "openapi/openapi.json is out of date: cargo run -p service -- openapi > openapi/openapi.json"
    );
}

#[test]
fn every_property_is_described_and_every_number_has_its_unit() {
    let document = document();
    let mut numbers = 0;
    for (name, schema) in document["components"]["schemas"].as_object().unwrap() {
        let described = |value: &Value| value["description"].as_str().is_some_and(|text| !text.is_empty());
        assert!(described(schema) || !schema["properties"].is_object(), "{name} has no description");
        for (property, schema) in schema["properties"].as_object().into_iter().flatten() {
            assert!(described(schema), "{name}.{property} has no description");
            let quantity = schema["type"] == "number"
                || schema["$ref"].as_str().is_some_and(|reference| {
                    let target = reference.rsplit('/').next().unwrap();
                    document["components"]["schemas"][target]["x-unit"].is_object()
                });
            if quantity && name != "PublishedCheck" {
                numbers += 1;
                let (inch, metric) = (&schema["x-unit"]["inch"], &schema["x-unit"]["metric"]);
                assert!(inch.is_string() && metric.is_string(), "{name}.{property} has no unit");
            }
        }
    }
    assert!(numbers > 60);
}

#[test]
fn nothing_in_it_trips_a_generator() {
    let text = document().to_string();
    for construct in ["\"null\"", "\"anyOf\"", "\"allOf\"", "prefixItems", "discriminator", "\"default\":"] {
        assert!(!text.contains(construct), "{construct} is in the document");
    }
    fn check(value: &Value) {
        if value["type"] == "number" {
            assert_eq!(value["format"], "double");
        }
        if let Some(reference) = value["$ref"].as_str() {
            assert!(reference.starts_with("#/components/schemas/"));
        }
        match value {
            Value::Object(fields) => fields.values().for_each(check),
            Value::Array(items) => items.iter().for_each(check),
            _ => {}
        }
    }
    check(&document());
}

#[test]
fn requests_are_closed_and_every_reference_leads_somewhere() {
    let document = document();
    let schemas = document["components"]["schemas"].as_object().unwrap();
    let mut references = Vec::new();
    fn collect(value: &Value, references: &mut Vec<String>) {
        if let Some(reference) = value["$ref"].as_str() {
            references.push(reference.rsplit('/').next().unwrap().to_owned());
        }
        match value {
            Value::Object(fields) => fields.values().for_each(|value| collect(value, references)),
            Value::Array(items) => items.iter().for_each(|value| collect(value, references)),
            _ => {}
        }
    }
    collect(&document, &mut references);
    for reference in references {
        assert!(schemas.contains_key(&reference), "{reference} is missing");
    }
    for (name, schema) in schemas {
        if name.ends_with("Request") {
            assert_eq!(schema["additionalProperties"], false, "{name} takes unknown fields");
        }
    }
}
