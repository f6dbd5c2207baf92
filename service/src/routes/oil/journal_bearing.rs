//! `/v1/oil/journal-bearing`

use calc_core::error::Error;
use calc_core::oil::{bearing_load, journal_bearing as core, law};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AngleInput, AngleOutput, DynamicViscosityOutput, EngineSpeedInput, FlowOutput, ForceInput, ForceOutput,
    LengthInput, LengthOutput, OilDensityOutput, PowerOutput, PressureInput, PressureOutput, RatioOutput,
    SpecificHeatInput, TemperatureDifferenceOutput, TemperatureInput, TemperatureOutput, out,
};

use super::engine_load::{EngineLoadRequest, EngineLoadResponse};
use super::oil_request::OilRequest;

/// The bearing, its load, speed and oil.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JournalBearingRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Diameter of the journal.
    diameter: LengthInput,
    /// Width of the bearing, a groove included; 0.05 to 2 diameters. Or give the land.
    width: Option<LengthInput>,
    /// Width of one of the two lands beside a groove, instead of the width; 0.05 to 2 diameters.
    land: Option<LengthInput>,
    /// Diameter of the bearing less that of the journal (the clearance that shops measure), 0.00005 to 0.02 of the diameter.
    clearance: LengthInput,
    /// How the oil comes in.
    groove: BearingGroove,
    /// Width of the groove, when there is one.
    groove_width: Option<LengthInput>,
    /// How far round a partial groove reaches, 1 to 359 degrees.
    groove_arc: Option<AngleInput>,
    /// Diameter of a single hole, at most half the width.
    hole_diameter: Option<LengthInput>,
    /// Centre of the partial groove or the hole, from the place that the load presses, along the journal's motion; 180 degrees,
    /// opposite the load, when absent.
    feed_position: Option<AngleInput>,
    /// Load on the bearing; or give what makes it.
    load: Option<ForceInput>,
    /// Gas and masses that make the load, instead of the load.
    engine_load: Option<EngineLoadRequest>,
    /// Speed of the journal in its bearing: the engine's for a crankshaft, half of it for the camshaft of a four-stroke.
    journal_speed: EngineSpeedInput,
    /// Which oil; its high-shear viscosity, when given, is the film's.
    oil: OilRequest,
    /// Temperature of the oil that comes in.
    supply_temperature: TemperatureInput,
    /// Gauge pressure of the oil at groove or hole; not without one.
    supply_pressure: Option<PressureInput>,
    /// Temperature of the film, instead of the heat balance that finds it.
    film_temperature: Option<TemperatureInput>,
    /// Specific heat of the oil, 1 to 4.5 kJ/kg/K; from its density and temperature when absent.
    specific_heat: Option<SpecificHeatInput>,
    /// The least film that is allowed; a thinner one is flagged as a danger.
    film_limit: Option<LengthInput>,
    /// Roughness of both faces together (root of the sum of the squares of their rms heights), to hold the film against.
    roughness: Option<LengthInput>,
}

/// How the oil comes into a bearing.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BearingGroove {
    /// Without pressure: the film fills itself from a bath.
    None,
    /// By a groove all round in the middle; the lands beside it carry the load, each for itself.
    Full,
    /// By a groove over an arc in the middle, away from the load; the whole width carries.
    PartialArc,
    /// By one hole in the middle; the whole width carries.
    SingleHole,
}

/// How the bearing runs.
#[derive(Debug, Serialize, ToSchema)]
pub struct JournalBearingResponse {
    /// Unit system of the answer.
    units: Units,
    /// Load, given or worked out.
    load: ForceOutput,
    /// Load over the projected area that carries.
    unit_load: PressureOutput,
    /// What makes the load; only when it was worked out.
    #[serde(skip_serializing_if = "Option::is_none")]
    engine_load: Option<EngineLoadResponse>,
    /// Width over diameter of the bearing, or of one land beside a full groove.
    width_ratio: RatioOutput,
    /// Width of one land; only beside a groove.
    #[serde(skip_serializing_if = "Option::is_none")]
    land: Option<LengthOutput>,
    /// How far the journal is off centre as a share of the radial clearance.
    eccentricity: RatioOutput,
    /// Thinnest film.
    least_film: LengthOutput,
    /// From the load to the thinnest film, along the motion.
    attitude_angle: AngleOutput,
    /// Highest pressure in the film.
    peak_pressure: PressureOutput,
    /// Sommerfeld's number (r/c)^2 mu N/P; only with a load.
    #[serde(skip_serializing_if = "Option::is_none")]
    sommerfeld_number: Option<RatioOutput>,
    /// The film's own flow out of the bearing; of a full groove's lands, at the outer edges.
    film_flow: FlowOutput,
    /// What the supply presses through.
    pressure_flow: FlowOutput,
    /// Both together, less what they hinder each other: what the bearing takes from the supply.
    side_flow: FlowOutput,
    /// Power lost to friction.
    friction_power: PowerOutput,
    /// Friction over load; only with a load.
    #[serde(skip_serializing_if = "Option::is_none")]
    friction_coefficient: Option<RatioOutput>,
    /// Temperature of the film, found by the heat balance or given.
    film_temperature: TemperatureOutput,
    /// How much warmer the oil leaves than it comes.
    temperature_rise: TemperatureDifferenceOutput,
    /// Heat carried off less friction, as a share of friction: how well the balance closes; only when it was sought.
    #[serde(skip_serializing_if = "Option::is_none")]
    heat_residual: Option<RatioOutput>,
    /// Dynamic viscosity in the film.
    film_viscosity: DynamicViscosityOutput,
    /// Density in the film.
    film_density: OilDensityOutput,
    /// Thinnest film over the limit given.
    #[serde(skip_serializing_if = "Option::is_none")]
    film_to_limit: Option<RatioOutput>,
    /// Thinnest film over the roughness given.
    #[serde(skip_serializing_if = "Option::is_none")]
    film_to_roughness: Option<RatioOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The calculation.
pub struct JournalBearing;

impl Calculation for JournalBearing {
    const PATH: &'static str = "/v1/oil/journal-bearing";
    const SUMMARY: &'static str = "Film, flow, friction and temperature of a journal bearing";
    const DESCRIPTION: &'static str = "A bearing of finite width under a steady load, from a solution of Reynolds' equation: least film, \
        side flow (the film's own and what the supply presses through a groove or hole), friction and the film's temperature by heat \
        balance. The load is given, or worked out from gas pressure and masses at the worst crank angle.";
    const METHODS: &'static [&'static str] =
        &[core::METHOD.id, bearing_load::METHOD.id, law::VISCOSITY.id, law::DENSITY.id];
    const DEFAULT_FIELD: &'static str = "least_film";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/journal_bearing.json");
    type Request = JournalBearingRequest;
    type Response = JournalBearingResponse;

    fn run(request: JournalBearingRequest) -> Result<JournalBearingResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        Ok(JournalBearingResponse {
            units,
            load: out(found.load, units),
            unit_load: out(found.unit_load, units),
            engine_load: found.engine_load.map(|load| EngineLoadResponse::new(load, units)),
            width_ratio: RatioOutput(found.width_ratio),
            land: found.land.map(|land| out(land, units)),
            eccentricity: RatioOutput(found.eccentricity),
            least_film: out(found.least_film, units),
            attitude_angle: out(found.attitude_angle, units),
            peak_pressure: out(found.peak_pressure, units),
            sommerfeld_number: found.sommerfeld_number.map(RatioOutput),
            film_flow: out(found.film_flow, units),
            pressure_flow: out(found.pressure_flow, units),
            side_flow: out(found.side_flow, units),
            friction_power: out(found.friction_power, units),
            friction_coefficient: found.friction_coefficient.map(RatioOutput),
            film_temperature: out(found.film_temperature, units),
            temperature_rise: out(found.temperature_rise, units),
            heat_residual: found.heat_residual.map(RatioOutput),
            film_viscosity: out(found.film_viscosity, units),
            film_density: out(found.film_density, units),
            film_to_limit: found.film_to_limit.map(RatioOutput),
            film_to_roughness: found.film_to_roughness.map(RatioOutput),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl JournalBearingRequest {
    fn core(&self) -> core::JournalBearingInput {
        let units = self.units;
        let length = |given: Option<LengthInput>| given.map(|length| length.core(units));
        let angle = |given: Option<AngleInput>| given.map(|angle| angle.core(units));
        core::JournalBearingInput {
            diameter: self.diameter.core(units),
            width: length(self.width),
            land: length(self.land),
            clearance: self.clearance.core(units),
            groove: match self.groove {
                BearingGroove::None => core::Groove::None,
                BearingGroove::Full => core::Groove::Full,
                BearingGroove::PartialArc => core::Groove::PartialArc,
                BearingGroove::SingleHole => core::Groove::SingleHole,
            },
            groove_width: length(self.groove_width),
            groove_arc: angle(self.groove_arc),
            hole_diameter: length(self.hole_diameter),
            feed_position: angle(self.feed_position),
            load: self.load.map(|load| load.core(units)),
            engine_load: self.engine_load.as_ref().map(|engine| engine.core(units)),
            journal_speed: self.journal_speed.core(units),
            oil: self.oil.core(units),
            supply_temperature: self.supply_temperature.core(units),
            supply_pressure: self.supply_pressure.map(|pressure| pressure.core(units)),
            film_temperature: self.film_temperature.map(|temperature| temperature.core(units)),
            specific_heat: self.specific_heat.map(|heat| heat.core(units)),
            film_limit: length(self.film_limit),
            roughness: length(self.roughness),
        }
    }
}
