//! The single values of an answer by name, with their units: the result columns of a table.

use std::collections::HashMap;
use std::sync::{LazyLock, OnceLock};

use serde_json::Value;

use super::components_of;
use crate::calculation::Entry;
use crate::routes::CALCULATIONS;

/// One result.
pub(crate) struct ResultColumn {
    /// Dotted name.
    pub(crate) name: String,
    /// JSON Pointer into the answer.
    pub(crate) pointer: String,
    /// Its place among the fields of each object on the way.
    pub(crate) places: Vec<usize>,
    /// Unit by system, inch and metric; none for texts and plain numbers.
    units: Option<[String; 2]>,
}

impl ResultColumn {
    /// Title of the column: the name, with `answer.` before it when the caller has a column of that name, and the unit when
    /// one system holds for the whole table.
    pub(crate) fn title(&self, system: Option<&str>, taken: bool) -> String {
        let name = if taken { format!("answer.{}", self.name) } else { self.name.clone() };
        let unit = self.units.as_ref().and_then(|[inch, metric]| match system {
            _ if inch == metric => Some(inch),
            Some("inch") => Some(inch),
            Some("metric") => Some(metric),
            _ => None,
        });
        match unit {
            Some(unit) if unit != "1" => format!("{name} [{unit}]"),
            _ => name,
        }
    }
}

/// The single values of a calculation's answer, in the order of its fields. Each list is made once, when it is asked for.
pub(crate) fn results(entry: &Entry) -> &'static [ResultColumn] {
    static ALL: LazyLock<HashMap<&'static str, OnceLock<Vec<ResultColumn>>>> =
        LazyLock::new(|| CALCULATIONS.iter().map(|entry| (entry.path, OnceLock::new())).collect());
    let find = || {
        let components = components_of(entry.schemas);
        let mut found = Vec::new();
        if let Some(schema) = components.get((entry.response)().as_ref()) {
            collect(schema, "", &[], &components, &mut found);
        }
        found
    };
    ALL.get(entry.path).map_or(&[], |results| results.get_or_init(find))
}

fn collect(
    schema: &Value,
    prefix: &str,
    way: &[usize],
    components: &HashMap<String, Value>,
    found: &mut Vec<ResultColumn>,
) {
    for (place, (key, property)) in schema["properties"].as_object().into_iter().flatten().enumerate() {
        let places = [way, &[place]].concat();
        let name = if prefix.is_empty() { key.clone() } else { format!("{prefix}.{key}") };
        let reference = property["$ref"].as_str().and_then(|path| path.rsplit('/').next());
        let target = reference.and_then(|name| components.get(name)).unwrap_or(property);
        match target["type"].as_str() {
            Some("object") => collect(target, &name, &places, components, found),
            // Lists have no place in a row; `units` is a column of the caller's or said for the whole table.
            Some("array") => {}
            _ if name == "units" => {}
            _ => {
                let unit = |system: &str| target["x-unit"][system].as_str().map(ToOwned::to_owned);
                let units = unit("inch").zip(unit("metric")).map(|(inch, metric)| [inch, metric]);
                found.push(ResultColumn { pointer: format!("/{}", name.replace('.', "/")), name, places, units });
            }
        }
    }
}
