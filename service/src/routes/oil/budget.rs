//! `/v1/oil/budget`

use calc_core::error::Error;
use calc_core::oil::{budget as core, circuit, law, restrictor_law};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    EngineSpeedInput, FlowOutput, LengthInput, PercentOutput, PressureOutput, RatioOutput, out,
};

use super::circuit::CircuitOpening;
use super::circuit_request::CircuitRequest;
use super::oil_system::OilSystem;

/// A build as far as its oil goes.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BudgetRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// How many cylinders, 1 to 48.
    cylinders: u32,
    /// Stroke: twice the crank radius.
    stroke: LengthInput,
    /// Speed of the crankshaft.
    engine_speed: EngineSpeedInput,
    /// The oil system.
    system: OilSystem,
}

/// The budget without and with restrictors.
#[derive(Debug, Serialize, ToSchema)]
pub struct BudgetResponse {
    /// Unit system of the answer.
    units: Units,
    /// With open feeds.
    as_it_is: BudgetBalance,
    /// With restrictors; only when there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    restricted: Option<BudgetBalance>,
    /// What the restrictors change; only when there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    gain: Option<BudgetGain>,
    /// The circuit with restrictors, or without when there are none: edit it and post it to the circuit calculation.
    circuit: CircuitRequest,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// Where the oil goes.
#[derive(Debug, Serialize, ToSchema)]
pub struct BudgetBalance {
    /// What the pump delivers.
    supply: FlowOutput,
    /// What goes through the relief valve.
    relief: FlowOutput,
    /// State of the relief valve.
    #[serde(skip_serializing_if = "Option::is_none")]
    relief_state: Option<CircuitOpening>,
    /// What main and rod bearings take.
    bottom_end: FlowOutput,
    /// The same as a share of the supply.
    bottom_end_share: RatioOutput,
    /// What lifters, rockers and camshaft bearings take.
    top_end: FlowOutput,
    /// The same as a share of the supply.
    top_end_share: RatioOutput,
    /// Gauge pressure at the farthest main bearing.
    farthest_main_pressure: PressureOutput,
    /// What your rule wants there; only with a rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    rule_wants: Option<PressureOutput>,
    /// Lowest gauge pressure that feeds lifters.
    lifter_pressure: PressureOutput,
    /// What each lifter with its pushrod and rocker gets.
    each_lifter: FlowOutput,
    /// What is left over at the worst node, as a share of the supply: the check of the balance.
    mass_balance_residual_share: RatioOutput,
}

/// Restricted less as it is.
#[derive(Debug, Serialize, ToSchema)]
pub struct BudgetGain {
    /// Flow of the bottom end.
    bottom_end: FlowOutput,
    /// The same as a percentage of what it had.
    bottom_end_percent: PercentOutput,
    /// Pressure at the farthest main bearing.
    farthest_main_pressure: PressureOutput,
    /// Flow of the top end; negative.
    top_end: FlowOutput,
    /// What the top end still gets, as a percentage of what it had.
    top_end_kept_percent: PercentOutput,
}

/// The calculation.
pub struct Budget;

impl Calculation for Budget {
    const PATH: &'static str = "/v1/oil/budget";
    const SUMMARY: &'static str = "What restrictors in the top end's feed leave for the bottom end";
    const DESCRIPTION: &'static str = "Makes the oil circuit of a build with the main gallery or the top end fed first, balances it \
        with open feeds and with a restrictor in place of each, and gives the difference: what the bottom end gains, what the top \
        end still gets. The circuit made is in the answer.";
    const METHODS: &'static [&'static str] =
        &[core::METHOD.id, circuit::METHOD.id, restrictor_law::METHOD.id, law::VISCOSITY.id, law::DENSITY.id];
    const DEFAULT_FIELD: &'static str = "gain.bottom_end_percent";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/budget.json");
    type Request = BudgetRequest;
    type Response = BudgetResponse;

    fn run(request: BudgetRequest) -> Result<BudgetResponse, Error> {
        let units = request.units;
        let system = request.system.core(units);
        let found = core::evaluate(&core::BudgetInput {
            cylinders: request.cylinders,
            stroke: request.stroke.core(units),
            engine_speed: request.engine_speed.core(units),
            system: &system,
            path: "system",
            speed_path: "engine_speed",
        })?;
        Ok(BudgetResponse {
            units,
            as_it_is: BudgetBalance::new(&found.as_it_is, units),
            restricted: found.restricted.as_ref().map(|balance| BudgetBalance::new(balance, units)),
            gain: found.gain.map(|gain| BudgetGain::new(&gain, units)),
            circuit: CircuitRequest::of(&found.circuit, request.system.lubricant, units),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl BudgetBalance {
    pub(crate) fn new(balance: &core::Balance, units: Units) -> Self {
        let point = &balance.point;
        let [bottom_end, top_end, _] = point.groups;
        let [bottom_end_share, top_end_share, _] = point.shares().map(RatioOutput);
        Self {
            supply: out(point.supply, units),
            relief: out(point.relief, units),
            relief_state: point.opening.map(CircuitOpening::new),
            bottom_end: out(bottom_end, units),
            bottom_end_share,
            top_end: out(top_end, units),
            top_end_share,
            farthest_main_pressure: out(balance.farthest_main, units),
            rule_wants: point.rule.map(|[_, wanted]| out(wanted, units)),
            lifter_pressure: out(balance.at_lifters, units),
            each_lifter: out(balance.each_lifter, units),
            mass_balance_residual_share: RatioOutput(balance.residual_share),
        }
    }
}

impl BudgetGain {
    pub(crate) fn new(gain: &core::Gain, units: Units) -> Self {
        Self {
            bottom_end: out(gain.bottom_end, units),
            bottom_end_percent: PercentOutput::from_share(gain.bottom_end_share),
            farthest_main_pressure: out(gain.farthest_main, units),
            top_end: out(gain.top_end, units),
            top_end_kept_percent: PercentOutput::from_share(gain.top_end_kept),
        }
    }
}
