//! Quantities whose unit is that of the place that a pointer beside them names.

use std::borrow::Cow;
use std::fmt;

use calc_core::error::misspelt;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, OneOfBuilder, Schema, Type};
use validator::ValidationError;

use crate::wire::Units;
use crate::wire::quantity::{Given, Kind, finite, is_sound, number, unit_extension};

/// A quantity whose unit is that of the place that a pointer beside it names.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceQuantity(pub(super) Figure);

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Figure {
    Bare(f64),
    Text(String),
}

impl PlaceQuantity {
    pub(super) fn si(&self, kind: &Kind, units: Units, at: &str) -> Result<f64, ValidationError> {
        match &self.0 {
            Figure::Bare(value) => Ok((kind.to_si)(*value, units)),
            Figure::Text(text) => match (kind.read)(text) {
                Ok(Given { value, unit: Some(unit) }) => Ok(unit.to_si(value)),
                Ok(Given { value, unit: None }) => Ok((kind.to_si)(value, units)),
                Err(message) => Err(misspelt(at, "bad_quantity", message, None)),
            },
        }
    }
}

/// A number in the unit that stands beside it: that of the place that a pointer names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceNumber(pub(super) f64);

impl PlaceNumber {
    /// As it stands in JSON.
    pub(crate) fn text(&self) -> String {
        serde_json::Number::from_f64(self.0).map(|number| number.to_string()).unwrap_or_default()
    }
}

/// What a number of an unknown place must look like: its text is judged once the place is known.
pub(crate) static ANY: Kind = Kind {
    schema: "PlaceQuantity",
    output: "PlaceNumberOutput",
    quantity: "quantity",
    units: UNIT_OF_PLACE,
    check_text: |_| Ok(()),
    read: |_| Err("has no unit of its own.".to_owned()),
    to_si: |value, _| value,
    of_si: |value, _| value,
};

const UNIT_OF_PLACE: [&str; 2] = ["that of the place"; 2];

impl<'de> Deserialize<'de> for PlaceQuantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(FigureVisitor).map(Self)
    }
}

struct FigureVisitor;

impl de::Visitor<'_> for FigureVisitor {
    type Value = Figure;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("a number, or text with a unit")
    }

    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Figure, E> {
        if is_sound(value) { Ok(Figure::Bare(value)) } else { Err(E::custom("no number to calculate with")) }
    }

    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Figure, E> {
        Ok(Figure::Bare(value as f64))
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Figure, E> {
        Ok(Figure::Bare(value as f64))
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Figure, E> {
        Ok(Figure::Text(text.to_owned()))
    }
}

impl Serialize for PlaceNumber {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        finite(self.0, serializer)
    }
}

impl utoipa::PartialSchema for PlaceQuantity {
    fn schema() -> RefOr<Schema> {
        let text = "A quantity of the place that the pointer beside it names: a bare number in the unit which that place has \
                    in the request's system, or text with its own unit.";
        OneOfBuilder::new()
            .item(number())
            .item(ObjectBuilder::new().schema_type(Type::String).max_length(Some(64)))
            .description(Some(text))
            .extensions(unit_extension(UNIT_OF_PLACE))
            .into()
    }
}

impl utoipa::ToSchema for PlaceQuantity {
    fn name() -> Cow<'static, str> {
        ANY.schema.into()
    }
}

impl utoipa::PartialSchema for PlaceNumber {
    fn schema() -> RefOr<Schema> {
        number().extensions(unit_extension(UNIT_OF_PLACE)).into()
    }
}

impl utoipa::ToSchema for PlaceNumber {
    /// Written in place, like every number of an answer.
    fn name() -> Cow<'static, str> {
        ANY.output.into()
    }
}
