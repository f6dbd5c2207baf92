//! `/v1/builds/tolerance`

use calc_core::build::place::{Input, Output};
use calc_core::build::tolerance::{self as core, BuildToleranceInput, Spread};
use calc_core::compression::tolerance::Distribution;
use calc_core::error::{Error, broken_rule};
use calc_core::stop::Stop;
use calc_core::units::Ratio;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::sheet::BuildRequest;
use crate::calculation::Calculation;
use crate::routes::compression::tolerance::ToleranceDistribution;
use crate::wire::answer::{Caution, cautions};
use crate::wire::place::{Field, Found, InputPointer, PlaceNumber, PlaceQuantity, ResultPointer, pointer};
use crate::wire::quantity::{PercentInput, PercentOutput};
use crate::wire::{ShortText, Units};

/// A build, what may be off in it, and which results matter. The `units` of the build are those of the whole request.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildToleranceRequest {
    /// The build as planned.
    build: BuildRequest,
    /// How far inputs may be off; those not named are exact. Up to 24.
    #[schema(max_items = 24)]
    tolerances: Vec<BuildInputTolerance>,
    /// The results that matter; up to 12.
    #[schema(max_items = 12)]
    results: Vec<BuildWatchedResult>,
    /// Percentiles of the draws wanted, in percent; 2.5, 50 and 97.5 when absent. Up to 20.
    #[schema(max_items = 20)]
    percentiles: Option<Vec<PercentInput>>,
    /// How many random builds, 1000 to 200000; 100000 when absent.
    draws: Option<u32>,
    /// Start of the random numbers; equal seeds give equal answers; 1 when absent.
    seed: Option<u32>,
}

/// How far one input may be off: `tolerance` or `standard_uncertainty`.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildInputTolerance {
    /// The input.
    pointer: InputPointer,
    /// How far either way; with a normal distribution two standard deviations.
    tolerance: Option<PlaceQuantity>,
    /// Its standard uncertainty instead.
    standard_uncertainty: Option<PlaceQuantity>,
    /// How it lies inside; rectangular for a tolerance and normal for a standard uncertainty when absent.
    distribution: Option<ToleranceDistribution>,
}

/// One result, and what it must keep, to get the chance that it does.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildWatchedResult {
    /// The result.
    pointer: ResultPointer,
    /// Smallest value allowed.
    at_least: Option<PlaceQuantity>,
    /// Largest value allowed.
    at_most: Option<PlaceQuantity>,
}

/// Results with their tolerances.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildToleranceResponse {
    /// The identifier of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// The title of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// In the order given.
    results: Vec<BuildResultTolerance>,
    /// Share of the draws that keep every limit; only with limits.
    #[serde(skip_serializing_if = "Option::is_none")]
    chance_within_all: Option<PercentOutput>,
    /// How many builds were drawn.
    draws: u32,
    /// Start of the random numbers, given back.
    seed: u32,
    /// What to look at twice in the build as planned: pointers lead into the build and into its evaluation.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One result with its tolerance.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildResultTolerance {
    /// JSON Pointer of the result.
    pointer: String,
    /// Unit of the numbers.
    unit: &'static str,
    /// With all inputs as planned.
    nominal: PlaceNumber,
    /// Standard uncertainty to first order: the root of the sum of the squares.
    standard_uncertainty: PlaceNumber,
    /// The least that the tolerances allow.
    worst_low: PlaceNumber,
    /// The most that they allow.
    worst_high: PlaceNumber,
    /// Mean of the draws.
    mean: PlaceNumber,
    /// Standard deviation of the draws.
    standard_deviation: PlaceNumber,
    /// 2.5 percent of the draws are below.
    interval_low: PlaceNumber,
    /// 2.5 percent of the draws are above.
    interval_high: PlaceNumber,
    /// Percentiles of the draws, in the order asked for.
    percentiles: Vec<BuildPercentile>,
    /// Share of the draws inside this result's limits; only with a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    chance_within: Option<PercentOutput>,
    /// What each input contributes, in the order given.
    shares: Vec<BuildToleranceShare>,
}

/// One percentile.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildPercentile {
    /// How much of the draws is below.
    percent: PercentOutput,
    /// The value.
    value: PlaceNumber,
}

/// What one input contributes to one result.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildToleranceShare {
    /// JSON Pointer of the input.
    pointer: String,
    /// Its contribution to the standard uncertainty, in the unit of the result.
    uncertainty: PlaceNumber,
    /// Its share of the variance.
    share: PercentOutput,
}

impl BuildInputTolerance {
    fn core(&self, units: Units, index: usize, found: &mut Found) -> Option<(Field<Input>, core::InputTolerance)> {
        let at = |field: &str| format!("tolerances/{index}/{field}");
        let field = found.keep(self.pointer.resolve(&at("pointer")))?;
        let spread = match (&self.tolerance, &self.standard_uncertainty) {
            (Some(given), None) => {
                found.keep(field.difference_si(given, units, &at("tolerance"))).map(Spread::Tolerance)
            }
            (None, Some(given)) => {
                let si = found.keep(field.difference_si(given, units, &at("standard_uncertainty")));
                si.map(Spread::StandardUncertainty)
            }
            (Some(_), Some(_)) => {
                let detail = "says the same as tolerance; give one of them.".to_owned();
                found.add(broken_rule(&at("standard_uncertainty"), "contradiction", detail))
            }
            (None, None) => {
                let detail = "is missing: a tolerance or a standard_uncertainty.".to_owned();
                found.add(broken_rule(&at("tolerance"), "missing", detail))
            }
        };
        let distribution = match self.distribution {
            Some(ToleranceDistribution::Normal) => Distribution::Normal,
            Some(ToleranceDistribution::Rectangular) => Distribution::Rectangular,
            None if self.standard_uncertainty.is_some() => Distribution::Normal,
            None => Distribution::Rectangular,
        };
        Some((field, core::InputTolerance { place: field.place, spread: spread?, distribution }))
    }
}

impl BuildWatchedResult {
    fn core(&self, units: Units, index: usize, found: &mut Found) -> Option<(Field<Output>, core::WatchedResult)> {
        let at = |field: &str| format!("results/{index}/{field}");
        let field = found.keep(self.pointer.resolve(&at("pointer")))?;
        let mut limit = |given: &Option<PlaceQuantity>, name: &str| {
            given.as_ref().and_then(|given| found.keep(field.si(given, units, &at(name))))
        };
        let (at_least, at_most) = (limit(&self.at_least, "at_least"), limit(&self.at_most, "at_most"));
        Some((field, core::WatchedResult { place: field.place, at_least, at_most }))
    }
}

impl BuildResultTolerance {
    fn new(
        field: Field<Output>,
        result: &core::ResultTolerance,
        percentiles: &[Ratio],
        inputs: &[Field<Input>],
        units: Units,
    ) -> Self {
        let (value, difference) = (|si| field.number(si, units), |si| field.difference(si, units));
        let outcome = &result.outcome;
        let share = |(input, share): (&Field<Input>, &core::InputShare)| BuildToleranceShare {
            pointer: pointer(input.place.path),
            uncertainty: difference(share.uncertainty),
            share: PercentOutput::from_share(share.share),
        };
        let percentile = |(percent, si): (&Ratio, &f64)| BuildPercentile {
            percent: PercentOutput::from_share(percent.plain()),
            value: value(*si),
        };
        Self {
            pointer: pointer(field.place.path),
            unit: field.unit(units),
            nominal: value(outcome.nominal),
            standard_uncertainty: difference(outcome.standard_uncertainty),
            worst_low: value(outcome.worst_low),
            worst_high: value(outcome.worst_high),
            mean: value(outcome.mean),
            standard_deviation: difference(outcome.standard_deviation),
            interval_low: value(outcome.interval_low),
            interval_high: value(outcome.interval_high),
            percentiles: percentiles.iter().zip(&result.percentiles).map(percentile).collect(),
            chance_within: outcome.chance_within.map(PercentOutput::from_share),
            shares: inputs.iter().zip(&result.shares).map(share).collect(),
        }
    }
}

/// The calculation.
pub struct BuildTolerance;

impl Calculation for BuildTolerance {
    const PATH: &'static str = "/v1/builds/tolerance";
    const SUMMARY: &'static str = "Tolerance of any results of a build from tolerances of any inputs";
    const DESCRIPTION: &'static str = "Worst case, root of the sum of squares with each input's share, and Monte Carlo with \
        percentiles and the chance of landing inside given limits. The draws are reproducible. The units of the build hold for the \
        whole request; /v1/builds/places lists the pointers.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "chance_within_all";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/builds/tolerance.json");
    const HAS_QUERY: bool = false;
    const IS_LONG: bool = true;
    type Request = BuildToleranceRequest;
    type Response = BuildToleranceResponse;

    fn run(request: BuildToleranceRequest) -> Result<BuildToleranceResponse, Error> {
        Self::run_while_wanted(request, &Stop::never())
    }

    fn run_while_wanted(request: BuildToleranceRequest, stop: &Stop) -> Result<BuildToleranceResponse, Error> {
        let units = request.build.units;
        let mut found = Found::default();
        let (inputs, tolerances): (Vec<_>, Vec<_>) =
            request.tolerances.iter().enumerate().filter_map(|(index, one)| one.core(units, index, &mut found)).unzip();
        let (fields, results): (Vec<_>, Vec<_>) =
            request.results.iter().enumerate().filter_map(|(index, one)| one.core(units, index, &mut found)).unzip();
        found.check()?;
        let percentiles = match request.percentiles {
            Some(percentiles) => percentiles.into_iter().map(|percent| percent.core(units)).collect(),
            None => core::USUAL_PERCENTILES.to_vec(),
        };
        let input = BuildToleranceInput {
            build: request.build.core(),
            tolerances,
            results,
            percentiles,
            draws: request.draws.unwrap_or(core::USUAL_DRAWS),
            seed: request.seed.unwrap_or(core::USUAL_SEED),
            threads: std::thread::available_parallelism().map_or(1, usize::from),
        };
        let answer = core::evaluate(&input, stop)?;
        let result = |(field, result): (&Field<Output>, &core::ResultTolerance)| {
            BuildResultTolerance::new(*field, result, &input.percentiles, &inputs, units)
        };
        Ok(BuildToleranceResponse {
            id: request.build.id,
            title: request.build.title,
            units,
            results: fields.iter().zip(&answer.results).map(result).collect(),
            chance_within_all: answer.chance_within_all.map(PercentOutput::from_share),
            draws: input.draws,
            seed: input.seed,
            cautions: cautions(answer.cautions),
            method: Self::METHODS,
        })
    }
}
