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
    /// What is wrong with the controls themselves.
    faults: Vec<FieldError>,
}

/// More results than these are asked for in several requests.
const MOST_FIELDS: usize = 100;

/// Takes the controls out of a query's pairs.
pub(crate) fn controls(pairs: &mut Vec<(String, String)>) -> Controls {
    let mut controls = Controls::default();
    pairs.retain(|(name, text)| {
        match name.as_str() {
            "field" => controls.fields.push(text.trim().to_owned()),
            "fields" => controls.fields.extend(text.split(',').map(|field| field.trim().to_owned())),
            "errors" if text == "inline" => controls.inline_errors = true,
            "errors" => controls.faults.push(FieldError {
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
    if controls.fields.len() > MOST_FIELDS {
        let detail = format!("are {}; at most {MOST_FIELDS} are given at once.", controls.fields.len());
        controls.faults.push(no_such_result("fields", "too_many", &detail));
    }
    controls
}

impl Controls {
    /// The controls, if nothing is wrong with them.
    pub(crate) fn check(&self) -> Result<(), Problem> {
        if self.faults.is_empty() { Ok(()) } else { Err(Problem::invalid(self.faults.clone())) }
    }
}

/// The wanted results of an answer, joined by commas; without a line end, which would spoil the cell.
pub(crate) fn text(entry: &Entry, answer: &Value, fields: &[String]) -> Result<String, Problem> {
    let mut texts = Vec::new();
    let mut faults = Vec::new();
    for field in fields {
        let pointer = format!("/{}", field.replace('.', "/"));
        match answer.pointer(&pointer) {
            Some(Value::Number(number)) => texts.push(cell_number(&number.to_string())),
            // Several texts side by side must not have the comma that stands between them.
            Some(Value::String(text)) if fields.len() > 1 => texts.push(text.replace(',', ";")),
            Some(Value::String(text)) => texts.push(text.clone()),
            Some(Value::Bool(flag)) => texts.push(flag.to_string()),
            Some(Value::Array(list)) if field == "cautions" => texts.push(codes(list)),
            Some(_) => faults.push(no_such_result(field, "not_a_value", "is not a single value; name one inside it.")),
            None => faults.push(not_in_answer(entry, answer, field)),
        }
    }
    if faults.is_empty() { Ok(texts.join(",")) } else { Err(Problem::invalid(faults)) }
}

/// The codes of an answer's cautions; a word when there are none, because an empty body is an error to some cells.
fn codes(cautions: &[Value]) -> String {
    let codes: Vec<_> = cautions.iter().filter_map(|caution| caution["code"].as_str()).collect();
    if codes.is_empty() { "none".to_owned() } else { codes.join(" ") }
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
    let known = openapi::results(entry);
    if known.iter().any(|result| result.name == field) {
        return no_such_result(field, "not_computed", "needs more inputs, or other ones.");
    }
    let unknown = unknown_field("", field, known.iter().map(|result| result.name.as_str()));
    let hint = unknown.suggestion.as_ref().map_or(String::new(), |meant| format!(" Did you mean {meant}?"));
    FieldError {
        suggestion: unknown.suggestion,
        ..no_such_result(field, "unknown_field", &format!("is not a result of this calculation.{hint}"))
    }
}

/// A number as a cell can take it: shortest digits. Where a decimal comma is used, exactly three decimals would be read as
/// thousands, with or without an exponent, so those get a fourth and fail loudly there instead of being wrong by a thousand.
fn cell_number(text: &str) -> String {
    let (digits, exponent) = text.find(['e', 'E']).map_or((text, ""), |place| text.split_at(place));
    let digits = digits.strip_suffix(".0").unwrap_or(digits);
    let decimals = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let fourth = if decimals == 3 { "0" } else { "" };
    format!("{digits}{fourth}{exponent}")
}

/// A problem as one line that a cell can show: ASCII, short, without the characters that would end a cell.
pub(crate) fn inline(problem: &Problem) -> String {
    const LONGEST: usize = 200;
    let first = problem.errors().first().map_or_else(|| problem.to_string(), |error| error.detail.clone());
    let more = problem.errors().len().saturating_sub(1);
    let more = if more > 0 { format!(" (and {more} more)") } else { String::new() };
    let plain = |character| match character {
        ',' => ';',
        '"' => '\'',
        plain if char::is_ascii(&plain) && !plain.is_ascii_control() => plain,
        _ => '?',
    };
    let line: String = "#ERR ".chars().chain(first.chars()).map(plain).take(LONGEST - more.len()).collect();
    line + &more
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
        assert_eq!(cell_number("1.234e-7"), "1.2340e-7");
        assert_eq!(cell_number("-12.345"), "-12.3450");
    }

    #[test]
    fn whole_numbers_have_no_point() {
        assert_eq!(cell_number("468.0"), "468");
        assert_eq!(cell_number("-1.0"), "-1");
        assert_eq!(cell_number("100.0e20"), "100e20");
    }

    #[test]
    fn a_long_fault_keeps_the_count_of_the_others() {
        let long = no_such_result("bore", "out_of_range", &"\u{e4}, \"b\" \n".repeat(100));
        let line = inline(&Problem::invalid(vec![long.clone(), long.clone(), long]));
        assert_eq!(line.len(), 200);
        assert!(line.starts_with("#ERR bore ?; 'b' ?") && line.ends_with(" (and 2 more)"), "{line}");
    }

    #[test]
    fn no_input_has_the_name_of_a_control() {
        let controls = ["field", "fields", "errors", "dec"];
        for entry in crate::routes::CALCULATIONS {
            for (leaf, _, _) in entry.shape().unwrap().leaves() {
                assert!(!controls.contains(&leaf.as_str()), "{}: {leaf}", entry.path);
            }
        }
    }
}
