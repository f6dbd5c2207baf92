//! A shop's own rules: limits on the results of a build that turn into cautions.

use std::collections::HashSet;

use validator::ValidationError;

use crate::caution::Severity;
use crate::error::broken_rule;
use crate::limit;

use super::evaluate::Evaluation;
use super::place::Output;

/// A limit on one result, and what to say when it is not kept.
#[derive(Debug, Clone)]
pub struct Rule {
    /// What the shop calls it; each rule its own.
    pub name: String,
    /// The result.
    pub result: &'static Output,
    /// The least that is kept, in SI units.
    pub at_least: Option<f64>,
    /// The most that is kept, in SI units.
    pub at_most: Option<f64>,
    /// How much it weighs when it is broken.
    pub severity: Severity,
    /// What to say then.
    pub text: String,
}

/// What a rule found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Place of the rule in the list.
    pub rule: usize,
    /// `rule_broken`, or `rule_not_judged` when the build lacks the result.
    pub code: &'static str,
    /// The rule's own when it is broken.
    pub severity: Severity,
    /// Path of the result.
    pub path: &'static str,
    /// What was found, what the rule wants, and what it says.
    pub detail: String,
}

/// Everything that is wrong with a list of rules; places are those in a list called `rules`.
///
/// **Equation** None.
///
/// **Shape** Any number of rules; more than [`limit::MOST_RULES`] are one fault.
///
/// **Units** Limits in SI units.
///
/// **Valid for** Any.
///
/// **Errors** None: the faults are the answer.
///
/// **Source** First principles (a rule without a limit, or with a least above its most, says nothing).
#[must_use]
pub fn faults(rules: &[Rule]) -> Vec<ValidationError> {
    if rules.len() > limit::MOST_RULES {
        let detail = format!("has {} entries; at most {} are taken.", rules.len(), limit::MOST_RULES);
        return vec![broken_rule("rules", "too_many", detail)];
    }
    let mut names = HashSet::new();
    let mut faults = Vec::new();
    for (index, rule) in rules.iter().enumerate() {
        let at = |field: &str| format!("rules/{index}/{field}");
        if rule.name.trim().is_empty() {
            faults.push(broken_rule(&at("name"), "missing", "is empty; name the rule.".to_owned()));
        } else if !names.insert(rule.name.as_str()) {
            let detail = format!("'{}' is the name of an earlier rule; give each its own.", rule.name);
            faults.push(broken_rule(&at("name"), "duplicate_name", detail));
        }
        for (field, limit) in [("at_least", rule.at_least), ("at_most", rule.at_most)] {
            if limit.is_some_and(|limit| !limit.is_finite()) {
                faults.push(broken_rule(&at(field), "out_of_range", "is too large a number.".to_owned()));
            }
        }
        match (rule.at_least, rule.at_most) {
            (None, None) => {
                let detail = "is missing: a rule needs at_least, at_most or both.";
                faults.push(broken_rule(&at("at_least"), "missing", detail.to_owned()));
            }
            (Some(least), Some(most)) if least > most => {
                let dimension = rule.result.dimension;
                let (least, most) = (dimension.shown(least), dimension.shown(most));
                let detail = format!("of {most} is less than at_least, {least}: nothing keeps this rule.");
                faults.push(broken_rule(&at("at_most"), "contradiction", detail));
            }
            _ => {}
        }
    }
    faults
}

/// The rules that a build breaks, and those that it cannot be judged by.
///
/// **Equation** at_least <= result <= at_most
///
/// **Shape** At most one finding for each rule, in the order of the rules.
///
/// **Units** Limits and results in SI units.
///
/// **Valid for** Rules without [`faults`].
///
/// **Errors** None.
///
/// **Source** The caller's rules.
#[must_use]
pub fn judge(rules: &[Rule], evaluation: &Evaluation) -> Vec<Finding> {
    rules.iter().enumerate().filter_map(|(index, rule)| finding(index, rule, evaluation)).collect()
}

fn finding(index: usize, rule: &Rule, evaluation: &Evaluation) -> Option<Finding> {
    let (path, dimension) = (rule.result.path, rule.result.dimension);
    let Some(value) = rule.result.get(evaluation) else {
        let belongs =
            |result: &str| path.strip_prefix(result).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'));
        let needs = evaluation.missing.iter().find(|missing| belongs(missing.result));
        let needs = needs.map_or(String::new(), |missing| format!(" It needs {}.", missing.needs));
        let detail = format!("{}: not judged, the build does not give this result.{needs}", rule.name);
        return Some(Finding { rule: index, code: "rule_not_judged", severity: Severity::Note, path, detail });
    };
    let (limit, how) = match (rule.at_least, rule.at_most) {
        (Some(least), _) if value < least => (least, "below the least"),
        (_, Some(most)) if value > most => (most, "above the most"),
        _ => return None,
    };
    let (value, limit) = (dimension.shown(value), dimension.shown(limit));
    let detail = format!("{}: {value} is {how} that the rule allows, {limit}. {}", rule.name, rule.text);
    Some(Finding { rule: index, code: "rule_broken", severity: rule.severity, path, detail })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::evaluate::evaluate;
    use super::super::place::RESULTS;
    use super::super::tests::demo;
    use super::*;
    use crate::error::Error;

    fn rule(result: &'static Output, at_least: Option<f64>, at_most: Option<f64>) -> Rule {
        let (name, text) = (result.path.to_owned(), "Look at it.".to_owned());
        Rule { name, result, at_least, at_most, severity: Severity::Caution, text }
    }

    proptest! {
        #[test]
        fn a_rule_is_broken_exactly_outside_its_limits(share in 0.5..1.5_f64, width in 0.0..0.4_f64, place in 0..RESULTS.len()) {
            let evaluation = evaluate(&demo())?;
            let result = &RESULTS[place];
            let value = result.get(&evaluation).ok_or(TestCaseError::fail(result.path))?;
            let (a, b) = (value * share, value * (share + width));
            let (least, most) = (a.min(b), a.max(b));
            let found = judge(&[rule(result, Some(least), Some(most))], &evaluation);
            prop_assert_eq!(found.is_empty(), least <= value && value <= most);
        }
    }

    #[test]
    fn a_rule_on_what_the_build_lacks_says_what_it_needs() -> Result<(), Error> {
        let mut build = demo();
        build.camshaft = None;
        let rules: Vec<_> = RESULTS.iter().map(|result| rule(result, None, Some(f64::MAX))).collect();
        let found = judge(&rules, &evaluate(&build)?);
        assert_eq!(found.len(), 9);
        assert!(found.iter().all(|one| one.code == "rule_not_judged" && one.detail.contains("camshaft/")), "{found:?}");
        Ok(())
    }

    #[test]
    fn faults_name_the_rule_and_the_field() {
        let result = &RESULTS[0];
        let rules = [rule(result, Some(2.0), Some(1.0)), rule(result, None, None)];
        let found = Error::of_rules(faults(&rules)).faults();
        let found: Vec<_> = found.iter().map(|fault| (fault.path.as_str(), fault.code.as_str())).collect();
        let wanted =
            [("rules/0/at_most", "contradiction"), ("rules/1/at_least", "missing"), ("rules/1/name", "duplicate_name")];
        assert_eq!(found, wanted);
        let endless = faults(&[rule(result, Some(f64::INFINITY), None)]);
        assert_eq!(Error::of_rules(endless).faults()[0].code, "out_of_range");
        let many: Vec<_> = (0..1000).map(|_| rule(result, None, None)).collect();
        assert_eq!(faults(&many).len(), 1);
    }
}
