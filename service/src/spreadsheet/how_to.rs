//! The first sheet: the service's address, how to work with the others, and where each calculation is.

use rust_xlsxwriter::{Formula, Workbook, XlsxError};

use super::form::Form;
use super::look::Look;

/// Name of the sheet.
pub(super) const NAME: &str = "How to";

/// Where a calculation's block is.
pub(super) struct Entry<'a> {
    pub(super) form: &'a Form,
    pub(super) sheet: String,
    /// From 0.
    pub(super) row: u32,
}

const ADDRESS_ROW: u32 = 4;

const STEPS: [&str; 9] = [
    "Each answer is a call of the service: WEBSERVICE gets one number as text, NUMBERVALUE reads its decimal point in every country.",
    "LibreOffice: allow links to be updated when it asks (a bar above the sheet), or the answers stay as they were saved. Excel: only on \
     Windows has it WEBSERVICE; allow editing and external content.",
    "Decimal comma or point: type numbers as your spreadsheet does. In cells that take several values put semicolons between them.",
    "Each block chooses its units, inch or metric; this does not convert what is filled in. A quantity may name its own unit: 107.95 mm, 64 cc.",
    "A text that begins with #ERR says what is wrong and what would be right. \"needs\" names an input that would give one more result.",
    "Cautions belong to the numbers: read them. Their codes stand below the results, the words of the first four beside them.",
    "To ask for another result, write its name into a result's name cell, such as points.0.position for the first entry of a list.",
    "To use a number in a sheet of your own, copy its block's inputs, address and result rows; the defined name ServiceUsed holds the address.",
    "For a thousand rows at once use the macros (one call for a whole range) instead of a thousand cells.",
];

const WARNING: &str = "A wrong number can break an engine and hurt somebody near it. Measure the actual parts, mock the assembly up, follow \
    the part maker's own limits first, and have the work done or checked by a qualified machinist. Nothing here replaces that.";

pub(super) fn write(
    workbook: &mut Workbook,
    address: &str,
    index: &[Entry],
    without: &[(String, String)],
    look: &Look,
) -> Result<(), XlsxError> {
    workbook.define_name("ServiceAddress", &format!("='{NAME}'!$B${}", ADDRESS_ROW + 1))?;
    workbook.define_name("ServiceUsed", &format!("='{NAME}'!$B${}", ADDRESS_ROW + 2))?;
    let sheet = workbook.worksheet_from_name(NAME)?;
    sheet.set_screen_gridlines(false).set_paper_size(9).set_print_fit_to_pages(1, 0);
    for (column, width) in [(0, 30.0), (1, 62.0), (2, 40.0)] {
        sheet.set_column_width(column, width)?;
    }
    sheet.write_with_format(0, 0, "Blockwright", &look.title)?.set_row_height(0, 24)?;
    sheet.write_with_format(1, 0, "Engine-build calculations, asked from a spreadsheet", &look.unit)?;
    sheet.merge_range(2, 0, 2, 2, WARNING, &look.strong)?.set_row_height(2, 48)?;
    write_address(sheet, address, look)?;
    let mut row = ADDRESS_ROW + 4;
    for (number, step) in (1..).zip(STEPS) {
        sheet.write_with_format(row, 0, format!("{number}"), &look.unit)?;
        sheet.merge_range(row, 1, row, 2, step, &look.text)?.set_row_height(row, 32)?;
        row += 1;
    }
    row = write_index(sheet, row + 1, index, look)?;
    if !without.is_empty() {
        let note = "Not in this workbook, because they take lists of measurements: send them JSON.";
        sheet.write_with_format(row + 1, 0, note, &look.heading)?;
        for (row, (name, summary)) in (row + 2..).zip(without) {
            sheet.write_with_format(row, 0, name, &look.unit)?;
            sheet.write_with_format(row, 1, summary, &look.unit)?;
        }
    }
    Ok(())
}

fn write_address(sheet: &mut rust_xlsxwriter::Worksheet, address: &str, look: &Look) -> Result<(), XlsxError> {
    sheet.write_with_format(ADDRESS_ROW, 0, "Address of the service", &look.required)?;
    sheet.write_with_format(ADDRESS_ROW, 1, address, &look.address_input)?;
    sheet.write_with_format(ADDRESS_ROW + 1, 0, "as it is used", &look.unit)?;
    // A slash at the end is forgiven.
    let place = format!("$B${}", ADDRESS_ROW + 1);
    let used = format!("=IF(RIGHT(TRIM({place}),1)=\"/\",LEFT(TRIM({place}),LEN(TRIM({place}))-1),TRIM({place}))");
    sheet.write_formula_with_format(ADDRESS_ROW + 1, 1, Formula::new(used).set_result(address), &look.unit)?;
    sheet.write_with_format(ADDRESS_ROW + 2, 0, "does it answer?", &look.unit)?;
    let asked = "=IFERROR(IF(_xlfn.WEBSERVICE(ServiceUsed&\"/healthz\")=\"ok\",\"yes\",\"something else answers there\"),\
                 \"no: is it running, and may this document get external data?\")";
    sheet.write_formula_with_format(ADDRESS_ROW + 2, 1, Formula::new(asked).set_result("yes"), &look.result)?;
    Ok(())
}

fn write_index(
    sheet: &mut rust_xlsxwriter::Worksheet,
    top: u32,
    index: &[Entry],
    look: &Look,
) -> Result<u32, XlsxError> {
    for (column, title) in [(0, "calculation"), (1, "question"), (2, "")] {
        sheet.write_with_format(top, column, title, &look.heading)?;
    }
    let mut row = top + 1;
    for entry in index {
        let place = format!("internal:'{}'!A{}", entry.sheet, entry.row + 1);
        sheet.write_url_with_options(row, 0, place.as_str(), &entry.form.name, "", Some(&look.link))?;
        sheet.write_with_format(row, 1, &entry.form.summary, &look.name)?;
        row += 1;
    }
    Ok(row)
}
