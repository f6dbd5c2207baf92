//! `POST …/table`: a CSV table in (RFC 4180), the same rows and columns out, with the results in further columns.
//!
//! The header's names are those of a query, each optionally with the unit of its column: `bore [mm]`. What stands in the
//! address's own query counts for every row: `?units=inch`. With `dec=comma` fields are separated by semicolons and numbers
//! have a decimal comma, both ways. A wrong row gets its fault in the last column, `error`, and the others go on.

use std::collections::HashSet;

use calc_core::stop::Stop;
use csv::StringRecord;
use serde_json::Value;

use crate::calculation::{Entry, hung_up};
use crate::problem::{self, FieldError, Problem};
use crate::shape::{Shape, fault, unknown_field};
use crate::{openapi, query, value};

/// What the address's query says besides the request's own fields.
struct Controls {
    decimal_comma: bool,
    constants: Vec<(String, String)>,
}

/// A column of the caller's.
struct Column {
    /// Dotted name; `None` for an `id` that is no field of the request: it is only given back.
    field: Option<String>,
    /// Unit of its bare numbers, when the header says one.
    unit: Option<String>,
}

/// Answers a table; `inline` in the query turns a refusal of the whole table into a table of one cell.
///
/// # Errors
/// The problem to send instead: unreadable CSV, or a header that does not fit.
pub(crate) fn answer(entry: &Entry, query: &str, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
    let mut pairs = query::pairs(query);
    let inline = take(&mut pairs, "errors", "inline")?;
    let answered = take(&mut pairs, "dec", "comma")
        .and_then(|decimal_comma| fill(entry, &Controls { decimal_comma, constants: pairs }, body, stop));
    match answered {
        Err(problem) if inline && problem.kind().status < 500 => {
            Ok(format!("error\r\n{}\r\n", value::inline(&problem)).into_bytes())
        }
        other => other,
    }
}

/// Takes a control out of the pairs; it has one possible value.
fn take(pairs: &mut Vec<(String, String)>, name: &str, only: &str) -> Result<bool, Problem> {
    let Some(place) = pairs.iter().position(|(key, _)| key == name) else { return Ok(false) };
    let (_, text) = pairs.remove(place);
    if text == only {
        return Ok(true);
    }
    let detail = format!("must be {only}, or be left out.");
    Err(Problem::invalid(vec![fault(&format!("#/{name}"), "unknown_choice", detail)]).in_query())
}

fn fill(entry: &Entry, controls: &Controls, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
    let body = body.strip_prefix(b"\xef\xbb\xbf").unwrap_or(body);
    let delimiter = if controls.decimal_comma { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).from_reader(body);
    let header = reader.headers().map_err(|error| unreadable(&error))?.clone();
    let columns = columns(entry.shape()?, &header)?;
    let results = openapi::results((entry.response)().as_ref());
    let mut writer =
        csv::WriterBuilder::new().delimiter(delimiter).terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let units = controls.constants.iter().find(|(name, _)| name == "units").map(|(_, units)| units.as_str());
    let given: HashSet<&str> = columns.iter().filter_map(|column| column.field.as_deref()).collect();
    let titles = results.iter().map(|result| result.title(units, given.contains(result.name.as_str())));
    let echoed = header.iter().map(harmless);
    write(&mut writer, echoed.chain(titles).chain(["cautions".to_owned(), "error".to_owned()]))?;
    let mut row = StringRecord::new();
    while reader.read_record(&mut row).map_err(|error| unreadable(&error))? {
        if stop.is_set() {
            return Err(hung_up());
        }
        let answered = answer_row(entry, controls, &columns, &row, stop);
        // A short row is filled up, so that every row of the answer has every column.
        let echoed = (0..header.len().max(row.len())).map(|place| harmless(row.get(place).unwrap_or("")));
        let comma = |text: String| if controls.decimal_comma { text.replace('.', ",") } else { text };
        let (cells, cautions, error) = match &answered {
            Ok(answer) => {
                let cells = results.iter().map(|result| comma(cell(answer.pointer(&result.pointer)))).collect();
                (cells, codes(answer), String::new())
            }
            Err(problem) => (vec![String::new(); results.len()], String::new(), value::inline(problem)),
        };
        write(&mut writer, echoed.chain(cells).chain([cautions, error]))?;
    }
    writer.into_inner().map_err(|error| crate::calculation::internal(&error.to_string()))
}

fn write(writer: &mut csv::Writer<Vec<u8>>, cells: impl Iterator<Item = String>) -> Result<(), Problem> {
    writer.write_record(cells).map_err(|error| crate::calculation::internal(&error.to_string()))
}

/// The columns that the header names; every fault of it at once.
fn columns(shape: &Shape, header: &StringRecord) -> Result<Vec<Column>, Problem> {
    let leaves = shape.leaves();
    let mut faults: Vec<FieldError> = Vec::new();
    let mut columns: Vec<Column> = Vec::new();
    for title in header {
        let (name, unit) = split_title(title);
        let pointer = format!("#/{}", name.replace('.', "/"));
        let leaf = leaves.iter().find(|(leaf, _, _)| leaf == name);
        if columns.iter().any(|column| column.field.as_deref() == Some(name)) {
            faults.push(fault(&pointer, "duplicate_field", "is the title of two columns; give it once.".to_owned()));
        }
        match (leaf, unit) {
            (None, None) if name == "id" => {}
            (None, _) => faults.push(unknown_field(&pointer, name, leaves.iter().map(|(leaf, _, _)| leaf.as_str()))),
            (Some((_, field, _)), Some(unit)) => {
                if let Err(detail) = check_unit(&field.shape, unit) {
                    faults.push(fault(&pointer, "bad_quantity", detail));
                }
            }
            (Some(_), None) => {}
        }
        columns.push(Column { field: leaf.map(|_| name.to_owned()), unit: unit.map(ToOwned::to_owned) });
    }
    if faults.is_empty() { Ok(columns) } else { Err(Problem::invalid(faults).in_query()) }
}

/// `bore [mm]` is `bore` and `mm`.
pub(crate) fn split_title(title: &str) -> (&str, Option<&str>) {
    let title = title.trim();
    match title.strip_suffix(']').and_then(|title| title.split_once('[')) {
        Some((name, unit)) => (name.trim(), Some(unit.trim())),
        None => (title, None),
    }
}

pub(crate) fn check_unit(shape: &Shape, unit: &str) -> Result<(), String> {
    match shape {
        Shape::Quantity(kind) => (kind.check_text)(&format!("1 {unit}")),
        _ => Err("is no quantity; give its title without a unit.".to_owned()),
    }
}

fn answer_row(
    entry: &Entry,
    controls: &Controls,
    columns: &[Column],
    row: &StringRecord,
    stop: &Stop,
) -> Result<Value, Problem> {
    if row.len() > columns.len() {
        let detail = format!("has {} cells; the header has {}.", row.len(), columns.len());
        return Err(Problem::invalid(vec![fault("#/row", "wrong_length", detail)]));
    }
    let mut pairs = controls.constants.clone();
    for (column, text) in columns.iter().zip(row) {
        if let Some(field) = &column.field
            && !text.trim().is_empty()
        {
            pairs.push((field.clone(), cell_text(controls, column, text)));
        }
    }
    let request = query::request(entry.shape()?, &pairs)?;
    let answer = entry.answer_value(&request, stop).map_err(Problem::in_query)?;
    serde_json::from_slice(&answer).map_err(|error| crate::calculation::internal(&error.to_string()))
}

fn cell_text(controls: &Controls, column: &Column, text: &str) -> String {
    let text = if controls.decimal_comma { text.replace(',', ".") } else { text.to_owned() };
    match &column.unit {
        // A cell may name a unit of its own.
        Some(unit) if text.trim().parse::<f64>().is_ok() => format!("{} {unit}", text.trim()),
        _ => text,
    }
}

fn cell(value: Option<&Value>) -> String {
    match value {
        Some(Value::String(text)) => harmless(text),
        Some(value) => value.to_string(),
        None => String::new(),
    }
}

/// The codes of an answer's cautions.
fn codes(answer: &Value) -> String {
    let cautions = answer["cautions"].as_array().into_iter().flatten();
    cautions.filter_map(|caution| caution["code"].as_str()).collect::<Vec<_>>().join(" ")
}

/// A text that a spreadsheet would run as a formula gets an apostrophe before it; a number does not.
fn harmless(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let number = text.replace(',', ".").trim().parse::<f64>().is_ok();
    if formula && !number { format!("'{text}") } else { text.to_owned() }
}

fn unreadable(error: &csv::Error) -> Problem {
    Problem::new(problem::MALFORMED_BODY, format!("The body is not a CSV table in UTF-8: {error}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_made_harmless_and_numbers_are_left_alone() {
        assert_eq!(harmless("=1+1"), "'=1+1");
        assert_eq!(harmless("@cmd"), "'@cmd");
        assert_eq!(harmless("-0.125"), "-0.125");
        assert_eq!(harmless("-0,125"), "-0,125");
        assert_eq!(harmless("head, left"), "head, left");
    }

    #[test]
    fn titles_may_have_units() {
        assert_eq!(split_title(" bore [mm] "), ("bore", Some("mm")));
        assert_eq!(split_title("block.bore"), ("block.bore", None));
    }
}
