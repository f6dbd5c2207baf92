//! `/v1/oil/restrictor`

use calc_core::error::Error;
use calc_core::oil::{drills, law, pipe_thread, restrictor as core};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    DynamicViscosityOutput, FlowInput, FlowOutput, FlowSpeedOutput, KinematicViscosityOutput, LengthInput,
    LengthOutput, PercentOutput, PressureInput, PressureOutput, RatioInput, RatioOutput, TemperatureInput,
    TemperatureOutput, out,
};

use super::oil_request::OilRequest;
use super::restrictor_plug::{PlugSize, PlugThread, RestrictorPlug};

/// Holes, oil, pressures, and what is wanted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RestrictorRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Which oil.
    oil: OilRequest,
    /// Temperature of the oil.
    temperature: TemperatureInput,
    /// Diameter of the holes; or give a wanted flow.
    diameter: Option<LengthInput>,
    /// Flow wanted through all holes together, instead of the diameter, which is then computed.
    wanted_flow: Option<FlowInput>,
    /// Length of each hole; 0.02 to 200 diameters.
    length: LengthInput,
    /// How many equal holes, in parallel, 1 to 1000; one when absent.
    count: Option<u32>,
    /// How their entry edge is made; sharp when absent.
    edge: Option<RestrictorEdge>,
    /// Discharge coefficient at high Reynolds number of a chamfered or rounded hole, 0.3 to 1; only with that edge.
    edge_coefficient: Option<RatioInput>,
    /// Gauge pressure before the holes.
    upstream_pressure: PressureInput,
    /// Gauge pressure behind the holes; none when absent, as into the crankcase.
    downstream_pressure: Option<PressureInput>,
    /// Absolute pressure of the air around, for the cavitation flag; that of sea level when absent.
    air_pressure: Option<PressureInput>,
    /// Pipe size of the plug that is drilled; with it, the thread and its tap drill are given.
    plug_size: Option<PlugSize>,
    /// Thread form of that plug; ordinary when absent.
    plug_thread: Option<PlugThread>,
    /// Diameters of a table, at most 60; with or without temperatures.
    #[schema(max_items = 60)]
    diameters: Option<Vec<LengthInput>>,
    /// Temperatures of a table, at most 40; with or without diameters.
    #[schema(max_items = 40)]
    temperatures: Option<Vec<TemperatureInput>>,
}

/// How the entry edge of a hole is made.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RestrictorEdge {
    /// As the drill leaves it, without burr.
    Sharp,
    /// Chamfered or rounded, with a coefficient that is given.
    Chamfered,
}

/// What flows, and through what.
#[derive(Debug, Serialize, ToSchema)]
pub struct RestrictorResponse {
    /// Unit system of the answer.
    units: Units,
    /// Diameter of the holes, given or computed.
    diameter: LengthOutput,
    /// Flow through all holes; positive from upstream to downstream.
    flow: FlowOutput,
    /// Within how much of the flow the law is; edges and drilling come on top.
    uncertainty: PercentOutput,
    /// Smallest flow by that uncertainty.
    flow_low: FlowOutput,
    /// Largest flow by that uncertainty.
    flow_high: FlowOutput,
    /// Flow of the thickest oil that may bear the grade; only for an oil known by its grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    flow_thickest_oil: Option<FlowOutput>,
    /// Flow of the thinnest oil that may bear the grade; only for an oil known by its grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    flow_thinnest_oil: Option<FlowOutput>,
    /// Mean speed in a hole; has the sign of the flow.
    velocity: FlowSpeedOutput,
    /// Reynolds number of the mean speed.
    reynolds_number: RatioOutput,
    /// Reynolds number of the ideal speed, on which the law is built.
    ideal_reynolds_number: RatioOutput,
    /// Mean speed over ideal speed.
    discharge_coefficient: RatioOutput,
    /// How the oil flows.
    regime: FlowRegime,
    /// Length of a hole over its diameter.
    length_over_diameter: RatioOutput,
    /// Upstream less downstream pressure.
    pressure_difference: PressureOutput,
    /// Kinematic viscosity of the oil at its temperature.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Dynamic viscosity of the oil at its temperature.
    dynamic_viscosity: DynamicViscosityOutput,
    /// Whether the hole may cavitate, so that less flows.
    may_cavitate: bool,
    /// Discharge coefficient of the cavitating hole; only for a sharp edge and a pressure difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    cavitating_coefficient: Option<RatioOutput>,
    /// Flow through all holes at that coefficient.
    #[serde(skip_serializing_if = "Option::is_none")]
    cavitating_flow: Option<FlowOutput>,
    /// The nearest drills of each series, at or below and above the diameter, and what each would let through.
    drills: Vec<RestrictorDrill>,
    /// The table: every diameter with every temperature, temperatures first; empty when none was asked for.
    points: Vec<RestrictorPoint>,
    /// Thread of the plug; only with a plug size.
    #[serde(skip_serializing_if = "Option::is_none")]
    plug: Option<RestrictorPlug>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// How oil flows through a hole.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FlowRegime {
    /// Not at all.
    Still,
    /// Viscosity alone resists.
    Creeping,
    /// Reynolds number of the mean speed below 2000.
    Laminar,
    /// Reynolds number from 2000 to 4000.
    Transitional,
    /// Reynolds number above 4000.
    Turbulent,
}

/// A drill and what its hole would let through.
#[derive(Debug, Serialize, ToSchema)]
pub struct RestrictorDrill {
    /// Family of sizes.
    series: DrillSeries,
    /// What is stamped on it.
    name: String,
    /// Its diameter.
    diameter: LengthOutput,
    /// Whether it is larger than the diameter asked about; if not, it is that or smaller.
    is_above: bool,
    /// Flow through all holes.
    flow: FlowOutput,
    /// That flow relative to the flow at the diameter asked about; the areas when nothing flows.
    flow_share: PercentOutput,
}

/// A family of drill sizes.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DrillSeries {
    /// Number gauge, 97 to 1.
    Number,
    /// Letter gauge, A to Z.
    Letter,
    /// 64ths of an inch.
    Fractional,
    /// Millimetres.
    Metric,
}

/// One row of the table.
#[derive(Debug, Serialize, ToSchema)]
pub struct RestrictorPoint {
    /// Diameter of the holes.
    diameter: LengthOutput,
    /// Temperature of the oil.
    temperature: TemperatureOutput,
    /// Kinematic viscosity of the oil there.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Flow through all holes; positive from upstream to downstream.
    flow: FlowOutput,
    /// Mean speed in a hole.
    velocity: FlowSpeedOutput,
    /// Reynolds number of the mean speed.
    reynolds_number: RatioOutput,
    /// Mean speed over ideal speed.
    discharge_coefficient: RatioOutput,
    /// How the oil flows.
    regime: FlowRegime,
    /// Whether the hole may cavitate.
    may_cavitate: bool,
}

/// The calculation.
pub struct Restrictor;

impl Calculation for Restrictor {
    const PATH: &'static str = "/v1/oil/restrictor";
    const SUMMARY: &'static str = "Flow of oil through drilled holes, and the drill for a wanted flow";
    const DESCRIPTION: &'static str = "Give the diameter, or the wanted flow instead. Every answer names the nearest number, letter, \
        fractional and metric drills with their flows; lists of diameters and temperatures make a table from which a plug is \
        chosen. Flow is positive from upstream to downstream, and negative when the downstream pressure is the higher one.";
    const METHODS: &'static [&'static str] = &[
        core::METHOD.id,
        law::VISCOSITY.id,
        law::DENSITY.id,
        calc_core::oil::grade::METHOD.id,
        drills::METHOD.id,
        pipe_thread::METHOD.id,
    ];
    const DEFAULT_FIELD: &'static str = "flow";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/restrictor.json");
    type Request = RestrictorRequest;
    type Response = RestrictorResponse;

    fn run(request: RestrictorRequest) -> Result<RestrictorResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        let point = found.point;
        Ok(RestrictorResponse {
            units,
            diameter: out(point.diameter, units),
            flow: out(point.flow, units),
            uncertainty: PercentOutput::from_share(found.uncertainty),
            flow_low: out(found.flow_band[0], units),
            flow_high: out(found.flow_band[1], units),
            flow_thickest_oil: found.grade_flows.map(|flows| out(flows[0], units)),
            flow_thinnest_oil: found.grade_flows.map(|flows| out(flows[1], units)),
            velocity: out(point.velocity, units),
            reynolds_number: RatioOutput(point.reynolds_number),
            ideal_reynolds_number: RatioOutput(point.ideal_reynolds_number),
            discharge_coefficient: RatioOutput(point.discharge_coefficient),
            regime: FlowRegime::new(point.regime),
            length_over_diameter: RatioOutput(found.slenderness),
            pressure_difference: out(found.pressure_difference, units),
            kinematic_viscosity: out(point.kinematic_viscosity, units),
            dynamic_viscosity: out(point.dynamic_viscosity, units),
            may_cavitate: point.may_cavitate,
            cavitating_coefficient: found.cavitating_coefficient.map(RatioOutput),
            cavitating_flow: found.cavitating_flow.map(|flow| out(flow, units)),
            drills: found.drills.into_iter().map(|drill| RestrictorDrill::new(drill, units)).collect(),
            points: found.points.iter().map(|point| RestrictorPoint::new(point, units)).collect(),
            plug: found.plug.map(|plug| RestrictorPlug::new(plug, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl RestrictorRequest {
    fn core(&self) -> core::RestrictorInput {
        let units = self.units;
        let lengths = |list: &Vec<LengthInput>| list.iter().map(|length| length.core(units)).collect();
        let temperatures = |list: &Vec<TemperatureInput>| list.iter().map(|entry| entry.core(units)).collect();
        core::RestrictorInput {
            oil: self.oil.core(units),
            temperature: self.temperature.core(units),
            diameter: self.diameter.map(|diameter| diameter.core(units)),
            wanted_flow: self.wanted_flow.map(|flow| flow.core(units)),
            length: self.length.core(units),
            count: self.count.unwrap_or(1),
            edge: match self.edge {
                None | Some(RestrictorEdge::Sharp) => core::Edge::Sharp,
                Some(RestrictorEdge::Chamfered) => core::Edge::Chamfered,
            },
            edge_coefficient: self.edge_coefficient.map(|coefficient| coefficient.core(units)),
            upstream_pressure: self.upstream_pressure.core(units),
            downstream_pressure: self.downstream_pressure.map(|pressure| pressure.core(units)).unwrap_or_default(),
            air_pressure: self.air_pressure.map(|pressure| pressure.core(units)),
            plug_size: self.plug_size.map(PlugSize::core),
            plug_thread: self.plug_thread.map(PlugThread::core),
            diameters: self.diameters.as_ref().map(lengths),
            temperatures: self.temperatures.as_ref().map(temperatures),
        }
    }
}

impl FlowRegime {
    fn new(regime: core::Regime) -> Self {
        match regime {
            core::Regime::Still => Self::Still,
            core::Regime::Creeping => Self::Creeping,
            core::Regime::Laminar => Self::Laminar,
            core::Regime::Transitional => Self::Transitional,
            core::Regime::Turbulent => Self::Turbulent,
        }
    }
}

impl DrillSeries {
    fn new(series: drills::Series) -> Self {
        match series {
            drills::Series::Number => Self::Number,
            drills::Series::Letter => Self::Letter,
            drills::Series::Fractional => Self::Fractional,
            drills::Series::Metric => Self::Metric,
        }
    }
}

impl RestrictorDrill {
    fn new(found: core::DrillFlow, units: Units) -> Self {
        Self {
            series: DrillSeries::new(found.drill.series),
            name: found.drill.name,
            diameter: out(found.drill.diameter, units),
            is_above: found.is_above,
            flow: out(found.flow, units),
            flow_share: PercentOutput::from_share(found.flow_share),
        }
    }
}

impl RestrictorPoint {
    fn new(point: &core::RestrictorPoint, units: Units) -> Self {
        Self {
            diameter: out(point.diameter, units),
            temperature: out(point.temperature, units),
            kinematic_viscosity: out(point.kinematic_viscosity, units),
            flow: out(point.flow, units),
            velocity: out(point.velocity, units),
            reynolds_number: RatioOutput(point.reynolds_number),
            discharge_coefficient: RatioOutput(point.discharge_coefficient),
            regime: FlowRegime::new(point.regime),
            may_cavitate: point.may_cavitate,
        }
    }
}
