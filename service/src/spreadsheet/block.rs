//! One calculation in a sheet: its inputs on the left, its results on the right, each result a call of the value form.

use calc_core::stop::Stop;
use rust_xlsxwriter::{ConditionalFormatFormula, DataValidation, Formula, Worksheet, XlsxError};
use serde_json::Value;

use super::form::{Form, Kind, Outcome, Parameter};
use super::look::Look;
use crate::{problem::Problem, query, routes, value};

/// Columns of a block.
const NAME: u16 = 0;
const VALUE: u16 = 1;
const UNIT: u16 = 2;
const MEANING: u16 = 3;
const RESULT: u16 = 5;
const ANSWER: u16 = 6;
const ANSWER_UNIT: u16 = 7;
pub(super) const ANSWER_MEANING: u16 = 8;

/// Widths of all columns, in characters.
pub(super) const WIDTHS: [f64; 9] = [33.0, 15.0, 8.0, 58.0, 2.0, 50.0, 13.0, 9.0, 90.0];

/// Characters of a meaning that fit its column, and the height of a row where they do not.
const ONE_LINE: usize = 82;
const TWO_LINES: f64 = 25.0;

/// Cautions whose words are shown; the codes of all of them are.
const CAUTIONS_SHOWN: usize = 4;

/// Some spreadsheets take addresses of 2,048 characters; the name of the result comes on top.
const LONGEST_ADDRESS: usize = 1980;

/// A calculation with what its example gives, so that a program that does not compute shows the right numbers, too.
pub(super) struct Block<'a> {
    form: &'a Form,
    answer: Result<Value, Problem>,
    look: &'a Look,
}

impl<'a> Block<'a> {
    pub(super) fn new(form: &'a Form, look: &'a Look) -> Self {
        Self { form, answer: answer(form), look }
    }

    /// Writes the block from a row on; gives the first row below it.
    pub(super) fn write(&self, sheet: &mut Worksheet, top: u32) -> Result<u32, XlsxError> {
        let look = self.look;
        for column in NAME..=ANSWER_MEANING {
            sheet.write_blank(top, column, &look.bar)?;
        }
        sheet.write_with_format(top, NAME, &self.form.summary, &look.bar)?;
        sheet.write_with_format(top, ANSWER_MEANING, &self.form.name, &look.bar_right)?;
        for (column, title) in ["input", "value", "unit", "meaning"].into_iter().enumerate() {
            sheet.write_with_format(top + 1, NAME + column as u16, title, &look.heading)?;
            let title = if column == 0 { "result" } else { title };
            sheet.write_with_format(top + 1, RESULT + column as u16, title, &look.heading)?;
        }
        let first = top + 2;
        let results = self.results();
        let cautions = first + self.form.parameters.len().max(results.len()) as u32;
        let address = cautions + 1 + CAUTIONS_SHOWN as u32;
        self.write_inputs(sheet, first)?;
        self.write_results(sheet, first, address, &results)?;
        self.write_cautions(sheet, cautions, address)?;
        self.write_address(sheet, first, address)?;
        Ok(address + 2)
    }

    /// The results worth a row: those that the example has come first; echoes of texts and the innermost parts of
    /// sections are left out.
    fn results(&self) -> Vec<&'a Outcome> {
        const DEEPEST: usize = 4;
        let echo = |result: &Outcome| {
            result.units.is_none() && self.form.parameters.iter().any(|parameter| parameter.name == result.name)
        };
        let worth = self.form.results.iter().filter(|result| !echo(result));
        let (mut given, other): (Vec<_>, Vec<_>) = worth.partition(|result| self.given(&result.name));
        given.extend(other.into_iter().filter(|result| result.name.split('.').count() <= DEEPEST));
        given
    }

    fn given(&self, name: &str) -> bool {
        let pointer = format!("/{}", name.replace('.', "/"));
        self.answer.as_ref().is_ok_and(|answer| answer.pointer(&pointer).is_some())
    }

    /// What a cell shows before anything has been computed.
    fn shown(&self, name: &str) -> String {
        let entry = routes::calculation(&format!("/v1/{}", self.form.name));
        let text = match (&self.answer, entry) {
            (Ok(answer), Some(entry)) => value::text(entry, answer, &[name.to_owned()]),
            (Err(problem), _) => Err(problem.clone()),
            (Ok(_), None) => Ok(String::new()),
        };
        text.unwrap_or_else(|problem| value::inline(&problem))
    }

    fn system(&self) -> usize {
        usize::from(self.form.example["units"] == "metric")
    }

    fn write_inputs(&self, sheet: &mut Worksheet, first: u32) -> Result<(), XlsxError> {
        let look = self.look;
        for (row, parameter) in (first..).zip(&self.form.parameters) {
            let format = if parameter.required { &look.required } else { &look.name };
            sheet.write_with_format(row, NAME, &parameter.name, format)?;
            let tinted = if matches!(parameter.kind, Kind::Quantity | Kind::Whole) {
                &look.number_input
            } else {
                &look.text_input
            };
            match example(self.form, parameter) {
                Some(Value::Number(number)) => {
                    sheet.write_with_format(row, VALUE, number.as_f64().unwrap_or_default(), tinted)?
                }
                Some(value) => sheet.write_with_format(row, VALUE, cell_text(value, "; "), tinted)?,
                None => sheet.write_blank(row, VALUE, tinted)?,
            };
            sheet.add_data_validation(row, VALUE, row, VALUE, &help(parameter)?)?;
            self.write_unit(sheet, row, UNIT, first, parameter.units.as_ref())?;
            let meaning = first_sentence(&parameter.meaning);
            if meaning.len() > ONE_LINE {
                sheet.set_row_height(row, TWO_LINES)?;
            }
            sheet.write_with_format(row, MEANING, meaning, &look.meaning)?;
        }
        Ok(())
    }

    fn write_unit(
        &self,
        sheet: &mut Worksheet,
        row: u32,
        column: u16,
        first: u32,
        units: Option<&[String; 2]>,
    ) -> Result<(), XlsxError> {
        let Some([inch, metric]) = units else { return Ok(()) };
        if inch == metric {
            sheet.write_with_format(row, column, inch, &self.look.unit)?;
            return Ok(());
        }
        let place = self.form.parameters.iter().position(|parameter| parameter.name == "units").unwrap_or(0) as u32;
        let system = cell(first + place, VALUE);
        let formula = Formula::new(format!("=IF({system}=\"metric\",\"{metric}\",\"{inch}\")"))
            .set_result([inch, metric][self.system()]);
        sheet.write_formula_with_format(row, column, formula, &self.look.unit)?;
        Ok(())
    }

    fn write_results(
        &self,
        sheet: &mut Worksheet,
        first: u32,
        address: u32,
        results: &[&Outcome],
    ) -> Result<(), XlsxError> {
        for (row, result) in (first..).zip(results) {
            let shown = self.shown(&result.name);
            sheet.write_with_format(row, RESULT, &result.name, &self.look.name)?;
            let formula = Formula::new(call(row, 'F', address)).set_result(&shown);
            sheet.write_formula_with_format(row, ANSWER, formula, &self.look.result)?;
            self.write_unit(sheet, row, ANSWER_UNIT, first, result.units.as_ref())?;
            // Where there is no number, its meaning makes room for what is wrong.
            let answer = cell(row, ANSWER);
            let meaning = first_sentence(&result.meaning);
            let quoted = meaning.replace('"', "\"\"");
            let formula = format!("=IF(LEFT({answer},4)=\"#ERR\",{answer},\"{quoted}\")");
            let shown = if shown.starts_with("#ERR") { shown } else { meaning };
            let formula = Formula::new(formula).set_result(shown);
            sheet.write_formula_with_format(row, ANSWER_MEANING, formula, &self.look.unit)?;
        }
        let last = first + results.len() as u32;
        // The rule is written for the first row and moves with the others.
        let place = format!("$G{}", first + 1);
        for column in [ANSWER, ANSWER_MEANING] {
            for (rule, format) in [
                (format!("=ISNUMBER(SEARCH(\" needs \",{place}))"), &self.look.not_given),
                (format!("=LEFT({place},4)=\"#ERR\""), &self.look.refused),
            ] {
                let rule = ConditionalFormatFormula::new().set_rule(rule.as_str()).set_format(format);
                sheet.add_conditional_format(first, column, last, column, &rule.set_stop_if_true(true))?;
            }
        }
        Ok(())
    }

    /// The codes of all cautions, and the words of the first.
    fn write_cautions(&self, sheet: &mut Worksheet, row: u32, address: u32) -> Result<(), XlsxError> {
        sheet.write_with_format(row, NAME, "cautions", &self.look.required)?;
        let codes = self.shown("cautions");
        let formula = Formula::new(call(row, 'A', address)).set_result(&codes);
        sheet.write_formula_with_format(row, VALUE, formula, &self.look.result)?;
        let all = cell(row, VALUE);
        for index in 0..CAUTIONS_SHOWN {
            let row = row + 1 + index as u32;
            let name = format!("cautions.{index}.detail");
            sheet.write_with_format(row, NAME, &name, &self.look.unit)?;
            let fewer = format!(
                "OR({all}=\"none\",LEFT({all},4)=\"#ERR\",LEN({all})-LEN(SUBSTITUTE({all},\" \",\"\"))<{index})"
            );
            let formula = format!("=IF({fewer},\"\",{})", call(row, 'A', address).trim_start_matches('='));
            let shown = if self.given(&format!("cautions.{index}")) { self.shown(&name) } else { String::new() };
            let formula = Formula::new(formula).set_result(shown);
            sheet.write_formula_with_format(row, VALUE, formula, &self.look.result)?;
        }
        Ok(())
    }

    /// The address that all results of the block share: every input that is filled in.
    fn write_address(&self, sheet: &mut Worksheet, first: u32, row: u32) -> Result<(), XlsxError> {
        let base = format!("/v1/{}/value?errors=inline", self.form.name);
        let mut formula = format!("=ServiceUsed&\"{base}\"");
        for (row, parameter) in (first..).zip(&self.form.parameters) {
            let given = cell(row, VALUE);
            let text = match parameter.kind {
                Kind::Quantity => format!("SUBSTITUTE({given},\",\",\".\")"),
                // Semicolons between the entries, so that a comma is a decimal sign here as well.
                Kind::List => format!("SUBSTITUTE(SUBSTITUTE({given},\",\",\".\"),\";\",\",\")"),
                Kind::Boolean => format!("IF(ISLOGICAL({given}),IF({given},\"true\",\"false\"),{given})"),
                Kind::Whole | Kind::Choice(_) | Kind::Text => given.clone(),
            };
            let name = cell(row, NAME);
            formula += &format!("&IF({given}=\"\",\"\",\"&\"&{name}&\"=\"&_xlfn.ENCODEURL({text}))");
        }
        sheet.write_with_format(row, NAME, "address, without the result's name", &self.look.address)?;
        let shown: String = pairs(self.form).iter().map(|(name, text)| format!("&{name}={text}")).collect();
        let formula = Formula::new(formula).set_result(format!("{base}{shown}"));
        sheet.write_formula_with_format(row, VALUE, formula, &self.look.address)?;
        Ok(())
    }
}

/// The call of the result whose name stands in the row: a number, or else the service's own words, or else ours.
fn call(row: u32, column: char, address: u32) -> String {
    // Relative to its row, so that a row can be copied within its block.
    let (address, name) = (cell(address, VALUE), format!("${column}{}", row + 1));
    let asked = format!("_xlfn.WEBSERVICE({address}&\"&field=\"&{name})");
    format!(
        "=IFERROR(IFERROR(_xlfn.NUMBERVALUE({asked},\".\",\",\"),{asked}),IF(LEN({address})>{LONGEST_ADDRESS},\
         \"#ERR the address is too long: leave inputs out\",\"#ERR no answer: see the sheet How to\"))"
    )
}

/// `$B$5`.
fn cell(row: u32, column: u16) -> String {
    format!("${}${}", char::from(b'A' + column as u8), row + 1)
}

fn help(parameter: &Parameter) -> Result<DataValidation, XlsxError> {
    const LONGEST: usize = 250;
    let needed = if parameter.required { "Required. " } else { "" };
    let more = if matches!(parameter.kind, Kind::List) { " Several: with semicolons between them." } else { "" };
    let text = cut(&format!("{needed}{}", parameter.meaning), LONGEST - more.len()) + more;
    let rule = match &parameter.kind {
        // A longer list has no place in the file; the service names all choices when a wrong one is written.
        Kind::Choice(choices) if choices.join(",").len() <= LONGEST => {
            DataValidation::new().allow_list_strings(choices)?
        }
        Kind::Boolean => DataValidation::new().allow_list_strings(&["true", "false"])?,
        _ => DataValidation::new().allow_any_value(),
    };
    rule.set_input_message(text)
}

/// The first sentence of a description, short enough for a literal in a formula.
fn first_sentence(text: &str) -> String {
    const LONGEST: usize = 160;
    let end = text.find(". ").map_or(text, |end| &text[..=end]);
    cut(end, LONGEST)
}

fn cut(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        return text.to_owned();
    }
    text.chars().take(longest - 3).chain("...".chars()).collect()
}

/// The example's value for an input.
fn example<'a>(form: &'a Form, parameter: &Parameter) -> Option<&'a Value> {
    form.example.pointer(&format!("/{}", parameter.name.replace('.', "/")))
}

fn cell_text(value: &Value, between: &str) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(list) => list.iter().map(|item| cell_text(item, between)).collect::<Vec<_>>().join(between),
        other => other.to_string(),
    }
}

/// The example as a query: lists of objects have no place in one.
fn pairs(form: &Form) -> Vec<(String, String)> {
    let pair = |parameter: &Parameter| Some((parameter.name.clone(), cell_text(example(form, parameter)?, ",")));
    form.parameters.iter().filter_map(pair).collect()
}

fn answer(form: &Form) -> Result<Value, Problem> {
    let missing = || crate::calculation::internal("a calculation of the document is not in the list");
    let entry = routes::calculation(&format!("/v1/{}", form.name)).ok_or_else(missing)?;
    let request = query::request(entry.shape()?, &pairs(form))?;
    let answer = entry.answer_value(&request, &Stop::never()).map_err(Problem::in_query)?;
    serde_json::from_slice(&answer).map_err(|error| crate::calculation::internal(&error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spreadsheet::form::forms;

    #[test]
    fn every_example_is_answered_and_no_formula_is_too_long() {
        let look = Look::new();
        for form in &forms(&crate::openapi::document()) {
            let block = Block::new(form, &look);
            assert!(block.answer.is_ok(), "{}: {:?}", form.name, block.answer);
            let address: usize = form.parameters.iter().map(|parameter| parameter.name.len() + 90).sum();
            assert!(address < 8000, "{}: a formula may have 8,192 characters", form.name);
            let sent: usize = pairs(form).iter().map(|(name, text)| name.len() + 3 * text.len() + 2).sum();
            assert!(sent < LONGEST_ADDRESS - 100, "{}: the example's address is too long", form.name);
        }
    }

    #[test]
    fn descriptions_are_cut_at_their_first_sentence() {
        assert_eq!(first_sentence("Bore. At 20 degC."), "Bore.");
        assert_eq!(first_sentence(&"x".repeat(300)).len(), 160);
        assert_eq!(cell(4, VALUE), "$B$5");
    }
}
