//! Places in a build sheet and in its answer, named by JSON Pointer (RFC 6901), and quantities in the unit of such a place.
//!
//! What a pointer leads to is read from the published schemas of `/v1/builds/evaluate`: the unit of a place is that of the
//! field it names. The core's table says how the field is reached; the tests below compare the two.

use std::borrow::Cow;
use std::sync::LazyLock;

use calc_core::build::every_place::Place;
use calc_core::build::place::{INPUTS, Input, Output, RESULTS};
use calc_core::error::{Error, misspelt};
use calc_core::units::{Quantity, Temperature, TemperatureDifference};
use serde::Deserialize;
use serde_json::{Map, Value};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};
use validator::ValidationError;

mod figure;

pub(crate) use figure::ANY;
pub use figure::{PlaceNumber, PlaceQuantity};

use super::Units;
use super::quantity::{KINDS, Kind};
use crate::openapi::{add_type, components_of};
use crate::routes::builds::evaluate::BuildResponse;
use crate::routes::builds::sheet::BuildRequest;
use crate::shape::suggest;

/// The name of one number of a build sheet: `/block/bore`.
#[derive(Debug, Clone, Deserialize)]
pub struct InputPointer(String);

/// The name of one number of the answer to a build sheet: `/geometry/squish_clearance`.
#[derive(Debug, Clone, Deserialize)]
pub struct ResultPointer(String);

/// A place with the unit of its field.
#[derive(Debug)]
pub(crate) struct Field<P: 'static> {
    /// How the core reaches it.
    pub(crate) place: &'static P,
    kind: &'static Kind,
}

impl<P> Clone for Field<P> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<P> Copy for Field<P> {}

impl<P> Field<P> {
    /// The SI value of what was given for this place; `at` names the place in the request.
    pub(crate) fn si(&self, given: &PlaceQuantity, units: Units, at: &str) -> Result<f64, ValidationError> {
        given.si(self.kind, units, at)
    }

    /// The same for a difference of two values here: a tolerance, a step.
    pub(crate) fn difference_si(&self, given: &PlaceQuantity, units: Units, at: &str) -> Result<f64, ValidationError> {
        given.si(self.difference_kind(), units, at)
    }

    /// An SI value as the number that the answer's field would hold.
    pub(crate) fn number(&self, si: f64, units: Units) -> PlaceNumber {
        PlaceNumber((self.kind.of_si)(si, units))
    }

    /// The same for a difference of two values here.
    pub(crate) fn difference(&self, si: f64, units: Units) -> PlaceNumber {
        PlaceNumber((self.difference_kind().of_si)(si, units))
    }

    /// The unit of [`Self::number`] and [`Self::difference`].
    pub(crate) fn unit(&self, units: Units) -> &'static str {
        self.kind.units[units as usize]
    }

    /// A difference of temperatures is another quantity than a temperature.
    fn difference_kind(&self) -> &'static Kind {
        if self.kind.quantity != Temperature::NAME {
            return self.kind;
        }
        KINDS.iter().find(|kind| kind.quantity == TemperatureDifference::NAME).unwrap_or(self.kind)
    }
}

impl Field<Place> {
    /// The unit of any place: one of a single cylinder has that of the engine's. None when the document has no number there,
    /// which a test excludes.
    pub(crate) fn of(place: &Place) -> Option<Field<()>> {
        let kind = match place {
            Place::Input(place) | Place::Reading { like: place, .. } => SHEET.kind_of(place)?,
            Place::Output(place) | Place::Cylinder { like: place, .. } => ANSWER.kind_of(place)?,
        };
        Some(Field { place: &(), kind })
    }
}

impl<P> Field<P> {
    /// The SI value of one unit of a difference here.
    pub(crate) fn unit_si(&self, units: Units) -> f64 {
        (self.difference_kind().to_si)(1.0, units)
    }

    /// A value as it is written in an equation: the figure and its unit. A temperature is written in kelvins, for equations
    /// need absolute ones.
    pub(crate) fn written(&self, si: f64, units: Units) -> (f64, &'static str) {
        if self.kind.quantity == Temperature::NAME {
            return (si, "K");
        }
        let unit = self.unit(units);
        ((self.kind.of_si)(si, units), if unit == "1" { "" } else { unit })
    }
}

impl InputPointer {
    /// The place; `at` names the pointer's own place in the request, for the fault.
    pub(crate) fn resolve(&self, at: &str) -> Result<Field<Input>, ValidationError> {
        SHEET.resolve(&self.0, at)
    }
}

impl ResultPointer {
    /// The place; `at` names the pointer's own place in the request, for the fault.
    pub(crate) fn resolve(&self, at: &str) -> Result<Field<Output>, ValidationError> {
        ANSWER.resolve(&self.0, at)
    }
}

/// The faults of a request, gathered so that one answer names them all.
#[derive(Default)]
pub(crate) struct Found(Vec<ValidationError>);

impl Found {
    /// What was resolved, or nothing and its fault.
    pub(crate) fn keep<T>(&mut self, resolved: Result<T, ValidationError>) -> Option<T> {
        resolved.map_err(|fault| self.0.push(fault)).ok()
    }

    /// A fault, and nothing for it.
    pub(crate) fn add<T>(&mut self, fault: ValidationError) -> Option<T> {
        self.keep(Err(fault))
    }

    /// Goes on when there was no fault.
    pub(crate) fn check(self) -> Result<(), Error> {
        if self.0.is_empty() { Ok(()) } else { Err(Error::of_rules(self.0)) }
    }
}

/// The pointer to a place as answers write it.
pub(crate) fn pointer(path: &str) -> String {
    format!("/{path}")
}

/// One place as the document lists it.
pub(crate) struct Listed {
    pub(crate) pointer: String,
    pub(crate) kind: &'static Kind,
    pub(crate) description: String,
}

/// The numbers of the build sheet.
pub(crate) fn inputs() -> impl Iterator<Item = Listed> {
    SHEET.listed()
}

/// The numbers of its answer.
pub(crate) fn results() -> impl Iterator<Item = Listed> {
    ANSWER.listed()
}

static SHEET: LazyLock<Document<Input>> = LazyLock::new(|| Document {
    what: "a build sheet",
    table: INPUTS,
    path: |place| place.path,
    leads: leads::<BuildRequest>(),
    others: RESULTS.iter().map(|place| place.path).collect(),
    other: "is a result, where an input is wanted",
});

static ANSWER: LazyLock<Document<Output>> = LazyLock::new(|| Document {
    what: "the answer to a build sheet",
    table: RESULTS,
    path: |place| place.path,
    leads: leads::<BuildResponse>(),
    others: INPUTS.iter().map(|place| place.path).collect(),
    other: "is an input, where a result is wanted",
});

/// The oil's numbers have no places: they come from a network that is balanced as a whole, a hundred times as long as all the
/// other equations take.
const BALANCED: &str = "oil/";

/// A document that pointers lead into.
struct Document<P: 'static> {
    what: &'static str,
    table: &'static [P],
    path: fn(&P) -> &'static str,
    leads: Vec<Lead>,
    /// Paths of the other document, and what to say when one of them is given.
    others: Vec<&'static str>,
    other: &'static str,
}

/// What one path leads to.
struct Lead {
    path: String,
    to: To,
    description: String,
}

enum To {
    Number(&'static Kind),
    Text,
    List,
    Section,
}

impl<P> Document<P> {
    fn lead(&self, path: &str) -> Option<&Lead> {
        self.leads.iter().find(|lead| lead.path == path)
    }

    fn kind_of(&self, place: &P) -> Option<&'static Kind> {
        match self.lead((self.path)(place)) {
            Some(Lead { to: To::Number(kind), .. }) => Some(kind),
            _ => None,
        }
    }

    fn listed(&self) -> impl Iterator<Item = Listed> {
        self.table.iter().filter_map(|place| {
            let lead = self.lead((self.path)(place))?;
            let To::Number(kind) = lead.to else { return None };
            Some(Listed { pointer: pointer(&lead.path), kind, description: lead.description.clone() })
        })
    }

    fn resolve(&self, text: &str, at: &str) -> Result<Field<P>, ValidationError> {
        // Cautions and `missing` write pointers as URI fragments: those are taken too.
        let path = text.strip_prefix('#').unwrap_or(text).strip_prefix('/');
        let place = path.and_then(|path| self.table.iter().find(|place| (self.path)(place) == path));
        match (place, path.and_then(|path| self.lead(path))) {
            (Some(place), Some(Lead { to: To::Number(kind), .. })) => Ok(Field { place, kind }),
            (_, lead) => Err(self.refuse(text, path, lead, at)),
        }
    }

    /// Why a pointer is no place, and what was probably meant.
    fn refuse(&self, text: &str, path: Option<&str>, lead: Option<&Lead>, at: &str) -> ValidationError {
        let known: Vec<String> = self.table.iter().map(|place| pointer((self.path)(place))).collect();
        let shown: String = text.chars().take(80).collect();
        let inside_list = |path: &str| {
            let mut lists = self.leads.iter().filter(|lead| matches!(lead.to, To::List));
            lists.any(|list| path.strip_prefix(&list.path).is_some_and(|rest| rest.starts_with('/')))
        };
        let (code, why) = match (lead.map(|lead| &lead.to), path) {
            (Some(To::Text), _) => ("not_a_number", "leads to a text; name a number.".to_owned()),
            (Some(To::List), _) => ("not_a_number", "leads to a list; name a single number.".to_owned()),
            (Some(To::Section), Some(path)) => {
                let inside = known.iter().filter(|known| known[1..].starts_with(path)).map(String::as_str);
                let inside = inside.collect::<Vec<_>>().join(", ");
                ("not_a_number", format!("leads to a section; name one number of it: {inside}."))
            }
            (Some(To::Number(_)), Some(path)) if path.starts_with(BALANCED) => {
                ("not_a_number", "belongs to the oil's balance, which /v1/oil/circuit varies and sweeps.".to_owned())
            }
            (Some(To::Number(_)), _) => ("not_a_number", "is no number of the engine.".to_owned()),
            (_, Some(path)) if inside_list(path) => {
                ("not_a_number", "leads into a list; only single numbers have a place here.".to_owned())
            }
            (_, Some(path)) if self.others.contains(&path) => ("unknown_pointer", format!("{}.", self.other)),
            (_, None) => ("unknown_pointer", "is not a JSON Pointer: each begins with '/'.".to_owned()),
            (_, Some(_)) => ("unknown_pointer", format!("leads to nothing in {}.", self.what)),
        };
        let wrong = code == "unknown_pointer";
        let meant = wrong.then(|| suggest(&pointer(path.unwrap_or(text)), known.iter().map(String::as_str))).flatten();
        let hint = match &meant {
            Some(meant) => format!(" Did you mean {meant}?"),
            None => " /v1/builds/places lists them all.".to_owned(),
        };
        misspelt(at, code, format!("'{shown}' {why}{hint}"), meant)
    }
}

/// Every path of a type and what it leads to, from its schema.
fn leads<T: utoipa::ToSchema>() -> Vec<Lead> {
    let components: Map<String, Value> = components_of(add_type::<T>).into_iter().collect();
    let mut found = Vec::new();
    if let Some(schema) = components.get(T::name().as_ref()) {
        collect(schema, "", &components, &mut found);
    }
    found
}

fn collect(schema: &Value, prefix: &str, components: &Map<String, Value>, found: &mut Vec<Lead>) {
    for (key, property) in schema["properties"].as_object().into_iter().flatten() {
        let path = if prefix.is_empty() { key.clone() } else { format!("{prefix}/{key}") };
        let reference = property["$ref"].as_str().and_then(|path| path.rsplit('/').next()).unwrap_or_default();
        let target = components.get(reference).unwrap_or(property);
        let to = match (kind(reference), target["type"].as_str()) {
            (Some(kind), _) => To::Number(kind),
            (None, Some("integer")) => kind("RatioInput").map_or(To::Text, To::Number),
            (None, Some("array")) => To::List,
            (None, Some("object")) => {
                collect(target, &path, components, found);
                To::Section
            }
            _ => To::Text,
        };
        let description = property["description"].as_str().unwrap_or_default().to_owned();
        found.push(Lead { path, to, description });
    }
}

/// The kind of a quantity's schema, in requests or in answers.
fn kind(schema: &str) -> Option<&'static Kind> {
    // Ratios and shares of answers are plain numbers of their own.
    let schema = match schema {
        "RatioOutput" => "GivenRatioOutput",
        "PercentOutput" => "GivenPercentOutput",
        other => other,
    };
    KINDS.iter().find(|kind| kind.schema == schema || kind.output == schema)
}

macro_rules! pointer_schema {
    ($type:ident, $text:literal) => {
        impl utoipa::PartialSchema for $type {
            fn schema() -> RefOr<Schema> {
                ObjectBuilder::new().schema_type(Type::String).max_length(Some(200)).description(Some($text)).into()
            }
        }

        impl utoipa::ToSchema for $type {
            fn name() -> Cow<'static, str> {
                stringify!($type).into()
            }
        }
    };
}

pointer_schema!(
    InputPointer,
    "JSON Pointer (RFC 6901) to one number of a build sheet, as `/v1/builds/evaluate` takes it: one of `x-pointers`, which \
     gives the unit of each; with or without a leading '#'."
);
pointer_schema!(
    ResultPointer,
    "JSON Pointer (RFC 6901) to one number in the answer of `/v1/builds/evaluate`: one of `x-pointers`, which gives the unit of \
     each; with or without a leading '#'."
);

#[cfg(test)]
mod tests;
