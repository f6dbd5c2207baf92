//! What can go wrong in a calculation, always with the input's name and what would be right.

use validator::{ValidationError, ValidationErrors, ValidationErrorsKind};

/// Why a calculation gave no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Error {
    /// One or more inputs are out of range or contradict each other; all of them are listed.
    #[error("the input is not valid: {0}")]
    Invalid(ValidationErrors),
    /// The inputs are sound one by one, but no answer exists.
    #[error("{field}: {detail}")]
    NoSolution {
        /// Path of the input that must change, as in [`Fault::path`].
        field: &'static str,
        /// Why there is none, and what would be right.
        detail: String,
    },
    /// An iteration failed: our fault, never the caller's.
    #[error("{what} did not converge (residual {residual:e})")]
    NotConverged {
        /// What was being solved.
        what: &'static str,
        /// What was left when the work bound was reached.
        residual: f64,
    },
    /// The caller no longer wants the answer; see [`crate::stop::Stop`].
    #[error("stopped, because nobody waits for the answer any more")]
    Stopped,
}

/// One fault of the input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Names of the fields down to the wrong one, joined by `/`; list places are numbers.
    pub path: String,
    /// Stable snake_case code.
    pub code: String,
    /// What is wrong and what would be right.
    pub detail: String,
    /// The name that was probably meant.
    pub suggestion: Option<String>,
}

impl Error {
    /// The faults that the caller can mend; empty when the failure is ours.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        match self {
            Self::Invalid(errors) => {
                let mut faults = Vec::new();
                flatten(errors, "", &mut faults);
                // The validator keeps a hash map: sort, so that equal requests get equal answers.
                faults.sort_by(|a, b| (&a.path, &a.code).cmp(&(&b.path, &b.code)));
                faults
            }
            Self::NoSolution { field, detail } => {
                let (path, code) = ((*field).to_owned(), "no_solution".to_owned());
                vec![Fault { path, code, detail: detail.clone(), suggestion: None }]
            }
            Self::NotConverged { .. } | Self::Stopped => Vec::new(),
        }
    }

    /// Several broken rules as one error.
    #[must_use]
    pub fn of_rules(rules: impl IntoIterator<Item = ValidationError>) -> Self {
        let mut errors = ValidationErrors::new();
        rules.into_iter().for_each(|rule| errors.add(WHOLE, rule));
        Self::Invalid(errors)
    }

    /// The same error about an input that stands one level deeper: `block/bore` within `build` is `build/block/bore`.
    #[must_use]
    pub fn within(self, field: &'static str) -> Self {
        let inner = match self {
            Self::Invalid(inner) => inner,
            Self::NoSolution { field: inner, detail } => {
                let mut errors = ValidationErrors::new();
                errors.add(WHOLE, broken_rule(inner, "no_solution", detail));
                errors
            }
            other => return other,
        };
        let mut outer = ValidationErrors::new();
        outer.merge_self(field, Err(inner));
        Self::Invalid(outer)
    }
}

impl Error {
    /// The faults of both as one error; a failure of ours goes before the caller's faults.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        let (these, those) = (self.faults(), other.faults());
        match (these.is_empty(), those.is_empty()) {
            (true, _) => self,
            (false, true) => other,
            (false, false) => Self::of_rules(these.into_iter().chain(those).map(Fault::into_rule)),
        }
    }
}

impl Fault {
    /// The fault as a broken rule, to be put among others.
    pub(crate) fn into_rule(self) -> ValidationError {
        let mut rule = misspelt(&self.path, "", self.detail, self.suggestion);
        rule.code = self.code.into();
        rule
    }
}

impl From<ValidationErrors> for Error {
    fn from(errors: ValidationErrors) -> Self {
        Self::Invalid(errors)
    }
}

/// A cross-field rule that was broken, pinned to the field that must change (`head_gasket/bore`).
#[must_use]
pub fn broken_rule(field: &str, code: &'static str, detail: String) -> ValidationError {
    let mut error = ValidationError::new(code).with_message(detail.into());
    error.add_param("field".into(), &field);
    error
}

/// As [`broken_rule`], with the name that was probably meant.
#[must_use]
pub fn misspelt(field: &str, code: &'static str, detail: String, suggestion: Option<String>) -> ValidationError {
    let mut error = broken_rule(field, code, detail);
    if let Some(meant) = suggestion {
        error.add_param("suggestion".into(), &meant);
    }
    error
}

/// The faults of single fields together with broken cross-field rules, so that one answer names them all.
///
/// # Errors
/// [`Error::Invalid`] when there is any fault.
pub(crate) fn all_faults(
    fields: Result<(), ValidationErrors>,
    rules: impl IntoIterator<Item = ValidationError>,
) -> Result<(), Error> {
    let mut errors = fields.err().unwrap_or_default();
    for rule in rules {
        errors.add(WHOLE, rule);
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// One fault as a whole error, for rules that only a calculation can check.
#[must_use]
pub fn contradiction(field: &str, detail: String) -> Error {
    Error::of_rules([broken_rule(field, "contradiction", detail)])
}

/// The validator's own name for faults of a whole struct.
const WHOLE: &str = "__all__";

fn flatten(errors: &ValidationErrors, prefix: &str, faults: &mut Vec<Fault>) {
    for (name, kind) in errors.errors() {
        let here = join(prefix, name);
        match kind {
            ValidationErrorsKind::Field(list) => {
                faults.extend(list.iter().map(|error| fault(error, prefix, name, &here)))
            }
            ValidationErrorsKind::Struct(inner) => flatten(inner, &here, faults),
            ValidationErrorsKind::List(items) => {
                for (index, inner) in items {
                    flatten(inner, &join(&here, &index.to_string()), faults);
                }
            }
        }
    }
}

fn fault(error: &ValidationError, prefix: &str, name: &str, here: &str) -> Fault {
    let pinned = error.params.get("field").and_then(|field| field.as_str());
    let path = match pinned {
        Some(field) => join(prefix, field),
        None if name == WHOLE => prefix.to_owned(),
        None => here.to_owned(),
    };
    let detail = error.message.as_ref().map_or_else(|| error.to_string(), ToString::to_string);
    let suggestion = error.params.get("suggestion").and_then(|meant| meant.as_str()).map(ToOwned::to_owned);
    Fault { path, code: error.code.to_string(), detail, suggestion }
}

fn join(prefix: &str, name: &str) -> String {
    if prefix.is_empty() { name.to_owned() } else { format!("{prefix}/{name}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_one_level_deeper_names_the_deeper_place() {
        let paths = |error: Error| error.faults().into_iter().map(|fault| fault.path).collect::<Vec<_>>();
        assert_eq!(paths(contradiction("block/bore", String::new()).within("build")), ["build/block/bore"]);
        let none = Error::NoSolution { field: "piston", detail: String::new() };
        assert_eq!(paths(none.within("build")), ["build/piston"]);
        assert_eq!(Error::Stopped.within("build"), Error::Stopped);
    }

    #[test]
    fn two_errors_are_one_with_the_faults_of_both() {
        let (one, other) = (contradiction("a", String::new()), contradiction("b", String::new()));
        let both: Vec<_> = one.and(other.clone()).faults().into_iter().map(|fault| (fault.path, fault.code)).collect();
        assert_eq!(both, ["a", "b"].map(|path| (path.to_owned(), "contradiction".to_owned())));
        let ours = Error::NotConverged { what: "x", residual: 1.0 };
        assert_eq!((ours.clone().and(other.clone()), other.and(ours.clone())), (ours.clone(), ours));
    }

    #[test]
    fn what_was_probably_meant_comes_along() {
        let rule = misspelt("bor", "unknown", String::new(), Some("bore".to_owned()));
        assert_eq!(Error::of_rules([rule]).faults()[0].suggestion.as_deref(), Some("bore"));
    }
}
