//! Builds side by side: planned against as measured, or variants of one engine.

use validator::ValidationError;

use crate::caution::{Caution, STANDING};
use crate::error::{Error, Fault, broken_rule};
use crate::limit;
use crate::method::Method;

use super::difference::{Difference, differences};
use super::evaluate::{Evaluation, evaluate};
use super::rule::{self, Finding, Rule, judge};
use super::sheet::Build;

/// How [`compare`] works.
pub const METHOD: Method = Method {
    id: "build-comparison",
    title: "Builds side by side, differences by consequence",
    equation: "difference = new - old; relative = (new - old)/|old|, of absolute temperatures. Consequence of a result = \
         |new - old|/width: the width between both limits of the caller's narrowest rule on it; else the width of its usual \
         range as its caution states it; else the whole that it is a part of (a volume above the piston: the reference's \
         clearance volume; a difference to the label: the label); else the larger of |old| and |new|. Consequence of an \
         input = that of the result which it moves furthest when it alone is changed in the reference. Order: results on \
         which a caution was gained or lost, other results, results of single cylinders, inputs, readings of single \
         cylinders; the larger consequence first within each.",
    valid_for: "From 2 to 10 builds that evaluate, in any units: numbers within 1e-12 of each other are equal. An input that \
         is absent in one build, or that the reference does not allow alone, has no consequence and comes last. Cautions are \
         the same when code, weight, place and rule are.",
    sources: &["Definition of a difference", "The usual ranges are those of the cautions, each with its own source"],
};

/// Builds to compare.
#[derive(Debug, Clone)]
pub struct CompareInput {
    /// The builds; the first is the reference unless another is named.
    pub builds: Vec<Named>,
    /// Name of the build that the others are compared with.
    pub reference: Option<String>,
    /// The caller's rules, for all of them.
    pub rules: Vec<Rule>,
}

/// A build with a name.
#[derive(Debug, Clone)]
pub struct Named {
    /// What it is called; each build its own.
    pub name: String,
    /// The build.
    pub build: Build,
}

/// All builds against the reference.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Place of the reference in the list.
    pub reference: usize,
    /// One for each other build, in their order.
    pub comparisons: Vec<Comparison>,
}

/// One build against the reference.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Place of the build in the list.
    pub build: usize,
    /// Every number that differs, the most consequential first.
    pub differences: Vec<Difference>,
    /// Cautions that the reference does not have.
    pub gained: Vec<Remark>,
    /// Cautions that only the reference has.
    pub lost: Vec<Remark>,
}

/// A caution, of the calculation's or of the caller's rules.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// The calculation's own.
    Caution(Caution),
    /// A rule's.
    Rule(Finding),
}

impl Remark {
    /// Whether both say the same, whatever the figures in their words.
    fn is_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Caution(one), Self::Caution(other)) => {
                (one.code, one.severity, one.about, &one.path) == (other.code, other.severity, other.about, &other.path)
            }
            (Self::Rule(one), Self::Rule(other)) => (one.rule, one.code) == (other.rule, other.code),
            _ => false,
        }
    }

    /// Path of the result that it is about; none when it is about an input or the whole.
    fn result(&self) -> Option<&str> {
        match self {
            Self::Caution(caution) => (caution.about == crate::caution::About::Answer).then_some(caution.path.as_ref()),
            Self::Rule(finding) => Some(finding.path),
        }
    }
}

/// Every number that differs between builds, the most consequential first, and the cautions gained and lost.
///
/// **Equation** new - old, and (new - old)/|old|; consequences by [`super::consequence::consequence`].
///
/// **Shape** From 2 to 10 builds; one comparison for each but the reference.
///
/// **Units** SI units.
///
/// **Valid for** Builds that evaluate. Numbers within rounding of each other (1e-12) are taken as equal, so that a sheet in inches
/// equals the same sheet in millimetres.
///
/// **Errors** [`Error::Invalid`] with the faults of all builds and rules at once, each with its build's place; for too few or
/// too many builds, a name that stands twice, and a reference that is none of them.
///
/// **Source** Definition of a difference.
pub fn compare(input: &CompareInput) -> Result<Compared, Error> {
    let mut faults = faults(input);
    let mut evaluations = Vec::new();
    for (index, named) in input.builds.iter().enumerate().take(*limit::COMPARED_BUILDS.last().unwrap_or(&0)) {
        match evaluate(&named.build) {
            Ok(evaluation) => evaluations.push(evaluation),
            Err(error) if error.faults().is_empty() => return Err(error),
            Err(error) => faults.extend(within_item(&error, index)),
        }
    }
    if !faults.is_empty() {
        return Err(Error::of_rules(faults));
    }
    let reference = reference(input).unwrap_or(0);
    let remarks: Vec<_> = evaluations.iter().map(|evaluation| remarks(evaluation, &input.rules)).collect();
    let against = |build: usize| {
        let (old, new) = (&remarks[reference], &remarks[build]);
        let only_in = |some: &[Remark], others: &[Remark]| -> Vec<Remark> {
            some.iter().filter(|one| !others.iter().any(|other| other.is_same(one))).cloned().collect()
        };
        let (gained, lost) = (only_in(new, old), only_in(old, new));
        let crossed: Vec<&str> = gained.iter().chain(&lost).filter_map(Remark::result).collect();
        let [old, new] = [reference, build].map(|place| (&input.builds[place].build, &evaluations[place]));
        let differences = differences(old, new, &input.rules, &crossed);
        Comparison { build, differences, gained, lost }
    };
    let others = (0..input.builds.len()).filter(|build| *build != reference);
    Ok(Compared { reference, comparisons: others.map(against).collect() })
}

/// The cautions of one build without the standing one, which all have.
fn remarks(evaluation: &Evaluation, rules: &[Rule]) -> Vec<Remark> {
    let cautions = evaluation.cautions.iter().filter(|caution| caution.code != STANDING.code);
    let findings = judge(rules, evaluation).into_iter().map(Remark::Rule);
    cautions.cloned().map(Remark::Caution).chain(findings).collect()
}

fn reference(input: &CompareInput) -> Option<usize> {
    let name = input.reference.as_ref()?;
    input.builds.iter().position(|named| named.name == *name)
}

fn faults(input: &CompareInput) -> Vec<ValidationError> {
    let [fewest, most] = limit::COMPARED_BUILDS;
    let count = input.builds.len();
    let mut faults = rule::faults(&input.rules);
    if !(fewest..=most).contains(&count) {
        let detail = format!("must hold from {fewest} to {most} builds; got {count}.");
        faults.push(broken_rule("builds", "wrong_length", detail));
        return faults;
    }
    for (index, named) in input.builds.iter().enumerate() {
        let field = format!("builds/{index}/name");
        if named.name.trim().is_empty() {
            faults.push(broken_rule(&field, "missing", "is empty; name the build.".to_owned()));
        } else if input.builds[..index].iter().any(|earlier| earlier.name == named.name) {
            let detail = format!("'{}' is the name of an earlier build; give each its own.", named.name);
            faults.push(broken_rule(&field, "duplicate_name", detail));
        }
    }
    if let Some(name) = &input.reference
        && reference(input).is_none()
    {
        let names = input.builds.iter().map(|named| named.name.as_str()).collect::<Vec<_>>().join(", ");
        let detail = format!("'{name}' is none of the builds: {names}.");
        faults.push(broken_rule("reference", "unknown_choice", detail));
    }
    faults
}

/// The faults of one build, each with the build's place before its own.
fn within_item(error: &Error, index: usize) -> impl Iterator<Item = ValidationError> {
    error
        .faults()
        .into_iter()
        .map(move |fault| Fault { path: format!("builds/{index}/build/{}", fault.path), ..fault }.into_rule())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::difference::rank;
    use super::super::every_place::Place;
    use super::super::place::INPUTS;
    use super::super::tests::demo;
    use super::*;
    use crate::units::Length;

    fn named(name: &str, build: Build) -> Named {
        Named { name: name.to_owned(), build }
    }

    fn two(old: Build, new: Build) -> Result<Comparison, Error> {
        let input = CompareInput { builds: vec![named("old", old), named("new", new)], reference: None, rules: vec![] };
        Ok(compare(&input)?.comparisons.remove(0))
    }

    proptest! {
        #[test]
        fn there_and_back_are_opposite(bore in 4.14..4.2, deck in 9.45..9.5) {
            let mut other = demo();
            other.block.bore = Length::from_inches(bore);
            other.block.deck_height = Length::from_inches(deck);
            let (there, back) = (two(demo(), other.clone())?, two(other, demo())?);
            prop_assert_eq!(there.differences.len(), back.differences.len());
            for one in &there.differences {
                let same = back.differences.iter().find(|other| other.place.path() == one.place.path());
                let same = same.ok_or(TestCaseError::fail(one.place.path().to_owned()))?;
                prop_assert_eq!((one.old, one.new), (same.new, same.old));
            }
            prop_assert_eq!(there.gained.len(), back.lost.len());
            prop_assert_eq!(there.lost.len(), back.gained.len());
        }

        #[test]
        fn an_input_alone_is_the_only_input_that_differs(place in 0..INPUTS.len(), share in 1.0001..1.001) {
            let input = &INPUTS[place];
            let mut other = demo();
            let value = input.get(&other).unwrap_or_default();
            // Nothing is moved from zero, and a count or a bank angle by too little to matter.
            prop_assume!(value != 0.0 && !input.whole && input.set(&mut other, value * share));
            let found = two(demo(), other)?;
            let inputs: Vec<_> =
                found.differences.iter().filter(|one| matches!(one.place, Place::Input(_))).collect();
            prop_assert_eq!(inputs.len(), 1);
            prop_assert_eq!(inputs[0].place.path(), input.path);
            // Alone, it does all that was done.
            let most = found.differences.iter().filter(|one| matches!(one.place, Place::Output(_)));
            let most = most.filter_map(|one| one.consequence).map(|one| one.share).reduce(f64::max).unwrap_or(0.0);
            let alone = inputs[0].consequence.map_or(0.0, |one| one.share);
            prop_assert!((alone - most).abs() <= 1e-9 * most, "{alone} {most}");
        }
    }

    #[test]
    fn a_build_does_not_differ_from_itself() -> Result<(), Error> {
        let found = two(demo(), demo())?;
        assert!(found.differences.is_empty() && found.gained.is_empty() && found.lost.is_empty());
        Ok(())
    }

    #[test]
    fn results_come_before_inputs_and_crossed_limits_first() -> Result<(), Error> {
        let mut tight = demo();
        tight.head_gasket.compressed_thickness = Length::from_inches(0.012);
        let found = two(demo(), tight)?;
        let order: Vec<_> = found
            .differences
            .iter()
            .map(|one| (!one.crosses, rank(&one.place), one.consequence.map(|one| -one.share)))
            .collect();
        assert!(order.is_sorted(), "{order:?}");
        assert_eq!(found.differences[0].place.path(), "geometry/squish_clearance");
        assert!(found.gained.iter().any(|remark| matches!(remark, Remark::Caution(one) if one.code == "squish_tight")));
        Ok(())
    }

    #[test]
    fn faults_of_all_builds_come_at_once() {
        let mut wrong = demo();
        wrong.block.bore = Length::from_inches(400.0);
        let builds = vec![named("a", wrong.clone()), named("a", demo()), named("", wrong)];
        let input = CompareInput { builds, reference: Some("b".to_owned()), rules: vec![] };
        let found = compare(&input).err().map(|error| error.faults()).unwrap_or_default();
        let found: Vec<_> = found.iter().map(|fault| (fault.path.as_str(), fault.code.as_str())).collect();
        let wanted = [
            ("builds/0/build/block/bore", "out_of_range"),
            ("builds/1/name", "duplicate_name"),
            ("builds/2/build/block/bore", "out_of_range"),
            ("builds/2/name", "missing"),
            ("reference", "unknown_choice"),
        ];
        assert_eq!(found, wanted);
    }
}
