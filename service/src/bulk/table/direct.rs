//! A row read straight into the request's type, as serde asks for its fields: no text of a request is made and read again.
//!
//! Fields come in the order that schema and type share, without their names. Whatever this reader refuses is spelled as JSON
//! (`request.rs`) and refused again in words, so it needs none of its own; what it takes, that way takes too, and with the same
//! value.

use serde::Deserialize;
use serde::de::value::Error;
use serde::de::{DeserializeSeed, Deserializer, Error as _, SeqAccess, Visitor};
use serde::forward_to_deserialize_any;

use super::Controls;
use super::record::Record;
use super::request::{self, From, Kind, Node};
use crate::wire::quantity::{bare, trimmed};

/// The cells of a row and the places in the request that they fill.
#[derive(Clone, Copy)]
pub(crate) struct Row<'a> {
    pub(super) nodes: &'a [Option<Node>],
    pub(super) controls: &'a Controls,
    pub(super) cells: &'a Record<'a>,
}

impl<'a> Row<'a> {
    /// The request, unless something in it is wrong.
    pub(crate) fn read<T: Deserialize<'a>>(self) -> Option<T> {
        T::deserialize(Object { row: self, fields: self.nodes }).ok()
    }

    /// The request as JSON.
    pub(crate) fn spelled(self) -> Vec<u8> {
        let mut out = Vec::new();
        request::spell(self.nodes, self.controls, self.cells, &mut out);
        out
    }

    /// The cell of a place, unless it is empty.
    #[inline]
    fn cell(self, kind: &'a Kind, from: &'a From, unit: Option<&'a str>) -> Option<Cell<'a>> {
        let text = from.text(self.cells);
        // Most begin with a sign that can be seen.
        let filled = text.as_bytes().first().is_some_and(u8::is_ascii_graphic) || !text.trim().is_empty();
        filled.then_some(Cell { kind, text, unit, decimal_comma: self.controls.decimal_comma })
    }

    fn fills_any(self, fields: &'a [Option<Node>]) -> bool {
        fields.iter().flatten().any(|node| match node {
            Node::Object { inner, .. } => self.fills_any(inner),
            Node::Cell { kind, from, unit, .. } => self.cell(kind, from, unit.as_deref()).is_some(),
        })
    }
}

/// An object of the request; its fields are asked for in their order.
#[derive(Clone, Copy)]
struct Object<'a> {
    row: Row<'a>,
    fields: &'a [Option<Node>],
}

impl<'de> Deserializer<'de> for Object<'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_seq(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct seq
        tuple tuple_struct map struct enum identifier ignored_any
    }
}

impl<'de> SeqAccess<'de> for Object<'de> {
    type Error = Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Error> {
        let [node, rest @ ..] = self.fields else { return Ok(None) };
        self.fields = rest;
        seed.deserialize(Place { row: self.row, node: node.as_ref() }).map(Some)
    }
}

/// The place of a field, which may be empty.
struct Place<'a> {
    row: Row<'a>,
    node: Option<&'a Node>,
}

impl<'de> Deserializer<'de> for Place<'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.node {
            Some(Node::Object { required, inner, .. }) if *required || self.row.fills_any(inner) => {
                visitor.visit_seq(Object { row: self.row, fields: inner })
            }
            Some(Node::Cell { kind, from, unit, .. }) => match self.row.cell(kind, from, unit.as_deref()) {
                Some(cell) => cell.deserialize_any(visitor),
                None => Err(missing()),
            },
            _ => Err(missing()),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.node {
            Some(Node::Object { inner, .. }) if self.row.fills_any(inner) => {
                visitor.visit_some(Object { row: self.row, fields: inner })
            }
            Some(Node::Cell { kind, from, unit, .. }) => match self.row.cell(kind, from, unit.as_deref()) {
                Some(cell) => visitor.visit_some(cell),
                None => visitor.visit_none(),
            },
            _ => visitor.visit_none(),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        match self.node {
            Some(Node::Cell { kind, from, unit, .. }) => match self.row.cell(kind, from, unit.as_deref()) {
                Some(cell) => cell.deserialize_enum(name, variants, visitor),
                None => Err(missing()),
            },
            _ => Err(missing()),
        }
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map struct identifier ignored_any
    }
}

/// Nobody reads it.
fn missing() -> Error {
    Error::custom("nothing fills a place that must be filled")
}

/// A cell, or one part of a list in a cell.
#[derive(Clone, Copy)]
struct Cell<'a> {
    kind: &'a Kind,
    text: &'a str,
    unit: Option<&'a str>,
    decimal_comma: bool,
}

impl<'de> Deserializer<'de> for Cell<'_> {
    type Error = Error;

    /// The same choice as [`Kind::write`] makes.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        if self.decimal_comma && self.kind.is_numeric() && self.text.contains(',') {
            return Cell { text: &self.text.replace(',', "."), decimal_comma: false, ..self }.deserialize_any(visitor);
        }
        let trimmed = trimmed(self.text);
        match (self.kind, self.unit) {
            (Kind::Whole, _) if let Ok(whole) = trimmed.parse::<u32>() => visitor.visit_u32(whole),
            (Kind::Boolean, _) if matches!(trimmed, "true" | "false") => visitor.visit_bool(trimmed == "true"),
            (Kind::List(item), unit) => visitor.visit_seq(Parts { item, rest: Some(trimmed), unit }),
            (Kind::Choice, _) => visitor.visit_str(trimmed),
            (Kind::Quantity, None) => match bare(trimmed) {
                Some(value) => visitor.visit_f64(value),
                None => visitor.visit_str(trimmed),
            },
            (Kind::Quantity, Some(unit)) if request::is_bare(trimmed) => {
                visitor.visit_string(format!("{trimmed} {unit}"))
            }
            _ => visitor.visit_str(self.text),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        match self.kind {
            Kind::Choice => {
                serde::de::value::StrDeserializer::new(self.text.trim()).deserialize_enum(name, variants, visitor)
            }
            _ => Err(Error::custom("no choice")),
        }
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map struct identifier ignored_any
    }
}

/// The entries of a list in one cell.
struct Parts<'a> {
    item: &'a Kind,
    rest: Option<&'a str>,
    unit: Option<&'a str>,
}

impl<'de> SeqAccess<'de> for Parts<'_> {
    type Error = Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Error> {
        let Some(text) = self.rest else { return Ok(None) };
        let (part, rest) = text.split_once(',').map_or((text, None), |(part, rest)| (part, Some(rest)));
        self.rest = rest;
        seed.deserialize(Cell { kind: self.item, text: part, unit: self.unit, decimal_comma: false }).map(Some)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::Calculation;
    use crate::bulk::table::Table;
    use crate::bulk::table::record::Records;
    use crate::routes::CALCULATIONS;
    use crate::routes::builds::evaluate::Evaluate;
    use crate::shape::{Field, Shape};

    /// Names of all columns inside an object, each with a cell that fits and that no other has.
    fn columns(fields: &[Field], prefix: &str, all: &mut Vec<(String, String)>) {
        for field in fields {
            let name = format!("{prefix}{}", field.name);
            let number = all.len() + 1;
            let cell = match &field.shape {
                Shape::Object(fields) => {
                    columns(fields, &format!("{name}."), all);
                    continue;
                }
                Shape::Quantity(_) => format!("0.{number:03}"),
                Shape::Whole => number.to_string(),
                Shape::Boolean => "true".to_owned(),
                Shape::Choice(choices) => choices[number % choices.len()].clone(),
                Shape::Text { .. } => format!("text {number}"),
                Shape::List { .. } | Shape::Anything => continue,
            };
            all.push((name, cell));
        }
    }

    type Request = <Evaluate as Calculation>::Request;

    /// The request of a row, read directly and by way of JSON.
    fn both_ways(columns: &[(String, String)]) -> [Option<String>; 2] {
        let (names, cells): (Vec<_>, Vec<_>) = columns.iter().cloned().unzip();
        let entry = CALCULATIONS.iter().find(|entry| entry.path == Evaluate::PATH).unwrap();
        let controls = Controls { decimal_comma: false, constants: Vec::new() };
        let (table, ..) = Table::open(entry, controls, format!("{}\r\n", names.join(",")).as_bytes()).unwrap();
        let cells = cells.join(",");
        let mut records = Records::new(b',', cells.as_bytes());
        let cells = records.next().unwrap().unwrap();
        let row = Row { nodes: &table.header.request, controls: &table.controls, cells: &cells };
        let spelled: Result<Request, _> = serde_json::from_slice(&row.spelled());
        [row.read::<Request>().map(|read| format!("{read:?}")), spelled.ok().map(|read| format!("{read:?}"))]
    }

    #[test]
    fn every_cell_lands_where_its_name_says_and_what_is_left_out_is_absent() {
        let entry = CALCULATIONS.iter().find(|entry| entry.path == Evaluate::PATH).unwrap();
        let Ok(Shape::Object(fields)) = entry.shape() else { panic!("a build sheet is an object") };
        let mut all = Vec::new();
        columns(fields, "", &mut all);
        assert!(all.len() > 60, "{}", all.len());
        let [direct, spelled] = both_ways(&all);
        assert!(direct.is_some());
        assert_eq!(direct, spelled);
        // Each column and each object in turn has no column, or an empty cell.
        let ends = |name: &str| name.match_indices('.').map(|(end, _)| end + 1).chain([name.len()]).collect::<Vec<_>>();
        let parts: BTreeSet<_> =
            all.iter().flat_map(|(name, _)| ends(name).into_iter().map(|end| name[..end].to_owned())).collect();
        let mut sound = 0;
        for part in parts {
            let without: Vec<_> = all.iter().filter(|(name, _)| !name.starts_with(&part)).cloned().collect();
            let mut empty = all.clone();
            empty.iter_mut().filter(|(name, _)| name.starts_with(&part)).for_each(|(_, cell)| cell.clear());
            for columns in [without, empty] {
                let [direct, spelled] = both_ways(&columns);
                assert_eq!(direct, spelled, "{part}");
                sound += usize::from(direct.is_some());
            }
        }
        assert!(sound > 50, "{sound}");
    }
}
