//! The name of a viscosity grade on the wire: one of a closed list that the core makes.

use calc_core::oil::grade::Grade;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};

/// A viscosity grade of engine oils: `10W-30`, `30`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OilGrade(Grade);

impl OilGrade {
    /// The core's grade.
    #[must_use]
    pub fn core(self) -> Grade {
        self.0
    }
}

impl Serialize for OilGrade {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0.name())
    }
}

impl<'de> Deserialize<'de> for OilGrade {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        Grade::named(&name).map(Self).ok_or_else(|| serde::de::Error::custom("no viscosity grade"))
    }
}

impl utoipa::PartialSchema for OilGrade {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(Grade::all().map(Grade::name)))
            .description(Some(
                "Viscosity grade of an engine oil (SAE J300), multigrade or single; a W grade alone has no window and is not \
                 taken.",
            ))
            .into()
    }
}

impl utoipa::ToSchema for OilGrade {}
