//! A row as the request that it spells: the places of its cells are known from the header, so that a row is one pass.

use super::Controls;
use super::header::Column;
use super::record::Record;
use crate::json_writer::is_plain;
use crate::shape::{Field, Shape};

/// A place in the request: a cell, or an object with a place for each of its fields; `None` is filled by nothing in any row.
pub(super) enum Node {
    Object { name: String, required: bool, inner: Vec<Option<Self>> },
    Cell { name: String, kind: Kind, from: From, unit: Option<String> },
}

/// Where a cell's text comes from.
pub(super) enum From {
    Column(usize),
    Address(String),
}

impl From {
    /// The text; of a short row's missing cells, none.
    pub(super) fn text<'a>(&'a self, row: &Record<'a>) -> &'a str {
        match self {
            Self::Column(place) => row.get(*place),
            Self::Address(text) => text,
        }
    }
}

/// How a cell's text becomes JSON.
pub(super) enum Kind {
    Quantity,
    Whole,
    Boolean,
    Choice,
    Text,
    List(Box<Self>),
}

impl Node {
    /// The field's own name.
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Object { name, .. } | Self::Cell { name, .. } => name,
        }
    }

    /// The places that the columns and the address fill.
    pub(super) fn all(shape: &Shape, controls: &Controls, columns: &[Column]) -> Vec<Option<Self>> {
        match shape {
            Shape::Object(fields) => inside(fields, "", true, controls, columns),
            _ => Vec::new(),
        }
    }
}

/// The places inside an object; `always` when a request cannot do without it.
fn inside(fields: &[Field], prefix: &str, always: bool, controls: &Controls, columns: &[Column]) -> Vec<Option<Node>> {
    let node = |field: &Field| {
        let path = format!("{prefix}{}", field.name);
        let name = field.name.clone();
        if let Shape::Object(fields) = &field.shape {
            // A row cannot spell an empty object, so a required one counts as present: its own required fields are missing. One
            // inside an optional object does not: it would make that object present.
            let required = always && field.required;
            let inner = inside(fields, &format!("{path}."), required, controls, columns);
            return (required || inner.iter().any(Option::is_some)).then_some(Node::Object { name, required, inner });
        }
        let column = columns.iter().position(|column| column.field.as_deref() == Some(&path));
        let constant = controls.constants.iter().find(|(constant, _)| *constant == path);
        let (from, unit) = match (column, constant) {
            (Some(column), _) => (From::Column(column), columns[column].unit.clone()),
            (None, Some((_, text))) => (From::Address(text.clone()), None),
            (None, None) => return None,
        };
        Some(Node::Cell { name, kind: Kind::of(&field.shape), from, unit })
    };
    fields.iter().map(node).collect()
}

impl Kind {
    fn of(shape: &Shape) -> Self {
        match shape {
            Shape::Quantity(_) => Self::Quantity,
            Shape::Whole => Self::Whole,
            Shape::Boolean => Self::Boolean,
            Shape::Choice(_) => Self::Choice,
            Shape::List { item, .. } => Self::List(Box::new(Self::of(item))),
            Shape::Text { .. } | Shape::Object(_) | Shape::Anything => Self::Text,
        }
    }

    /// What has decimals.
    pub(super) fn is_numeric(&self) -> bool {
        matches!(self, Self::Quantity | Self::Whole | Self::List(_))
    }

    /// Appends a text as the type its place wants; what does not fit stays text and is refused in words.
    fn write(&self, text: &str, unit: Option<&str>, out: &mut Vec<u8>) {
        let trimmed = text.trim();
        match self {
            Self::Whole if let Ok(whole) = trimmed.parse::<u32>() => {
                out.extend_from_slice(itoa::Buffer::new().format(whole).as_bytes());
            }
            Self::Boolean if matches!(trimmed, "true" | "false") => out.extend_from_slice(trimmed.as_bytes()),
            Self::List(item) => {
                out.push(b'[');
                for (place, part) in trimmed.split(',').enumerate() {
                    if place > 0 {
                        out.push(b',');
                    }
                    item.write(part, unit, out);
                }
                out.push(b']');
            }
            Self::Choice => write_text(trimmed, None, out),
            Self::Quantity if is_bare(trimmed) => write_text(trimmed, unit, out),
            _ => write_text(text, None, out),
        }
    }
}

/// A number without a unit; a cell may name a unit of its own.
pub(super) fn is_bare(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'.' | b'-' | b'+' | b'e' | b'E'))
}

/// Appends a JSON string.
fn write_text(text: &str, unit: Option<&str>, out: &mut Vec<u8>) {
    if is_plain(text) && unit.is_none_or(is_plain) {
        out.push(b'"');
        out.extend_from_slice(text.as_bytes());
        if let Some(unit) = unit {
            out.push(b' ');
            out.extend_from_slice(unit.as_bytes());
        }
        out.push(b'"');
    } else {
        let whole = unit.map_or_else(|| text.to_owned(), |unit| format!("{text} {unit}"));
        // Writing to a vector cannot fail.
        let _ = serde_json::to_writer(out, &whole);
    }
}

/// The request of a row, in place of what `out` held.
pub(super) fn spell(nodes: &[Option<Node>], controls: &Controls, row: &Record, out: &mut Vec<u8>) {
    out.clear();
    spell_object(nodes, controls, row, out);
}

/// Appends an object; whether it holds anything.
fn spell_object(nodes: &[Option<Node>], controls: &Controls, row: &Record, out: &mut Vec<u8>) -> bool {
    let start = out.len();
    out.push(b'{');
    for node in nodes.iter().flatten() {
        let before = out.len();
        if before > start + 1 {
            out.push(b',');
        }
        out.push(b'"');
        out.extend_from_slice(node.name().as_bytes());
        out.extend_from_slice(b"\":");
        let there = match node {
            Node::Object { required, inner, .. } => spell_object(inner, controls, row, out) || *required,
            Node::Cell { kind, from, unit, .. } => spell_cell(kind, from.text(row), unit.as_deref(), controls, out),
        };
        if !there {
            out.truncate(before);
        }
    }
    out.push(b'}');
    out.len() > start + 2
}

/// Appends a cell; an empty one is not given.
fn spell_cell(kind: &Kind, text: &str, unit: Option<&str>, controls: &Controls, out: &mut Vec<u8>) -> bool {
    if text.trim().is_empty() {
        return false;
    }
    if controls.decimal_comma && kind.is_numeric() && text.contains(',') {
        kind.write(&text.replace(',', "."), unit, out);
    } else {
        kind.write(text, unit, out);
    }
    true
}
