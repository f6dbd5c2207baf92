//! `/v1/oil/passage`

use calc_core::error::Error;
use calc_core::oil::{law, passage as core};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    DynamicViscosityOutput, FlowInput, FlowOutput, FlowSpeedOutput, KinematicViscosityOutput, LengthInput,
    LengthOutput, PressureInput, PressureOutput, RatioInput, RatioOutput, TemperatureInput, out,
};

use super::oil_request::OilRequest;

/// The passage, the oil, and two of diameter, flow and pressure drop.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PassageRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Diameter of the passage; or leave it out, with flow and pressure drop given.
    diameter: Option<LengthInput>,
    /// Length of the passage along the flow.
    length: LengthInput,
    /// Height of the roughness of its wall; smooth when absent. It matters in turbulent flow only, which oil seldom reaches.
    roughness: Option<LengthInput>,
    /// How it begins and ends; open when absent.
    ends: Option<PassageEnds>,
    /// How many square turns it makes where drilled holes meet, 0 to 1000; none when absent.
    bends: Option<u32>,
    /// Sum of other loss coefficients on the passage's own speed; none when absent.
    loss_coefficient: Option<RatioInput>,
    /// How many passages alike, side by side, 1 to 1000; one when absent.
    count: Option<u32>,
    /// Which oil.
    oil: OilRequest,
    /// Temperature of the oil.
    temperature: TemperatureInput,
    /// Flow through all passages together; or leave it out.
    flow: Option<FlowInput>,
    /// Pressure before the passage less that behind it; or leave it out.
    pressure_drop: Option<PressureInput>,
}

/// How a passage begins and ends.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PassageEnds {
    /// In spaces much wider than itself: entry and exit losses are counted.
    Open,
    /// In passages of its own size: their ends are counted elsewhere.
    Joined,
}

/// What kind of flow it is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PassageRegime {
    /// Reynolds number up to 2000.
    Laminar,
    /// Reynolds number from 2000 to 4000.
    Transitional,
    /// Reynolds number above 4000.
    Turbulent,
}

/// Diameter, flow and pressure drop complete.
#[derive(Debug, Serialize, ToSchema)]
pub struct PassageResponse {
    /// Unit system of the answer.
    units: Units,
    /// Diameter, given or computed.
    diameter: LengthOutput,
    /// Flow through all passages together, given or computed.
    flow: FlowOutput,
    /// Flow through one passage.
    flow_each: FlowOutput,
    /// The whole pressure drop, given or computed.
    pressure_drop: PressureOutput,
    /// Its parts.
    parts: PassageDropParts,
    /// Mean speed.
    velocity: FlowSpeedOutput,
    /// Reynolds number of that speed on the diameter.
    reynolds_number: RatioOutput,
    /// What kind of flow it is.
    regime: PassageRegime,
    /// Darcy's friction factor, four times Fanning's.
    friction_factor: RatioOutput,
    /// Kinematic viscosity of the oil.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Dynamic viscosity of the oil.
    dynamic_viscosity: DynamicViscosityOutput,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// A pressure drop by cause.
#[derive(Debug, Serialize, ToSchema)]
pub struct PassageDropParts {
    /// Friction on the wall.
    friction: PressureOutput,
    /// Entry and exit.
    ends: PressureOutput,
    /// Square turns.
    bends: PressureOutput,
    /// Other losses.
    other: PressureOutput,
}

/// The calculation.
pub struct Passage;

impl Calculation for Passage {
    const PATH: &'static str = "/v1/oil/passage";
    const SUMMARY: &'static str = "Flow, pressure drop or diameter of a drilled gallery";
    const DESCRIPTION: &'static str = "Round passage with friction in all regimes (Churchill), entry and exit, square turns and other \
        losses. Of diameter, flow and pressure drop give two; the third is computed.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, law::VISCOSITY.id, law::DENSITY.id];
    const DEFAULT_FIELD: &'static str = "pressure_drop";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/passage.json");
    type Request = PassageRequest;
    type Response = PassageResponse;

    fn run(request: PassageRequest) -> Result<PassageResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        Ok(PassageResponse {
            units,
            diameter: out(found.diameter, units),
            flow: out(found.flow, units),
            flow_each: out(found.flow_each, units),
            pressure_drop: out(found.pressure_drop, units),
            parts: PassageDropParts {
                friction: out(found.parts.friction, units),
                ends: out(found.parts.ends, units),
                bends: out(found.parts.bends, units),
                other: out(found.parts.other, units),
            },
            velocity: out(found.velocity, units),
            reynolds_number: RatioOutput(found.reynolds_number),
            regime: match found.regime {
                core::Regime::Laminar => PassageRegime::Laminar,
                core::Regime::Transitional => PassageRegime::Transitional,
                core::Regime::Turbulent => PassageRegime::Turbulent,
            },
            friction_factor: RatioOutput(found.friction_factor),
            kinematic_viscosity: out(found.oil.kinematic_viscosity, units),
            dynamic_viscosity: out(found.oil.dynamic_viscosity, units),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl PassageRequest {
    fn core(&self) -> core::PassageInput {
        let units = self.units;
        core::PassageInput {
            diameter: self.diameter.map(|diameter| diameter.core(units)),
            length: self.length.core(units),
            roughness: self.roughness.map(|roughness| roughness.core(units)),
            ends: match self.ends {
                None | Some(PassageEnds::Open) => core::Ends::Open,
                Some(PassageEnds::Joined) => core::Ends::Joined,
            },
            bends: self.bends.unwrap_or_default(),
            loss_coefficient: self.loss_coefficient.map(|loss| loss.core(units)),
            count: self.count.unwrap_or(1),
            oil: self.oil.core(units),
            temperature: self.temperature.core(units),
            flow: self.flow.map(|flow| flow.core(units)),
            pressure_drop: self.pressure_drop.map(|drop| drop.core(units)),
        }
    }
}
