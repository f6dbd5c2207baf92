//! The workbook: a sheet per area, a block per calculation, and a sheet that says how to use it.
//!
//! It is made when it is asked for: so it knows the address it was fetched from, and no committed file can drift.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use super::block::{ANSWER_MEANING, Block, WIDTHS};
use super::form::{self, Form};
use super::how_to::{self, Entry};
use super::look::Look;
use crate::calculation::internal;
use crate::openapi;
use crate::problem::Problem;

/// The workbook's bytes; its formulas call the service at `address`.
pub(crate) fn workbook(address: &str) -> Result<Vec<u8>, Problem> {
    make(address).map_err(|error| internal(&error.to_string()))
}

fn make(address: &str) -> Result<Vec<u8>, XlsxError> {
    let document = openapi::document();
    let forms = form::forms(&document);
    let look = Look::new();
    let mut workbook = Workbook::new();
    // Equal workbooks for equal addresses: no date of their own.
    let properties =
        DocProperties::new().set_title("Blockwright").set_creation_datetime(&ExcelDateTime::from_ymd(2000, 1, 1)?);
    workbook.set_properties(&properties);
    workbook.add_worksheet().set_name(how_to::NAME)?;
    let mut areas: Vec<&str> = forms.iter().map(|form| form.area.as_str()).collect();
    areas.dedup();
    let mut index = Vec::new();
    for area in areas {
        let of_area = forms.iter().filter(|form| form.area == area);
        add_area(&mut workbook, area, of_area, &look, &mut index)?;
    }
    let without = form::without_form(&document);
    how_to::write(&mut workbook, address, &index, &without, &look)?;
    workbook.save_to_buffer()
}

fn add_area<'a>(
    workbook: &mut Workbook,
    area: &str,
    forms: impl Iterator<Item = &'a Form>,
    look: &Look,
    index: &mut Vec<Entry<'a>>,
) -> Result<(), XlsxError> {
    let name = sheet_name(area);
    let sheet = workbook.add_worksheet();
    sheet.set_name(&name)?.set_screen_gridlines(false).set_landscape().set_paper_size(9);
    sheet.set_formula_result_default("").set_print_fit_to_pages(1, 0).set_freeze_panes(2, 0)?;
    for (column, width) in (0..).zip(WIDTHS) {
        sheet.set_column_width(column, width)?;
    }
    sheet.write_with_format(0, 0, &name, &look.title)?.set_row_height(0, 24)?;
    let note = "Fill in the tinted cells: bold names are required, empty cells are left out. A number counts in the unit beside it; \
                text may name its own: 107.95 mm.";
    sheet.write_with_format(1, 0, note, &look.address)?;
    sheet.write_url_with_options(
        0,
        BACK,
        format!("internal:'{}'!A1", how_to::NAME).as_str(),
        how_to::NAME,
        "",
        Some(&look.link),
    )?;
    let mut row = 3;
    for form in forms {
        index.push(Entry { form, sheet: name.clone(), row });
        row = Block::new(form, look).write(sheet, row)? + 1;
    }
    sheet.set_print_area(0, 0, row, ANSWER_MEANING)?;
    Ok(())
}

/// Column of the link back to the first sheet.
const BACK: u16 = 5;

/// `compression` is `Compression`.
fn sheet_name(area: &str) -> String {
    let mut letters = area.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_calculation_of_the_document_fits_a_sheet() {
        let workbook = make("http://127.0.0.1:8080").unwrap();
        assert!(workbook.starts_with(b"PK"));
        assert_eq!(sheet_name("compression"), "Compression");
    }
}
