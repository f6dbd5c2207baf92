//! `/v1/builds/goal`

use calc_core::build::goal::{self as core, End, GoalInput as Question, SolvedInput};
use calc_core::build::place::{Input, Output};
use calc_core::error::{Error, broken_rule};
use calc_core::stop::Stop;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use validator::ValidationError;

use super::sheet::BuildRequest;
use crate::calculation::Calculation;
use crate::wire::answer::{Caution, cautions};
use crate::wire::place::{Field, Found, InputPointer, PlaceNumber, PlaceQuantity, ResultPointer, pointer};
use crate::wire::{ShortText, Units};

/// A build, what may change in it, and what is wanted of it. The `units` of the build are those of the whole request.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GoalRequest {
    /// The build as it is.
    build: BuildRequest,
    /// What may change: one to three inputs.
    #[schema(max_items = 3)]
    unknowns: Vec<GoalUnknown>,
    /// What is wanted: as many results as there are unknowns.
    #[schema(max_items = 3)]
    wanted: Vec<GoalWanted>,
}

/// An input that may change, and how far.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GoalUnknown {
    /// The input; one that the build leaves out may be given too.
    pointer: InputPointer,
    /// Least value allowed.
    min: PlaceQuantity,
    /// Largest value allowed.
    max: PlaceQuantity,
}

/// A result and what it must be: `equal`, or `at_least`, `at_most` or both.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GoalWanted {
    /// The result.
    pointer: ResultPointer,
    /// The value wanted.
    equal: Option<PlaceQuantity>,
    /// Smallest value wanted.
    at_least: Option<PlaceQuantity>,
    /// Largest value wanted.
    at_most: Option<PlaceQuantity>,
}

/// The inputs that give what is wanted, or those that come nearest to it.
#[derive(Debug, Serialize, ToSchema)]
pub struct GoalResponse {
    /// The identifier of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// The title of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// Whether everything wanted is met; if not, the values are those that come nearest.
    found: bool,
    /// Why there is no solution: which limit, and how near; only when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    /// The unknowns, in the order given.
    unknowns: Vec<GoalInput>,
    /// The wanted results, in the order given.
    wanted: Vec<GoalResult>,
    /// The first 200 steps of the search, in its order; where unknowns act on each other, those of the outermost.
    steps: Vec<GoalStep>,
    /// How many builds were evaluated.
    evaluations: u32,
    /// What to look at twice in the build with these inputs: pointers lead into that build and into its evaluation.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One unknown.
#[derive(Debug, Serialize, ToSchema)]
pub struct GoalInput {
    /// JSON Pointer of the input.
    pointer: String,
    /// Unit of the numbers.
    unit: &'static str,
    /// Its value now.
    value: PlaceNumber,
    /// What the build gave; absent when it gave nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    present: Option<PlaceNumber>,
    /// Value now less what the build gave.
    #[serde(skip_serializing_if = "Option::is_none")]
    change: Option<PlaceNumber>,
    /// The end of its range that it has come to; absent when it is inside.
    #[serde(skip_serializing_if = "Option::is_none")]
    at_end: Option<GoalEnd>,
}

/// An end of a range.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum GoalEnd {
    /// The least value allowed.
    Min,
    /// The largest value allowed.
    Max,
}

/// One wanted result.
#[derive(Debug, Serialize, ToSchema)]
pub struct GoalResult {
    /// JSON Pointer of the result.
    pointer: String,
    /// Unit of the numbers.
    unit: &'static str,
    /// Its value now.
    value: PlaceNumber,
    /// Its value with the build as given; absent when that build is refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    present: Option<PlaceNumber>,
    /// Whether it is as wanted.
    met: bool,
    /// The lowest value met in the search.
    lowest: PlaceNumber,
    /// The highest value met in the search.
    highest: PlaceNumber,
}

/// One build that was tried.
#[derive(Debug, Serialize, ToSchema)]
pub struct GoalStep {
    /// The unknowns, in the order given and in their units.
    inputs: Vec<PlaceNumber>,
    /// The wanted results, in the order given and in their units; empty when the build is refused with these inputs.
    results: Vec<PlaceNumber>,
}

impl GoalUnknown {
    fn core(&self, units: Units, index: usize, found: &mut Found) -> Option<(Field<Input>, core::Unknown)> {
        let at = |field: &str| format!("unknowns/{index}/{field}");
        let field = found.keep(self.pointer.resolve(&at("pointer")))?;
        let min = found.keep(field.si(&self.min, units, &at("min")));
        let max = found.keep(field.si(&self.max, units, &at("max")));
        Some((field, core::Unknown { place: field.place, min: min?, max: max? }))
    }
}

impl GoalWanted {
    fn core(&self, units: Units, index: usize, found: &mut Found) -> Option<(Field<Output>, core::Wanted)> {
        let at = |field: &str| format!("wanted/{index}/{field}");
        let field = found.keep(self.pointer.resolve(&at("pointer")))?;
        let mut value = |given: &Option<PlaceQuantity>, name: &str| {
            given.as_ref().and_then(|given| found.keep(field.si(given, units, &at(name))))
        };
        let equal = value(&self.equal, "equal");
        let (at_least, at_most) = (value(&self.at_least, "at_least"), value(&self.at_most, "at_most"));
        if equal.is_some() && (at_least.is_some() || at_most.is_some()) {
            found.add::<()>(both(&at("equal")));
        }
        Some((field, core::Wanted { place: field.place, at_least: equal.or(at_least), at_most: equal.or(at_most) }))
    }
}

fn both(at: &str) -> ValidationError {
    broken_rule(at, "contradiction", "already says all; leave at_least and at_most out.".to_owned())
}

impl GoalInput {
    fn new(field: Field<Input>, solved: &SolvedInput, units: Units) -> Self {
        Self {
            pointer: pointer(field.place.path),
            unit: field.unit(units),
            value: field.number(solved.value, units),
            present: solved.present.map(|present| field.number(present, units)),
            change: solved.present.map(|present| field.difference(solved.value - present, units)),
            at_end: solved.at_end.map(|end| match end {
                End::Min => GoalEnd::Min,
                End::Max => GoalEnd::Max,
            }),
        }
    }
}

impl GoalResult {
    fn new(field: Field<Output>, met: &core::MetResult, units: Units) -> Self {
        let number = |value| field.number(value, units);
        Self {
            pointer: pointer(field.place.path),
            unit: field.unit(units),
            value: number(met.value),
            present: met.present.map(number),
            met: met.met,
            lowest: number(met.lowest),
            highest: number(met.highest),
        }
    }
}

/// The calculation.
pub struct Goal;

impl Calculation for Goal {
    const PATH: &'static str = "/v1/builds/goal";
    const SUMMARY: &'static str = "The inputs of a build that give wanted results";
    const DESCRIPTION: &'static str = "One to three inputs with their ranges and as many wanted results (equal, at least, at most): \
        the inputs by bracketing, with the steps tried, or why there are none and how near one gets. Of several solutions the one \
        that changes least. The units of the build hold for the whole request; /v1/builds/places lists the pointers.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "found";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/builds/goal.json");
    const HAS_QUERY: bool = false;
    const IS_LONG: bool = true;
    type Request = GoalRequest;
    type Response = GoalResponse;

    fn run(request: GoalRequest) -> Result<GoalResponse, Error> {
        Self::run_while_wanted(request, &Stop::never())
    }

    fn run_while_wanted(request: GoalRequest, stop: &Stop) -> Result<GoalResponse, Error> {
        let units = request.build.units;
        let mut found = Found::default();
        let unknowns: Vec<_> =
            request.unknowns.iter().enumerate().filter_map(|(index, one)| one.core(units, index, &mut found)).collect();
        let wanted: Vec<_> =
            request.wanted.iter().enumerate().filter_map(|(index, one)| one.core(units, index, &mut found)).collect();
        found.check()?;
        let goal = core::evaluate(
            &Question {
                build: request.build.core(),
                unknowns: unknowns.iter().map(|(_, core)| *core).collect(),
                wanted: wanted.iter().map(|(_, core)| *core).collect(),
            },
            stop,
        )?;
        let step = |step: &core::Step| GoalStep {
            inputs: unknowns.iter().zip(&step.inputs).map(|((field, _), value)| field.number(*value, units)).collect(),
            results: wanted.iter().zip(&step.results).map(|((field, _), value)| field.number(*value, units)).collect(),
        };
        Ok(GoalResponse {
            id: request.build.id,
            title: request.build.title,
            units,
            found: goal.found,
            reason: goal.reason,
            unknowns: unknowns
                .iter()
                .zip(&goal.unknowns)
                .map(|((field, _), one)| GoalInput::new(*field, one, units))
                .collect(),
            wanted: wanted
                .iter()
                .zip(&goal.wanted)
                .map(|((field, _), one)| GoalResult::new(*field, one, units))
                .collect(),
            steps: goal.steps.iter().map(step).collect(),
            evaluations: goal.evaluations,
            cautions: cautions(goal.evaluation.cautions),
            method: Self::METHODS,
        })
    }
}
