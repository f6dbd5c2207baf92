//! The value form: bare numbers for a spreadsheet cell.

use serde_json::Value;

use crate::calculation::Entry;
use crate::openapi;
use crate::problem::{FieldError, Problem};
use crate::shape::unknown_field;

/// What the value form takes besides the request's own fields.
#[derive(Default)]
pub(crate) struct Controls {
    /// Dotted names of the results wanted.
    pub(crate) fields: Vec<String>,
    /// Send faults as text with status 200, because a spreadsheet loses the body of any other status.
    pub(crate) inline_errors: bool,
}

/// Takes the controls out of a query's pairs.
pub(crate) fn controls(pairs: &mut Vec<(String, String)>) -> Result<Controls, Problem> {
    let mut controls = Controls::default();
    let mut faults = Vec::new();
    pairs.retain(|(name, text)| {
        match name.as_str() {
            "field" => controls.fields.push(text.trim().to_owned()),
            "fields" => controls.fields.extend(text.split(',').map(|field| field.trim().to_owned())),
            "errors" if text == "inline" => controls.inline_errors = true,
            "errors" => faults.push(FieldError {
                pointer: None,
                parameter: Some("errors".to_owned()),
                code: "unknown_choice".to_owned(),
                detail: "errors must be inline, or be left out.".to_owned(),
                suggestion: Some("inline".to_owned()),
            }),
            _ => return true,
        }
        false
    });
    if faults.is_empty() { Ok(controls) } else { Err(Problem::invalid(faults)) }
}

/// The wanted results of an answer, joined by commas; without a line end, which would spoil the cell.
pub(crate) fn text(entry: &Entry, answer: &Value, fields: &[String]) -> Result<String, Problem> {
    let mut texts = Vec::new();
    let mut faults = Vec::new();
    for field in fields {
        let pointer = format!("/{}", field.replace('.', "/"));
        match answer.pointer(&pointer) {
            Some(Value::Number(number)) => texts.push(cell_number(&number.to_string())),
            Some(Value::String(text)) => texts.push(text.clone()),
            Some(Value::Bool(flag)) => texts.push(flag.to_string()),
            Some(_) => faults.push(no_such_result(field, "not_a_value", "is not a single value; name one inside it.")),
            None => faults.push(not_in_answer(entry, answer, field)),
        }
    }
    if faults.is_empty() { Ok(texts.join(",")) } else { Err(Problem::invalid(faults)) }
}

fn no_such_result(field: &str, code: &str, detail: &str) -> FieldError {
    FieldError {
        pointer: None,
        parameter: Some("field".to_owned()),
        code: code.to_owned(),
        detail: format!("{field} {detail}"),
        suggestion: None,
    }
}

fn not_in_answer(entry: &Entry, answer: &Value, field: &str) -> FieldError {
    // A whole section may be missing: then each of its fields is.
    let belongs = |result: &str| {
        let result = result.trim_start_matches("#/").replace('/', ".");
        field.strip_prefix(&result).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    if let Some(needs) =
        answer["missing"].as_array().into_iter().flatten().find(|note| note["result"].as_str().is_some_and(belongs))
    {
        let needs = needs["needs"].as_str().unwrap_or_default().trim_start_matches("#/").replace('/', ".");
        return no_such_result(field, "not_computed", &format!("needs {needs}."));
    }
    let known = openapi::results((entry.response)().as_ref());
    let unknown = unknown_field("", field, known.iter().map(|result| result.name.as_str()));
    let hint = unknown.suggestion.as_ref().map_or(String::new(), |meant| format!(" Did you mean {meant}?"));
    FieldError {
        suggestion: unknown.suggestion,
        ..no_such_result(field, "unknown_field", &format!("is not a result of this calculation.{hint}"))
    }
}

/// A number as a cell can take it: where a decimal comma is used, exactly three decimals would be read as thousands, so
/// those get a fourth and fail loudly there instead of being wrong by a thousand.
fn cell_number(text: &str) -> String {
    let decimals = text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    if decimals == 3 && !text.contains(['e', 'E']) { format!("{text}0") } else { text.to_owned() }
}

/// A problem as one line that a cell can show.
pub(crate) fn inline(problem: &Problem) -> String {
    const LONGEST: usize = 200;
    let first = problem.errors().first().map_or_else(|| problem.to_string(), |error| error.detail.clone());
    let more = problem.errors().len().saturating_sub(1);
    let more = if more > 0 { format!(" (and {more} more)") } else { String::new() };
    let line: String = format!("#ERR {first}{more}")
        .chars()
        .map(|character| match character {
            ',' => ';',
            '"' => '\'',
            plain if plain.is_ascii() && !plain.is_ascii_control() => plain,
            _ => '?',
        })
        .collect();
    line.chars().take(LONGEST).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_of_a_missing_section_names_what_the_section_needs() {
        let answer = serde_json::json!({"missing": [{"result": "#/a/section", "needs": "#/air/altitude"}], "a": {"sectional": 1}});
        let entry = &crate::routes::CALCULATIONS[0];
        let missing = text(entry, &answer, &["a.section.pressure".to_owned()]).unwrap_err();
        assert!(inline(&missing).contains("needs air.altitude"), "{}", inline(&missing));
        assert_eq!(text(entry, &answer, &["a.sectional".to_owned()]).unwrap(), "1");
    }

    #[test]
    fn three_decimals_get_a_fourth() {
        assert_eq!(cell_number("1.234"), "1.2340");
        assert_eq!(cell_number("0.125"), "0.1250");
        assert_eq!(cell_number("10.43"), "10.43");
        assert_eq!(cell_number("468"), "468");
        assert_eq!(cell_number("1.5e-7"), "1.5e-7");
    }
}
