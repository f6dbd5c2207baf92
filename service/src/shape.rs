//! The shape of a request, compiled from its published schema, and the walk that names everything that does not fit it.
//!
//! The walk runs only when the typed reader has refused a body: good requests do not pay for it.

use std::collections::HashMap;

use serde_json::Value;

use crate::problem::FieldError;
use crate::strict_json::escape;
use crate::wire::place::ANY;
use crate::wire::quantity::{KINDS, Kind, is_sound, too_small};

/// What a place in the request may hold.
#[derive(Clone)]
pub(crate) enum Shape {
    Object(Vec<Field>),
    List {
        item: Box<Shape>,
        most: usize,
    },
    Quantity(&'static Kind),
    Whole,
    Boolean,
    Text {
        longest: usize,
    },
    Choice(Vec<String>),
    /// Judged elsewhere.
    Anything,
}

/// A named place in an object.
#[derive(Clone)]
pub(crate) struct Field {
    pub(crate) name: String,
    pub(crate) required: bool,
    pub(crate) shape: Shape,
    pub(crate) description: String,
}

/// Faults beyond this many are not listed: the first hundred are enough to work on.
const MOST_FAULTS: usize = 100;

impl Shape {
    /// Compiles a schema; `components` are the document's schemas by name.
    pub(crate) fn compile(schema: &Value, components: &HashMap<String, Value>) -> Result<Self, String> {
        if let Some(reference) = schema["$ref"].as_str() {
            let name = reference.rsplit('/').next().unwrap_or_default();
            if let Some(kind) = KINDS.iter().chain([&ANY]).find(|kind| kind.schema == name) {
                return Ok(Self::Quantity(kind));
            }
            let target = components.get(name).ok_or_else(|| format!("{name} is not a schema of the document"))?;
            return Self::compile(target, components);
        }
        if let Some(choices) = schema["enum"].as_array() {
            return Ok(Self::Choice(choices.iter().filter_map(Value::as_str).map(ToOwned::to_owned).collect()));
        }
        let size = |name: &str| schema[name].as_u64().map_or(usize::MAX, |most| most as usize);
        match schema["type"].as_str() {
            Some("object") => Self::compile_object(schema, components),
            Some("array") => {
                Ok(Self::List { item: Box::new(Self::compile(&schema["items"], components)?), most: size("maxItems") })
            }
            Some("integer") => Ok(Self::Whole),
            Some("boolean") => Ok(Self::Boolean),
            Some("string") => Ok(Self::Text { longest: size("maxLength") }),
            other => Err(format!("a request may not hold a schema of type {other:?}: {schema}")),
        }
    }

    fn compile_object(schema: &Value, components: &HashMap<String, Value>) -> Result<Self, String> {
        let required: Vec<_> = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        let properties = schema["properties"].as_object().ok_or("an object needs properties")?;
        let fields = properties.iter().map(|(name, property)| {
            Ok(Field {
                name: name.clone(),
                required: required.contains(&name.as_str()),
                shape: Self::compile(property, components)?,
                description: property["description"].as_str().unwrap_or_default().to_owned(),
            })
        });
        fields.collect::<Result<_, String>>().map(Self::Object)
    }

    /// Everything in `value` that does not fit.
    pub(crate) fn faults(&self, value: &Value) -> Vec<FieldError> {
        let mut faults = Vec::new();
        self.walk(value, "#", &mut faults);
        faults.truncate(MOST_FAULTS);
        faults
    }

    fn walk(&self, value: &Value, pointer: &str, faults: &mut Vec<FieldError>) {
        if faults.len() >= MOST_FAULTS {
            return;
        }
        if value.is_null() && !matches!(self, Self::Anything) {
            faults.push(fault(
                pointer,
                "null_not_allowed",
                "is null; leave a field out when there is no value for it.".to_owned(),
            ));
            return;
        }
        match (self, value) {
            (Self::Object(fields), Value::Object(_)) => walk_object(fields, value, pointer, faults),
            (Self::List { most, .. }, Value::Array(items)) if items.len() > *most => {
                faults.push(fault(
                    pointer,
                    "too_many",
                    format!("has {} entries; at most {most} are taken.", items.len()),
                ));
            }
            (Self::List { item, .. }, Value::Array(items)) => {
                for (index, entry) in items.iter().enumerate() {
                    item.walk(entry, &format!("{pointer}/{index}"), faults);
                }
            }
            (Self::Quantity(kind), Value::String(text)) => {
                if let Err(message) = (kind.check_text)(text) {
                    faults.push(fault(pointer, "bad_quantity", message));
                }
            }
            (Self::Quantity(_), Value::Number(number)) if !number.as_f64().is_some_and(is_sound) => {
                faults.push(fault(pointer, "bad_quantity", too_small(&number.to_string())));
            }
            (Self::Quantity(_), Value::Number(_)) | (Self::Boolean, Value::Bool(_)) | (Self::Anything, _) => {}
            (Self::Whole, Value::Number(number))
                if number.as_u64().is_some_and(|whole| u32::try_from(whole).is_ok()) => {}
            (Self::Text { longest }, Value::String(text)) => {
                let length = text.chars().count();
                if length > *longest {
                    faults.push(fault(
                        pointer,
                        "too_long",
                        format!("has {length} characters; at most {longest} are taken."),
                    ));
                }
            }
            (Self::Choice(choices), Value::String(text)) if choices.contains(text) => {}
            (Self::Choice(choices), Value::String(text)) => {
                let detail = format!("'{}' is not one of {}.", short(text), choices.join(", "));
                let names = choices.iter().map(String::as_str);
                faults
                    .push(FieldError { suggestion: suggest(text, names), ..fault(pointer, "unknown_choice", detail) });
            }
            _ => faults.push(fault(
                pointer,
                "wrong_type",
                format!("must be {}; got {}.", self.wanted(), described(value)),
            )),
        }
    }

    /// What the place wants, in words.
    fn wanted(&self) -> String {
        match self {
            Self::Object(_) => "an object".to_owned(),
            Self::List { .. } => "a list".to_owned(),
            Self::Quantity(kind) if kind.units[0] == kind.units[1] => {
                format!("a number ({}), or text with a unit", kind.units[0])
            }
            Self::Quantity(kind) => format!("a number ({} or {}), or text with a unit", kind.units[0], kind.units[1]),
            Self::Whole => "a whole number, not negative".to_owned(),
            Self::Boolean => "true or false".to_owned(),
            Self::Text { .. } => "text".to_owned(),
            Self::Choice(choices) => format!("one of {}", choices.join(", ")),
            Self::Anything => "a request".to_owned(),
        }
    }

    /// The leaves by dotted name, for queries and tables: lists of scalars are leaves too.
    pub(crate) fn leaves(&self) -> Vec<(String, &Field, bool)> {
        let mut leaves = Vec::new();
        if let Self::Object(fields) = self {
            collect_leaves(fields, "", true, &mut leaves);
        }
        leaves
    }
}

fn collect_leaves<'a>(fields: &'a [Field], prefix: &str, required: bool, leaves: &mut Vec<(String, &'a Field, bool)>) {
    for field in fields {
        let name = if prefix.is_empty() { field.name.clone() } else { format!("{prefix}.{}", field.name) };
        let needed = required && field.required;
        match &field.shape {
            Shape::Object(inner) => collect_leaves(inner, &name, needed, leaves),
            // A query cannot spell a list of objects: where one is optional, the rest still works as a query.
            Shape::List { item, .. } if matches!(**item, Shape::Object(_)) => {}
            _ => leaves.push((name, field, needed)),
        }
    }
}

fn walk_object(fields: &[Field], value: &Value, pointer: &str, faults: &mut Vec<FieldError>) {
    let Some(object) = value.as_object() else { return };
    for field in fields {
        let here = format!("{pointer}/{}", field.name);
        match object.get(&field.name) {
            Some(inner) => field.shape.walk(inner, &here, faults),
            None if field.required => {
                faults.push(fault(&here, "missing", format!("is missing: {}.", field.shape.wanted())));
            }
            None => {}
        }
    }
    for key in object.keys() {
        if fields.iter().all(|field| field.name != *key) {
            let names = fields.iter().map(|field| field.name.as_str()).filter(|name| !object.contains_key(*name));
            faults.push(unknown_field(&format!("{pointer}/{}", escape(key)), key, names));
        }
    }
}

/// The fault for a name that is not a field, with the name that was probably meant.
pub(crate) fn unknown_field<'a>(pointer: &str, name: &str, known: impl Iterator<Item = &'a str>) -> FieldError {
    let suggestion = suggest(name, known);
    let hint = suggestion.as_ref().map_or(String::new(), |meant| format!(" Did you mean {meant}?"));
    FieldError { suggestion, ..fault(pointer, "unknown_field", format!("is not a field here.{hint}")) }
}

/// A fault whose detail begins with the field's name.
pub(crate) fn fault(pointer: &str, code: &str, detail: String) -> FieldError {
    let name = pointer.trim_start_matches("#/").trim_start_matches('#').replace('/', ".");
    let detail = if name.is_empty() { detail } else { format!("{} {detail}", short(&name)) };
    FieldError { pointer: Some(pointer.to_owned()), parameter: None, code: code.to_owned(), detail, suggestion: None }
}

pub(crate) fn suggest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<String> {
    const CLOSE: f64 = 0.82;
    let name = name.to_ascii_lowercase();
    known
        .map(|candidate| (strsim::jaro_winkler(&name, candidate), candidate))
        .filter(|(likeness, _)| *likeness > CLOSE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate.to_owned())
}

fn described(value: &Value) -> String {
    match value {
        Value::Null => "null".to_owned(),
        Value::Bool(flag) => flag.to_string(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => format!("the text '{}'", short(text)),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "an object".to_owned(),
    }
}

/// Keeps messages short whatever was sent.
fn short(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        text.to_owned()
    } else {
        text.chars().take(LONGEST).chain("...".chars()).collect()
    }
}
