//! The query twin: dotted names become the same JSON that a body would hold.

use serde_json::{Map, Value};

use crate::problem::{FieldError, Problem};
use crate::shape::{Field, Shape, fault, unknown_field};

/// The pairs of a query string, percent signs decoded.
pub(crate) fn pairs(query: &str) -> Vec<(String, String)> {
    form_urlencoded::parse(query.as_bytes()).into_owned().collect()
}

/// The request that the pairs spell, every fault of their names at once.
pub(crate) fn request(shape: &Shape, pairs: &[(String, String)]) -> Result<Value, Problem> {
    let leaves = shape.leaves();
    let mut request = Map::new();
    let mut faults: Vec<FieldError> = Vec::new();
    for (index, (name, text)) in pairs.iter().enumerate() {
        let pointer = format!("#/{}", name.replace('.', "/"));
        if pairs[..index].iter().any(|(earlier, _)| earlier == name) {
            faults.push(fault(&pointer, "duplicate_field", "stands twice; give it once.".to_owned()));
            continue;
        }
        match leaves.iter().find(|(leaf, _, _)| leaf == name) {
            Some((_, field, _)) => insert(&mut request, name, json(field, text)),
            None => faults.push(unknown_field(&pointer, name, leaves.iter().map(|(leaf, _, _)| leaf.as_str()))),
        }
    }
    fill_required_objects(shape, &mut request);
    if faults.is_empty() {
        return Ok(Value::Object(request));
    }
    // The names are wrong: say with them what else is, as far as the right names tell.
    faults.extend(shape.faults(&Value::Object(request)));
    Err(Problem::invalid(faults).in_query())
}

/// A query cannot spell an empty object, so a required one counts as present: its own required fields are then missing.
fn fill_required_objects(shape: &Shape, request: &mut Map<String, Value>) {
    if let Shape::Object(fields) = shape {
        for field in fields.iter().filter(|field| field.required && matches!(field.shape, Shape::Object(_))) {
            request.entry(field.name.clone()).or_insert_with(|| Value::Object(Map::new()));
        }
    }
}

fn insert(request: &mut Map<String, Value>, name: &str, value: Value) {
    match name.split_once('.') {
        None => {
            request.insert(name.to_owned(), value);
        }
        Some((parent, rest)) => {
            let inner = request.entry(parent.to_owned()).or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(inner) = inner {
                insert(inner, rest, value);
            }
        }
    }
}

/// The text as the type its place wants; what does not fit stays text and is refused by the walk, in words.
fn json(field: &Field, text: &str) -> Value {
    scalar(&field.shape, text)
}

fn scalar(shape: &Shape, text: &str) -> Value {
    let trimmed = text.trim();
    match shape {
        Shape::Whole => trimmed.parse::<u32>().map_or_else(|_| text.into(), Value::from),
        Shape::Boolean => trimmed.parse::<bool>().map_or_else(|_| text.into(), Value::from),
        Shape::List { item, .. } => trimmed.split(',').map(|part| scalar(item, part)).collect(),
        Shape::Choice(_) => trimmed.into(),
        Shape::Quantity(_) | Shape::Text { .. } | Shape::Object(_) | Shape::Anything => text.into(),
    }
}
