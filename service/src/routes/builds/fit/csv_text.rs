//! A slot's candidates as CSV text: the same columns and rules as the table form's.

use calc_core::build::fit::catalogue::Part;
use calc_core::error::{broken_rule, misspelt};
use csv::StringRecord;
use serde_json::{Map, Value};
use validator::ValidationError;

use super::parts::Offered;
use crate::bulk::table::{check_unit, split_title};
use crate::shape::{Field, Shape, suggest};
use crate::wire::Units;

/// More faults than this are not listed.
const MOST_FAULTS: usize = 100;

/// A column: the field it fills, and the unit of its bare numbers.
struct Column<'a> {
    field: &'a Field,
    unit: Option<String>,
}

/// Reads the rows; `shape` is that of one part, `place` the pointer to the text.
pub(super) fn read<P: Offered>(
    text: &str,
    shape: &Shape,
    place: &str,
    units: Units,
) -> Result<Vec<Part<P::Fields>>, Vec<ValidationError>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let unreadable =
        |error: &csv::Error| vec![broken_rule(place, "malformed_csv", format!("is not a CSV table: {error}."))];
    let header = reader.headers().map_err(|error| unreadable(&error))?.clone();
    let columns = columns(&header, shape, place)?;
    let (mut parts, mut faults) = (Vec::new(), Vec::new());
    let mut row = StringRecord::new();
    let mut number = 0;
    while reader.read_record(&mut row).map_err(|error| unreadable(&error))? {
        match part::<P>(&columns, &row) {
            Some(part) if faults.is_empty() => parts.push(part.core(units)),
            Some(_) => {}
            None => faults.extend(row_faults(&columns, &row, &format!("{place}/{number}"))),
        }
        if faults.len() >= MOST_FAULTS {
            break;
        }
        number += 1;
    }
    if faults.is_empty() { Ok(parts) } else { Err(faults) }
}

/// The columns that the header names; every fault of it at once.
fn columns<'a>(header: &StringRecord, shape: &'a Shape, place: &str) -> Result<Vec<Column<'a>>, Vec<ValidationError>> {
    let fields: &[Field] = if let Shape::Object(fields) = shape { fields } else { &[] };
    let (mut columns, mut faults): (Vec<Column<'_>>, Vec<ValidationError>) = (Vec::new(), Vec::new());
    for title in header {
        let (name, unit) = split_title(title);
        let at = format!("{place}/{}", crate::strict_json::escape(name));
        let Some(field) = fields.iter().find(|field| field.name == name) else {
            let meant = suggest(name, fields.iter().map(|field| field.name.as_str()));
            let hint = meant.as_ref().map_or(String::new(), |meant| format!(" Did you mean {meant}?"));
            faults.push(misspelt(&at, "unknown_field", format!("is not a column here.{hint}"), meant));
            continue;
        };
        if columns.iter().any(|column| column.field.name == name) {
            faults.push(broken_rule(&at, "duplicate_field", "is the title of two columns; give it once.".to_owned()));
        }
        if let Some(Err(detail)) = unit.map(|unit| check_unit(&field.shape, unit)) {
            faults.push(broken_rule(&at, "bad_quantity", detail));
        }
        columns.push(Column { field, unit: unit.map(ToOwned::to_owned) });
    }
    for field in fields.iter().filter(|field| field.required) {
        if columns.iter().all(|column| column.field.name != field.name) {
            let detail = "is missing: the table needs this column.".to_owned();
            faults.push(broken_rule(&format!("{place}/{}", field.name), "missing", detail));
        }
    }
    if faults.is_empty() { Ok(columns) } else { Err(faults) }
}

/// The part of a row, read as its JSON would be.
fn part<P: Offered>(columns: &[Column<'_>], row: &StringRecord) -> Option<P> {
    let cell =
        |(column, text): (&Column<'_>, &str)| (column.field.name.clone(), Value::String(cell_text(column, text)));
    let said = columns.iter().zip(row).filter(|(column, text)| column.field.required || !text.trim().is_empty());
    let object: Map<String, Value> = said.map(cell).collect();
    serde_json::from_value(Value::Object(object)).ok()
}

fn cell_text(column: &Column<'_>, text: &str) -> String {
    match &column.unit {
        // A cell may name a unit of its own.
        Some(unit) if text.trim().parse::<f64>().is_ok() => format!("{} {unit}", text.trim()),
        _ => text.to_owned(),
    }
}

fn row_faults(columns: &[Column<'_>], row: &StringRecord, place: &str) -> Vec<ValidationError> {
    let mut faults = Vec::new();
    for (column, text) in columns.iter().zip(row) {
        let at = format!("{place}/{}", column.field.name);
        match &column.field.shape {
            Shape::Quantity(kind) if !text.trim().is_empty() => {
                if let Err(detail) = (kind.check_text)(&cell_text(column, text)) {
                    faults.push(broken_rule(&at, "bad_quantity", detail));
                }
            }
            Shape::Text { longest } if text.chars().count() > *longest => {
                let detail = format!("has {} characters; at most {longest} are taken.", text.chars().count());
                faults.push(broken_rule(&at, "too_long", detail));
            }
            _ => {}
        }
    }
    if faults.is_empty() {
        faults.push(broken_rule(place, "wrong_type", "cannot be read as a part.".to_owned()));
    }
    faults
}
