//! Modules for macros: a part written by hand, then wrappers and lists per calculation, made from the document.

use std::fmt::Write;

use super::form::{Form, forms};
use super::python;
use crate::openapi;

/// What a module is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Language {
    /// LibreOffice Basic.
    Basic,
    /// Excel VBA.
    Vba,
    /// Python, for LibreOffice or on its own.
    Python,
}

/// The text of a module.
#[must_use]
pub fn module(language: Language) -> String {
    let forms = forms(&openapi::document());
    match language {
        Language::Basic => format!("{}{COMMON}{}", include_str!("basic.bas"), generated(&forms)),
        Language::Vba => format!("{}{COMMON}{}", include_str!("vba.bas"), generated(&forms)),
        Language::Python => format!("{}{}", include_str!("python.py"), python::generated(&forms)),
    }
}

/// Both dialects of Basic read it.
const COMMON: &str = include_str!("common.bas");

fn generated(forms: &[Form]) -> String {
    let mut out = String::from(
        "\n' ---- Made from the service's document: what each calculation takes and gives, and a function for it. ----\n",
    );
    let list = forms.iter().map(|form| format!("{},\"{}\"", form.name, form.summary.replace('"', "'")));
    push_list(&mut out, "BwCalculationList", std::iter::once("calculation,question".to_owned()).chain(list));
    push_choice(&mut out, "BwInput", forms);
    push_choice(&mut out, "BwResult", forms);
    for form in forms {
        push_calculation(&mut out, form);
    }
    out
}

/// A function that gives lines of text.
fn push_list(out: &mut String, name: &str, lines: impl Iterator<Item = String>) {
    let _ = write!(out, "\nFunction {name}() As String\n  Dim t As String\n");
    for line in lines {
        let _ = writeln!(out, "  t = t & \"{}\" & Chr(10)", line.replace('"', "\"\""));
    }
    let _ = write!(out, "  {name} = t\nEnd Function\n");
}

/// A function that finds the list of a calculation.
fn push_choice(out: &mut String, name: &str, forms: &[Form]) {
    let _ = write!(out, "\nFunction {name}List(calculation As String) As String\n  Select Case calculation\n");
    for form in forms {
        let _ = write!(out, "    Case \"{}\"\n      {name}List = {name}sOf_{}()\n", form.name, form.identifier());
    }
    let _ = write!(
        out,
        "    Case Else\n      {name}List = \"#ERR there is no calculation \" & calculation & Chr(10)\n  End Select\nEnd Function\n"
    );
}

fn push_calculation(out: &mut String, form: &Form) {
    let identifier = form.identifier();
    let inputs = form.parameters.iter().map(|parameter| {
        let [inch, metric] = parameter.units.clone().unwrap_or_default();
        format!("{},{},{inch},{metric}", parameter.name, if parameter.required { "required" } else { "" })
    });
    push_list(out, &format!("BwInputsOf_{identifier}"), inputs);
    let results = form.results.iter().map(|result| {
        let [inch, metric] = result.units.clone().unwrap_or_default();
        format!("{},{inch},{metric}", result.name)
    });
    push_list(out, &format!("BwResultsOf_{identifier}"), results);
    push_wrapper(out, form, &identifier);
}

/// What is required has a place of its own; the rest comes in `more`, by name.
fn push_wrapper(out: &mut String, form: &Form, identifier: &str) {
    let required: Vec<_> = form.parameters.iter().filter(|parameter| parameter.required).collect();
    let variable = |name: &str| format!("in_{}", name.replace('.', "_"));
    let arguments: String =
        required.iter().map(|parameter| format!("{} As Variant, ", variable(&parameter.name))).collect();
    let _ = write!(
        out,
        "\n' {}\nFunction Bw_{identifier}(field As String, {arguments}Optional more As Variant) As Variant\n  Dim query As String\n",
        form.summary
    );
    for parameter in required {
        let name = &parameter.name;
        let _ = writeln!(out, "  query = query & BwPair(\"{name}\", {})", variable(name));
    }
    let _ = write!(
        out,
        "  If Not IsMissing(more) Then query = query & BwQuery(more)\n  Bw_{identifier} = BwAsk(\"{}\", field, query)\nEnd Function\n",
        form.name
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn modules_keep_the_limits_of_their_editors() {
        for language in [Language::Basic, Language::Vba] {
            let text = module(language);
            // A line of VBA has at most 1,023 characters, a function at most 60 arguments and 64 KiB.
            assert!(text.lines().all(|line| line.len() < 1000));
            assert!(
                text.lines().filter(|line| line.starts_with("Function")).all(|line| line.matches(',').count() < 59)
            );
            assert!(text.split("\nEnd Function").all(|function| function.len() < 32 * 1024));
            assert!(text.is_ascii(), "an editor may read it in another encoding");
        }
    }
}
