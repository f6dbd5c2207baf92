//! The caller's rules as they travel.

use calc_core::build::rule::{self as core, Finding};
use calc_core::error::Error;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::wire::answer::{About, Caution, Pointer, Severity};
use crate::wire::place::{PlaceQuantity, ResultPointer};
use crate::wire::{ShortText, Units};

/// A limit of the caller's on one result, and what to say when it is not kept.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildRule {
    /// What the rule is called; each its own.
    name: ShortText,
    /// The result that it limits.
    pointer: ResultPointer,
    /// The least that keeps the rule; this, the most, or both.
    at_least: Option<PlaceQuantity>,
    /// The most that keeps the rule.
    at_most: Option<PlaceQuantity>,
    /// How much it weighs when it is broken.
    severity: Severity,
    /// What to say then.
    text: ShortText,
    /// Who considers it so: a standard, a textbook, common practice; given back in the caution's source.
    source: Option<ShortText>,
}

/// Rules ready to judge by.
pub(crate) struct Rules {
    pub(crate) core: Vec<core::Rule>,
    sources: Vec<Option<String>>,
}

impl Rules {
    /// The rules in core quantities, a bare number in the unit of its place.
    pub(crate) fn new(rules: Vec<BuildRule>, units: Units) -> Result<Self, Error> {
        let mut faults = Vec::new();
        let mut resolved = Self { core: Vec::with_capacity(rules.len()), sources: Vec::with_capacity(rules.len()) };
        for (index, rule) in rules.into_iter().enumerate() {
            let at = |field: &str| format!("rules/{index}/{field}");
            let field = match rule.pointer.resolve(&at("pointer")) {
                Ok(field) => field,
                Err(fault) => {
                    faults.push(fault);
                    continue;
                }
            };
            let mut limit = |given: Option<PlaceQuantity>, name: &str| {
                let si = given.map(|given| field.si(&given, units, &at(name))).transpose();
                si.unwrap_or_else(|fault| {
                    faults.push(fault);
                    None
                })
            };
            let (at_least, at_most) = (limit(rule.at_least, "at_least"), limit(rule.at_most, "at_most"));
            resolved.core.push(core::Rule {
                name: rule.name.into_text(),
                result: field.place,
                at_least,
                at_most,
                severity: rule.severity.into(),
                text: rule.text.into_text(),
            });
            resolved.sources.push(rule.source.map(ShortText::into_text));
        }
        if faults.is_empty() { Ok(resolved) } else { Err(Error::of_rules(faults)) }
    }

    /// The same, unless they contradict themselves or are too many.
    pub(crate) fn checked(self) -> Result<Self, Error> {
        let faults = core::faults(&self.core);
        if faults.is_empty() { Ok(self) } else { Err(Error::of_rules(faults)) }
    }

    /// What a rule found, as a caution.
    pub(crate) fn caution(&self, finding: Finding) -> Caution {
        const SOURCE: &str = "the caller's rule";
        let source = match self.sources.get(finding.rule) {
            Some(Some(source)) => format!("{SOURCE}: {source}").into(),
            _ => SOURCE.into(),
        };
        Caution {
            code: finding.code,
            severity: finding.severity.into(),
            about: About::Answer,
            pointer: Pointer(finding.path.into()),
            detail: finding.detail.into(),
            source,
            rule: self.core.get(finding.rule).map(|rule| rule.name.clone()),
        }
    }
}
