//! `/v1/builds/compare`

use calc_core::build::compare::{self as core, Named, Remark};
use calc_core::build::consequence::{Consequence, Measure};
use calc_core::build::difference::Difference;
use calc_core::build::evaluate::FORMULA_REVISION;
use calc_core::build::every_place::Place;
use calc_core::caution::STANDING;
use calc_core::compression::{end_state, standard_atmosphere, r#static, trapped};
use calc_core::error::Error;
use calc_core::geometry::{deck_stack, displacement, piston_motion};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::rules::{BuildRule, Rules};
use super::sheet::BuildRequest;
use crate::calculation::{Calculation, internal_error};
use crate::wire::answer::{About, Caution, cautions, wire_caution};
use crate::wire::place::{Field, PlaceNumber, pointer};
use crate::wire::quantity::RatioOutput;
use crate::wire::{ShortText, Units};

/// Builds to put side by side.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CompareRequest {
    /// An identifier of the caller's, given back.
    id: Option<ShortText>,
    /// Unit system of the answer and of bare numbers in the rules; each build has its own for its own numbers.
    units: Units,
    /// The builds, 2 to 10; the first is the reference unless another is named.
    #[schema(min_items = 2, max_items = 10)]
    builds: Vec<NamedBuild>,
    /// Name of the build that the others are compared with; the first build when absent.
    reference: Option<ShortText>,
    /// The caller's own limits on results, for every build; one that is broken, or no longer broken, is a caution gained or
    /// lost. At most 200.
    #[schema(max_items = 200)]
    rules: Option<Vec<BuildRule>>,
}

/// A build with a name.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NamedBuild {
    /// What the build is called here: planned, as measured; each its own.
    name: ShortText,
    /// The sheet, as `/v1/builds/evaluate` takes it.
    build: BuildRequest,
}

/// Each build against the reference.
#[derive(Debug, Serialize, ToSchema)]
pub struct CompareResponse {
    /// The identifier of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// Name of the build that the others are compared with.
    reference: String,
    /// One for each other build, in their order.
    comparisons: Vec<BuildComparison>,
    /// What to look at twice, whatever differs.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
    /// Counts the changes of the equations.
    formula_revision: u32,
}

/// One build against the reference.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildComparison {
    /// The build's name.
    name: String,
    /// Every number that differs, by consequence: first results on which a caution was gained or lost, then other results, results
    /// of single cylinders, inputs, readings of single cylinders; within each the larger share of its consequence first.
    differences: Vec<NumberDifference>,
    /// Cautions that the reference does not have; their pointers lead into this build's request or answer.
    cautions_gained: Vec<Caution>,
    /// Cautions that only the reference has.
    cautions_lost: Vec<Caution>,
}

/// One number that differs.
#[derive(Debug, Serialize, ToSchema)]
pub struct NumberDifference {
    /// Whether it is an input of the request or a result of the answer.
    about: About,
    /// JSON Pointer of the number in the request or answer of `/v1/builds/evaluate`.
    pointer: String,
    /// The unit of the number.
    unit: &'static str,
    /// In the reference; absent when the reference lacks it.
    #[serde(skip_serializing_if = "Option::is_none")]
    old: Option<PlaceNumber>,
    /// In this build; absent when this build lacks it.
    #[serde(skip_serializing_if = "Option::is_none")]
    new: Option<PlaceNumber>,
    /// New less old; only when both are there.
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<PlaceNumber>,
    /// That difference divided by the size of the old number, of absolute temperatures; absent when the old one is nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    relative: Option<RatioOutput>,
    /// Whether a caution on this result was gained or lost.
    crosses_limit: bool,
    /// How far the change goes; of an input, what it alone would do to the reference. Absent when one of the numbers is, or when
    /// the reference does not allow the change alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    consequence: Option<ChangeConsequence>,
}

/// How far a change goes.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChangeConsequence {
    /// The result's change as a share of what it is measured by.
    share: RatioOutput,
    /// What it is measured by.
    measured_by: ConsequenceMeasure,
    /// JSON Pointer of the result: the number itself, or the result that an input moves furthest.
    result: String,
}

/// What a change is measured by.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ConsequenceMeasure {
    /// The width between both limits of the caller's narrowest rule on the result.
    Rule,
    /// The width of the result's usual range, as its caution states it.
    UsualRange,
    /// The whole that the result is a part of: the clearance volume for a volume in it, the label for a difference to it.
    Whole,
    /// The larger of the two values.
    Value,
}

/// The calculation.
pub struct Compare;

impl Calculation for Compare {
    const PATH: &'static str = "/v1/builds/compare";
    const SUMMARY: &'static str = "Builds side by side: planned against as measured, or variants";
    const DESCRIPTION: &'static str = "Every number that differs from the reference: old, new, difference, relative, the most \
        consequential first, and the cautions gained and lost. Each input says what it alone would have done.";
    const METHODS: &'static [&'static str] = &[
        core::METHOD.id,
        displacement::METHOD.id,
        deck_stack::METHOD.id,
        piston_motion::METHOD.id,
        r#static::METHOD.id,
        trapped::METHOD.id,
        standard_atmosphere::METHOD.id,
        end_state::METHOD.id,
    ];
    const DEFAULT_FIELD: &'static str = "reference";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/builds/compare.json");
    const HAS_QUERY: bool = false;
    // Two builds take a tenth of a millisecond; ten of many measured cylinders take milliseconds.
    const IS_LONG: bool = true;
    type Request = CompareRequest;
    type Response = CompareResponse;

    fn run(request: CompareRequest) -> Result<CompareResponse, Error> {
        let units = request.units;
        let rules = Rules::new(request.rules.unwrap_or_default(), units);
        let named = |named: NamedBuild| Named { name: named.name.into_text(), build: named.build.core() };
        let mut input = core::CompareInput {
            builds: request.builds.into_iter().map(named).collect(),
            reference: request.reference.map(ShortText::into_text),
            rules: Vec::new(),
        };
        let rules = match rules {
            Ok(rules) => rules,
            // What else is wrong is found without them.
            Err(error) => return Err(core::compare(&input).err().map_or(error.clone(), |other| error.and(other))),
        };
        input.rules.clone_from(&rules.core);
        let compared = core::compare(&input)?;
        let name = |place: usize| input.builds.get(place).map(|named| named.name.clone()).unwrap_or_default();
        let comparison = |one: core::Comparison| {
            let differences = one.differences.iter().map(|difference| NumberDifference::new(difference, units));
            let remarks =
                |remarks: Vec<Remark>| remarks.into_iter().map(|remark| remark_caution(remark, &rules)).collect();
            Some(BuildComparison {
                name: name(one.build),
                differences: differences.collect::<Option<_>>()?,
                cautions_gained: remarks(one.gained),
                cautions_lost: remarks(one.lost),
            })
        };
        let comparisons = compared.comparisons.into_iter().map(comparison).collect::<Option<_>>();
        Ok(CompareResponse {
            id: request.id,
            units,
            reference: name(compared.reference),
            comparisons: comparisons.ok_or_else(|| internal_error("a place without a unit"))?,
            cautions: cautions(vec![STANDING]),
            method: Self::METHODS,
            formula_revision: FORMULA_REVISION,
        })
    }
}

fn remark_caution(remark: Remark, rules: &Rules) -> Caution {
    match remark {
        Remark::Caution(caution) => wire_caution(caution),
        Remark::Rule(finding) => rules.caution(finding),
    }
}

impl NumberDifference {
    /// None when a place has no unit, which a test of the places excludes.
    fn new(one: &Difference, units: Units) -> Option<Self> {
        let about = match &one.place {
            Place::Input(_) | Place::Reading { .. } => About::Request,
            Place::Output(_) | Place::Cylinder { .. } => About::Answer,
        };
        let field = Field::of(&one.place)?;
        let change = one.old.zip(one.new).map(|(old, new)| new - old);
        let size = one.old.map(f64::abs).filter(|size| *size > 0.0);
        Some(Self {
            about,
            pointer: pointer(one.place.path()),
            unit: field.unit(units),
            old: one.old.map(|old| field.number(old, units)),
            new: one.new.map(|new| field.number(new, units)),
            difference: change.map(|change| field.difference(change, units)),
            relative: change.zip(size).map(|(change, size)| RatioOutput(change / size)),
            crosses_limit: one.crosses,
            consequence: one.consequence.map(|found| ChangeConsequence::new(&found, one)),
        })
    }
}

impl ChangeConsequence {
    fn new(found: &Consequence, of: &Difference) -> Self {
        let result = match &of.place {
            Place::Cylinder { path, .. } => path,
            _ => found.result,
        };
        Self {
            share: RatioOutput(found.share),
            measured_by: match found.of {
                Measure::Rule => ConsequenceMeasure::Rule,
                Measure::UsualRange => ConsequenceMeasure::UsualRange,
                Measure::Whole => ConsequenceMeasure::Whole,
                Measure::Value => ConsequenceMeasure::Value,
            },
            result: pointer(result),
        }
    }
}
