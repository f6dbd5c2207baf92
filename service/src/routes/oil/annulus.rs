//! `/v1/oil/annulus`

use calc_core::error::Error;
use calc_core::oil::{annulus as core, law};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    DynamicViscosityOutput, FlowInput, FlowOutput, FlowSpeedOutput, KinematicViscosityOutput, LengthInput,
    LengthOutput, PressureInput, RatioInput, RatioOutput, TemperatureInput, out,
};

use super::oil_request::OilRequest;

/// The gap, the oil, and the pressure across it; the clearance, or the leakage that it should have.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnnulusRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Diameter of the bore.
    diameter: LengthInput,
    /// Diameter of the bore less that of the part in it, at most a tenth of the diameter; or give a wanted flow.
    clearance: Option<LengthInput>,
    /// Length of the gap along the flow.
    length: LengthInput,
    /// How far the part is off centre as a share of the radial clearance, 0 centred to 1 against the wall; centred when absent.
    eccentricity: Option<RatioInput>,
    /// How many gaps alike, 1 to 1000; one when absent.
    count: Option<u32>,
    /// Which oil.
    oil: OilRequest,
    /// Temperature of the oil in the gap.
    temperature: TemperatureInput,
    /// Pressure before the gap less that behind it.
    pressure_drop: PressureInput,
    /// Leakage wanted of all gaps together, instead of the clearance, which is then computed.
    wanted_flow: Option<FlowInput>,
}

/// What leaks.
#[derive(Debug, Serialize, ToSchema)]
pub struct AnnulusResponse {
    /// Unit system of the answer.
    units: Units,
    /// Leakage of all gaps together.
    flow: FlowOutput,
    /// Leakage of one gap.
    flow_each: FlowOutput,
    /// Leakage of all gaps with every part centred: the least.
    flow_centred: FlowOutput,
    /// Leakage of all gaps with every part against its wall: two and a half times as much.
    flow_against_wall: FlowOutput,
    /// Diameter of the bore less that of the part, given or computed.
    clearance: LengthOutput,
    /// Mean speed in the gap.
    velocity: FlowSpeedOutput,
    /// Reynolds number of that speed on twice the radial clearance.
    reynolds_number: RatioOutput,
    /// Kinematic viscosity of the oil in the gap.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Dynamic viscosity of the oil in the gap.
    dynamic_viscosity: DynamicViscosityOutput,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The calculation.
pub struct Annulus;

impl Calculation for Annulus {
    const PATH: &'static str = "/v1/oil/annulus";
    const SUMMARY: &'static str = "Leakage of a round part in its bore";
    const DESCRIPTION: &'static str = "Lifter in its bore, pin in its bush, plunger: laminar leakage along a thin annular gap, centred, \
        off centre and against the wall; or the clearance that leaks a wanted flow.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, law::VISCOSITY.id, law::DENSITY.id];
    const DEFAULT_FIELD: &'static str = "flow";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/annulus.json");
    type Request = AnnulusRequest;
    type Response = AnnulusResponse;

    fn run(request: AnnulusRequest) -> Result<AnnulusResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&core::AnnulusInput {
            diameter: request.diameter.core(units),
            clearance: request.clearance.map(|clearance| clearance.core(units)),
            length: request.length.core(units),
            eccentricity: request.eccentricity.map(|eccentricity| eccentricity.core(units)),
            count: request.count.unwrap_or(1),
            oil: request.oil.core(units),
            temperature: request.temperature.core(units),
            pressure_drop: request.pressure_drop.core(units),
            wanted_flow: request.wanted_flow.map(|flow| flow.core(units)),
        })?;
        Ok(AnnulusResponse {
            units,
            flow: out(found.flow, units),
            flow_each: out(found.flow_each, units),
            flow_centred: out(found.flow_centred, units),
            flow_against_wall: out(found.flow_against_wall, units),
            clearance: out(found.clearance, units),
            velocity: out(found.velocity, units),
            reynolds_number: RatioOutput(found.reynolds_number),
            kinematic_viscosity: out(found.oil.kinematic_viscosity, units),
            dynamic_viscosity: out(found.oil.dynamic_viscosity, units),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
