//! `/v1/oil/properties`

use calc_core::error::Error;
use calc_core::oil::{grade, law, properties as core, viscosity_index};
use calc_core::units::Temperature;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    DynamicViscosityOutput, KinematicViscosityInput, KinematicViscosityOutput, OilDensityOutput, PercentOutput,
    RatioOutput, TemperatureInput, TemperatureOutput, out,
};

use super::oil_request::OilRequest;

/// An oil and the temperatures that are asked about.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OilPropertiesRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Which oil.
    oil: OilRequest,
    /// Temperature of the oil.
    temperature: TemperatureInput,
    /// Kinematic viscosity whose temperature is wanted.
    wanted_viscosity: Option<KinematicViscosityInput>,
    /// Temperatures of a table, at most 500.
    #[schema(max_items = 500)]
    temperatures: Option<Vec<TemperatureInput>>,
}

/// The oil at the temperatures.
#[derive(Debug, Serialize, ToSchema)]
pub struct OilPropertiesResponse {
    /// Unit system of the answer.
    units: Units,
    /// Temperature asked about.
    temperature: TemperatureOutput,
    /// Kinematic viscosity there, at little shear.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Dynamic viscosity there, at little shear.
    dynamic_viscosity: DynamicViscosityOutput,
    /// Density there.
    density: OilDensityOutput,
    /// Dynamic viscosity there at high shear (1e6 1/s), as in a loaded bearing; only with the oil's high-shear viscosity.
    #[serde(skip_serializing_if = "Option::is_none")]
    high_shear_viscosity: Option<DynamicViscosityOutput>,
    /// Share of the viscosity that high shear leaves; only with the oil's high-shear viscosity.
    #[serde(skip_serializing_if = "Option::is_none")]
    high_shear_share: Option<PercentOutput>,
    /// Viscosity index; absent for an oil thinner than 2 mm2/s at 100 degrees C.
    #[serde(skip_serializing_if = "Option::is_none")]
    viscosity_index: Option<RatioOutput>,
    /// Kinematic viscosity at 40 degrees C.
    viscosity_at_40: KinematicViscosityOutput,
    /// Kinematic viscosity at 100 degrees C.
    viscosity_at_100: KinematicViscosityOutput,
    /// Density at 15 degrees C.
    density_at_15: OilDensityOutput,
    /// A of the line log10 log10(nu + 0.7) = A - B log10 T.
    line_a: RatioOutput,
    /// B of that line.
    line_b: RatioOutput,
    /// Temperature at which the oil has the wanted viscosity; only with one.
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted_temperature: Option<TemperatureOutput>,
    /// What the grade leaves open; only for an oil known by its grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    window: Option<OilWindow>,
    /// One row per temperature of the table, in order.
    points: Vec<OilPropertiesPoint>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The window of a viscosity grade at the temperature asked about.
#[derive(Debug, Serialize, ToSchema)]
pub struct OilWindow {
    /// The thinnest oil that may bear the grade.
    low: OilWindowOil,
    /// The middle of the window.
    typical: OilWindowOil,
    /// The thickest oil that may bear the grade.
    high: OilWindowOil,
    /// Viscosity index that all three are assumed to have.
    assumed_viscosity_index: RatioOutput,
    /// Least viscosity at 150 degrees C and high shear that the grade asks for.
    least_high_shear_viscosity: DynamicViscosityOutput,
    /// Temperature down to which oils of the W grade are proved to be pumped; absent without a W grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pumping_limit: Option<TemperatureOutput>,
}

/// One oil of a grade's window.
#[derive(Debug, Serialize, ToSchema)]
pub struct OilWindowOil {
    /// Its kinematic viscosity at 100 degrees C.
    viscosity_at_100: KinematicViscosityOutput,
    /// Its kinematic viscosity at the temperature asked about.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Its dynamic viscosity at the temperature asked about.
    dynamic_viscosity: DynamicViscosityOutput,
    /// Where it has the wanted viscosity; only with one.
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted_temperature: Option<TemperatureOutput>,
}

/// The oil at one temperature of the table.
#[derive(Debug, Serialize, ToSchema)]
pub struct OilPropertiesPoint {
    /// Temperature.
    temperature: TemperatureOutput,
    /// Kinematic viscosity, at little shear.
    kinematic_viscosity: KinematicViscosityOutput,
    /// Dynamic viscosity, at little shear.
    dynamic_viscosity: DynamicViscosityOutput,
    /// Density.
    density: OilDensityOutput,
    /// Dynamic viscosity at high shear; only with the oil's high-shear viscosity.
    #[serde(skip_serializing_if = "Option::is_none")]
    high_shear_viscosity: Option<DynamicViscosityOutput>,
}

/// The calculation.
pub struct Properties;

impl Calculation for Properties {
    const PATH: &'static str = "/v1/oil/properties";
    const SUMMARY: &'static str = "Viscosity and density of an oil at any temperature";
    const DESCRIPTION: &'static str = "Kinematic, dynamic and shear-thinned viscosity, density and viscosity index from two points of \
        a data sheet, or from a viscosity grade, which is a window: its thinnest, typical and thickest oil are given. Also the \
        temperature of a wanted viscosity, and a table.";
    const METHODS: &'static [&'static str] =
        &[law::VISCOSITY.id, law::DENSITY.id, viscosity_index::METHOD.id, grade::METHOD.id];
    const DEFAULT_FIELD: &'static str = "kinematic_viscosity";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/properties.json");
    type Request = OilPropertiesRequest;
    type Response = OilPropertiesResponse;

    fn run(request: OilPropertiesRequest) -> Result<OilPropertiesResponse, Error> {
        let units = request.units;
        let temperature = request.temperature.core(units);
        let list = |list: Vec<TemperatureInput>| list.into_iter().map(|entry| entry.core(units)).collect();
        let found = core::evaluate(&core::PropertiesInput {
            oil: request.oil.core(units),
            temperature,
            wanted_viscosity: request.wanted_viscosity.map(|viscosity| viscosity.core(units)),
            temperatures: request.temperatures.map(list),
        })?;
        let state = found.state;
        Ok(OilPropertiesResponse {
            units,
            temperature: out(temperature, units),
            kinematic_viscosity: out(state.kinematic_viscosity, units),
            dynamic_viscosity: out(state.dynamic_viscosity, units),
            density: out(state.density, units),
            high_shear_viscosity: state.high_shear_viscosity.map(|viscosity| out(viscosity, units)),
            high_shear_share: found.high_shear_share.map(PercentOutput::from_share),
            viscosity_index: found.viscosity_index.map(RatioOutput),
            viscosity_at_40: out(found.viscosity_at_40, units),
            viscosity_at_100: out(found.viscosity_at_100, units),
            density_at_15: out(found.density_at_15, units),
            line_a: RatioOutput(found.line_a),
            line_b: RatioOutput(found.line_b),
            wanted_temperature: found.wanted_temperature.map(|temperature| out(temperature, units)),
            window: found.window.map(|window| OilWindow::new(window, units)),
            points: found.points.into_iter().map(|point| OilPropertiesPoint::new(point, units)).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl OilWindow {
    fn new(window: core::Window, units: Units) -> Self {
        Self {
            low: OilWindowOil::new(window.low, units),
            typical: OilWindowOil::new(window.typical, units),
            high: OilWindowOil::new(window.high, units),
            assumed_viscosity_index: RatioOutput(window.assumed_index),
            least_high_shear_viscosity: out(window.least_high_shear_viscosity, units),
            pumping_limit: window.pumping_limit.map(|temperature| out(temperature, units)),
        }
    }
}

impl OilWindowOil {
    fn new(oil: core::WindowOil, units: Units) -> Self {
        Self {
            viscosity_at_100: out(oil.viscosity_at_100, units),
            kinematic_viscosity: out(oil.kinematic_viscosity, units),
            dynamic_viscosity: out(oil.dynamic_viscosity, units),
            wanted_temperature: oil.wanted_temperature.map(|temperature| out(temperature, units)),
        }
    }
}

impl OilPropertiesPoint {
    fn new((temperature, state): (Temperature, law::OilState), units: Units) -> Self {
        Self {
            temperature: out(temperature, units),
            kinematic_viscosity: out(state.kinematic_viscosity, units),
            dynamic_viscosity: out(state.dynamic_viscosity, units),
            density: out(state.density, units),
            high_shear_viscosity: state.high_shear_viscosity.map(|viscosity| out(viscosity, units)),
        }
    }
}
