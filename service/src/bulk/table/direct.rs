//! A row read straight into the request's type, as serde asks for its fields: no text of a request is made and read again.
//!
//! A field is named by its place, which schema and type agree on. Whatever this reader refuses is spelled as JSON (`request.rs`) and refused again in words, so it needs none of its own; what
//! it takes, that way takes too, and with the same value.

use serde::Deserialize;
use serde::de::value::{Error, U64Deserializer};
use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde::forward_to_deserialize_any;

use super::Controls;
use super::record::Record;
use super::request::{self, Kind, Node};
use crate::wire::quantity::{bare, trimmed};

/// The cells of a row and the places in the request that they fill.
#[derive(Clone, Copy)]
pub(crate) struct Row<'a> {
    pub(super) nodes: &'a [Node],
    pub(super) controls: &'a Controls,
    pub(super) cells: &'a Record<'a>,
}

impl<'a> Row<'a> {
    /// The request, unless something in it is wrong.
    pub(crate) fn read<T: Deserialize<'a>>(self) -> Option<T> {
        T::deserialize(Object(self)).ok()
    }

    /// The request as JSON.
    pub(crate) fn spelled(self) -> Vec<u8> {
        let mut out = Vec::new();
        request::spell(self.nodes, self.controls, self.cells, &mut out);
        out
    }

    /// What fills a place: the text of its cell, or an empty one for an object; `None` when nothing does.
    #[inline]
    fn filled(self, node: &'a Node) -> Option<&'a str> {
        match node {
            Node::Object { required, inner, .. } => (*required || self.holds_any(inner)).then_some(""),
            Node::Cell { from, .. } => {
                let text = from.text(self.cells);
                // Most begin with a sign that can be seen.
                (text.as_bytes().first().is_some_and(u8::is_ascii_graphic) || !text.trim().is_empty()).then_some(text)
            }
        }
    }

    fn holds_any(self, nodes: &'a [Node]) -> bool {
        nodes.iter().any(|node| self.filled(node).is_some())
    }
}

/// An object of the request.
struct Object<'a>(Row<'a>);

impl<'de> Deserializer<'de> for Object<'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_map(Fields { row: self.0, rest: self.0.nodes, value: None })
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map struct enum identifier ignored_any
    }
}

/// The fields of an object that are filled.
struct Fields<'a> {
    row: Row<'a>,
    rest: &'a [Node],
    value: Option<(&'a Node, &'a str)>,
}

impl<'de> MapAccess<'de> for Fields<'de> {
    type Error = Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Error> {
        while let [node, rest @ ..] = self.rest {
            self.rest = rest;
            if let Some(text) = self.row.filled(node) {
                self.value = Some((node, text));
                return seed.deserialize(U64Deserializer::new(node.place())).map(Some);
            }
        }
        Ok(None)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Error> {
        match self.value {
            Some((Node::Object { inner, .. }, _)) => seed.deserialize(Object(Row { nodes: inner, ..self.row })),
            Some((Node::Cell { kind, unit, .. }, text)) => {
                let unit = unit.as_deref();
                if self.row.controls.decimal_comma && kind.is_numeric() && text.contains(',') {
                    return seed.deserialize(Cell { kind, text: &text.replace(',', "."), unit });
                }
                seed.deserialize(Cell { kind, text, unit })
            }
            None => Err(Error::custom("a value was asked for before its name")),
        }
    }
}

/// A cell, or one part of a list in a cell.
#[derive(Clone, Copy)]
struct Cell<'a> {
    kind: &'a Kind,
    text: &'a str,
    unit: Option<&'a str>,
}

impl<'de> Deserializer<'de> for Cell<'_> {
    type Error = Error;

    /// The same choice as [`Kind::write`] makes.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
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
        seed.deserialize(Cell { kind: self.item, text: part, unit: self.unit }).map(Some)
    }
}

#[cfg(test)]
mod tests {
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

    #[test]
    fn every_cell_lands_where_its_name_says() {
        let entry = CALCULATIONS.iter().find(|entry| entry.path == "/v1/builds/evaluate").unwrap();
        let Ok(Shape::Object(fields)) = entry.shape() else { panic!("a build sheet is an object") };
        let mut all = Vec::new();
        columns(fields, "", &mut all);
        assert!(all.len() > 60, "{}", all.len());
        let (names, cells): (Vec<_>, Vec<_>) = all.into_iter().unzip();
        let controls = Controls { decimal_comma: false, constants: Vec::new() };
        let (table, ..) = Table::open(entry, controls, format!("{}\r\n", names.join(",")).as_bytes()).unwrap();
        let cells = cells.join(",");
        let mut records = Records::new(&table.machines, cells.as_bytes());
        let cells = records.next().unwrap().unwrap();
        let row = Row { nodes: &table.header.request, controls: &table.controls, cells: &cells };
        let direct: <Evaluate as Calculation>::Request = row.read().unwrap();
        let spelled: <Evaluate as Calculation>::Request = serde_json::from_slice(&row.spelled()).unwrap();
        assert_eq!(format!("{direct:?}"), format!("{spelled:?}"));
    }
}
