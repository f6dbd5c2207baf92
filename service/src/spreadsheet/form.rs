//! The calculations that a cell can call, as the OpenAPI document describes them: the one source of all spreadsheet material,
//! so that none of it can drift.

use serde_json::Value;

/// A calculation with a value form.
pub(crate) struct Form {
    /// `compression/static`.
    pub(crate) name: String,
    /// `compression`.
    pub(crate) area: String,
    pub(crate) summary: String,
    /// A request that works.
    pub(crate) example: Value,
    pub(crate) parameters: Vec<Parameter>,
    pub(crate) results: Vec<Outcome>,
}

/// An input, by its dotted name.
pub(crate) struct Parameter {
    pub(crate) name: String,
    pub(crate) required: bool,
    pub(crate) kind: Kind,
    /// Unit of a bare number, with inch and with metric.
    pub(crate) units: Option<[String; 2]>,
    pub(crate) meaning: String,
}

/// What a cell may hold.
pub(crate) enum Kind {
    Quantity,
    Whole,
    Boolean,
    Choice(Vec<String>),
    /// Several, separated by commas in the address.
    List,
    Text,
}

/// A single result, by its dotted name.
pub(crate) struct Outcome {
    pub(crate) name: String,
    pub(crate) units: Option<[String; 2]>,
    pub(crate) meaning: String,
}

impl Form {
    /// The name as code has it: `compression_static`.
    pub(crate) fn identifier(&self) -> String {
        self.name.replace(['/', '-'], "_")
    }
}

const CONTROLS: [&str; 3] = ["field", "fields", "errors"];

/// More inputs than a formula (8,192 characters) or a function of a macro (60 arguments) can list.
const MOST_PARAMETERS: usize = 59;

/// All calculations with a value form that a cell can spell, in the order of the document.
pub(crate) fn forms(document: &Value) -> Vec<Form> {
    let paths = document["paths"].as_object().into_iter().flatten();
    let forms = paths.filter_map(|(path, _)| form(document, path.strip_suffix("/value")?));
    forms.filter(|form| form.parameters.len() <= MOST_PARAMETERS).collect()
}

/// Name and summary of the calculations that no cell can call: they take lists of objects, or too much.
pub(crate) fn without_form(document: &Value) -> Vec<(String, String)> {
    let called: Vec<String> = forms(document).into_iter().map(|form| form.name).collect();
    let paths = document["paths"].as_object().into_iter().flatten();
    let found = paths.filter_map(|(path, item)| {
        let name = path.strip_prefix("/v1/")?;
        let single =
            name.split('/').count() == 2 && item["post"].is_object() && !called.iter().any(|called| called == name);
        let summary = item["post"]["summary"].as_str().unwrap_or_default();
        single.then(|| (name.to_owned(), summary.to_owned()))
    });
    found.collect()
}

fn form(document: &Value, path: &str) -> Option<Form> {
    let name = path.strip_prefix("/v1/")?;
    let post = &document["paths"][path]["post"];
    let body = &post["requestBody"]["content"]["application/json"];
    let answer = &post["responses"]["200"]["content"]["application/json"]["schema"];
    let listed = document["paths"][format!("{path}/value")]["get"]["parameters"].as_array()?;
    let deep = too_deep(listed);
    let fits = |name: &str| !CONTROLS.contains(&name) && !deep.iter().any(|section| name.starts_with(section));
    let own = listed.iter().filter(|parameter| parameter["name"].as_str().is_some_and(fits));
    let mut results = Vec::new();
    collect(document, resolve(document, answer), "", &mut results);
    Some(Form {
        name: name.to_owned(),
        area: name.split('/').next().unwrap_or_default().to_owned(),
        summary: post["summary"].as_str().unwrap_or_default().to_owned(),
        example: body["example"].clone(),
        parameters: own.map(|listed| parameter(document, &body["schema"], listed)).collect(),
        results,
    })
}

/// Optional sections that hold sections of their own, such as a build's oil: more than a formula or a line of code can list.
/// They have a calculation of their own.
fn too_deep(listed: &[Value]) -> Vec<String> {
    let names = |required: bool| {
        let picked = listed.iter().filter(move |parameter| (parameter["required"] == true) == required);
        picked.filter_map(|parameter| parameter["name"].as_str())
    };
    let deep = names(false).filter(|name| name.matches('.').count() > 1);
    let sections = deep.filter_map(|name| Some(format!("{}.", name.split('.').next()?)));
    sections.filter(|section| !names(true).any(|name| name.starts_with(section.as_str()))).collect()
}

fn parameter(document: &Value, request: &Value, listed: &Value) -> Parameter {
    let name = listed["name"].as_str().unwrap_or_default().to_owned();
    let property = name.split('.').fold(request, |schema, part| &resolve(document, schema)["properties"][part]);
    let schema = &listed["schema"];
    let choices = schema["enum"].as_array();
    let kind = match schema["type"].as_str() {
        _ if resolve(document, property)["type"] == "array" => Kind::List,
        Some("integer") => Kind::Whole,
        Some("boolean") => Kind::Boolean,
        _ => match choices {
            Some(list) => Kind::Choice(list.iter().filter_map(Value::as_str).map(ToOwned::to_owned).collect()),
            None if schema["x-unit"].is_object() => Kind::Quantity,
            None => Kind::Text,
        },
    };
    let items = resolve(document, &resolve(document, property)["items"]);
    Parameter {
        required: listed["required"] == true,
        units: units(schema).or_else(|| units(items)),
        meaning: meaning(listed),
        name,
        kind,
    }
}

/// The schema itself, or the one that it refers to.
fn resolve<'a>(document: &'a Value, schema: &'a Value) -> &'a Value {
    match schema["$ref"].as_str().and_then(|path| path.rsplit('/').next()) {
        Some(name) => &document["components"]["schemas"][name],
        None => schema,
    }
}

/// The single values of an answer. Lists have no place in a cell; their entries can still be named one by one.
fn collect(document: &Value, schema: &Value, prefix: &str, found: &mut Vec<Outcome>) {
    for (key, property) in schema["properties"].as_object().into_iter().flatten() {
        let name = if prefix.is_empty() { key.clone() } else { format!("{prefix}.{key}") };
        let target = resolve(document, property);
        match target["type"].as_str() {
            Some("object") => collect(document, target, &name, found),
            Some("array") => {}
            _ if name == "units" => {}
            _ => found.push(Outcome { name, units: units(property), meaning: meaning(property) }),
        }
    }
}

fn units(schema: &Value) -> Option<[String; 2]> {
    let unit = |system: &str| schema["x-unit"][system].as_str();
    let plain = |unit: &str| if unit == "1" { String::new() } else { unit.to_owned() };
    unit("inch").zip(unit("metric")).map(|(inch, metric)| [plain(inch), plain(metric)])
}

/// The description without the sentence about units, which have a place of their own.
fn meaning(described: &Value) -> String {
    let text = described["description"].as_str().unwrap_or_default();
    let end = [" Unit: ", " Without a unit."].iter().filter_map(|sentence| text.find(sentence)).min();
    end.map_or(text, |end| &text[..end]).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_document_tells_all_that_a_sheet_needs() {
        let document = crate::openapi::document();
        let forms = forms(&document);
        let found = forms.iter().find(|form| form.name == "compression/static").unwrap();
        assert_eq!((found.area.as_str(), found.identifier().as_str()), ("compression", "compression_static"));
        let bore = found.parameters.iter().find(|parameter| parameter.name == "bore").unwrap();
        assert!(bore.required && matches!(bore.kind, Kind::Quantity) && !bore.meaning.contains("Unit"));
        assert_eq!(bore.units, Some(["in".to_owned(), "mm".to_owned()]));
        let names: Vec<_> = found.results.iter().map(|result| result.name.as_str()).collect();
        assert!(names.contains(&"static_ratio") && names.contains(&"volumes.gasket") && !names.contains(&"units"));
        let motion = forms.iter().find(|form| form.name == "geometry/piston-motion").unwrap();
        let angles = motion.parameters.iter().find(|parameter| parameter.name == "crank_angles").unwrap();
        assert!(matches!(angles.kind, Kind::List));
        assert!(without_form(&document).iter().any(|(name, _)| name == "geometry/deck-survey"));
    }
}
