//! What travels: unit systems, quantities and the parts that all requests and answers share.

pub mod answer;
pub mod place;
pub mod quantity;

use serde::{Deserialize, Deserializer, Serialize};
use utoipa::ToSchema;

/// Decides the unit of every bare number in the request, and of every number in the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Units {
    /// Lengths in inches, displacement in cubic inches, part volumes in cubic centimetres, piston speed in feet per minute.
    Inch,
    /// Lengths in millimetres, volumes in cubic centimetres, piston speed in metres per second.
    Metric,
}

/// A short free text, given back unchanged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShortText(String);

impl ShortText {
    /// A text of the service's own, which is short.
    pub(crate) fn of(text: &str) -> Self {
        Self(text.to_owned())
    }

    /// The text.
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }
}

/// Longest [`ShortText`], in characters.
pub(crate) const LONGEST_TEXT: usize = 200;

impl ShortText {
    /// The text.
    pub(crate) fn into_text(self) -> String {
        self.0
    }
}

impl<'de> Deserialize<'de> for ShortText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        // No text has more characters than bytes.
        if text.len() > LONGEST_TEXT && text.chars().count() > LONGEST_TEXT {
            return Err(serde::de::Error::custom("text too long"));
        }
        Ok(Self(text))
    }
}

impl utoipa::PartialSchema for ShortText {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .max_length(Some(LONGEST_TEXT))
            .description(Some("A short free text, given back unchanged."))
            .into()
    }
}

impl ToSchema for ShortText {}
