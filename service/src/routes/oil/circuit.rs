//! `/v1/oil/circuit`

use calc_core::error::Error;
use calc_core::oil::circuit as core;
use calc_core::oil::{law, restrictor_law};
use serde::Serialize;
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    DynamicViscosityOutput, EngineSpeedOutput, FlowOutput, FlowSpeedOutput, LengthOutput, OilDensityOutput,
    PressureOutput, RatioOutput, TemperatureOutput, out,
};
use crate::wire::{ShortText, Units};

use super::circuit_element::{CircuitGroup, CircuitKind};
use super::circuit_request::CircuitRequest;

/// The balanced circuit.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitResponse {
    /// Unit system of the answer.
    units: Units,
    /// Dynamic viscosity of the circuit's oil.
    viscosity: DynamicViscosityOutput,
    /// Density of the circuit's oil.
    density: OilDensityOutput,
    /// The operating point as a whole.
    point: CircuitPoint,
    /// In the order given.
    nodes: Vec<CircuitNodeResult>,
    /// In the order given.
    elements: Vec<CircuitElementResult>,
    /// What the worst node gains or loses: the check of the answer.
    mass_balance_residual: FlowOutput,
    /// The same as a share of the supply.
    mass_balance_residual_share: RatioOutput,
    /// Newton steps that it took.
    steps: u32,
    /// One point for each value of the sweep, in order.
    sweep: Vec<CircuitPoint>,
    /// For each temperature in order, all speeds in order.
    map: Vec<CircuitPoint>,
    /// The diameter that was sought.
    #[serde(skip_serializing_if = "Option::is_none")]
    size: Option<CircuitSizeResult>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One operating point as a whole.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitPoint {
    /// Speed of the crankshaft.
    engine_speed: EngineSpeedOutput,
    /// Temperature of the oil.
    oil_temperature: TemperatureOutput,
    /// What the pumps deliver; without a pump, what comes from the nodes of known pressure.
    supply: FlowOutput,
    /// What goes through relief valves.
    relief: FlowOutput,
    /// State of the relief valve that is open farthest.
    #[serde(skip_serializing_if = "Option::is_none")]
    relief_state: Option<CircuitOpening>,
    /// What the bottom end takes: flow of its elements that end in a node of known pressure.
    bottom_end: FlowOutput,
    /// The same as a share of the supply.
    bottom_end_share: RatioOutput,
    /// What the top end takes.
    top_end: FlowOutput,
    /// The same as a share of the supply.
    top_end_share: RatioOutput,
    /// What everything else takes, relief valves apart.
    other: FlowOutput,
    /// The same as a share of the supply.
    other_share: RatioOutput,
    /// Pressure at the rule's node; only with a rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    rule_pressure: Option<PressureOutput>,
    /// What the rule wants there; only with a rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    rule_wants: Option<PressureOutput>,
    /// Pressures of the watched nodes, in the order of `watch`.
    watched_pressures: Vec<PressureOutput>,
    /// Flow through the element that is swept; only in a sweep.
    #[serde(skip_serializing_if = "Option::is_none")]
    swept_flow: Option<FlowOutput>,
}

/// State of a valve.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CircuitOpening {
    /// Below its opening pressure.
    Shut,
    /// It lets oil through.
    Open,
    /// Its port, no longer its spring, limits the flow.
    WideOpen,
}

/// Pressure at one node.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitNodeResult {
    /// The name given.
    name: ShortText,
    /// Gauge pressure.
    pressure: PressureOutput,
}

/// One element in the balanced circuit.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitElementResult {
    /// The name given.
    name: ShortText,
    /// What it is.
    kind: CircuitKind,
    /// Whose oil it is.
    group: CircuitGroup,
    /// Flow from its first to its second node, all side by side; negative the other way.
    flow: FlowOutput,
    /// The flow as a share of the supply.
    share: RatioOutput,
    /// Pressure at its first node less that at its second.
    pressure_drop: PressureOutput,
    /// Reynolds number of the mean velocity, where the section is round or a gap.
    #[serde(skip_serializing_if = "Option::is_none")]
    reynolds_number: Option<RatioOutput>,
    /// Mean velocity in that section.
    #[serde(skip_serializing_if = "Option::is_none")]
    velocity: Option<FlowSpeedOutput>,
    /// State of a relief valve, or of a bypass.
    #[serde(skip_serializing_if = "Option::is_none")]
    state: Option<CircuitOpening>,
    /// What of the flow goes through the bypass.
    #[serde(skip_serializing_if = "Option::is_none")]
    bypass_flow: Option<FlowOutput>,
    /// Pressure at the innermost point of a rotating drilling, before friction.
    #[serde(skip_serializing_if = "Option::is_none")]
    inner_pressure: Option<PressureOutput>,
}

/// A diameter that was sought.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitSizeResult {
    /// The diameter.
    diameter: LengthOutput,
    /// Flow through the element with it, all side by side.
    flow: FlowOutput,
    /// The circuit with it.
    point: CircuitPoint,
}

/// The calculation.
pub struct Circuit;

impl Calculation for Circuit {
    const PATH: &'static str = "/v1/oil/circuit";
    const SUMMARY: &'static str = "The whole oil circuit: pressure at each point, flow and share of each branch";
    const DESCRIPTION: &'static str = "Named nodes joined by pump, relief valve, filter, cooler, passages, restrictors, gaps, \
        bearings, rotating drillings, jets and fixed consumers. Gives the steady balance at a speed and oil temperature, what each \
        element and group takes, the state of valves, and what is left over at the worst node. On request one number over \
        several values, a map over speeds and temperatures, and the diameter that gives a wanted flow, share or pressure. \
        Pressures are gauge pressures.";
    const METHODS: &'static [&'static str] =
        &[core::METHOD.id, restrictor_law::METHOD.id, law::VISCOSITY.id, law::DENSITY.id];
    const DEFAULT_FIELD: &'static str = "point.supply";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/circuit.json");
    const HAS_QUERY: bool = false;
    const IS_LONG: bool = true;
    type Request = CircuitRequest;
    type Response = CircuitResponse;

    fn run(request: CircuitRequest) -> Result<CircuitResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        let points = |points: Vec<core::Point>| points.iter().map(|point| CircuitPoint::new(point, units)).collect();
        let nodes = request.nodes.into_iter().zip(found.pressures);
        let elements = request.elements.into_iter().zip(found.elements);
        Ok(CircuitResponse {
            units,
            viscosity: out(found.viscosity, units),
            density: out(found.density, units),
            point: CircuitPoint::new(&found.point, units),
            nodes: nodes
                .map(|(node, pressure)| CircuitNodeResult { name: node.name, pressure: out(pressure, units) })
                .collect(),
            elements: elements
                .map(|(given, found)| CircuitElementResult {
                    name: given.name,
                    kind: given.kind,
                    group: given.group.unwrap_or(CircuitGroup::Other),
                    flow: out(found.flow, units),
                    share: RatioOutput(found.share),
                    pressure_drop: out(found.drop, units),
                    reynolds_number: found.reynolds.map(RatioOutput),
                    velocity: found.velocity.map(|velocity| out(velocity, units)),
                    state: found.opening.map(CircuitOpening::new),
                    bypass_flow: found.bypass_flow.map(|flow| out(flow, units)),
                    inner_pressure: found.inner_pressure.map(|pressure| out(pressure, units)),
                })
                .collect(),
            mass_balance_residual: out(found.residual, units),
            mass_balance_residual_share: RatioOutput(found.residual_share),
            steps: found.steps,
            sweep: points(found.sweep),
            map: points(found.map),
            size: found.size.map(|size| CircuitSizeResult {
                diameter: out(size.diameter, units),
                flow: out(size.flow, units),
                point: CircuitPoint::new(&size.point, units),
            }),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl CircuitOpening {
    pub(super) fn new(opening: core::Opening) -> Self {
        match opening {
            core::Opening::Shut => Self::Shut,
            core::Opening::Open => Self::Open,
            core::Opening::WideOpen => Self::WideOpen,
        }
    }
}

impl CircuitPoint {
    pub(super) fn new(point: &core::Point, units: Units) -> Self {
        let [bottom_end, top_end, other] = point.groups;
        let [bottom_end_share, top_end_share, other_share] = point.shares().map(RatioOutput);
        Self {
            engine_speed: out(point.engine_speed, units),
            oil_temperature: out(point.oil_temperature, units),
            supply: out(point.supply, units),
            relief: out(point.relief, units),
            relief_state: point.opening.map(CircuitOpening::new),
            bottom_end: out(bottom_end, units),
            bottom_end_share,
            top_end: out(top_end, units),
            top_end_share,
            other: out(other, units),
            other_share,
            rule_pressure: point.rule.map(|[found, _]| out(found, units)),
            rule_wants: point.rule.map(|[_, wanted]| out(wanted, units)),
            watched_pressures: point.watched.iter().map(|&pressure| out(pressure, units)).collect(),
            swept_flow: point.swept.map(|flow| out(flow, units)),
        }
    }
}
