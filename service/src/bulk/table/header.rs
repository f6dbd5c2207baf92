//! The header of a table, resolved once: where each column's cells go in the request, and which results come after them.

use std::collections::HashSet;

use super::record::Record;
use super::text::{harmless, write_cell};
use super::{Controls, request::Node};
use crate::calculation::Entry;
use crate::openapi;
use crate::problem::{FieldError, Problem};
use crate::shape::{Field, Shape, fault, unknown_field};

/// More faults than this are not listed.
const MOST_FAULTS: usize = 100;

/// What the header of a table says.
pub(crate) struct Header {
    /// How many columns the caller has.
    pub(super) width: usize,
    /// The request that a row spells.
    pub(super) request: Vec<Option<Node>>,
    /// Where the results stand in the answer.
    pub(super) results: Results,
}

/// A field of the answer: a result, an object that holds some, or what has no place in a row.
#[derive(Default)]
pub(crate) struct Results {
    pub(crate) name: String,
    /// The fields of an object up to the last result, in the order in which they are written.
    pub(crate) inner: Vec<Results>,
    /// Place among the result columns.
    pub(crate) column: Option<usize>,
    /// How many result columns there are inside.
    pub(crate) count: usize,
}

/// Where a column's cells go.
pub(super) struct Column {
    /// Dotted name; `None` for an `id` that is no field of the request: it is only given back.
    pub(super) field: Option<String>,
    /// Unit of its bare numbers, when the header says one.
    pub(super) unit: Option<String>,
}

/// Reads a header and appends that of the answer to `out`.
///
/// # Errors
/// Every fault of the header and of the address's constants at once.
pub(super) fn read(entry: &Entry, controls: &Controls, row: &Record, out: &mut Vec<u8>) -> Result<Header, Problem> {
    let shape = entry.shape()?;
    let columns = columns(shape, controls, row)?;
    let given: HashSet<&str> = columns.iter().filter_map(|column| column.field.as_deref()).collect();
    let leaves = shape.leaves();
    let is_text =
        |name: &str| leaves.iter().any(|(leaf, field, _)| leaf == name && matches!(field.shape, Shape::Text { .. }));
    // A text of the caller's, given back, stands in its own column already.
    let results: Vec<_> = openapi::results(entry)
        .iter()
        .filter(|result| !(given.contains(result.name.as_str()) && is_text(&result.name)))
        .collect();
    let units = controls.constants.iter().find(|(name, _)| name == "units").map(|(_, units)| units.as_str());
    let titles = results.iter().map(|result| result.title(units, given.contains(result.name.as_str())));
    let echoed = row.iter().map(|title| harmless(title).into_owned());
    for (place, title) in echoed.chain(titles).chain(["cautions".to_owned(), "error".to_owned()]).enumerate() {
        if place > 0 {
            out.push(controls.delimiter());
        }
        write_cell(out, &title, controls.delimiter());
    }
    out.extend_from_slice(b"\r\n");
    let places = results.iter().map(|result| (result.pointer.as_str(), result.places.as_slice()));
    Ok(Header { width: row.len(), request: Node::all(shape, controls, &columns), results: Results::tree(places) })
}

impl Results {
    fn tree<'a>(results: impl Iterator<Item = (&'a str, &'a [usize])>) -> Self {
        let mut root = Self::default();
        for (column, (pointer, places)) in results.enumerate() {
            let mut here = &mut root;
            here.count += 1;
            for (name, place) in pointer.split('/').skip(1).zip(places) {
                if here.inner.len() <= *place {
                    here.inner.resize_with(place + 1, Self::default);
                }
                here = &mut here.inner[*place];
                name.clone_into(&mut here.name);
                here.count += 1;
            }
            here.column = Some(column);
        }
        root
    }
}

/// The columns that the header names; every fault of it at once, and of the constants beside it.
fn columns(shape: &Shape, controls: &Controls, row: &Record) -> Result<Vec<Column>, Problem> {
    let leaves = shape.leaves();
    let mut faults: Vec<FieldError> = Vec::new();
    let mut seen: HashSet<&str> = HashSet::new();
    let constants = controls.constants.iter().map(|(name, _)| (name.as_str(), None));
    let titles = row.iter().map(split_title);
    let mut columns = Vec::new();
    for (place, (name, unit)) in constants.chain(titles).enumerate() {
        let field = leaves.iter().find(|(leaf, _, _)| leaf == name).map(|(_, field, _)| *field);
        let known = || leaves.iter().map(|(leaf, _, _)| leaf.as_str());
        let in_row = place >= controls.constants.len();
        faults.extend(judge(name, unit, field, known, in_row));
        if field.is_some() && !seen.insert(name) {
            let detail = "is given twice, as a column or in the address; give it once.".to_owned();
            faults.push(fault(&pointer(name), "duplicate_field", detail));
        }
        if faults.len() >= MOST_FAULTS {
            break;
        }
        if in_row {
            columns.push(Column { field: field.map(|_| name.to_owned()), unit: unit.map(ToOwned::to_owned) });
        }
    }
    if faults.is_empty() { Ok(columns) } else { Err(Problem::invalid(faults).in_query()) }
}

fn pointer(name: &str) -> String {
    format!("#/{}", name.replace('.', "/"))
}

/// What is wrong with one name.
fn judge<'a, I: Iterator<Item = &'a str>>(
    name: &str,
    unit: Option<&str>,
    field: Option<&Field>,
    known: impl Fn() -> I,
    in_row: bool,
) -> Option<FieldError> {
    match (field, unit) {
        (None, None) if name == "id" && in_row => None,
        (None, _) => Some(unknown_field(&pointer(name), name, known())),
        (Some(field), Some(unit)) => {
            check_unit(&field.shape, unit).err().map(|detail| fault(&pointer(name), "bad_quantity", detail))
        }
        (Some(_), None) => None,
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_may_have_units() {
        assert_eq!(split_title(" bore [mm] "), ("bore", Some("mm")));
        assert_eq!(split_title("block.bore"), ("block.bore", None));
    }

    #[test]
    fn results_are_found_by_place() {
        let results: [(&str, &[usize]); 3] = [("/a/b", &[1, 0]), ("/a/c", &[1, 2]), ("/d", &[2])];
        let tree = Results::tree(results.into_iter());
        assert_eq!((tree.count, tree.inner[0].count, tree.inner[1].count), (3, 0, 2));
        assert_eq!((tree.inner[1].inner[2].name.as_str(), tree.inner[1].inner[2].column), ("c", Some(1)));
        assert_eq!((tree.inner[2].name.as_str(), tree.inner[2].column), ("d", Some(2)));
    }
}
