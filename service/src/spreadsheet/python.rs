//! The generated part of the Python module.

use std::fmt::Write;

use super::form::{Form, Parameter};

pub(super) fn generated(forms: &[Form]) -> String {
    let mut out = String::from(
        "\n\n# ---- Made from the service's document: what each calculation takes and gives, and a function for it. ----\n\n\
         CALCULATIONS = {\n",
    );
    for form in forms {
        let _ = write!(out, "    \"{}\": {{\n        \"inputs\": {{\n", form.name);
        for parameter in &form.parameters {
            let [inch, metric] = parameter.units.clone().unwrap_or_default();
            let required = if parameter.required { "True" } else { "False" };
            let _ = writeln!(out, "            \"{}\": ({required}, \"{inch}\", \"{metric}\"),", parameter.name);
        }
        out.push_str("        },\n        \"results\": {\n");
        for result in &form.results {
            let [inch, metric] = result.units.clone().unwrap_or_default();
            let _ = writeln!(out, "            \"{}\": (\"{inch}\", \"{metric}\"),", result.name);
        }
        out.push_str("        },\n    },\n");
    }
    out.push_str("}\n");
    for form in forms {
        push_wrapper(&mut out, form);
    }
    out
}

fn push_wrapper(out: &mut String, form: &Form) {
    let required = form.parameters.iter().filter(|parameter| parameter.required);
    let optional = form.parameters.iter().filter(|parameter| !parameter.required);
    let arguments: Vec<_> =
        required.map(variable).chain(optional.map(|parameter| format!("{}=None", variable(parameter)))).collect();
    let _ = write!(out, "\n\ndef {}(\n    *,\n", form.identifier());
    for argument in arguments {
        let _ = writeln!(out, "    {argument},");
    }
    let _ = write!(out, "):\n    \"\"\"{}\"\"\"\n    return ask(\"{}\", {{\n", form.summary, form.name);
    for parameter in &form.parameters {
        let _ = writeln!(out, "        \"{}\": {},", parameter.name, variable(parameter));
    }
    out.push_str("    })\n");
}

/// `from` is a word of the language.
fn variable(parameter: &Parameter) -> String {
    const WORDS: [&str; 12] = ["from", "in", "is", "as", "and", "or", "not", "if", "for", "with", "class", "global"];
    let name = parameter.name.replace('.', "_");
    if WORDS.contains(&name.as_str()) { format!("{name}_") } else { name }
}
