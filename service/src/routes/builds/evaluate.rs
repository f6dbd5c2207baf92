//! `/v1/builds/evaluate`

use calc_core::build::cylinders::Cylinder;
use calc_core::build::evaluate as core;
use calc_core::build::rule;
use calc_core::build::sheet;
use calc_core::compression::{end_state, standard_atmosphere, r#static, trapped};
use calc_core::error::Error;
use calc_core::geometry::{deck_stack, displacement, piston_motion};
use calc_core::oil::budget;
use serde::Serialize;
use utoipa::ToSchema;

use super::explain::{BuildExplanation, explanations};
use super::rules::Rules;
use super::sheet::{Asked, EvaluateRequest};
use crate::calculation::Calculation;
use crate::routes::compression::end_state::CrankingBand;
use crate::routes::compression::r#static::ClearanceVolumes;
use crate::routes::oil::budget::{BudgetBalance, BudgetGain};
use crate::wire::answer::{Caution, Pointer, cautions};
use crate::wire::quantity::{
    AccelerationOutput, AngleOutput, DisplacementOutput, LengthOutput, LitreOutput, PartVolumeOutput, PercentOutput,
    PistonSpeedOutput, PressureOutput, RatioOutput, TemperatureOutput, out,
};
use crate::wire::{ShortText, Units};

/// Every consequence of a build sheet.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildResponse {
    /// The identifier of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// The title of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// Sizes and motion.
    geometry: BuildGeometry,
    /// Volumes and ratios.
    compression: BuildCompression,
    /// Where the oil goes; only with an oil system and an engine speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    oil: Option<BuildOil>,
    /// Results that need an input which is not in the sheet.
    missing: Vec<MissingResult>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
    /// Counts the changes of the equations; a stored answer with another number was made by other equations.
    formula_revision: u32,
    /// Every result with its equation, the numbers put in, and its sensitivities, those of single cylinders last; only when asked
    /// for with `explain`.
    #[serde(skip_serializing_if = "Option::is_none")]
    explanations: Option<Vec<BuildExplanation>>,
}

/// The oil budget at the running speed.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildOil {
    /// With open feeds of the top end.
    as_it_is: BudgetBalance,
    /// With restrictors; only when there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    restricted: Option<BudgetBalance>,
    /// What the restrictors change; only when there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    gain: Option<BudgetGain>,
}

/// Sizes and motion.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildGeometry {
    /// Displacement of the whole engine.
    displacement: DisplacementOutput,
    /// The same in litres.
    displacement_litres: LitreOutput,
    /// Displacement less the label, in percent of the label; only with a label.
    #[serde(skip_serializing_if = "Option::is_none")]
    label_difference_percent: Option<PercentOutput>,
    /// Swept volume of one cylinder, over the distance that the piston really travels.
    swept_volume: DisplacementOutput,
    /// Distance between the dead centres; longer than the crank's stroke when the pin is offset.
    actual_stroke: LengthOutput,
    /// Bore divided by the crank's stroke.
    bore_stroke_ratio: RatioOutput,
    /// Rod length divided by the crank's stroke.
    rod_stroke_ratio: RatioOutput,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: LengthOutput,
    /// Squish (quench) clearance: deck clearance plus compressed gasket.
    squish_clearance: LengthOutput,
    /// Mean piston speed; only with an engine speed, like peak speed and acceleration.
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_piston_speed: Option<PistonSpeedOutput>,
    /// Highest speed on the way down.
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_piston_speed: Option<PistonSpeedOutput>,
    /// Crank angle after true top centre at which the piston goes down fastest.
    peak_piston_speed_angle: AngleOutput,
    /// Largest acceleration: that at top centre, towards the crank.
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_piston_acceleration: Option<AccelerationOutput>,
}

/// Volumes and ratios.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildCompression {
    /// Static compression ratio.
    static_ratio: RatioOutput,
    /// Volume above the piston at top centre.
    clearance_volume: PartVolumeOutput,
    /// The items of the clearance volume.
    volumes: ClearanceVolumes,
    /// Trapped (dynamic) compression ratio from the intake closing; only with a camshaft.
    #[serde(skip_serializing_if = "Option::is_none")]
    trapped_ratio: Option<RatioOutput>,
    /// Cylinder volume at intake closing; only with a camshaft.
    #[serde(skip_serializing_if = "Option::is_none")]
    trapped_volume: Option<PartVolumeOutput>,
    /// The charge and the end of its compression; only with camshaft and atmosphere.
    #[serde(skip_serializing_if = "Option::is_none")]
    end_of_compression: Option<BuildEndOfCompression>,
    /// Each cylinder by its own readings; only with readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    cylinders: Option<Vec<BuildCylinder>>,
    /// Highest of their static ratios less the lowest; only with readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    ratio_spread: Option<RatioOutput>,
}

/// One cylinder by its own chamber and deck.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildCylinder {
    /// Counted from one, in the order of the readings.
    cylinder: u32,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: LengthOutput,
    /// Volume above the piston at top centre.
    clearance_volume: PartVolumeOutput,
    /// Static compression ratio.
    static_ratio: RatioOutput,
}

/// The air trapped at the altitude, compressed by the trapped ratio as dry air without loss of heat.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildEndOfCompression {
    /// Absolute pressure at intake closing: that of the air around, without throttle or boost.
    start_pressure: PressureOutput,
    /// Temperature at intake closing: that of the intake air, not yet warmed by walls and residual gas.
    start_temperature: TemperatureOutput,
    /// Density of that air relative to standard air at sea level.
    density_ratio: RatioOutput,
    /// Absolute pressure at the end.
    end_pressure: PressureOutput,
    /// Temperature at the end.
    end_temperature: TemperatureOutput,
    /// What a gauge at the spark plug hole may show on the starter.
    cranking_gauge_pressure: CrankingBand,
}

/// A result that could not be computed, and the input it needs.
#[derive(Debug, Serialize, ToSchema)]
pub struct MissingResult {
    /// JSON Pointer (RFC 6901, as a URI fragment) of the result in the answer.
    #[schema(value_type = String)]
    result: Pointer,
    /// JSON Pointer of the input in the request.
    #[schema(value_type = String)]
    needs: Pointer,
}

/// The calculation.
pub struct Evaluate;

impl Calculation for Evaluate {
    const PATH: &'static str = "/v1/builds/evaluate";
    const SUMMARY: &'static str = "A build sheet and every consequence of it";
    const DESCRIPTION: &'static str = "Displacement, deck and squish clearance, piston speed and every volume and ratio of one \
        build. Results whose input is absent are absent, and listed under missing with the input they need. The \
        caller's rules turn into cautions; explain gives each result's equation with the numbers put in, and its sensitivities.";
    const METHODS: &'static [&'static str] = &[
        displacement::METHOD.id,
        deck_stack::METHOD.id,
        piston_motion::METHOD.id,
        r#static::METHOD.id,
        trapped::METHOD.id,
        standard_atmosphere::METHOD.id,
        end_state::METHOD.id,
        budget::METHOD.id,
    ];
    const DEFAULT_FIELD: &'static str = "compression.static_ratio";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/builds/harbour_launch_v8.json");
    const READS_ROWS: bool = true;
    type Request = EvaluateRequest;
    type Response = BuildResponse;

    fn run(request: EvaluateRequest) -> Result<BuildResponse, Error> {
        let (request, asked) = request.parts();
        let units = request.units;
        let build: sheet::Build = request.core();
        let (evaluation, more) = evaluated(&build, asked, units)?;
        let core::Evaluation { geometry, compression, oil, missing, cautions: found } = evaluation;
        Ok(BuildResponse {
            id: request.id,
            title: request.title,
            units,
            geometry: BuildGeometry::new(&geometry, units),
            compression: BuildCompression::new(compression, units),
            oil: oil.map(|budget| BuildOil {
                as_it_is: BudgetBalance::new(&budget.as_it_is, units),
                restricted: budget.restricted.as_ref().map(|balance| BudgetBalance::new(balance, units)),
                gain: budget.gain.map(|gain| BudgetGain::new(&gain, units)),
            }),
            missing: missing.into_iter().map(missing_result).collect(),
            cautions: with_findings(cautions(found), more.findings),
            method: Self::METHODS,
            formula_revision: core::FORMULA_REVISION,
            explanations: more.explanations,
        })
    }
}

/// What was asked besides the sheet's own consequences.
#[derive(Default)]
struct More {
    findings: Vec<Caution>,
    explanations: Option<Vec<BuildExplanation>>,
}

fn evaluated(build: &sheet::Build, asked: Asked, units: Units) -> Result<(core::Evaluation, More), Error> {
    if asked.rules.is_empty() && !asked.explain {
        return Ok((core::evaluate(build)?, More::default()));
    }
    let rules = Rules::new(asked.rules, units).and_then(Rules::checked);
    let (evaluation, rules) = match (core::evaluate(build), rules) {
        (Ok(evaluation), Ok(rules)) => (evaluation, rules),
        (Err(error), Err(other)) => return Err(error.and(other)),
        (Err(error), _) | (_, Err(error)) => return Err(error),
    };
    let findings = rule::judge(&rules.core, &evaluation).into_iter().map(|found| rules.caution(found)).collect();
    let explanations = if asked.explain { Some(explanations(build, &evaluation, units)?) } else { None };
    Ok((evaluation, More { findings, explanations }))
}

/// What the caller's rules found stands before the standing caution, which is the last.
fn with_findings(mut cautions: Vec<Caution>, findings: Vec<Caution>) -> Vec<Caution> {
    let end = cautions.len().saturating_sub(1);
    cautions.splice(end..end, findings);
    cautions
}

impl BuildGeometry {
    pub(crate) fn new(geometry: &core::Geometry, units: Units) -> Self {
        let running = geometry.running;
        Self {
            displacement: out(geometry.displacement, units),
            displacement_litres: out(geometry.displacement, units),
            label_difference_percent: geometry.label_difference_ratio.map(PercentOutput::from_share),
            swept_volume: out(geometry.swept_volume, units),
            actual_stroke: out(geometry.actual_stroke, units),
            bore_stroke_ratio: RatioOutput(geometry.bore_stroke_ratio),
            rod_stroke_ratio: RatioOutput(geometry.rod_stroke_ratio),
            deck_clearance: out(geometry.deck_clearance, units),
            squish_clearance: out(geometry.squish_clearance, units),
            mean_piston_speed: running.map(|running| out(running.mean_speed, units)),
            peak_piston_speed: running.map(|running| out(running.peak_speed, units)),
            peak_piston_speed_angle: out(geometry.peak_piston_speed_angle, units),
            peak_piston_acceleration: running.map(|running| out(running.peak_acceleration, units)),
        }
    }
}

impl BuildCompression {
    pub(crate) fn new(compression: core::Compression, units: Units) -> Self {
        Self {
            static_ratio: RatioOutput(compression.static_ratio),
            clearance_volume: out(compression.clearance_volume, units),
            volumes: ClearanceVolumes::new(compression.volumes, units),
            trapped_ratio: compression.trapped.map(|trapped| RatioOutput(trapped.ratio)),
            trapped_volume: compression.trapped.map(|trapped| out(trapped.volume, units)),
            end_of_compression: compression.end_of_compression.map(|end| BuildEndOfCompression {
                start_pressure: out(end.charge.trapped.pressure, units),
                start_temperature: out(end.charge.trapped.temperature, units),
                density_ratio: RatioOutput(end.charge.density_ratio),
                end_pressure: out(end.end_pressure, units),
                end_temperature: out(end.end_temperature, units),
                cranking_gauge_pressure: CrankingBand::new(end.cranking, units),
            }),
            ratio_spread: compression.ratio_spread.map(RatioOutput),
            cylinders: (!compression.cylinders.is_empty())
                .then(|| compression.cylinders.into_iter().map(|one| BuildCylinder::new(one, units)).collect()),
        }
    }
}

impl BuildCylinder {
    fn new(one: Cylinder, units: Units) -> Self {
        Self {
            cylinder: one.number,
            deck_clearance: out(one.deck_clearance, units),
            clearance_volume: out(one.clearance_volume, units),
            static_ratio: RatioOutput(one.static_ratio),
        }
    }
}

pub(crate) fn missing_result(missing: core::Missing) -> MissingResult {
    MissingResult { result: Pointer(missing.result.into()), needs: Pointer(missing.needs.into()) }
}
